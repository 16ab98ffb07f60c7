"""Recorded jobs completed into boards on which everything is known, many times over.

A check that a job did not record, and whether a fix that it did not try would have cured, are drawn from the
posterior given everything that the job does say: its confirmed fault, its readings, and what became of its
fixes. Each completion has a model of its own, drawn from what is known of the model, so that the spread
between completions holds what recorded jobs cannot tell (proper multiple imputation: Rubin 1987, "Multiple
imputation for nonresponse in surveys", section 4.2).
"""

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from typing import Self, TypeAlias, TypeVar

import numpy as np
from numpy.typing import NDArray

from benchlore.model import (
    Cases,
    Evidence,
    FloatArray,
    Model,
    Tried,
    caught_chances,
    choose,
    draw_values,
    results_of,
    retest_chances,
    sample,
    shown,
    state_log_likelihoods,
)
from benchlore.procedure import Boards

IntArray: TypeAlias = NDArray[np.int64]
BoolArray: TypeAlias = NDArray[np.bool_]
_Any = TypeVar("_Any", bound=np.generic)

MOST_TRIES = 200
"""How often a number is drawn again to fall into the band that was recorded."""


@dataclass(frozen=True, eq=False)
class World:
    """``J`` jobs of one complaint, completed once: ``C`` checks, ``A`` fixes of a model.

    ``fault (J,)``; ``results (J, C)`` are of named checks, ``values (J, C)`` of numeric ones. ``cured``,
    ``luck`` ``(J, A)`` and what is known are as in :class:`benchlore.procedure.Boards`. ``fault_known (J,)``.
    """

    fault: IntArray
    results: IntArray
    values: FloatArray
    cured: BoolArray
    luck: FloatArray
    known_results: BoolArray
    known_fixes: BoolArray
    fault_known: BoolArray

    def some(self, jobs: IntArray) -> Self:
        """Some of the jobs."""
        return replace(self, **{field.name: getattr(self, field.name)[jobs] for field in fields(self)})


def completed(model: Model, cases: Cases, seed: np.random.SeedSequence) -> World:
    """Complete all cases, one or more, once; ``model`` has what is not known of it as counts."""
    rng = np.random.default_rng(seed)
    drawn = sample(model, rng)
    seen = np.array([state_log_likelihoods(drawn, each) for each in evidence_of(cases)])
    fault = _faults(drawn, cases, seen, rng)
    states = _states(drawn, fault, seen, rng)
    results, values = shown(drawn, states, rng)
    known = _record_readings(drawn, cases, states, results, values, rng)
    cured, luck, tried = _fixes(drawn, cases, fault, rng)
    return World(fault, results, values, cured, luck, known, tried, cases.faults >= 0)


def evidence_of(cases: Cases) -> list[Evidence]:
    """The readings of each case; not its fixes."""
    evidence: list[tuple[list[tuple[int, int]], list[tuple[int, float]]]] = [([], []) for _ in cases.faults]
    for job, check, result, value in zip(
        cases.reading_jobs.tolist(),
        cases.reading_checks.tolist(),
        cases.reading_results.tolist(),
        cases.reading_values.tolist(),
        strict=True,
    ):
        readings, values = evidence[job]
        if result < 0:
            values.append((check, value))
        else:
            readings.append((check, result))
    return [Evidence(tuple(readings), tuple(values)) for readings, values in evidence]


def boards_of(worlds: Sequence[World], model: Model) -> Boards:
    """All jobs' boards in all worlds, job by job, their numbers read in the model's bands."""
    fault = np.stack([world.fault for world in worlds], axis=1).ravel()
    results = _flat([world.results for world in worlds])
    values = _flat([world.values for world in worlds])
    for c, check in enumerate(model.checks):
        if check.densities is not None:
            results[:, c] = results_of(check, values[:, c])
    return Boards(
        fault=fault,
        results=results,
        cured=_flat([world.cured for world in worlds]),
        luck=_flat([world.luck for world in worlds]),
        known_results=_flat([world.known_results for world in worlds]),
        known_fixes=_flat([world.known_fixes for world in worlds]),
    )


def _flat(arrays: list[NDArray[_Any]]) -> NDArray[_Any]:
    """From ``D`` arrays ``(J, K)`` to one of ``(J D, K)``, all worlds of a job together."""
    return np.stack(arrays, axis=1).reshape(-1, arrays[0].shape[1])


def _faults(model: Model, cases: Cases, seen: FloatArray, rng: np.random.Generator) -> IntArray:
    """The confirmed faults, and draws for the others."""
    with np.errstate(divide="ignore"):
        logs = np.log(model.fault_probabilities) + np.zeros((len(cases.faults), 1))
    for g, rows in enumerate(model.state_probabilities):
        weights = seen[:, g, : rows.shape[1]]
        high = weights.max(axis=1, keepdims=True, initial=-np.inf)
        high = np.where(np.isfinite(high), high, 0.0)
        with np.errstate(divide="ignore"):
            logs += np.log(np.exp(weights - high) @ rows.T) + high
    with np.errstate(divide="ignore"):
        factors = np.log(
            retest_chances(model, cases.attempt_fixes, cases.attempt_outcomes, cases.attempt_soaked)
        )
    np.add.at(logs, cases.attempt_jobs, factors)
    drawn = choose(_likely(logs, model.fault_probabilities), rng)
    return np.where(cases.faults >= 0, cases.faults, drawn)


def _likely(logs: FloatArray, otherwise: FloatArray) -> FloatArray:
    """Rows of log weights as weights; a row that is all impossible becomes ``otherwise``."""
    high = logs.max(axis=1, keepdims=True)
    possible = np.isfinite(high)
    rows: FloatArray = np.where(possible, np.exp(logs - np.where(possible, high, 0.0)), otherwise)
    return rows


def _states(model: Model, fault: IntArray, seen: FloatArray, rng: np.random.Generator) -> IntArray:
    """Draw each condition's state ``(J, G)`` given fault and readings."""
    states = np.zeros((len(fault), len(model.conditions)), dtype=np.int64)
    for g, rows in enumerate(model.state_probabilities):
        given = rows[fault]
        with np.errstate(divide="ignore"):
            logs = np.log(given) + seen[:, g, : rows.shape[1]]
        states[:, g] = choose(_likely(logs, given), rng)
    return states


def _record_readings(
    model: Model,
    cases: Cases,
    states: IntArray,
    results: IntArray,
    values: FloatArray,
    rng: np.random.Generator,
) -> BoolArray:
    """Put what was recorded in the place of what was drawn; say where, ``(J, C)``."""
    known = np.zeros(results.shape, dtype=np.bool_)
    at = (cases.reading_jobs, cases.reading_checks)
    known[at] = True
    is_number = cases.reading_results < 0
    results[at] = np.where(is_number, results[at], cases.reading_results)
    values[at] = np.where(is_number, cases.reading_values, values[at])
    for job, c, result in zip(*at, cases.reading_results, strict=True):
        check = model.checks[c]
        if result >= 0 and check.densities is not None:
            tries = draw_values(check.densities, np.full(MOST_TRIES, states[job, check.condition]), rng)
            fits = tries[results_of(check, tries) == result]
            if fits.size:
                values[job, c] = fits[0]
    return known


def _fixes(
    model: Model, cases: Cases, fault: IntArray, rng: np.random.Generator
) -> tuple[BoolArray, FloatArray, BoolArray]:
    """Whether each fix cures, the luck of its retest, and whether it was tried, ``(J, A)``.

    A retest that was passed on a board that was not cured would have been passed at any shorter soak too.
    """
    rho = np.array([fix.cure_probabilities for fix in model.fixes]).reshape(-1, len(model.faults))[:, fault].T
    shape = rho.shape
    cured, luck = rng.random(shape) < rho, rng.random(shape)
    tried = np.zeros(shape, dtype=np.bool_)
    at = (cases.attempt_jobs, cases.attempt_fixes)
    outcome, soaked = cases.attempt_outcomes, cases.attempt_soaked
    here = (np.arange(len(soaked)), fault[cases.attempt_jobs])
    passed = retest_chances(model, cases.attempt_fixes, outcome, soaked)[here]
    really = np.divide(rho[at], passed, out=np.ones(passed.shape), where=passed > 0)
    healed = rng.random(shape)[at] < really
    detects = caught_chances(model, soaked)[here]
    tried[at] = True
    cured[at] = (outcome == Tried.PASSED) & healed
    overlooked = detects + (1 - detects) * luck[at]
    luck[at] = np.where(outcome == Tried.FAILED, 0.0, overlooked)
    return cured, luck, tried
