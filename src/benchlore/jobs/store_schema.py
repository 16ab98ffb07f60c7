"""The version of a store's tables: read, made, brought up to date."""

from pathlib import Path
from typing import Final

from sqlalchemy import Connection, column, insert, inspect, select, table

from benchlore import __version__
from benchlore.jobs import tables
from benchlore.jobs.errors import StoreDamaged, StoreMissing, StoreNewer, StoreReadOnly
from benchlore.jobs.migrations import HEAD, REVISIONS, VERSION_TABLE
from benchlore.jobs.store_engine import Database, keep_copy, use_journal

_VERSION: Final = table(VERSION_TABLE, column("version_num"))
_MIGRATIONS: Final = Path(__file__).with_name("migrations")


def prepare(database: Database, *, create: bool) -> None:
    """See to it that the store has today's tables; a store that cannot be used is left as it is.

    Raises
    ------
    StoreTrouble
        One of its kinds.
    """
    location, wait = database.location, database.wait
    with database.reading() as connection:
        found = version(connection, location.name)
    if found is None and not create:
        raise StoreMissing(location.name)
    if found != HEAD and location.read_only:
        raise StoreReadOnly(location.name, "its tables must first be brought up to date")
    use_journal(location, wait=wait)
    if found == HEAD:
        return
    if found is not None and location.file is not None:
        keep_copy(location, location.file.with_name(f"{location.file.name}.before-{HEAD}"), wait=wait)
    with database.writing() as connection:
        # Another program may have been faster while this one waited for the lock.
        if (found := version(connection, location.name)) != HEAD:
            _upgrade(connection)
        if found is None:
            connection.execute(insert(tables.meta), {"name": "made by", "value": f"benchlore {__version__}"})


def version(connection: Connection, name: str) -> str | None:
    """Return the version of the store's tables, ``None`` for an empty database.

    Raises
    ------
    StoreNewer
        If a newer benchlore made it.
    StoreDamaged
        If something else did.
    """
    names = inspect(connection).get_table_names()
    if VERSION_TABLE not in names:
        if names:
            raise StoreDamaged(name, f"it is a database of something else, with a table {names[0]!r}")
        return None
    found = connection.execute(select(_VERSION.c.version_num)).scalar()
    if found is None:
        raise StoreDamaged(name, "it does not say its version")
    if found not in REVISIONS:
        raise StoreNewer(name, found, HEAD)
    return str(found)


def _upgrade(connection: Connection) -> None:
    """Run Alembic, inside the transaction: a store is never half-way between two versions."""
    # Alembic takes as long to import as all the rest here, and a store that is up to date needs none of it.
    from alembic import command  # noqa: PLC0415
    from alembic.config import Config  # noqa: PLC0415

    config = Config(attributes={"connection": connection})
    config.set_main_option("script_location", str(_MIGRATIONS).replace("%", "%%"))
    config.set_main_option("path_separator", "os")
    command.upgrade(config, "head")
