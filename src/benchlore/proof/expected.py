"""What a bench wrote and what the model expected instead, as a technician would write them."""

import numpy as np
from scipy.special import softmax

from benchlore.jobs import Job
from benchlore.model import Check, FloatArray, Model
from benchlore.model.densities import over_probabilities
from benchlore.model.sample import choose, draw_values
from benchlore.proof.joblogs import Seen
from benchlore.proof.tails import by_fault
from benchlore.units import format_quantity

WORTH_NAMING = 0.25
"""A result that is expected at least this often is named beside the likeliest."""

TYPICAL = (0.05, 0.95)
"""Ends of the span that nine of ten numbers lie in."""

DRAWS = 4_000


def as_written(check: Check, job: Job, number: float | None, result: int | None) -> str:
    """Return what the bench wrote of a reading that the cases hold."""
    name = None if result is None else check.results[result]
    for reading in sorted(job.readings, key=lambda reading: -reading.step):
        if reading.check == check.name and (
            (number is not None and reading.value == number) or (name is not None and reading.result == name)
        ):
            if reading.text:
                return reading.text
            break
    if number is not None and check.densities is not None:
        return format_quantity(number, check.densities.measure)
    return name or ""


def as_expected(strict: Model, one: Seen, c: int, left_out: tuple[int, ...], rng: np.random.Generator) -> str:
    """Return what a check typically shows given the fault and the readings that are not left out."""
    check, belief = strict.checks[c], _belief(strict, one, c, left_out)
    if check.densities is None or c not in one.numbers:
        return _results(check, belief @ check.probabilities)
    if belief @ over_probabilities(check.densities) > 1 / 2:
        return "OL"
    states = choose(np.broadcast_to(belief, (DRAWS, belief.size)), rng)
    values = draw_values(check.densities, states, rng)
    low, high = np.quantile(values[np.isfinite(values)], TYPICAL)
    measure = check.densities.measure
    ends = [format_quantity(float(end), measure, 2) for end in (low, high)]
    return ends[0] if ends[0] == ends[1] else " to ".join(ends)


def _belief(strict: Model, one: Seen, c: int, left_out: tuple[int, ...]) -> FloatArray:
    """``P(state | fault, readings that are not left out)`` of the check's condition, shape ``(S,)``."""
    g = strict.checks[c].condition
    rest = {d: logs for d, logs in one.strict.items() if d not in left_out and d != c}
    same = [logs[0] for d, logs in rest.items() if strict.checks[d].condition == g]
    others = {d: logs for d, logs in rest.items() if strict.checks[d].condition != g}
    with np.errstate(divide="ignore"):
        faults = np.log(strict.fault_probabilities) + by_fault(strict, others)[0]
        if one.fault >= 0:
            faults = np.where(np.arange(len(faults)) == one.fault, 0.0, -np.inf)
        joint = faults[:, None] + np.log(strict.state_probabilities[g]) + sum(same, np.zeros(1))
    states: FloatArray = softmax(joint).sum(axis=0)
    return states


def _results(check: Check, chances: FloatArray) -> str:
    order = np.argsort(-chances, kind="stable")
    named = [r for r in order.tolist() if r == order[0] or chances[r] >= WORTH_NAMING]
    return " or ".join(check.results[r] for r in named)
