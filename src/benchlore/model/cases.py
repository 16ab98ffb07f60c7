"""Recorded jobs as columns: what learning reads."""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from enum import IntEnum
from math import inf, isnan, nan
from typing import NamedTuple

import numpy as np

from benchlore.jobs import Attempt, Job, Outcome, Reading, Retest
from benchlore.model.errors import CasesError
from benchlore.model.packed import IntArray
from benchlore.model.values import Check, FloatArray, Model


class Tried(IntEnum):
    """What became of a fix that was tried, as far as it says something about the fault."""

    FAILED = 0
    """The retest showed the complaint: ``(1 - rho) d``."""
    PASSED = 1
    """The retest showed nothing: ``rho + (1 - rho)(1 - d)``."""
    CAME_BACK = 2
    """The retest showed nothing and the board came back: ``1 - rho``."""


@dataclass(frozen=True, eq=False)
class Cases:
    """``J`` jobs, their ``N`` readings and their ``A`` attempts, as columns of indices into the models.

    ``complaints`` ``(J,)`` are places in the sequence of models, ``faults`` ``(J,)`` the confirmed faults or
    -1. A reading belongs to ``reading_jobs``, is of ``reading_checks``, and has a result, or -1 and a raw
    value (``inf`` is over range). All readings are of the fault in question: none was taken after the first
    fix that cured. ``attempt_outcomes`` are :class:`Tried`; ``attempt_soaked`` are minutes of soak, ``nan``
    where not recorded. ``ignored``: what was left out, and how often.
    """

    complaints: IntArray
    faults: IntArray
    reading_jobs: IntArray
    reading_checks: IntArray
    reading_results: IntArray
    reading_values: FloatArray
    attempt_jobs: IntArray
    attempt_fixes: IntArray
    attempt_outcomes: IntArray
    attempt_soaked: FloatArray
    ignored: Mapping[str, int] = field(default_factory=dict)


def refuse_misfits(models: Sequence[Model], cases: Cases) -> None:
    """Check that the columns fit together and fit the models.

    Raises
    ------
    CasesError
        If a column is of the wrong length or type, or an index points at nothing.
    """
    model, jobs = models[0], len(cases.complaints)
    widths = np.array([len(check.results) for check in model.checks], dtype=np.int64)
    bounds = {
        "complaints": (jobs, 0, len(models)),
        "faults": (jobs, -1, len(model.faults)),
        "reading_jobs": (len(cases.reading_jobs), 0, jobs),
        "reading_checks": (len(cases.reading_jobs), 0, len(model.checks)),
        "reading_results": (len(cases.reading_jobs), -1, int(widths.max(initial=0))),
        "attempt_jobs": (len(cases.attempt_jobs), 0, jobs),
        "attempt_fixes": (len(cases.attempt_jobs), 0, len(model.fixes)),
        "attempt_outcomes": (len(cases.attempt_jobs), 0, len(Tried)),
    }
    for name, (length, low, high) in bounds.items():
        column = getattr(cases, name)
        if column.shape != (length,) or column.dtype.kind != "i":
            raise CasesError(name, (column.shape, str(column.dtype)), f"{length} whole numbers")
        outside = column[(column < low) | (column >= high)]
        if outside.size:
            raise CasesError(name, int(outside[0]), f"indices from {low} to {high - 1}")
    _refuse_misfit_readings(model, cases, widths)
    _refuse_misfit_soaks(cases)


def _refuse_misfit_soaks(cases: Cases) -> None:
    soaked = cases.attempt_soaked
    if soaked.shape != cases.attempt_jobs.shape:
        raise CasesError("attempt_soaked", soaked.shape, f"{len(cases.attempt_jobs)} numbers")
    bad = soaked[(soaked < 0) | np.isinf(soaked)]
    if bad.size:
        raise CasesError("attempt_soaked", float(bad[0]), "minutes from 0 on, or nan where not recorded")


def _refuse_misfit_readings(model: Model, cases: Cases, widths: IntArray) -> None:
    if cases.reading_values.shape != cases.reading_jobs.shape:
        raise CasesError("reading_values", cases.reading_values.shape, f"{len(cases.reading_jobs)} numbers")
    beyond = cases.reading_results >= widths[cases.reading_checks]
    if beyond.any():
        raise CasesError("reading_results", int(cases.reading_results[beyond][0]), "results of their checks")
    raw = cases.reading_results < 0
    numeric = np.array([check.densities is not None for check in model.checks], dtype=np.bool_)
    wrong = raw & ~numeric[cases.reading_checks]
    if wrong.any():
        name = model.checks[int(cases.reading_checks[wrong][0])].name
        raise CasesError("reading_results", -1, f"a result of the named check '{name}'")
    values = cases.reading_values[raw]
    bad = values[np.isnan(values) | (values == -inf)]
    if bad.size:
        raise CasesError("reading_values", float(bad[0]), "numbers, or infinity for over range")


class _Names(NamedTuple):
    """Where each name of the models stands."""

    board: str
    complaints: Mapping[str, int]
    faults: Mapping[str, int]
    checks: Mapping[str, int]
    fixes: Mapping[str, int]


class _Columns(NamedTuple):
    """Columns in the making."""

    jobs: list[tuple[int, int]]
    readings: list[tuple[int, int, int, float]]
    attempts: list[tuple[int, int, int, float]]
    ignored: Counter[str]


def cases_from_jobs(models: Sequence[Model], jobs: Iterable[Job]) -> Cases:
    """Return the jobs of the models' board and complaints as cases.

    * A job that is still open says nothing yet.
    * The first fix after which the complaint was gone ends a job's evidence: what was read later was read on
      a repaired board. So does the last fix of a repaired job where nobody wrote down the retest.
    * A job that came back was not cured: its passing retest counts as :attr:`Tried.CAME_BACK`, and its
      confirmed fault, which rested on that retest, counts as unknown.
    * A check that was read twice counts once, as read last.

    What the models do not know (another board, an unknown name) is left out and counted in ``ignored``.
    """
    model = models[0]
    names = _Names(
        model.board,
        {other.complaint: place for place, other in enumerate(models)},
        {fault: place for place, fault in enumerate(model.faults)},
        {check.name: place for place, check in enumerate(model.checks)},
        {fix.name: place for place, fix in enumerate(model.fixes)},
    )
    columns = _Columns([], [], [], Counter())
    for job in jobs:
        if not (reason := _unusable(names, job)):
            _add_job(model, names, columns, job)
        else:
            columns.ignored[reason] += 1
    return _to_cases(columns)


def _to_cases(columns: _Columns) -> Cases:
    jobs = np.array(columns.jobs, dtype=np.int64).reshape(-1, 2)
    readings = np.array([row[:3] for row in columns.readings], dtype=np.int64).reshape(-1, 3)
    attempts = np.array([row[:3] for row in columns.attempts], dtype=np.int64).reshape(-1, 3)
    return Cases(
        complaints=jobs[:, 0],
        faults=jobs[:, 1],
        reading_jobs=readings[:, 0],
        reading_checks=readings[:, 1],
        reading_results=readings[:, 2],
        reading_values=np.array([row[3] for row in columns.readings], dtype=np.float64),
        attempt_jobs=attempts[:, 0],
        attempt_fixes=attempts[:, 1],
        attempt_outcomes=attempts[:, 2],
        attempt_soaked=np.array([row[3] for row in columns.attempts], dtype=np.float64),
        ignored=dict(sorted(columns.ignored.items())),
    )


def soaked_in(cases: Cases) -> tuple[tuple[int, float], ...]:
    """Return fixes that failed and the minutes until they did, where they are known, of one job's cases."""
    known = ~np.isnan(cases.attempt_soaked) & (cases.attempt_outcomes == Tried.FAILED)
    pairs = zip(cases.attempt_fixes[known].tolist(), cases.attempt_soaked[known].tolist(), strict=True)
    return tuple(dict(pairs).items())


def _unusable(names: _Names, job: Job) -> str:
    """Why a job cannot be used at all, or nothing."""
    if job.board != names.board:
        return f"job of board '{job.board}'"
    if job.complaint not in names.complaints:
        return f"job with unknown complaint '{job.complaint}'"
    return "job that is still open" if job.outcome is Outcome.OPEN else ""


def _add_job(model: Model, names: _Names, columns: _Columns, job: Job) -> None:
    place = len(columns.jobs)
    columns.jobs.append((names.complaints[job.complaint], _confirmed(names, columns, job)))
    end = end_of_evidence(job)
    for attempt in job.attempts:
        if attempt.step <= end and attempt.retest is not Retest.UNKNOWN:
            _add_attempt(names, columns, job, attempt, place)
    kept: dict[str, tuple[int, int, int, float]] = {}
    for reading in sorted(job.readings, key=lambda reading: reading.step):
        if reading.step > end:
            columns.ignored["reading after the repair"] += 1
        elif reading.check not in names.checks:
            columns.ignored[f"reading of unknown check '{reading.check}'"] += 1
        elif (outcome := _outcome(model.checks[names.checks[reading.check]], reading)) is None:
            columns.ignored[f"reading of check '{reading.check}' that it does not show"] += 1
        else:
            if reading.check in kept:
                columns.ignored[f"earlier reading of check '{reading.check}'"] += 1
            kept[reading.check] = (place, names.checks[reading.check], *outcome)
    columns.readings.extend(kept.values())


def _confirmed(names: _Names, columns: _Columns, job: Job) -> int:
    if job.fault is None or job.comeback:
        return -1
    if job.fault not in names.faults:
        columns.ignored[f"unknown fault '{job.fault}'"] += 1
    return names.faults.get(job.fault, -1)


def end_of_evidence(job: Job) -> float:
    """Return the step after which the board is no longer the faulty one; infinity where there is none."""
    if job.comeback:
        return inf
    gone = [attempt.step for attempt in job.attempts if attempt.retest is Retest.GONE]
    if not gone and job.outcome is Outcome.REPAIRED and job.attempts:
        gone = [max(attempt.step for attempt in job.attempts)]
    return min(gone, default=inf)


def _add_attempt(names: _Names, columns: _Columns, job: Job, attempt: Attempt, place: int) -> None:
    if attempt.fix not in names.fixes:
        columns.ignored[f"unknown fix '{attempt.fix}'"] += 1
        return
    tried = Tried.FAILED
    if attempt.retest is Retest.GONE:
        tried = Tried.CAME_BACK if job.comeback else Tried.PASSED
    columns.attempts.append((place, names.fixes[attempt.fix], int(tried), _soaked(attempt, tried)))


def _soaked(attempt: Attempt, tried: Tried) -> float:
    """Return the minutes of soak if they are a time; of a board that came back they tell nothing."""
    minutes = attempt.soaked
    if minutes is None or not 0 <= minutes < inf or tried is Tried.CAME_BACK:
        return nan
    return minutes


def _outcome(check: Check, reading: Reading) -> tuple[int, float] | None:
    """Return the reading as (result, value): a result's index, or -1 and a number."""
    if reading.value is not None and check.densities is not None:
        return None if isnan(reading.value) or reading.value == -inf else (-1, reading.value)
    return (check.results.index(reading.result), 0.0) if reading.result in check.results else None
