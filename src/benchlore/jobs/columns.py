"""A board's jobs as arrays, for learning from many of them without making a value of each."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final, TypeAlias, TypeVar

import numpy as np
from numpy.typing import NDArray
from sqlalchemy import Column, Connection, select

from benchlore.jobs import tables
from benchlore.jobs.store_rows import plain_rows
from benchlore.jobs.values import Outcome, Retest

Codes: TypeAlias = NDArray[np.int32]
Floats: TypeAlias = NDArray[np.float64]

_S = TypeVar("_S", bound=np.generic)

OUTCOMES: Final = tuple(Outcome)
RETESTS: Final = tuple(Retest)

_READING: Final = tables.reading.c
_READING_COLUMNS: Final = (
    _READING.job_id,
    _READING.position,
    _READING.step,
    _READING.check_name,
    _READING.result,
    _READING.value,
)
_ATTEMPT: Final = tables.attempt.c
_ATTEMPT_COLUMNS: Final = (
    _ATTEMPT.job_id,
    _ATTEMPT.position,
    _ATTEMPT.step,
    _ATTEMPT.fix_name,
    _ATTEMPT.retest,
    _ATTEMPT.soaked,
)


@dataclass(frozen=True, eq=False)
class JobColumns:
    """All jobs of a board, in the order of ``(shop, number)``, as read-only arrays.

    A code is an index into the tuple of names of its kind; ``-1`` stands for ``None``. Of ``J`` jobs:
    ``complaint``, ``fault``, ``outcome`` are codes ``(J,)``, ``hands_on`` and ``waiting`` minutes (``nan``
    where not recorded), ``comeback`` is 1, 0 or −1 (unknown). Of ``N`` readings, in the order of jobs and as
    each job lists them: ``reading_job`` is an index into the jobs, ``reading_check`` and ``reading_result``
    are codes, ``reading_value`` is in SI units (``nan`` where there is none, ``inf`` over range). Of ``M``
    attempts likewise; ``attempt_soaked`` are minutes, ``nan`` where not recorded.
    """

    board: str
    complaints: tuple[str, ...]
    faults: tuple[str, ...]
    checks: tuple[str, ...]
    results: tuple[str, ...]
    fixes: tuple[str, ...]
    outcomes: tuple[Outcome, ...]
    retests: tuple[Retest, ...]
    complaint: Codes
    fault: Codes
    outcome: Codes
    hands_on: Floats
    waiting: Floats
    comeback: Codes
    reading_job: Codes
    reading_check: Codes
    reading_step: NDArray[np.int64]
    reading_result: Codes
    reading_value: Floats
    attempt_job: Codes
    attempt_fix: Codes
    attempt_step: NDArray[np.int64]
    attempt_retest: Codes
    attempt_soaked: Floats

    def __len__(self) -> int:
        """Return the number of jobs."""
        return len(self.complaint)


def read_columns(connection: Connection, board: str) -> JobColumns:
    """Read all jobs of a board."""
    jobs = _job_rows(connection, board)
    ids = jobs.numbers(0, np.int64)
    readings = _entry_rows(connection, board, _READING_COLUMNS, ids)
    attempts = _entry_rows(connection, board, _ATTEMPT_COLUMNS, ids)
    complaints, complaint = jobs.encoded(1)
    faults, fault = jobs.encoded(2)
    checks, check = readings.encoded(3)
    results, result = readings.encoded(4)
    fixes, fix = attempts.encoded(3)
    return JobColumns(
        board=board,
        complaints=complaints,
        faults=faults,
        checks=checks,
        results=results,
        fixes=fixes,
        outcomes=OUTCOMES,
        retests=RETESTS,
        complaint=complaint,
        fault=fault,
        outcome=jobs.coded(3, OUTCOMES),
        hands_on=jobs.numbers(4, np.float64),
        waiting=jobs.numbers(5, np.float64),
        comeback=jobs.coded(6, (False, True)),
        reading_job=_places(readings.numbers(0, np.int64), ids),
        reading_check=check,
        reading_step=readings.numbers(2, np.int64),
        reading_result=result,
        reading_value=readings.numbers(5, np.float64),
        attempt_job=_places(attempts.numbers(0, np.int64), ids),
        attempt_fix=fix,
        attempt_step=attempts.numbers(2, np.int64),
        attempt_retest=attempts.coded(4, RETESTS),
        attempt_soaked=attempts.numbers(5, np.float64),
    )


@dataclass(frozen=True, eq=False)
class _Rows:
    """Rows as the database gave them, and the order that they should have."""

    rows: Sequence[tuple[Any, ...]]
    order: NDArray[np.intp]

    def numbers(self, place: int, kind: type[_S]) -> NDArray[_S]:
        """Return a column of numbers; ``None`` becomes ``nan``."""
        return _kept(np.array([row[place] for row in self.rows], kind)[self.order])

    def encoded(self, place: int) -> tuple[tuple[str, ...], Codes]:
        """Return the names in a column, and the column as indices into them."""
        names = tuple(sorted({row[place] for row in self.rows} - {None}))
        return names, self.coded(place, names)

    def coded(self, place: int, names: Sequence[object]) -> Codes:
        """Return a column as indices into ``names``; ``None`` becomes −1."""
        codes = {name: code for code, name in enumerate(names)} | {None: -1}
        return _kept(np.array([codes[row[place]] for row in self.rows], np.int32)[self.order])


def _job_rows(connection: Connection, board: str) -> _Rows:
    job = tables.job.c
    query = select(job.id, job.complaint, job.fault, job.outcome, job.hands_on, job.waiting, job.comeback)
    rows = list(plain_rows(connection, query.where(job.board == board).order_by(job.shop, job.number)))
    return _Rows(rows, np.arange(len(rows)))


def _entry_rows(
    connection: Connection, board: str, columns: Sequence[Column[Any]], ids: NDArray[np.int64]
) -> _Rows:
    rows = list(plain_rows(connection, select(*columns).join(tables.job).where(tables.job.c.board == board)))
    # Sorting numbers here is several times faster than sorting rows in the database.
    unsorted = _Rows(rows, np.arange(len(rows)))
    job = _places(unsorted.numbers(0, np.int64), ids)
    return _Rows(rows, np.lexsort((unsorted.numbers(1, np.int64), job)))


def _places(ids: NDArray[np.int64], of: NDArray[np.int64]) -> Codes:
    """Return where each of ``ids`` stands in ``of``, which holds all of them, each once."""
    order = np.argsort(of)
    return _kept(order[np.searchsorted(of, ids, sorter=order)].astype(np.int32))


def _kept(array: NDArray[_S]) -> NDArray[_S]:
    array.setflags(write=False)
    return array
