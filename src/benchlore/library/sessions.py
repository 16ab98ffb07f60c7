"""Who is signed in: a file for each session, named by the hash of its token, so that a copy opens nothing."""

from collections.abc import Iterator
from contextlib import suppress
from datetime import datetime, timedelta
from hashlib import sha256
from pathlib import Path
from secrets import token_urlsafe
from typing import Final

from pydantic import AwareDatetime, BaseModel, ConfigDict, ValidationError

from benchlore.library.accounts import Accounts, key_of
from benchlore.library.accounts_file import OWNER_ALONE, Account, accounts_folder, make_private_folder
from benchlore.library.folder import Library
from benchlore.notation import FileTrouble, read_text, write_atomic

IDLE: Final = timedelta(hours=12)
ABSOLUTE: Final = timedelta(days=7)
NOTED: Final = timedelta(minutes=5)
"""How late the last use may be on disk: not every request is a write."""
MOST: Final = 20
"""Sessions of one person; an older one ends when one more begins."""
LARGEST: Final = 4096
TOKEN_BYTES: Final = 32


class Session(BaseModel):
    """A session: whose it is, when it began and when it was last used."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    name: str
    serial: str
    begun: AwareDatetime
    seen: AwareDatetime

    def is_over(self, now: datetime) -> bool:
        """Whether it was left alone, or lasted, too long."""
        return now - self.seen > IDLE or now - self.begun > ABSOLUTE


class Sessions:
    """A library's sessions. They outlive the program; any number of programs may share them."""

    def __init__(self, library: Library, accounts: Accounts) -> None:
        self._library = library
        self._folder = accounts_folder(library) / "sessions"
        self._accounts = accounts

    def begin(self, account: Account, now: datetime) -> str:
        """Begin a session; its token is told this once."""
        make_private_folder(self._folder)
        self._sweep(account, now)
        token = token_urlsafe(TOKEN_BYTES)
        self._write(self._path(token), Session(name=account.name, serial=account.serial, begun=now, seen=now))
        return token

    def person(self, token: str, now: datetime) -> Account | None:
        """Tell whose session a token opens, ``None`` if it is over or nobody's."""
        path = self._path(token)
        session = _read(path)
        if session is None:
            return None
        account = self._accounts.find(session.name)
        if account is None or account.serial != session.serial or session.is_over(now):
            path.unlink(missing_ok=True)
            return None
        if now - session.seen > NOTED:
            self._write(path, session.model_copy(update={"seen": now}))
        return account

    def end(self, token: str) -> None:
        """End a session; one that there is not is over already."""
        self._path(token).unlink(missing_ok=True)

    def _path(self, token: str) -> Path:
        return self._folder / f"{sha256(token.encode('utf-8', 'replace')).hexdigest()}.json"

    def _write(self, path: Path, session: Session) -> None:
        write_atomic(path, session.model_dump_json(), mode=OWNER_ALONE)

    def _all(self) -> Iterator[tuple[Path, Session | None]]:
        for path in self._folder.glob("*.json"):
            yield path, _read(path)

    def _sweep(self, account: Account, now: datetime) -> None:
        """Remove what is over, and the oldest of a person who has many."""
        own: list[tuple[datetime, Path]] = []
        for path, session in self._all():
            if session is None or session.is_over(now):
                path.unlink(missing_ok=True)
            elif key_of(session.name) == key_of(account.name):
                own.append((session.seen, path))
        for _, path in sorted(own)[: max(0, len(own) - MOST + 1)]:
            path.unlink(missing_ok=True)


def _read(path: Path) -> Session | None:
    with suppress(FileTrouble, ValidationError):
        return Session.model_validate_json(read_text(path, most=LARGEST))
    return None
