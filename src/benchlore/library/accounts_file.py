"""Where accounts lie: a folder of the library that only its owner can read, and that nothing gives away.

The folder's name begins with a dot, so that exports, sites and bundles, which name what they take, never meet
it; a ``.gitignore`` of its own keeps it out of a repository.
"""

import fcntl
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final

from pydantic import AwareDatetime, BaseModel, ConfigDict, Field, ValidationError

from benchlore.library.errors import AccountsUnreadableError
from benchlore.library.folder import Library
from benchlore.library.roles import Role
from benchlore.notation import FileNotWritten, read_text, reason_of, write_atomic

FOLDER: Final = ".accounts"
FILE: Final = "accounts.json"
FORMAT: Final = 1
OWNER_ALONE: Final = 0o600


class Account(BaseModel):
    """A person who may sign in.

    ``password`` is a hash in the form of the Argon2 reference implementation; ``serial`` is drawn anew with
    each password, so that sessions of an earlier one end.
    """

    model_config = ConfigDict(frozen=True, extra="forbid")

    name: str
    role: Role
    password: str = Field(repr=False)
    serial: str = Field(repr=False)
    since: AwareDatetime


class AccountsFile(BaseModel):
    """The whole file."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    format: int = FORMAT
    accounts: tuple[Account, ...] = ()


def accounts_folder(library: Library) -> Path:
    """The folder of everything that is nobody's business."""
    return library.folder / FOLDER


def accounts_path(library: Library) -> Path:
    """The file of the accounts."""
    return accounts_folder(library) / FILE


def read_accounts(library: Library) -> tuple[Account, ...]:
    """Read the accounts; none where there is no file.

    Raises
    ------
    AccountsUnreadableError
        If the file is not what this program writes: nobody signs in then.
    FileTrouble
        If it cannot be read.
    """
    path = accounts_path(library)
    if not path.exists():
        return ()
    try:
        found = AccountsFile.model_validate_json(read_text(path))
    except ValidationError as error:
        first = error.errors(include_input=False, include_url=False)[0]
        raise AccountsUnreadableError(path, f"{'.'.join(map(str, first['loc']))}: {first['msg']}") from None
    if found.format != FORMAT:
        raise AccountsUnreadableError(path, f"it has the format {found.format}; this program reads {FORMAT}")
    return found.accounts


def write_accounts(library: Library, accounts: tuple[Account, ...]) -> None:
    """Write the accounts, whole or not at all; raises ``FileNotWritten``."""
    text = AccountsFile(accounts=accounts).model_dump_json(indent=2)
    write_atomic(accounts_path(library), text + "\n", mode=OWNER_ALONE)


def make_private_folder(folder: Path) -> None:
    """Make a folder that its owner alone can open; raises ``FileNotWritten``."""
    try:
        folder.mkdir(mode=0o700, exist_ok=True)
    except OSError as error:
        raise FileNotWritten(folder, reason_of(error)) from error


@contextmanager
def alone_with_accounts(library: Library) -> Iterator[None]:
    """Let nobody else change the accounts meanwhile, in this program or another."""
    folder = accounts_folder(library)
    make_private_folder(folder)
    if not (folder / ".gitignore").exists():
        write_atomic(folder / ".gitignore", "*\n", mode=OWNER_ALONE)
    handle = os.open(folder, os.O_RDONLY)
    try:
        fcntl.flock(handle, fcntl.LOCK_EX)
        yield
    finally:
        os.close(handle)
