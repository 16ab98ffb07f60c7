"""Kernels: what checks sell, when information about the fault has a price.

Let ``Q`` be any law of the results of checks, the same for all faults. By the chain rule of relative entropy
(Cover & Thomas, "Elements of Information Theory", theorem 2.5.3) a job with fault ``f`` learns from a check
``D(P(result | f) || Q(result))`` nats, however its other checks were chosen. At ``lam`` a nat, a check that
costs ``k`` sells at most ``max(0, lam D - k)`` more than it costs. ``Q`` is chosen so that little is sold: a
cheap check then sells what its result tells on average, a dear one no more than its channel's capacity.
"""

from typing import Final

import numpy as np
from numba import njit

from benchlore.model import FloatArray
from benchlore.procedure.arrays import Arrays, BoolArray, IntArray
from benchlore.procedure.rows import put_row
from benchlore.procedure.state import Problem, State

MOST_SETS: Final = 32
"""Sets of setups that are told apart; where checks can make more, setups for checks count as free."""


@njit(cache=True)
def open_checks(arrays: Arrays, digits: IntArray) -> BoolArray:
    """Checks that were not done and that no reading forbids, ``(C,)``."""
    left: BoolArray = digits == 0
    for c in range(len(digits)):
        for k in range(arrays.gate_check.shape[1]):
            check = arrays.gate_check[c, k]
            if check >= 0 and digits[check] > 0 and not arrays.gate_open[c, k, digits[check] - 1]:
                left[c] = False
    return left


@njit(cache=True)
def sets_made(arrays: Arrays, left: BoolArray, standing: int) -> IntArray:
    """Sets of setups that the checks which are left can leave standing; empty where they are too many."""
    sets = np.empty(MOST_SETS, dtype=np.int64)
    sets[0], count = standing, 1
    for c in np.flatnonzero(left):
        for k in range(count):
            more = sets[k] | arrays.check_setups[c]
            if not np.any(sets[:count] == more):
                if count == MOST_SETS:
                    return sets[:0]
                sets[count] = more
                count += 1
    return sets[:count]


@njit(cache=True, error_model="numpy")
def _own_laws(arrays: Arrays, state: State, g: int) -> FloatArray:
    """``P(state of condition g | f, readings)``, ``(F, S)``."""
    own: FloatArray = arrays.table[g] * state.seen[g]
    for f in range(len(own)):
        total = own[f].sum()
        for s in range(own.shape[1]):
            if total > 0.0:
                own[f, s] /= total
    return own


@njit(cache=True, error_model="numpy")
def _beyond(own: FloatArray, mixed: FloatArray, shown: FloatArray, chance: float, expected: float) -> float:
    """What is still to be learned of a condition after a result: relative entropy of its states, in nats."""
    rest = 0.0
    for s in range(len(mixed)):
        share = own[s] * shown[s] / chance
        if share > 0.0:
            rest += share * np.log(share / (mixed[s] * shown[s] / expected))
    return rest


@njit(cache=True, error_model="numpy")
def _sale(
    arrays: Arrays, c: int, own: FloatArray, mixed: FloatArray, price: float, next_cost: float
) -> tuple[float, float]:
    """What check ``c`` sells to a job beyond its cost, all that may follow on its condition included.

    After it the other checks of the condition sell at most all that its state still tells, for the cheapest
    one's cost. Returns the sale and its slope in the price.
    """
    sale, slope = -arrays.check_cost[c], 0.0
    for r in range(arrays.results[c]):
        chance, expected = 0.0, 0.0
        for s in range(len(mixed)):
            chance += own[s] * arrays.shows[c, s, r]
            expected += mixed[s] * arrays.shows[c, s, r]
        if chance > 0.0:
            told = chance * np.log(chance / expected)
            slope += told
            sale += price * told
            if next_cost < np.inf:
                rest = _beyond(own, mixed, arrays.shows[c, :, r], chance, expected)
                if price * rest > next_cost:
                    slope += chance * rest
                    sale += chance * (price * rest - next_cost)
    return sale, slope


@njit(cache=True)
def _checks_on(arrays: Arrays, left: BoolArray, made: int, g: int) -> IntArray:
    """Checks on a condition that ``left`` has and setups ``made`` allow."""
    return np.array(
        [
            c
            for c in range(len(left))
            if left[c] and arrays.condition[c] == g and (arrays.check_setups[c] & ~made) == 0
        ]
    )


@njit(cache=True, error_model="numpy")
def _best_sales(
    arrays: Arrays, state: State, checks: IntArray, own: FloatArray, mixed: FloatArray, price: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """The most that the checks of one condition sell to each fault, ``(F,)``, and its slope in the price."""
    total, slopes = np.zeros(len(own)), np.zeros(len(own))
    for f in range(len(own)):
        if state.b[f] > 0.0:
            for c in checks:
                others = np.inf
                for other in checks:
                    if other != c:
                        others = min(others, arrays.check_cost[other])
                sale, slope = _sale(arrays, c, own[f], mixed, price[f], others)
                if sale > total[f]:
                    total[f], slopes[f] = sale, slope
    return total, slopes


@njit(cache=True, error_model="numpy")
def laws(p: Problem, state: State, left: BoolArray, price: FloatArray, rounds: int) -> FloatArray:
    """A law of the states of every condition, ``(G, S)``, under which its checks sell little in all.

    It begins with what is expected and moves towards those faults to which something is sold (Frank & Wolfe,
    "An algorithm for quadratic programming", Naval Research Logistics Quarterly 3, 1956; sales are convex in
    the law). Any law gives a bound, so that rounds only tighten it.
    """
    arrays = p.arrays
    chosen = np.ones(state.seen.shape)
    for g in range(len(chosen)):
        checks = _checks_on(arrays, left, int(np.int64(-1)), g)  # numba compiles a literal apart
        if len(checks) == 0:
            continue
        own = _own_laws(arrays, state, g)
        mixed = (state.b / state.b.sum()) @ own
        least = np.inf
        for k in range(rounds + 1):
            sold, _ = _best_sales(arrays, state, checks, own, mixed, price)
            total = (sold * state.b).sum()
            if total < least:
                least = total
                put_row(chosen[g], mixed)
            buyers = state.b * price * (sold > 0.0)
            if least == 0.0 or k == rounds:
                break
            mixed = mixed + (buyers / buyers.sum() @ own - mixed) * (2.0 / (k + 3.0))
    return chosen


@njit(cache=True, error_model="numpy")
def sales(
    p: Problem, state: State, left: BoolArray, made: int, price: FloatArray, law: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """What all checks that ``left`` has and that setups ``made`` allow sell to each fault, ``(F,)``.

    ``price (F,)`` is what a nat about each fault is worth; ``law (G, S)`` must be the same for all sets of
    setups that are weighed against each other. Also returned is the slope in that price.
    """
    total, slopes = np.zeros(len(state.b)), np.zeros(len(state.b))
    for g in range(len(law)):
        checks = _checks_on(p.arrays, left, made, g)
        if len(checks) > 0:
            own = _own_laws(p.arrays, state, g)
            sold, slope = _best_sales(p.arrays, state, checks, own, law[g], price)
            total += sold
            slopes += slope
    return total, slopes
