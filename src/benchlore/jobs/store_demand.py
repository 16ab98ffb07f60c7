"""Demand records in the store."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import fields
from typing import Any, Final, TypeAlias, cast

from sqlalchemy import Connection, func, or_, select
from sqlalchemy.dialects import postgresql, sqlite

from benchlore.jobs import tables
from benchlore.jobs.adding import Progress, chunks
from benchlore.jobs.demand import DemandRecord
from benchlore.jobs.storable import check_demand
from benchlore.jobs.store_values import DemandAdded

DemandCounts: TypeAlias = Mapping[tuple[str, ...], int]
"""How many repair events there are of each combination of values."""

_COLUMNS: Final = {each.name: each.name for each in fields(DemandRecord)} | {"group": "group_name"}


def add_demand(
    connection: Connection, records: Iterable[DemandRecord], progress: Progress | None
) -> DemandAdded:
    """Add records in the write transaction of ``connection``; the last word on an event counts."""
    before, offered, written = count_demand(connection), 0, 0
    statement = _upsert(connection)
    for chunk in chunks(records, progress):
        for record in chunk:
            check_demand(record)
        written += connection.execute(statement, [_row(record) for record in chunk]).rowcount
        offered += len(chunk)
    new = count_demand(connection) - before
    return DemandAdded(new=new, same=offered - written, changed=written - new)


def count_demand(connection: Connection) -> int:
    """Count all records."""
    return int(connection.execute(select(func.count()).select_from(tables.demand)).scalar_one())


def summarise_demand(connection: Connection, by: Sequence[str]) -> DemandCounts:
    """Count records by the fields ``by``, most frequent first.

    Raises
    ------
    ValueError
        If there is no such field.
    """
    if unknown := [name for name in by if name not in _COLUMNS]:
        raise ValueError(f"a demand record has no field {unknown[0]!r}; it has {', '.join(_COLUMNS)}")
    columns = [tables.demand.c[_COLUMNS[name]] for name in by]
    count = func.count()
    rows = connection.execute(select(*columns, count).group_by(*columns).order_by(count.desc(), *columns))
    return {tuple("" if each is None else str(each) for each in key): events for *key, events in rows}


def read_demand(connection: Connection) -> Iterator[DemandRecord]:
    """Read all records, by provider and identifier."""
    names = list(_COLUMNS)
    columns = [tables.demand.c[_COLUMNS[name]] for name in names]
    query = select(*columns).order_by(tables.demand.c.provider, tables.demand.c.id)
    for row in connection.execute(query.execution_options(yield_per=2_000)):
        yield DemandRecord(**dict(zip(names, row, strict=True)))


def _row(record: DemandRecord) -> dict[str, Any]:
    return {column: getattr(record, name) for name, column in _COLUMNS.items()}


def _upsert(connection: Connection) -> Any:
    """Insert a record, or bring the stored one up to date if it says something else."""
    # The two dialects spell this alike and share no class.
    dialect = sqlite if connection.dialect.name == "sqlite" else cast("Any", postgresql)
    statement = dialect.insert(tables.demand)
    others = [column for column in tables.demand.columns if not column.primary_key]
    differs = [statement.excluded[column.name].is_distinct_from(column) for column in others]
    return statement.on_conflict_do_update(
        index_elements=["provider", "id"],
        set_={column.name: statement.excluded[column.name] for column in others},
        where=or_(*differs),
    )
