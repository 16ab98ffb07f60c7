"""Demand records in the store."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import fields
from typing import Any, Final, TypeAlias

from sqlalchemy import Connection, delete, func, insert, select

from benchlore.jobs import tables
from benchlore.jobs.adding import Progress, chunks
from benchlore.jobs.demand import DemandRecord
from benchlore.jobs.storable import check_demand
from benchlore.jobs.store_rows import CHUNK, among
from benchlore.jobs.store_values import DemandAdded

DemandCounts: TypeAlias = Mapping[tuple[str, ...], int]
"""How many repair events there are of each combination of values."""

_Key: TypeAlias = tuple[str, str]

_COLUMNS: Final = {each.name: each.name for each in fields(DemandRecord)} | {"group": "group_name"}
_PROVIDER: Final = tables.demand.c.provider
_ID: Final = tables.demand.c.id
_SELECT: Final = select(*(tables.demand.c[column] for column in _COLUMNS.values()))


def add_demand(
    connection: Connection, records: Iterable[DemandRecord], progress: Progress | None
) -> DemandAdded:
    """Add records in the write transaction of ``connection``; the last word on an event counts."""
    counts = {"new": 0, "same": 0, "changed": 0}
    for chunk in chunks(records, progress):
        for record in chunk:
            check_demand(record)
        stored = _stored(connection, chunk)
        now = dict(stored)
        for record in chunk:
            before = now.get(_key(record))
            counts["new" if before is None else "same" if before == record else "changed"] += 1
            now[_key(record)] = record
        _write(connection, stored, {key: record for key, record in now.items() if stored.get(key) != record})
    return DemandAdded(**counts)


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
    query = select(*columns, count).select_from(tables.demand)
    rows = connection.execute(query.group_by(*columns).order_by(count.desc(), *columns))
    return {tuple("" if each is None else str(each) for each in key): events for *key, events in rows}


def read_demand(connection: Connection) -> Iterator[DemandRecord]:
    """Read all records, by provider and identifier."""
    query = _SELECT.order_by(_PROVIDER, _ID).execution_options(yield_per=CHUNK)
    return map(_record, connection.execute(query))


def _stored(connection: Connection, records: Iterable[DemandRecord]) -> dict[_Key, DemandRecord]:
    return {
        _key(record): record
        for condition in among(_PROVIDER, _ID, map(_key, records))
        for record in map(_record, connection.execute(_SELECT.where(condition)))
    }


def _write(
    connection: Connection, stored: Mapping[_Key, DemandRecord], records: Mapping[_Key, DemandRecord]
) -> None:
    for condition in among(_PROVIDER, _ID, stored.keys() & records.keys()):
        connection.execute(delete(tables.demand).where(condition))
    if records:
        connection.execute(insert(tables.demand), [_row(record) for record in records.values()])


def _key(record: DemandRecord) -> _Key:
    return record.provider, record.id


def _row(record: DemandRecord) -> dict[str, Any]:
    return {column: getattr(record, name) for name, column in _COLUMNS.items()}


def _record(row: Sequence[Any]) -> DemandRecord:
    return DemandRecord(*row)
