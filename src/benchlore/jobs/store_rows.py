"""Jobs as rows of tables, and back."""

import json
from collections.abc import Iterable, Iterator, Sequence
from contextlib import suppress
from itertools import groupby
from operator import itemgetter
from typing import Any, Final, TypeAlias

from sqlalchemy import ColumnElement, Connection, Select, Table, and_, delete, insert, select, update

from benchlore.jobs import tables
from benchlore.jobs.values import Attempt, Job, Outcome, Reading, Retest

JobRow: TypeAlias = dict[str, Any]
Entries: TypeAlias = list[tuple[Any, ...]]

CHUNK: Final = 2_000
"""How many jobs are read or written at a time: far fewer than a statement may have parameters."""


PLAIN: Final = (tables.reading, tables.attempt, tables.source)
"""Tables that hold texts and numbers only, which the drivers take as they are."""


def insert_jobs(connection: Connection, jobs: Sequence[tuple[int, Job]]) -> None:
    """Write new jobs under their row numbers."""
    if jobs:
        connection.execute(insert(tables.job), [_job_row(number, job) for number, job in jobs])
        _insert_entries(connection, jobs)


def update_jobs(connection: Connection, jobs: Sequence[tuple[int, Job]]) -> None:
    """Write changed jobs over the ones with their row numbers."""
    for number, job in jobs:
        connection.execute(update(tables.job).where(tables.job.c.id == number), _job_row(number, job))
        for table in (tables.reading, tables.attempt):
            connection.execute(delete(table).where(table.c.job_id == number))
    _insert_entries(connection, jobs)


def read_jobs(connection: Connection, numbers: Sequence[int]) -> dict[int, Job]:
    """Read the jobs with these row numbers, in that order."""
    readings = _readings(connection, numbers)
    attempts = _attempts(connection, numbers)
    rows = {row[0]: row for row in connection.execute(_of(tables.job, tables.job.c.id, numbers))}
    return {
        number: _job(rows[number], readings.get(number, ()), attempts.get(number, ()))
        for number in numbers
        if number in rows
    }


def insert_rows(connection: Connection, table: Table, rows: Sequence[tuple[Any, ...]]) -> None:
    """Write rows of a ``PLAIN`` table, in its order of columns, as fast as the driver can.

    The general way looks at each value of each row, and takes three times as long.
    """
    if not rows:
        return
    if connection.dialect.name == "postgresql":
        _copy_rows(connection, table, rows)
        return
    marks = ", ".join("?" * len(table.columns))
    connection.exec_driver_sql(f"INSERT INTO {table.name} VALUES ({marks})", list(rows))  # noqa: S608 -- our own name


def _copy_rows(connection: Connection, table: Table, rows: Iterable[tuple[Any, ...]]) -> None:
    driver: Any = connection.connection.driver_connection
    with driver.cursor() as cursor, cursor.copy(f"COPY {table.name} FROM STDIN") as copy:
        for row in rows:
            copy.write_row(row)


def _insert_entries(connection: Connection, jobs: Iterable[tuple[int, Job]]) -> None:
    readings: Entries = []
    attempts: Entries = []
    for number, job in jobs:
        readings.extend(
            (number, position, each.check, each.step, each.result, each.value, each.text)
            for position, each in enumerate(job.readings)
        )
        attempts.extend(
            (number, position, each.fix, each.step, str(each.retest), each.soaked)
            for position, each in enumerate(job.attempts)
        )
    insert_rows(connection, tables.reading, readings)
    insert_rows(connection, tables.attempt, attempts)


def _readings(connection: Connection, numbers: Sequence[int]) -> dict[int, tuple[Reading, ...]]:
    # One comprehension, because this runs a million times where a store is large.
    return {
        number: tuple(
            [Reading(check, step, result, value, text) for _, _, check, step, result, value, text in rows]
        )
        for number, rows in _entries(connection, tables.reading, numbers)
    }


def _attempts(connection: Connection, numbers: Sequence[int]) -> dict[int, tuple[Attempt, ...]]:
    return {
        number: tuple(
            [Attempt(fix, step, Retest(retest), soaked) for _, _, fix, step, retest, soaked in rows]
        )
        for number, rows in _entries(connection, tables.attempt, numbers)
    }


def _entries(
    connection: Connection, table: Table, numbers: Sequence[int]
) -> Iterator[tuple[int, Iterator[tuple[Any, ...]]]]:
    query = _of(table, table.c.job_id, numbers).order_by(table.c.job_id, table.c.position)
    return groupby(plain_rows(connection, query), itemgetter(0))


def among(
    first: ColumnElement[str], second: ColumnElement[str], pairs: Iterable[tuple[str, str]]
) -> Iterator[ColumnElement[bool]]:
    """Yield conditions that together hold for ``pairs``, one for each first value.

    One condition for all, ``(first, second) IN …``, makes SQLite look through the whole table.
    """
    groups: dict[str, list[str]] = {}
    for one, other in pairs:
        groups.setdefault(one, []).append(other)
    for one, others in groups.items():
        yield and_(first == one, second.in_(others))


def plain_rows(connection: Connection, query: Select[Any]) -> Iterator[tuple[Any, ...]]:
    """Run a query for plain texts and numbers and take the driver's own rows, at half the time."""
    cursor = connection.execute(query).cursor
    assert cursor is not None
    return iter(cursor.fetchall())


def _of(table: Table, column: Any, numbers: Sequence[int]) -> Select[Any]:
    return select(table).where(column.in_(numbers))


def _job_row(number: int, job: Job) -> JobRow:
    return {
        "id": number,
        "shop": job.shop,
        "number": job.number,
        "board": job.board,
        "complaint": job.complaint,
        "opened": job.opened,
        "outcome": str(job.outcome),
        "fault": job.fault,
        "fault_text": job.fault_text,
        "hands_on": job.hands_on,
        "waiting": job.waiting,
        "comeback": job.comeback,
        "technician": job.technician,
        "notes": job.notes,
        "extra": extra_text(job),
    }


def extra_text(job: Job) -> str:
    """Print what a job says beyond its fields: JSON in the order of names, empty if there is nothing."""
    return json.dumps(dict(job.extra), ensure_ascii=False, sort_keys=True) if job.extra else ""


def extra_of(text: str) -> dict[str, str]:
    """Read what ``extra_text`` printed.

    Raises
    ------
    ValueError
        If it is something else.
    """
    if not text:
        return {}
    with suppress(json.JSONDecodeError):
        extra = json.loads(text)
        if isinstance(extra, dict) and all(isinstance(value, str) for value in extra.values()):
            return extra
    raise ValueError(f"{text[:60]!r} is not a JSON object of texts")


def _job(row: Sequence[Any], readings: tuple[Reading, ...], attempts: tuple[Attempt, ...]) -> Job:
    _, shop, number, board, complaint, opened, outcome, fault, fault_text, *rest = row
    hands_on, waiting, comeback, technician, notes, extra = rest
    return Job(
        shop=shop,
        number=number,
        board=board,
        complaint=complaint,
        opened=opened,
        readings=readings,
        attempts=attempts,
        outcome=Outcome(outcome),
        fault=fault,
        fault_text=fault_text,
        hands_on=hands_on,
        waiting=waiting,
        comeback=comeback,
        technician=technician,
        notes=notes,
        extra=extra_of(extra) if extra else {},
    )
