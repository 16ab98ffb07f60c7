"""Lower bounds: what no procedure can cost less than.

Three are computed, each valid by itself, and the highest is named.

*Perfect information.* If the fault were named at once, each fault would cost at least its own cheapest
sequence of fixes, or the return. (Brown, Smith & Sun, "Information relaxations and duality in stochastic
dynamic programs", Operations Research 58, 2010, section 2: the relaxation without penalty.)

*Price of information.* Let information about the fault be for sale, in any form, at ``lam`` for a nat. A
first decision ``a`` (a fix or the return, with perfect information after a failure) costs at least ``loss(a,
f)``. By rate-distortion theory (Blahut 1972; Cover & Thomas, "Elements of Information Theory", section 10.8)
the best that can be done from belief ``b`` is

``Phi(b) = min_q -lam sum_f b_f log sum_a q_a exp(-loss(a, f) / lam)``.

A check with channel capacity ``K_c`` sells at most ``K_c`` nats for its cost ``k_c``, once, so every
procedure costs at least ``Phi(prior) - sum_c max(0, lam K_c - k_c)``. Proof by induction over the Bellman
equation: a result tells at most the capacity; a setup made early saves a later fix no more than it cost. Any
``lam`` and any dual certificate of the minimum gives a bound; the best of a grid is taken.

*Relaxed sweep.* The exact method on the checks and fixes that fit a small table, where leaving that set (its
cheapest other check, or any other fix) is answered by naming the fault.
"""

from dataclasses import dataclass
from math import prod
from typing import Final

import numpy as np
from numba import njit

from benchlore.model import FloatArray
from benchlore.procedure.arrays import Arrays, arrays_of, reduced
from benchlore.procedure.exact import bytes_of, swept
from benchlore.procedure.instance import Instance
from benchlore.procedure.state import Problem, problem_of
from benchlore.procedure.told import first_losses, told_costs

RELAXED_STATES: Final = 1 << 21
"""States of the relaxed sweep; it takes about a twentieth of a second."""

PART_BYTES: Final = 32
"""Bytes for each state that the relaxed sweep may take in all."""

PRICES: Final = 40
"""Steps of the search for the best price of information."""

LEAST_PRICE: Final = 1e-9
"""The lowest price tried, as a share of the dearest thing in the problem."""

GOLDEN: Final = (5**0.5 - 1) / 2

ROUNDS: Final = 400
"""Iterations of the alternating minimisations; each has a certificate, so fewer only loosen the bound."""

CLOSE: Final = 1e-4
"""Relative distance to its certificate at which a minimisation stops."""

ROUNDING: Final = 1e-12
"""Bounds are lowered by this share, so that rounding cannot lift them above the truth."""


@dataclass(frozen=True, slots=True)
class Bound:
    """No procedure costs less than ``value``; ``method`` is how that is known."""

    value: float
    method: str


def lower_bound(instance: Instance, *, states: int = RELAXED_STATES) -> Bound:
    """The highest of the bounds."""
    return max(lower_bounds(instance, states=states), key=lambda bound: bound.value)


def lower_bounds(instance: Instance, *, states: int = RELAXED_STATES) -> tuple[Bound, ...]:
    """All bounds, so that they can be compared."""
    arrays = reduced(instance).arrays
    problem = problem_of(arrays)
    told = told_costs(problem, arrays.standing, -1)
    bounds = [
        Bound(float(arrays.prior @ told), "perfect information"),
        Bound(price_of_information(problem), "price of information"),
        Bound(relaxed_sweep(instance, states), "relaxed sweep"),
    ]
    return tuple(Bound(max(0.0, bound.value * (1 - ROUNDING)), bound.method) for bound in bounds)


def price_of_information(problem: Problem) -> float:
    """The bound from information at a price, at the best price.

    The bound is concave in the price (a minimum of linear functions less a convex one), so golden-section
    search finds its top.
    """
    arrays = problem.arrays
    capacities = channel_capacities(problem)
    losses = _losses(problem)

    def at(exponent: float) -> float:
        return _at_price(arrays, losses, capacities, float(np.exp(exponent)))

    dearest = max(arrays.give_up, float(arrays.check_cost.max(initial=0.0)), 1e-9)
    low, high = np.log(LEAST_PRICE * dearest), np.log(10 * dearest)
    left, right = high - GOLDEN * (high - low), low + GOLDEN * (high - low)
    at_left, at_right = at(left), at(right)
    best = max(at_left, at_right)
    for _ in range(PRICES):
        if at_left < at_right:
            low, left, at_left = left, right, at_right
            right = low + GOLDEN * (high - low)
            at_right = at(right)
        else:
            high, right, at_right = right, left, at_left
            left = high - GOLDEN * (high - low)
            at_left = at(left)
        best = max(best, at_left, at_right)
    return best


def _losses(problem: Problem) -> FloatArray:
    """What each first decision costs at least, by fault. To identify, only naming the right fault will do."""
    arrays = problem.arrays
    if not arrays.identify:
        return first_losses(problem)
    faults = len(arrays.prior)
    names = np.where(np.eye(faults) > 0, 0.0, np.inf)
    return np.concatenate([names, np.full((1, faults), arrays.give_up)])


def _at_price(arrays: Arrays, losses: FloatArray, capacities: FloatArray, lam: float) -> float:
    sold = float(np.maximum(lam * capacities - arrays.check_cost, 0.0).sum())
    total = float(arrays.prior.sum())
    return total * (_information_cost(arrays.prior / total, losses, lam) - sold)


@njit(cache=True, error_model="numpy")
def _information_cost(prior: FloatArray, losses: FloatArray, lam: float) -> float:
    """``min_q -lam sum_f prior_f log sum_a q_a exp(-loss / lam)``, from below (Blahut 1972, theorem 6)."""
    choices, faults = losses.shape
    least = np.array([losses[:, f].min() for f in range(faults)])
    kernel = np.exp((least - losses) / lam)
    share = np.full(choices, 1.0 / choices)
    base, best = float((prior * least).sum()), -np.inf
    for _ in range(ROUNDS):
        mixed = share @ kernel
        value = -lam * (prior * np.log(mixed)).sum()
        lift = kernel @ (prior / mixed)
        best = max(best, value - lam * np.log(lift.max()))
        if value - best <= CLOSE * (base + value):
            break
        share *= lift
    return base + best


def channel_capacities(problem: Problem) -> FloatArray:
    """The most nats that each check can tell, ``(C,)``.

    Of a check that alone reads its condition the channel is from fault to result. Of others an earlier
    reading may have changed it, so the channel from state to result is taken, which can tell no less.
    """
    arrays = problem.arrays
    alone = np.bincount(arrays.condition, minlength=len(arrays.table)) == 1
    capacities = []
    for c, g in enumerate(arrays.condition):
        results = int(arrays.results[c])
        rows = problem.expects[c, :results].T if alone[g] else arrays.shows[c, :, :results]
        rows = np.unique(rows[rows.sum(axis=1) > 0], axis=0)
        capacities.append(_capacity(np.ascontiguousarray(rows)))
    return np.array(capacities)


@njit(cache=True, error_model="numpy")
def _capacity(rows: FloatArray) -> float:
    """Capacity in nats of a channel ``(inputs, outputs)``, from above (Blahut 1972; Arimoto 1972)."""
    inputs = len(rows)
    share = np.full(inputs, 1.0 / inputs)
    gain = np.empty(inputs)
    high = np.inf
    for _ in range(ROUNDS):
        mixed = share @ rows
        for i in range(inputs):
            gain[i] = 0.0
            for r in range(rows.shape[1]):
                if rows[i, r] > 0.0:
                    gain[i] += rows[i, r] * np.log(rows[i, r] / mixed[r])
        high = min(high, gain.max())
        weighted = share * np.exp(gain)
        low = np.log(weighted.sum())
        if high - low <= CLOSE * high + 1e-12:
            break
        share = weighted / weighted.sum()
    return high


def relaxed_sweep(instance: Instance, states: int) -> float:
    """The bound from the exact method on a part of the checks and fixes."""
    small = reduced(instance)
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
    outside = _outside(problem_of(arrays), checks, fixes)
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
    told = told_costs(problem, (1 << len(arrays.setup_cost)) - 1, -1)
    others = np.delete(arrays.check_cost, checks)
    cost: FloatArray = told + others.min(initial=np.inf)
    for a in set(range(len(arrays.fix_cost))) - set(fixes):
        caught = arrays.missed[a] * arrays.detects[a]
        slips = arrays.missed[a] - caught
        cost = np.minimum(cost, arrays.fix_cost[a] + slips * arrays.comeback + caught * told)
    return cost
