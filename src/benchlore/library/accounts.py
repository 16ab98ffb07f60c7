"""The people who may sign in to a library, and their passwords."""

import unicodedata
from collections.abc import Callable
from datetime import UTC, datetime
from secrets import token_hex, token_urlsafe
from threading import BoundedSemaphore, Lock
from typing import Final

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError

from benchlore.library.accounts_file import (
    Account,
    accounts_path,
    alone_with_accounts,
    read_accounts,
    write_accounts,
)
from benchlore.library.errors import AccountRefusedError, NoAccountError
from benchlore.library.folder import Library
from benchlore.library.roles import Role

SHORTEST: Final = 12
"""Characters of a password. NIST SP 800-63B-4 asks for 15 where nothing stands beside it, 8 at the very
least; here tries are throttled, and a bench types it with gloves on."""
LONGEST: Final = 200
LEAST_DIFFERENT: Final = 5
LONGEST_NAME: Final = 64
MOST_AT_ONCE: Final = 2
"""Passwords that are tried at one time: each takes 64 MiB (Argon2's default), and anybody may ask."""


class Accounts:
    """A library's accounts. May be asked from several threads; what others change is seen at once."""

    def __init__(self, library: Library, *, hasher: PasswordHasher | None = None) -> None:
        self._library = library
        self._hasher = hasher or PasswordHasher()
        self._busy = BoundedSemaphore(MOST_AT_ONCE)
        self._lock = Lock()
        self._kept: tuple[tuple[int, int, int] | None, tuple[Account, ...]] = (None, ())
        self._nobodys = ""

    def all(self) -> tuple[Account, ...]:
        """Return the accounts by name; errors are those of :func:`read_accounts`."""
        with self._lock:
            stamp = self._stamp()
            if stamp is None:
                return ()
            if stamp != self._kept[0]:  # taken before reading: what changes meanwhile is read once more
                self._kept = (stamp, read_accounts(self._library))
            return self._kept[1]

    def find(self, name: str) -> Account | None:
        """Find a person by name, whatever the case."""
        return next((each for each in self.all() if key_of(each.name) == key_of(name)), None)

    def add(self, name: str, role: Role, password: str) -> Account:
        """Add a person.

        Raises
        ------
        AccountRefusedError
            If the name is none or somebody's already, or the password is too weak.
        """
        name = _clean_name(name)
        fresh = _fresh(name, role, self._hash(name, password))

        def added(accounts: tuple[Account, ...]) -> tuple[Account, ...]:
            if any(key_of(each.name) == key_of(name) for each in accounts):
                raise AccountRefusedError(name, "there is an account of that name already")
            return (*accounts, fresh)

        self._change(added)
        return fresh

    def set_password(self, name: str, password: str) -> Account:
        """Give a person another password; every session of theirs ends."""
        hashed = self._hash(name, password)
        return self._replace(name, password=hashed, serial=token_hex(8))

    def set_role(self, name: str, role: Role) -> Account:
        """Give a person another role; it holds from their next request on."""
        return self._replace(name, role=role)

    def remove(self, name: str) -> None:
        """Remove a person; every session of theirs ends. Their entries stay, under their name."""

        def removed(accounts: tuple[Account, ...]) -> tuple[Account, ...]:
            left = tuple(each for each in accounts if key_of(each.name) != key_of(name))
            if len(left) == len(accounts):
                raise NoAccountError(name, tuple(each.name for each in accounts))
            return left

        self._change(removed)

    def check(self, name: str, password: str) -> Account | None:
        """Return the person of that name if the password is theirs.

        For a name that there is not, a password of nobody's is tried, so that both take the same time.
        """
        account, nobodys = self.find(name), self._of_nobody()
        stored = nobodys if account is None else account.password
        with self._busy:
            try:
                self._hasher.verify(stored, _plain(password))
            except (VerificationError, InvalidHashError):
                return None
        if account is None:
            return None
        if self._hasher.check_needs_rehash(stored):
            self._rehash(account, password)
        return account

    def _rehash(self, account: Account, password: str) -> None:
        """Hash a right password as today's parameters ask, unless it was changed meanwhile."""
        with self._busy:
            hashed = self._hasher.hash(_plain(password))
        self._change(
            lambda accounts: tuple(
                each.model_copy(update={"password": hashed}) if each == account else each for each in accounts
            )
        )

    def _replace(self, name: str, **update: object) -> Account:
        found = self.find(name)
        if found is None:
            raise NoAccountError(name, tuple(each.name for each in self.all()))

        def replaced(accounts: tuple[Account, ...]) -> tuple[Account, ...]:
            return tuple(
                each.model_copy(update=update) if key_of(each.name) == key_of(name) else each
                for each in accounts
            )

        changed = self._change(replaced)
        found = next((each for each in changed if key_of(each.name) == key_of(name)), None)
        if found is None:
            raise NoAccountError(name, tuple(each.name for each in changed))
        return found

    def _change(self, change: Callable[[tuple[Account, ...]], tuple[Account, ...]]) -> tuple[Account, ...]:
        with alone_with_accounts(self._library):
            changed = tuple(sorted(change(read_accounts(self._library)), key=lambda each: key_of(each.name)))
            write_accounts(self._library, changed)
        return changed

    def _hash(self, name: str, password: str) -> str:
        _check_password(name, password)
        with self._busy:
            return self._hasher.hash(_plain(password))

    def _of_nobody(self) -> str:
        with self._lock:
            self._nobodys = self._nobodys or self._hasher.hash(token_urlsafe(32))
            return self._nobodys

    def _stamp(self) -> tuple[int, int, int] | None:
        try:
            found = accounts_path(self._library).stat()
        except FileNotFoundError:
            return None
        return found.st_mtime_ns, found.st_size, found.st_ino


def key_of(name: str) -> str:
    """What names are compared by: no case, no doubled blanks, one form of each character."""
    return " ".join(unicodedata.normalize("NFKC", name).split()).casefold()


def _fresh(name: str, role: Role, hashed: str) -> Account:
    return Account(name=name, role=role, password=hashed, serial=token_hex(8), since=datetime.now(UTC))


def _clean_name(name: str) -> str:
    clean = " ".join(unicodedata.normalize("NFKC", name).split())
    if not clean or not clean.isprintable() or len(clean) > LONGEST_NAME:
        raise AccountRefusedError(
            name, f"a name of 1 to {LONGEST_NAME} characters is expected, as it shall stand beside entries"
        )
    return clean


def _plain(password: str) -> bytes:
    """One form of each character (NIST SP 800-63B, section 3.1.1.2), however the keyboard makes it."""
    return unicodedata.normalize("NFKC", password).encode("utf-8", "surrogatepass")


def _check_password(name: str, password: str) -> None:
    if not SHORTEST <= len(password) <= LONGEST:
        raise AccountRefusedError(
            name, f"the password has {len(password)} characters; {SHORTEST} to {LONGEST} are expected"
        )
    if len(set(password)) < LEAST_DIFFERENT or key_of(password) == key_of(name):
        raise AccountRefusedError(name, "the password can be guessed; a sentence of your own is better")
