"""Lower bounds: what no procedure can cost less than.

Four are computed, each valid by itself, and the highest is named.

*Perfect information.* If the fault were named at once, each fault would cost at least its own cheapest
sequence of fixes, or the return. (Brown, Smith & Sun, "Information relaxations and duality in stochastic
dynamic programs", Operations Research 58, 2010, section 2: the relaxation without penalty.)

*Price of information.* Information about the fault is for sale, in any form, at a price for each fault
(:mod:`benchlore.procedure.information`).

*Price of information after free checks.* The same for each result of the checks that cost nothing, by itself
(:mod:`benchlore.procedure.beforehand`).

*Relaxed sweep.* The exact method on the checks and fixes that fit a small table, where leaving that set (its
cheapest other check, or any other fix) is answered by naming the fault.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from math import prod
from typing import Final

import numpy as np

from benchlore.model import FloatArray
from benchlore.procedure.arrays import Arrays, Reduced, arrays_of, reduced
from benchlore.procedure.beforehand import after_free_checks
from benchlore.procedure.exact import bytes_of, swept
from benchlore.procedure.information import price_of_information
from benchlore.procedure.instance import Instance
from benchlore.procedure.state import Problem, problem_of
from benchlore.procedure.told import none_tried, told_costs

RELAXED_STATES: Final = 1 << 21
"""States of the relaxed sweep; it takes about a twentieth of a second."""

PART_BYTES: Final = 32
"""Bytes for each state that the relaxed sweep may take in all."""

ROUNDING: Final = 1e-12
"""Bounds are lowered by this share, so that rounding cannot lift them above the truth."""


@dataclass(frozen=True, slots=True)
class Bound:
    """No procedure costs less than ``value``; ``method`` is how that is known."""

    value: float
    method: str


def lower_bound(instance: Instance, *, states: int = RELAXED_STATES) -> Bound:
    """The highest of the bounds."""
    bounds = (*lower_bounds(instance, states=states), *bounds_after_free_checks(instance))
    return max(bounds, key=lambda bound: bound.value)


def lower_bounds(instance: Instance, *, states: int = RELAXED_STATES) -> Iterator[Bound]:
    """Yield all that look at the problem as a whole, the quickest first."""
    small = reduced(instance)
    problem = problem_of(small.arrays)
    yield _bound(_told(problem), "perfect information")
    yield _bound(_relaxed_sweep(instance, small, problem, states), "relaxed sweep")
    for value in price_of_information(problem):
        yield _bound(value, "price of information")


def bounds_after_free_checks(instance: Instance) -> Iterator[Bound]:
    """Yield bounds at prices of their own for each result of the checks that cost nothing, as they rise.

    None where there are no such checks.
    """
    known = after_free_checks(instance)
    if len(known) == 1:
        return
    problems = [problem_of(reduced(part.left).arrays) for part in known]
    chances = np.array([part.chance for part in known])
    values = np.array([_told(problem) for problem in problems])
    for k, problem in enumerate(problems):
        for value in price_of_information(problem):
            values[k] = max(values[k], value)
            yield _bound(float(chances @ values), "price of information after free checks")


def _told(problem: Problem) -> float:
    """What a job costs if its fault is told at once, times the total of the prior."""
    arrays = problem.arrays
    return float(arrays.prior @ told_costs(problem, arrays.standing, none_tried(problem)))


def _bound(value: float, method: str) -> Bound:
    return Bound(max(0.0, value * (1 - ROUNDING)), method)


def _relaxed_sweep(instance: Instance, small: Reduced, problem: Problem, states: int) -> float:
    """The bound from the exact method on a part of the checks and fixes."""
    arrays = small.arrays
    memory = PART_BYTES * states + bytes_of(arrays_of(instance, (), (), small.merged))
    while True:
        fixes, masks = _fixes_that_fit(arrays, _room_for_fixes(arrays, states))
        checks = _cheapest_that_fit(arrays, states // masks)
        part = arrays_of(
            instance,
            tuple(small.checks[c] for c in checks),
            tuple(small.fixes[a] for a in fixes),
            small.merged,
        )
        if bytes_of(part) <= memory:
            break
        states //= 2
    outside = _outside(problem, checks, fixes)
    return swept(part, memory=memory, outside=outside if np.isfinite(outside).all() else None).expected


def _by_ratio(arrays: Arrays) -> list[int]:
    """Fixes, those with the most cure per cost first."""
    cures = (arrays.prior * (1 - arrays.missed)).sum(axis=1)
    order: list[int] = np.argsort(-cures / (arrays.fix_cost + 1e-9), kind="stable").tolist()
    return order


def _room_for_fixes(arrays: Arrays, states: int) -> float:
    """As many masks as all checks leave room for; about half of the table where the checks do not all fit."""
    of_checks: int = prod(r + 1 for r in arrays.results.tolist())
    return max(1.0, states / of_checks if of_checks <= states else states**0.5)


def _fixes_that_fit(arrays: Arrays, room: float) -> tuple[list[int], int]:
    """Whole fixes, those with the most cure per cost first, as far as there is room; and their masks."""
    fixes: list[int] = []
    masks = 1
    for group in dict.fromkeys(arrays.fix_group[_by_ratio(arrays)].tolist()):
        variants = np.flatnonzero(arrays.fix_group == group).tolist()
        masks *= len(variants) + 1
        if masks > room:
            return sorted(fixes), masks // (len(variants) + 1)
        fixes += variants
    return sorted(fixes), masks


def _cheapest_that_fit(arrays: Arrays, states: int) -> list[int]:
    """The cheapest checks whose states of evidence are at most so many."""
    checks = []
    for c in np.argsort(arrays.check_cost, kind="stable").tolist():
        states //= int(arrays.results[c]) + 1
        if states < 1:
            break
        checks.append(c)
    return sorted(checks)


def _outside(problem: Problem, checks: list[int], fixes: list[int]) -> FloatArray:
    """What leaving the part costs at least: the cheapest check or any fix outside, then knowing the fault."""
    arrays = problem.arrays
    told = told_costs(problem, (1 << len(arrays.setup_cost)) - 1, none_tried(problem))
    others = np.delete(arrays.check_cost, checks)
    cost: FloatArray = told + others.min(initial=np.inf)
    for a in set(range(len(arrays.fix_cost))) - set(fixes):
        caught = arrays.missed[a] * arrays.detects[a]
        slips = arrays.missed[a] - caught
        cost = np.minimum(cost, arrays.fix_cost[a] + slips * arrays.comeback + caught * told)
    return cost
