"""Kernels: what checks sell, when information about the fault has a price.

Let ``Q`` be any law of the results of checks, the same for all faults. By the chain rule of relative entropy
(Cover & Thomas, "Elements of Information Theory", theorem 2.5.3) a job with fault ``f`` learns from a check
``D(P(result | f) || Q(result))`` nats, however its other checks were chosen. At ``lam`` a nat, a check that
costs ``k`` sells at most ``max(0, lam D - k)`` more than it costs. ``Q`` is here what results are expected
to be at the state in question, so that a check sells little about faults that leave its condition alone.
"""

from typing import Final

import numpy as np
from numba import njit

from benchlore.model import FloatArray
from benchlore.procedure.arrays import Arrays, BoolArray, IntArray
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
def _split(arrays: Arrays, state: State, g: int, own: FloatArray, mixed: FloatArray) -> None:
    """``P(state of condition g | f, readings)``, ``own (F, S)``, and its mean under the belief, ``mixed``."""
    mixed[:] = 0.0
    total = state.b.sum()
    for f in range(len(state.b)):
        mass = 0.0
        for s in range(len(mixed)):
            own[f, s] = arrays.table[g, f, s] * state.seen[g, s]
            mass += own[f, s]
        for s in range(len(mixed)):
            own[f, s] = own[f, s] / mass if mass > 0.0 else 0.0
            mixed[s] += state.b[f] / total * own[f, s]


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


@njit(cache=True, error_model="numpy")
def sales(
    p: Problem, state: State, left: BoolArray, made: int, price: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """What all checks that ``left`` has and that setups ``made`` allow sell to each fault, ``(F,)``.

    ``price (F,)`` is what a nat about each fault is worth. Also returned is the slope in that price.
    """
    arrays = p.arrays
    faults, states = len(state.b), state.seen.shape[1]
    own, mixed = np.empty((faults, states)), np.empty(states)
    total, slopes = np.zeros(faults), np.zeros(faults)
    for g in range(len(arrays.table)):
        checks = np.array(
            [
                c
                for c in range(len(left))
                if left[c] and arrays.condition[c] == g and (arrays.check_setups[c] & ~made) == 0
            ]
        )
        if len(checks) == 0:
            continue
        _split(arrays, state, g, own, mixed)
        for f in range(faults):
            if state.b[f] > 0.0:
                best, steep = 0.0, 0.0
                for c in checks:
                    others = np.inf
                    for other in checks:
                        if other != c:
                            others = min(others, arrays.check_cost[other])
                    sale, slope = _sale(arrays, c, own[f], mixed, price[f], others)
                    if sale > best:
                        best, steep = sale, slope
                total[f] += best
                slopes[f] += steep
    return total, slopes
