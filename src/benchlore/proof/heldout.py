"""What a model that has not seen a job believes and foresees, reading by reading."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import pairwise
from math import isnan

import numpy as np

from benchlore.model import Cases, Evidence, FloatArray, Model, Tried, posterior, result_of, result_table


@dataclass(frozen=True, eq=False)
class Foreseen:
    """A job of ``K`` readings in the order in which they were taken.

    ``checks (K,)`` were made. ``beliefs (K + 1, F)`` are those before the first and after each reading;
    ``forecasts[k]`` is what the check might have shown, given the readings before, and ``shown[k]`` what it
    did, as a result. ``belief (F,)`` is the last one, with the fixes that failed.
    """

    checks: tuple[int, ...]
    beliefs: FloatArray
    forecasts: tuple[FloatArray, ...]
    shown: tuple[int, ...]
    belief: FloatArray


def foreseen(model: Model, cases: Cases) -> tuple[Foreseen, ...]:
    """Follow the recorded readings of each case through a model."""
    failed: list[dict[int, float]] = [{} for _ in cases.faults]
    for job, fix, outcome, soaked in zip(
        cases.attempt_jobs.tolist(),
        cases.attempt_fixes.tolist(),
        cases.attempt_outcomes.tolist(),
        cases.attempt_soaked.tolist(),
        strict=True,
    ):
        if outcome == Tried.FAILED:
            failed[job][fix] = soaked
    return tuple(
        _followed(model, readings, fixes) for readings, fixes in zip(_readings(cases), failed, strict=True)
    )


def _followed(model: Model, readings: list[tuple[int, int, float]], failed: dict[int, float]) -> Foreseen:
    evidence, beliefs = Evidence(), []
    checks, forecasts, shown = [], [], []
    for check, result, value in readings:
        table = result_table(model, evidence)
        beliefs.append(table.faults)
        forecast = table.results[check, : len(model.checks[check].results)]
        forecasts.append(forecast / forecast.sum())
        checks.append(check)
        if result < 0:
            shown.append(result_of(model.checks[check], value))
            evidence = replace(evidence, values=(*evidence.values, (check, value)))
        else:
            shown.append(result)
            evidence = replace(evidence, readings=(*evidence.readings, (check, result)))
    beliefs.append(posterior(model, evidence).faults)
    soaked = tuple((fix, minutes) for fix, minutes in failed.items() if not isnan(minutes))
    last = posterior(model, replace(evidence, failed=tuple(sorted(failed)), soaked=soaked)).faults
    return Foreseen(tuple(checks), np.array(beliefs), tuple(forecasts), tuple(shown), last)


def _readings(cases: Cases) -> Iterator[list[tuple[int, int, float]]]:
    """The (check, result, value) of each case's readings."""
    rows = list(
        zip(
            cases.reading_checks.tolist(),
            cases.reading_results.tolist(),
            cases.reading_values.tolist(),
            strict=True,
        )
    )
    order = np.argsort(cases.reading_jobs, kind="stable")
    ends = np.searchsorted(cases.reading_jobs[order], np.arange(len(cases.faults) + 1))
    for first, last in pairwise(ends):
        yield [rows[k] for k in order[first:last]]
