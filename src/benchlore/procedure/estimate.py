"""Kernels that estimate what a state costs, quickly.

The estimate mixes two costs: going on with fixes alone (never less than the optimum) and being told the
fault now (hardly ever more). Fixes whose gates wait for checks count, at what those checks cost.
"""

from typing import Final

import numpy as np
from numba import njit

from benchlore.model import FloatArray
from benchlore.procedure.arrays import BoolArray, IntArray
from benchlore.procedure.state import Problem, State, is_allowed, setups_cost, tried_fixes
from benchlore.procedure.sweep import IDENTIFIED

NEGLIGIBLE: Final = 1e-12
"""Share of the probability of a state below which a result or what is left after fixes no longer counts."""

HOPELESS: Final = 0.5
"""A fix whose cure saves less than this share of its cost is not tried in the estimate of a state."""


@njit(cache=True, fastmath={"reassoc", "nsz"})
def failed_fix(left: FloatArray, missed: FloatArray, detects: FloatArray) -> tuple[float, float]:
    """Turn a belief into that after a fix failed; return what slipped through and what is left.

    Sums may be taken in any order: that is what lets a processor add several at once.
    """
    slipped, caught = 0.0, 0.0
    for f in range(len(left)):
        uncured = left[f] * missed[f]
        left[f] = uncured * detects[f]
        slipped += uncured - left[f]
        caught += left[f]
    return slipped, caught


@njit(cache=True, error_model="numpy")
def fixes_only(
    p: Problem,
    b: FloatArray,
    usable: FloatArray,
    standing: int,
    hopeless: float,
    sequence: IntArray,
) -> tuple[float, int]:
    """Expected cost of trying the usable fixes, best ratio of cure to cost first, then returning the board.

    Fills ``sequence`` with the fixes; returns the cost and how many of them are worth trying before the
    return. The ratio is renewed after each failure (Kadane & Simon 1977, for fixes that do not overlap). It
    is that of the cheapest retest; then the variant is taken that costs least if a failure means a return.
    """
    arrays = p.arrays
    fixes = len(arrays.fix_cost)
    left, open_ = b.copy(), usable.copy()
    reach, cost, bad = np.empty(fixes + 1), np.empty(fixes + 1), np.empty(fixes + 1)
    reach[0] = left.sum()
    count = 0
    while count < fixes and reach[count] > NEGLIGIBLE * reach[0]:
        best, highest, price = -1, hopeless * reach[count] / max(arrays.give_up, 1e-9), 0.0
        for a in range(fixes):
            if p.leads[a] and open_[a] < np.inf:
                cured = 0.0
                for k in range(p.first[a], p.first[a + 1]):
                    f = p.cured[k]
                    cured += left[f] * (1.0 - arrays.missed[a, f])
                own = open_[a] + arrays.fix_cost[a] + setups_cost(p, arrays.fix_setups[a] & ~standing)
                if cured > highest * own:
                    best, highest, price = a, cured / own, own
        if best < 0:
            break
        group = arrays.fix_group[best]
        cheapest, best = best, best_variant(p, left, group)
        price += arrays.fix_cost[best] - arrays.fix_cost[cheapest]
        sequence[count] = best
        open_[cheapest] = np.inf
        standing |= arrays.fix_setups[best]
        cost[count] = price
        bad[count], reach[count + 1] = failed_fix(left, arrays.missed[best], arrays.detects[best])
        count += 1
    lowest, length = reach[count] * arrays.give_up, count
    for k in range(count - 1, -1, -1):
        lowest += reach[k] * cost[k] + bad[k] * arrays.comeback
        if reach[k] * arrays.give_up <= lowest:
            lowest, length = reach[k] * arrays.give_up, k
    return lowest, length


@njit(cache=True)
def best_variant(p: Problem, b: FloatArray, group: int) -> int:
    """The variant of a fix that costs least if the board is returned after a failure."""
    arrays = p.arrays
    best, lowest = p.member[p.begin[group]], np.inf
    if p.begin[group + 1] - p.begin[group] == 1:
        return int(best)
    reach = b.sum()
    for a in p.member[p.begin[group] : p.begin[group + 1]]:
        cost = reach * arrays.fix_cost[a]
        for f in range(len(b)):
            escaped = 1.0 - arrays.detects[a, f]
            cost += b[f] * arrays.missed[a, f] * escaped * (arrays.comeback - arrays.give_up)
        if cost < lowest:
            best, lowest = a, cost
    return int(best)


@njit(cache=True, error_model="numpy")
def told_now(p: Problem, b: FloatArray, usable: FloatArray, standing: int) -> float:
    """Expected cost if the fault were named now: the best single fix for it, or the return."""
    arrays = p.arrays
    lowest = np.full(len(b), arrays.give_up)
    for a in range(len(arrays.fix_cost)):
        if usable[a] < np.inf:
            own = usable[a] + arrays.fix_cost[a] + setups_cost(p, arrays.fix_setups[a] & ~standing)
            for k in range(p.first[a], p.first[a + 1]):
                f = p.cured[k]
                caught = arrays.missed[a, f] * arrays.detects[a, f]
                slips = arrays.missed[a, f] - caught
                lowest[f] = min(lowest[f], own + slips * arrays.comeback + caught * arrays.give_up)
    total = 0.0
    for f in range(len(b)):
        total += b[f] * lowest[f]
    return total


@njit(cache=True)
def usable_fixes(p: Problem, digits: IntArray, failed: BoolArray) -> FloatArray:
    """What stands before each fix, ``(A,)``: 0 if nothing does, ``inf`` if it failed or a gate is shut.

    Gates that are neither open nor shut wait for checks: then it is what those checks cost.
    """
    arrays = p.arrays
    before = np.zeros(len(failed))
    tried = tried_fixes(p, failed)
    for a in range(len(failed)):
        if tried[a]:
            before[a] = np.inf
        action = len(arrays.condition) + a
        for k in range(arrays.gate_check.shape[1]):
            check = arrays.gate_check[action, k]
            if check >= 0 and digits[check] == 0:
                before[a] += arrays.check_cost[check]
            elif check >= 0 and not arrays.gate_open[action, k, digits[check] - 1]:
                before[a] = np.inf
    return before


@njit(cache=True)
def allowed_fixes(p: Problem, digits: IntArray, failed: BoolArray) -> FloatArray:
    """As :func:`usable_fixes` of the fixes that may be tried now; ``inf`` for those that must wait."""
    checks = len(p.arrays.condition)
    before = usable_fixes(p, digits, failed)
    for a in range(len(failed)):
        if not is_allowed(p.arrays, digits, checks + a):
            before[a] = np.inf
    return before


@njit(cache=True)
def estimate(
    p: Problem, b: FloatArray, usable: FloatArray, standing: int, told: float, sequence: IntArray
) -> float:
    """The mixed estimate of what a state costs."""
    alone, _ = fixes_only(p, b, usable, standing, HOPELESS, sequence)
    return alone if told == 0.0 else (1.0 - told) * alone + told * told_now(p, b, usable, standing)


@njit(cache=True, error_model="numpy")
def stop_cost(p: Problem, state: State, hopeless: float, sequence: IntArray) -> tuple[float, int]:
    """What it costs to do no more checks: fixes in sequence, then the return; nothing once identified."""
    if p.arrays.identify and state.b.sum() - state.b.max() <= IDENTIFIED * state.b.sum():
        return 0.0, 0
    allowed = allowed_fixes(p, state.digits, state.failed)
    return fixes_only(p, state.b, allowed, state.standing, hopeless, sequence)
