"""Connections to a job store: where it is, how it is opened, and what its errors mean."""

import os
import secrets
import sqlite3
import time
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from sqlalchemy import URL, Connection, Engine, create_engine, event, make_url
from sqlalchemy.exc import ArgumentError, DBAPIError
from sqlalchemy.pool import QueuePool

from benchlore.jobs.errors import (
    StoreBusy,
    StoreDamaged,
    StoreFull,
    StoreMissing,
    StoreReadOnly,
    StoreTrouble,
    StoreUnreachable,
)
from benchlore.notation import reason_of

FILE_NAME: Final = "jobs.sqlite"

_HEADER: Final = b"SQLite format 3\0"  # sqlite.org/fileformat2.html, section 1.3
_SETTINGS: Final = ("foreign_keys = ON", "synchronous = FULL", "cache_size = -65536")
_WRITES: Final = "benchlore_writes"
_LOCK: Final = 0x62656E63  # "benc": the advisory lock that writers of a PostgreSQL store take in turn
_CONNECT_SECONDS: Final = 10
_RETRY_SECONDS: Final = 0.05


@dataclass(frozen=True, slots=True)
class Location:
    """Where a store is: a SQLite ``file`` or a PostgreSQL ``url``; ``name`` is what messages call it."""

    name: str
    file: Path | None = None
    url: URL | None = None
    read_only: bool = False


def locate(place: Path | str, *, create: bool) -> Location:
    """Find the store that ``place`` means: a library folder, a SQLite file, or a database's URL.

    Raises
    ------
    StoreMissing
        If there is no such folder, or no such file and ``create`` is false.
    StoreTrouble
        If the URL is not one, or of a database that is not supported.
    """
    if isinstance(place, str) and "://" in place:
        return _locate_url(place, create=create)
    path = Path(place)
    return _locate_file(path / FILE_NAME if path.is_dir() else path, create=create)


@dataclass(frozen=True, slots=True)
class Database:
    """A store's connections; a writer waits ``wait`` seconds for another one.

    What the driver reports leaves here as a ``StoreTrouble``.
    """

    location: Location
    engine: Engine
    wait: float

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """Hold one unchanging view of the store; writers go on beside it."""
        options = {} if self.location.file else {"isolation_level": "REPEATABLE READ"}
        with (
            self._explaining(),
            self.engine.connect().execution_options(**options) as connection,
            connection.begin(),
        ):
            yield connection

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """Hold the store's only write transaction: all of it is kept, or nothing."""
        if self.location.read_only:
            raise StoreReadOnly(self.location.name, "the file or its folder is read-only")
        options = {_WRITES: self.wait}
        with (
            self._explaining(),
            self.engine.connect().execution_options(**options) as connection,
            connection.begin(),
        ):
            yield connection

    @contextmanager
    def _explaining(self) -> Iterator[None]:
        try:
            yield
        except DBAPIError as error:
            raise trouble(error.orig, self.location.name, self.wait) from error
        except self.engine.dialect.loaded_dbapi.Error as error:
            raise trouble(error, self.location.name, self.wait) from error


def connect(location: Location, *, wait: float) -> Database:
    """Make the connections' pool; nothing is opened yet."""
    engine = _file_engine(location, wait) if location.file else _server_engine(location)
    event.listen(engine, "begin", _begin)
    return Database(location, engine, wait)


def use_journal(location: Location, *, wait: float) -> None:
    """Let readers go on beside a writer (a write-ahead log); the file remembers it.

    Only for a file that is known to be a job store or empty, because this writes to it.
    """
    if location.file is None or location.read_only:
        return
    end = time.monotonic() + wait
    while (error := _try_journal(location, wait)) is not None:
        # Alone among SQLite's commands this one does not wait for another program's lock.
        if error.sqlite_errorcode & 0xFF != sqlite3.SQLITE_BUSY or time.monotonic() > end:
            raise _file_trouble(error, location.name, wait) from error
        time.sleep(_RETRY_SECONDS)


def keep_copy(location: Location, target: Path, *, wait: float) -> None:
    """Write a whole copy of a SQLite store to ``target``, or nothing; other programs may go on writing."""
    target = target.absolute()
    beside = target.with_name(f".{target.name}.{secrets.token_hex(8)}.new")
    try:
        # Made here and not by SQLite, whose word for a folder that is missing or read-only says less.
        beside.touch(exist_ok=False)
        with closing(_file_opener(location, wait)()) as connection:
            connection.execute("VACUUM INTO ?", (str(beside),))
        with beside.open("rb") as stream:
            os.fsync(stream.fileno())
        beside.replace(target)
    except sqlite3.Error as error:
        raise _file_trouble(error, f"{location.name}, copied to {target}", wait) from error
    except OSError as error:
        raise StoreTrouble(str(target), f"the copy was not written ({reason_of(error)})") from error
    finally:
        beside.unlink(missing_ok=True)


def _try_journal(location: Location, wait: float) -> sqlite3.Error | None:
    try:
        with closing(_file_opener(location, wait)()) as connection:
            connection.execute("PRAGMA journal_mode = WAL")
    except sqlite3.Error as error:
        return error
    return None


def _locate_url(place: str, *, create: bool) -> Location:
    try:
        url = make_url(place)
    except ArgumentError:
        reason = "is not the address of a database; one reads postgresql://user@host/database"
        raise StoreTrouble(repr(place.rsplit("@", maxsplit=1)[-1]), reason) from None
    name = url.render_as_string(hide_password=True)
    if url.get_backend_name() == "sqlite" and url.database:
        return _locate_file(Path(url.database), create=create)
    if url.get_backend_name() not in ("postgresql", "postgres"):
        raise StoreTrouble(
            name, "jobs are kept in a SQLite file or in PostgreSQL, not in this kind of database"
        )
    query = {"connect_timeout": str(_CONNECT_SECONDS), **url.query}
    return Location(name, url=url.set(drivername="postgresql+psycopg", query=query))


def _locate_file(path: Path, *, create: bool) -> Location:
    name = str(path)
    if path.is_dir():
        raise StoreDamaged(name, "a folder lies where the file should be")
    if not path.parent.is_dir():
        raise StoreMissing(name, f"there is no folder {str(path.parent)!r}; make it, or check the name")
    if not path.exists():
        if not create:
            raise StoreMissing(name)
        if not os.access(path.parent, os.W_OK):
            raise StoreReadOnly(name, "the folder is read-only")
        return Location(name, file=path)
    _check_header(path)
    # SQLite puts its journal beside the file, so that a read-only folder makes the store read-only as well.
    writable = os.access(path, os.W_OK) and os.access(path.parent, os.W_OK)
    return Location(name, file=path, read_only=not writable)


def _check_header(path: Path) -> None:
    """Refuse a file of something else: SQLite takes one of a few bytes for empty, and writes over it."""
    try:
        with path.open("rb") as stream:
            header = stream.read(len(_HEADER))
    except OSError as error:
        raise StoreTrouble(str(path), f"the job store cannot be read ({reason_of(error)})") from error
    if header not in (b"", _HEADER):
        raise StoreDamaged(str(path), "file is not a database")


def _file_engine(location: Location, wait: float) -> Engine:
    return create_engine(
        "sqlite://", creator=_file_opener(location, wait), poolclass=QueuePool, max_overflow=-1
    )


def _file_opener(location: Location, wait: float) -> Callable[[], sqlite3.Connection]:
    assert location.file is not None
    file = location.file.absolute()

    def opened() -> sqlite3.Connection:
        # isolation_level=None: the library's own implicit BEGIN would come too late to lock for writing
        connection = sqlite3.connect(
            f"{file.as_uri()}?{_mode(file, read_only=location.read_only)}",
            uri=True,
            timeout=wait,
            isolation_level=None,
            check_same_thread=False,
        )
        try:
            for setting in _SETTINGS:
                connection.execute(f"PRAGMA {setting}")
        except sqlite3.Error:
            connection.close()
            raise
        return connection

    return opened


def _mode(file: Path, *, read_only: bool) -> str:
    if not read_only:
        return "mode=rwc"
    # Without a journal beside it nobody is writing, and SQLite need not make one where it may not write.
    journal = file.with_name(f"{file.name}-wal")
    return "mode=ro" if journal.exists() and journal.stat().st_size else "mode=ro&immutable=1"


def _server_engine(location: Location) -> Engine:
    assert location.url is not None
    try:
        return create_engine(location.url, pool_pre_ping=True)
    except ModuleNotFoundError:
        reason = "PostgreSQL needs a driver that is not installed; install 'benchlore[postgresql]'"
        raise StoreTrouble(location.name, reason) from None


def _begin(connection: Connection) -> None:
    wait = connection.get_execution_options().get(_WRITES)
    if connection.dialect.name == "sqlite":
        # IMMEDIATE: a transaction that reads first and then writes could otherwise be refused half-way.
        connection.exec_driver_sql("BEGIN" if wait is None else "BEGIN IMMEDIATE")
    elif wait is not None:
        connection.exec_driver_sql(f"SET LOCAL lock_timeout = {round(wait * 1000)}")
        connection.exec_driver_sql(f"SELECT pg_advisory_xact_lock({_LOCK})")


def trouble(error: BaseException | None, name: str, wait: float) -> StoreTrouble:
    """Say what a driver's error means for the user."""
    return (
        _file_trouble(error, name, wait)
        if isinstance(error, sqlite3.Error)
        else _server_trouble(error, name, wait)
    )


def _file_trouble(error: sqlite3.Error, name: str, wait: float) -> StoreTrouble:
    # The low byte is the primary result code; the rest says more than a user needs (sqlite.org/rescode.html).
    code = getattr(error, "sqlite_errorcode", sqlite3.SQLITE_ERROR) & 0xFF
    cases: dict[int, Callable[[], StoreTrouble]] = {
        sqlite3.SQLITE_BUSY: lambda: StoreBusy(name, wait),
        sqlite3.SQLITE_LOCKED: lambda: StoreBusy(name, wait),
        sqlite3.SQLITE_READONLY: lambda: StoreReadOnly(name, str(error)),
        sqlite3.SQLITE_CANTOPEN: lambda: StoreReadOnly(name, str(error)),
        sqlite3.SQLITE_PERM: lambda: StoreReadOnly(name, str(error)),
        sqlite3.SQLITE_AUTH: lambda: StoreReadOnly(name, str(error)),
        sqlite3.SQLITE_FULL: lambda: StoreFull(name),
        sqlite3.SQLITE_CORRUPT: lambda: StoreDamaged(name, str(error)),
        sqlite3.SQLITE_NOTADB: lambda: StoreDamaged(name, str(error)),
    }
    return cases.get(code, lambda: StoreTrouble(name, f"the database reports: {error}"))()


def _server_trouble(error: BaseException | None, name: str, wait: float) -> StoreTrouble:
    # SQLSTATE, PostgreSQL manual, appendix A. An error while connecting has none.
    state: Any = getattr(error, "sqlstate", None)
    reason = " ".join(str(error).split())
    if state is None or state[:2] in ("08", "28", "3D", "57"):
        return StoreUnreachable(name, reason)
    if state in ("55P03", "40001", "40P01"):
        return StoreBusy(name, wait)
    if state in ("25006", "42501"):
        return StoreReadOnly(name, reason)
    if state == "53100":
        return StoreFull(name)
    if state in ("XX001", "XX002"):
        return StoreDamaged(name, reason)
    return StoreTrouble(name, f"the database reports: {reason}")
