"""Many jobs at once: the same rules as :func:`benchlore.model.cases_from_jobs`, on arrays."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, NamedTuple, TypeAlias

import numpy as np
from numpy.typing import NDArray

from benchlore.jobs import Outcome, Retest
from benchlore.model.cases import Cases, Tried
from benchlore.model.packed import BoolArray, IntArray
from benchlore.model.values import FloatArray, Model

Codes: TypeAlias = NDArray[np.signedinteger[Any]]


if TYPE_CHECKING:  # importing it for real would bring the database library into the engine
    from benchlore.jobs import JobColumns


class _Jobs(NamedTuple):
    """Of all jobs: whether used, place among those used, whether it came back, end of its evidence."""

    used: BoolArray
    place: IntArray
    came_back: BoolArray
    end: FloatArray


def cases_from_columns(models: Sequence[Model], columns: JobColumns) -> Cases:
    """Return the jobs of the models' board and complaints as cases; see :func:`cases_from_jobs`."""
    ignored: Counter[str] = Counter()
    complaints = _translate(columns.complaint, columns.complaints, [model.complaint for model in models])
    jobs = _jobs(models[0], columns, complaints, ignored)
    faults = _faults(models[0], columns, jobs, ignored)
    readings = _readings(models[0], columns, jobs, ignored)
    attempts = _attempts(models[0], columns, jobs, ignored)
    return Cases(
        complaints=complaints[jobs.used],
        faults=faults[jobs.used],
        reading_jobs=jobs.place[columns.reading_job[readings[0]]],
        reading_checks=readings[1],
        reading_results=readings[2],
        reading_values=np.where(readings[2] < 0, columns.reading_value[readings[0]], 0.0),
        attempt_jobs=jobs.place[columns.attempt_job[attempts[0]]],
        attempt_fixes=attempts[1],
        attempt_outcomes=attempts[2],
        attempt_soaked=_soaked(columns, attempts[0], attempts[2]),
        ignored=dict(sorted((reason, times) for reason, times in ignored.items() if times)),
    )


def _translate(codes: Codes, names: Sequence[str], known: Sequence[str]) -> IntArray:
    """Return each code's place among the ``known`` names, or -1."""
    places = {name: place for place, name in enumerate(known)}
    table = np.array([*(places.get(name, -1) for name in names), -1], dtype=np.int64)
    return table[codes]


def _count(ignored: Counter[str], reason: str, codes: Codes, names: Sequence[str]) -> None:
    """Count each name among ``codes`` under a reason with a place for the name."""
    for name, times in zip(names, np.bincount(codes, minlength=len(names)).tolist(), strict=True):
        ignored[reason.format(name)] += times


def _jobs(model: Model, columns: JobColumns, complaints: IntArray, ignored: Counter[str]) -> _Jobs:
    is_open = columns.outcome == columns.outcomes.index(Outcome.OPEN)
    used = (complaints >= 0) & ~is_open
    if columns.board != model.board:
        ignored[f"job of board '{columns.board}'"] += len(used)
        used = np.zeros_like(used)
    else:
        unknown = columns.complaint[complaints < 0]
        _count(ignored, "job with unknown complaint '{}'", unknown, columns.complaints)
        ignored["job that is still open"] += int(((complaints >= 0) & is_open).sum())
    came_back = columns.comeback == 1
    return _Jobs(used, np.cumsum(used) - 1, came_back, _ends(columns, came_back))


def _ends(columns: JobColumns, came_back: BoolArray) -> FloatArray:
    """Return the step after which each board is no longer the faulty one, ``(J,)``."""
    first_gone, last = np.full(len(came_back), np.inf), np.full(len(came_back), -np.inf)
    gone = columns.attempt_retest == columns.retests.index(Retest.GONE)
    np.minimum.at(first_gone, columns.attempt_job[gone], columns.attempt_step[gone].astype(np.float64))
    np.maximum.at(last, columns.attempt_job, columns.attempt_step.astype(np.float64))
    repaired = columns.outcome == columns.outcomes.index(Outcome.REPAIRED)
    unsure = np.isinf(first_gone) & repaired & np.isfinite(last)
    ends: FloatArray = np.where(came_back, np.inf, np.where(unsure, last, first_gone))
    return ends


def _faults(model: Model, columns: JobColumns, jobs: _Jobs, ignored: Counter[str]) -> IntArray:
    confirmed = (columns.fault >= 0) & ~jobs.came_back & jobs.used
    faults = np.where(confirmed, _translate(columns.fault, columns.faults, model.faults), -1)
    _count(ignored, "unknown fault '{}'", columns.fault[confirmed & (faults < 0)], columns.faults)
    return faults


def _readings(
    model: Model, columns: JobColumns, jobs: _Jobs, ignored: Counter[str]
) -> tuple[IntArray, IntArray, IntArray]:
    """Return the rows of the readings that count, their checks and their results."""
    late = columns.reading_step > jobs.end[columns.reading_job]
    used = jobs.used[columns.reading_job]
    ignored["reading after the repair"] += int((used & late).sum())
    rows = np.flatnonzero(used & ~late)
    checks = _translate(columns.reading_check[rows], columns.checks, [check.name for check in model.checks])
    unknown = columns.reading_check[rows[checks < 0]]
    _count(ignored, "reading of unknown check '{}'", unknown, columns.checks)
    rows, checks = rows[checks >= 0], checks[checks >= 0]
    results, shown = _results(model, columns, rows, checks)
    misfit = columns.reading_check[rows[~shown]]
    _count(ignored, "reading of check '{}' that it does not show", misfit, columns.checks)
    rows, checks, results = rows[shown], checks[shown], results[shown]
    last = _last_of_each(columns, rows, checks)
    repeated = columns.reading_check[np.delete(rows, last)]
    _count(ignored, "earlier reading of check '{}'", repeated, columns.checks)
    return rows[last], checks[last], results[last]


def _results(
    model: Model, columns: JobColumns, rows: IntArray, checks: IntArray
) -> tuple[IntArray, BoolArray]:
    """Return each reading's result (-1: a raw number), and whether its check shows that at all."""
    numeric = np.array([check.densities is not None for check in model.checks], dtype=np.bool_)
    places = np.full((len(model.checks), len(columns.results) + 1), -1, dtype=np.int64)
    for c, check in enumerate(model.checks):
        places[c, :-1] = [
            check.results.index(name) if name in check.results else -1 for name in columns.results
        ]
    raw = numeric[checks] & ~np.isnan(columns.reading_value[rows])
    results = np.where(raw, -1, places[checks, columns.reading_result[rows]])
    return results, np.where(raw, columns.reading_value[rows] != -np.inf, results >= 0)


def _last_of_each(columns: JobColumns, rows: IntArray, checks: IntArray) -> IntArray:
    """Return which of the readings is the last of its check in its job."""
    order = np.lexsort((columns.reading_step[rows], checks, columns.reading_job[rows]))
    same = columns.reading_job[rows[order[1:]]] == columns.reading_job[rows[order[:-1]]]
    same &= checks[order[1:]] == checks[order[:-1]]
    is_last = np.append(~same, np.ones(min(len(order), 1), dtype=np.bool_))
    return np.sort(order[is_last])


def _soaked(columns: JobColumns, rows: IntArray, outcomes: IntArray) -> FloatArray:
    """Return the minutes of soak that are times; of a board that came back they tell nothing."""
    minutes = columns.attempt_soaked[rows]
    told = (minutes >= 0) & (minutes < np.inf) & (outcomes != Tried.CAME_BACK)
    return np.where(told, minutes, np.nan)


def _attempts(
    model: Model, columns: JobColumns, jobs: _Jobs, ignored: Counter[str]
) -> tuple[IntArray, IntArray, IntArray]:
    """Return the rows of the attempts that count, their fixes and what became of them."""
    retest = columns.attempt_retest
    gone = retest == columns.retests.index(Retest.GONE)
    known = retest != columns.retests.index(Retest.UNKNOWN)
    in_time = columns.attempt_step <= jobs.end[columns.attempt_job]
    rows = np.flatnonzero(jobs.used[columns.attempt_job] & known & in_time)
    fixes = _translate(columns.attempt_fix[rows], columns.fixes, [fix.name for fix in model.fixes])
    _count(ignored, "unknown fix '{}'", columns.attempt_fix[rows[fixes < 0]], columns.fixes)
    rows, fixes = rows[fixes >= 0], fixes[fixes >= 0]
    passed = np.where(jobs.came_back[columns.attempt_job[rows]], Tried.CAME_BACK, Tried.PASSED)
    return rows, fixes, np.where(gone[rows], passed, Tried.FAILED).astype(np.int64)
