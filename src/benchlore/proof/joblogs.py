"""Readings of jobs as the proof uses them: as results, and as log-likelihoods of states."""

from collections.abc import Iterator
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from benchlore.model import Cases, FloatArray, Model, log_likelihoods
from benchlore.model.packed import IntArray
from benchlore.model.sample import results_of

NEXT_TO_NEVER = 1e-300
"""A share of blunders that is none, and still has a logarithm."""


def results_in(model: Model, cases: Cases) -> IntArray:
    """Return each job's result of each check, ``(J, C)``, numbers put into their bands; -1 where not read."""
    results = np.full((len(cases.faults), len(model.checks)), -1, dtype=np.int64)
    results[cases.reading_jobs, cases.reading_checks] = cases.reading_results
    raw = cases.reading_results < 0
    for c, check in enumerate(model.checks):
        here = raw & (cases.reading_checks == c)
        if here.any():
            results[cases.reading_jobs[here], c] = results_of(check, cases.reading_values[here])
    return results


def check_logs(model: Model, cases: Cases) -> Iterator[tuple[int, IntArray, FloatArray]]:
    """Yield each check that was read, its jobs ``(N,)`` and ``log P(reading | state)``, ``(N, S)``."""
    for c in np.unique(cases.reading_checks).tolist():
        here = cases.reading_checks == c
        results, logs = (
            cases.reading_results[here],
            np.empty((int(here.sum()), model.checks[c].counts.shape[0])),
        )
        for result in np.unique(results).tolist():
            logs[results == result] = reading_logs(
                model, c, result, cases.reading_values[here][results == result]
            )
        yield c, cases.reading_jobs[here], logs


def reading_logs(model: Model, check: int, result: int, values: FloatArray) -> FloatArray:
    """``log P(reading | state)``, ``(N, S)``: of a result, or of each of ``values`` where that is -1."""
    one = model.checks[check]
    if result < 0:
        return log_likelihoods(one, values)
    with np.errstate(divide="ignore"):
        return np.log(one.probabilities[:, result])[None, :]


class Seen(NamedTuple):
    """One job: its confirmed fault (-1: none), its readings by check, and fixes tried.

    ``logs`` are ``log P(reading | state)`` ``(1, S)`` under the model, ``strict`` under the model without
    blunders; ``numbers`` are the readings that are numbers, ``results`` all others. ``attempts`` have fix,
    outcome and minutes of soak (``nan``: not recorded).
    """

    fault: int
    logs: dict[int, FloatArray]
    strict: dict[int, FloatArray]
    numbers: dict[int, float]
    results: dict[int, int]
    attempts: list[tuple[int, int, float]]


def seen_in(model: Model, cases: Cases) -> list[Seen]:
    """Return what the model makes of each job."""
    strict = without_blunders(model)
    jobs = [Seen(fault, {}, {}, {}, {}, []) for fault in cases.faults.tolist()]
    for check, places, logs in check_logs(model, cases):
        for job, row in zip(places.tolist(), logs, strict=True):
            jobs[job].logs[check] = row[None]
    for check, places, logs in check_logs(strict, cases):
        for job, row in zip(places.tolist(), logs, strict=True):
            jobs[job].strict[check] = row[None]
    columns = (cases.reading_jobs, cases.reading_checks, cases.reading_results, cases.reading_values)
    for job, check, result, value in zip(*(column.tolist() for column in columns), strict=True):
        if result < 0:
            jobs[job].numbers[check] = value
        else:
            jobs[job].results[check] = result
    tried = (cases.attempt_jobs, cases.attempt_fixes, cases.attempt_outcomes, cases.attempt_soaked)
    for job, *attempt in zip(*(column.tolist() for column in tried), strict=True):
        fix, outcome, soaked = attempt
        jobs[job].attempts.append((fix, outcome, soaked))
    return jobs


def without_blunders(model: Model) -> Model:
    """Return the model in which no number is a blunder."""
    checks = tuple(
        check
        if check.densities is None
        else replace(check, densities=replace(check.densities, slip=NEXT_TO_NEVER))
        for check in model.checks
    )
    return replace(model, checks=checks)
