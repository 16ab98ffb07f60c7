"""A whole store into an empty one: from a file to a server, or back."""

from typing import Any

from sqlalchemy import Connection, Table, insert, select

from benchlore.jobs import tables
from benchlore.jobs.adding import Progress
from benchlore.jobs.errors import StoreTrouble
from benchlore.jobs.store import Store
from benchlore.jobs.store_rows import CHUNK, PLAIN, insert_rows


def copy_store(source: Store, target: Store, *, progress: Progress | None = None) -> int:
    """Copy all jobs, intakes and demand records in one transaction, and return how many rows there were.

    Raises
    ------
    StoreTrouble
        If ``target`` is not empty, or one of its kinds.
    """
    done = 0
    with source.database.reading() as reading, target.database.writing() as writing:
        for table in tables.metadata.sorted_tables:
            if table is tables.meta:
                continue
            if writing.execute(select(table).limit(1)).first():
                raise StoreTrouble(
                    target.place, f"this store already has a {table.name}; copy into an empty one"
                )
            done = _copy(reading, writing, table, done, progress)
    return done


def _copy(
    reading: Connection, writing: Connection, table: Table, done: int, progress: Progress | None
) -> int:
    rows: Any = reading.execute(select(table).execution_options(yield_per=CHUNK))
    names = [column.name for column in table.columns]
    for part in rows.partitions():
        if table in PLAIN:
            insert_rows(writing, table, [tuple(row) for row in part])
        else:
            writing.execute(insert(table), [dict(zip(names, row, strict=True)) for row in part])
        done += len(part)
        if progress:
            progress(done)
    return done
