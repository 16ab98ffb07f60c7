"""Kernels of the look-ahead: what each action is worth at one state, by a cheap estimate of what follows.

The estimate of a state mixes two costs that are quick to compute: going on with fixes alone (never less than
the optimum) and being told the fault now (hardly ever more). ``b`` is a belief, unnormalised: ``P(state,
fault)``; costs are times ``P(state)``.
"""

from typing import Final, NamedTuple

import numpy as np
from numba import njit

from benchlore.model import FloatArray
from benchlore.procedure.arrays import Arrays, BoolArray, IntArray
from benchlore.procedure.sweep import IDENTIFIED

NEGLIGIBLE: Final = 1e-12
"""Share of the probability of a state below which a result or what is left after fixes no longer counts."""

HOPELESS: Final = 0.5
"""A fix whose cure saves less than this share of its cost is not tried in the estimate of a state."""

TABLED_SETUPS: Final = 12


class Problem(NamedTuple):
    """Arrays and what can be computed from them once.

    ``expects (C, R, F)`` is ``P(result | fault)`` before any reading on the check's condition, ``sharp (C,
    F)`` is ``sum_r P log P`` of its rows. The faults that fix ``a`` cures are ``cured[first[a]:first[a +
    1]]``. ``setups (2^k,)`` is the cost of every set of setups, where there are few.
    """

    arrays: Arrays
    expects: FloatArray
    sharp: FloatArray
    first: IntArray
    cured: IntArray
    setups: FloatArray


class State(NamedTuple):
    """Where a job stands: ``b (F,)`` the belief, ``seen (G, S)`` what the readings say of states.

    ``digits (C,)`` are results + 1 of the checks done (0: not done), ``failed (A,)`` the fixes that failed.
    """

    b: FloatArray
    seen: FloatArray
    digits: IntArray
    failed: BoolArray
    standing: int


def problem_of(arrays: Arrays) -> Problem:
    """Compute once what every state needs."""
    expects = np.einsum("cfs,csr->crf", arrays.table[arrays.condition], arrays.shows)
    logs = np.log(expects, out=np.zeros_like(expects), where=expects > 0)
    cures = [np.flatnonzero(row < 1) for row in arrays.missed]
    count = len(arrays.setup_cost)
    setups = np.zeros(1)
    for cost in arrays.setup_cost if count <= TABLED_SETUPS else ():
        setups = np.concatenate([setups, setups + cost])
    return Problem(
        arrays=arrays,
        expects=np.ascontiguousarray(expects),
        sharp=np.ascontiguousarray((expects * logs).sum(axis=1)),
        first=np.cumsum([0, *(len(faults) for faults in cures)]),
        cured=np.concatenate([*cures, np.zeros(0, dtype=np.int64)]).astype(np.int64),
        setups=setups,
    )


def first_state(arrays: Arrays) -> State:
    """Nothing read, nothing tried."""
    conditions, _, states = arrays.table.shape
    return State(
        b=arrays.prior.copy(),
        seen=np.ones((conditions, states)),
        digits=np.zeros(len(arrays.condition), dtype=np.int64),
        failed=np.zeros(len(arrays.fix_cost), dtype=np.bool_),
        standing=arrays.standing,
    )


@njit(cache=True)
def setups_cost(p: Problem, missing: int) -> float:
    """What the setups in a mask cost."""
    if missing < len(p.setups):
        return float(p.setups[missing])
    cost = 0.0
    k = 0
    while missing > 0:
        if missing & 1:
            cost += p.arrays.setup_cost[k]
        missing >>= 1
        k += 1
    return cost


@njit(cache=True)
def is_allowed(arrays: Arrays, digits: IntArray, action: int) -> bool:
    """Whether every gate of an action (checks first) is open."""
    for k in range(arrays.gate_check.shape[1]):
        check = arrays.gate_check[action, k]
        if check >= 0 and (digits[check] == 0 or not arrays.gate_open[action, k, digits[check] - 1]):
            return False
    return True


@njit(cache=True)
def _is_seen(seen: FloatArray, condition: int) -> bool:
    return bool(np.any(seen[condition] != 1.0))


@njit(cache=True, error_model="numpy")
def results_of(p: Problem, state: State, check: int, joint: FloatArray) -> None:
    """``P(state, fault, result)`` of a check, ``joint (R, F)``."""
    g = p.arrays.condition[check]
    count, faults = p.arrays.results[check], len(state.b)
    if not _is_seen(state.seen, g):
        for r in range(count):
            for f in range(faults):
                joint[r, f] = state.b[f] * p.expects[check, r, f]
        return
    for f in range(faults):
        total = 0.0
        for r in range(count):
            joint[r, f] = 0.0
        for s in range(state.seen.shape[1]):
            mass = p.arrays.table[g, f, s] * state.seen[g, s]
            total += mass
            for r in range(count):
                joint[r, f] += mass * p.arrays.shows[check, s, r]
        for r in range(count):
            joint[r, f] = joint[r, f] * state.b[f] / total if total > 0.0 else 0.0


@njit(cache=True, error_model="numpy")
def information(p: Problem, state: State, check: int, joint: FloatArray) -> float:
    """Mutual information of fault and result times ``P(state)``, in nats (Lindley 1956)."""
    total, gain = state.b.sum(), 0.0
    if _is_seen(state.seen, p.arrays.condition[check]):
        for r in range(p.arrays.results[check]):
            for f in range(len(state.b)):
                if joint[r, f] > 0.0:
                    gain += joint[r, f] * np.log(joint[r, f] / state.b[f])
    else:
        for f in range(len(state.b)):
            gain += state.b[f] * p.sharp[check, f]
    for r in range(p.arrays.results[check]):
        share = 0.0
        for f in range(len(state.b)):
            share += joint[r, f]
        if share > 0.0:
            gain -= share * np.log(share / total)
    return max(gain, 0.0)


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
    return. The ratio is renewed after each failure (Kadane & Simon 1977, for fixes that do not overlap).
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
            if open_[a] < np.inf:
                cured = 0.0
                for k in range(p.first[a], p.first[a + 1]):
                    f = p.cured[k]
                    cured += left[f] * (1.0 - arrays.missed[a, f])
                own = open_[a] + arrays.fix_cost[a] + setups_cost(p, arrays.fix_setups[a] & ~standing)
                if cured > highest * own:
                    best, highest, price = a, cured / own, own
        if best < 0:
            break
        sequence[count] = best
        open_[best] = np.inf
        standing |= arrays.fix_setups[best]
        cost[count], bad[count], reach[count + 1] = price, 0.0, 0.0
        for f in range(len(left)):
            uncured = left[f] * arrays.missed[best, f]
            left[f] = uncured * arrays.detects[f]
            bad[count] += uncured - left[f]
            reach[count + 1] += left[f]
        count += 1
    lowest, length = reach[count] * arrays.give_up, count
    for k in range(count - 1, -1, -1):
        lowest += reach[k] * cost[k] + bad[k] * arrays.comeback
        if reach[k] * arrays.give_up <= lowest:
            lowest, length = reach[k] * arrays.give_up, k
    return lowest, length


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
                caught = arrays.missed[a, f] * arrays.detects[f]
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
    for a in range(len(failed)):
        if failed[a]:
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
def gains(p: Problem, state: State) -> FloatArray:
    """Information per cost of each check, ``(C,)``; -1 where it is not allowed or would tell nothing."""
    arrays = p.arrays
    checks = len(arrays.condition)
    joint = np.empty((arrays.shows.shape[2], len(state.b)))
    least = NEGLIGIBLE * state.b.sum()
    gain = np.full(checks, -1.0)
    for c in range(checks):
        if state.digits[c] == 0 and is_allowed(arrays, state.digits, c):
            results_of(p, state, c, joint)
            told = information(p, state, c, joint)
            if told > least:
                cost = arrays.check_cost[c] + setups_cost(p, arrays.check_setups[c] & ~state.standing)
                gain[c] = told / (cost + 1e-9)
    return gain


@njit(cache=True, error_model="numpy")
def _check_costs(
    p: Problem, state: State, chosen: IntArray, told: float, sequence: IntArray, worth: FloatArray
) -> None:
    """Fill in the estimated cost of the chosen checks."""
    arrays = p.arrays
    joint = np.empty((arrays.shows.shape[2], len(state.b)))
    reach, digits = state.b.sum(), state.digits.copy()
    for c in chosen:
        results_of(p, state, c, joint)
        standing = state.standing | arrays.check_setups[c]
        worth[c] = reach * (arrays.check_cost[c] + setups_cost(p, standing & ~state.standing))
        for r in range(arrays.results[c]):
            digits[c] = r + 1
            if joint[r].sum() > NEGLIGIBLE * reach:
                usable = usable_fixes(p, digits, state.failed)
                worth[c] += estimate(p, joint[r], usable, standing, told, sequence)
        digits[c] = 0


@njit(cache=True, error_model="numpy")
def _fix_costs(
    p: Problem, state: State, look: BoolArray, told: float, sequence: IntArray, worth: FloatArray
) -> None:
    """Fill in the estimated cost of the usable fixes among those to look at."""
    arrays = p.arrays
    checks, reach = len(arrays.condition), state.b.sum()
    allowed = allowed_fixes(p, state.digits, state.failed)
    usable = usable_fixes(p, state.digits, state.failed)
    for a in range(len(usable)):
        if allowed[a] < np.inf and look[a]:
            standing = state.standing | arrays.fix_setups[a]
            uncured = state.b * arrays.missed[a]
            caught = uncured * arrays.detects
            usable[a] = np.inf
            worth[checks + a] = (
                reach * (arrays.fix_cost[a] + setups_cost(p, standing & ~state.standing))
                + (uncured - caught).sum() * arrays.comeback
                + estimate(p, caught, usable, standing, told, sequence)
            )
            usable[a] = 0.0


@njit(cache=True, error_model="numpy")
def first_costs(p: Problem, state: State, look: BoolArray, told: float) -> FloatArray:
    """Estimated cost of each action first, ``(C + A,)``; ``inf`` where not allowed or not looked at."""
    fixes = len(p.arrays.fix_cost)
    worth = np.full(len(look) + fixes, np.inf)
    sequence = np.empty(fixes, dtype=np.int64)
    _check_costs(p, state, np.flatnonzero(look), told, sequence, worth)
    _fix_costs(p, state, np.ones(fixes, dtype=np.bool_), told, sequence, worth)
    return worth


@njit(cache=True, error_model="numpy")
def ratios(p: Problem, state: State) -> FloatArray:
    """Chance to cure per cost of each fix, ``(A,)``; 0 where it is not to be tried."""
    arrays = p.arrays
    allowed = allowed_fixes(p, state.digits, state.failed)
    ratio = np.zeros(len(allowed))
    for a in range(len(allowed)):
        if allowed[a] < np.inf:
            for k in range(p.first[a], p.first[a + 1]):
                f = p.cured[k]
                ratio[a] += state.b[f] * (1.0 - arrays.missed[a, f])
            ratio[a] /= arrays.fix_cost[a] + setups_cost(p, arrays.fix_setups[a] & ~state.standing) + 1e-9
    return ratio


@njit(cache=True, error_model="numpy")
def ranked_costs(p: Problem, state: State, checks: int, fixes: int, told: float) -> FloatArray:
    """:func:`first_costs` of the checks with most information and the fixes with most cure per cost only.

    Where faults are only identified there is no estimate: the figure then falls as information per cost
    rises.
    """
    gain = gains(p, state)
    worth = np.full(len(gain) + len(p.arrays.fix_cost), np.inf)
    chosen = np.argsort(-gain, kind="mergesort")[: min(checks, (gain > 0.0).sum())]
    if p.arrays.identify:
        for c in chosen:
            worth[c] = state.b.sum() * p.arrays.give_up / (1.0 + gain[c])
        return worth
    look = np.zeros(len(p.arrays.fix_cost), dtype=np.bool_)
    look[np.argsort(-ratios(p, state), kind="mergesort")[:fixes]] = True
    sequence = np.empty(len(p.arrays.fix_cost), dtype=np.int64)
    _check_costs(p, state, chosen, told, sequence, worth)
    _fix_costs(p, state, look, told, sequence, worth)
    return worth


@njit(cache=True, error_model="numpy")
def stop_cost(p: Problem, state: State, hopeless: float, sequence: IntArray) -> tuple[float, int]:
    """What it costs to do no more checks: fixes in sequence, then the return; nothing once identified."""
    if p.arrays.identify and state.b.sum() - state.b.max() <= IDENTIFIED * state.b.sum():
        return 0.0, 0
    allowed = allowed_fixes(p, state.digits, state.failed)
    return fixes_only(p, state.b, allowed, state.standing, hopeless, sequence)


@njit(cache=True)
def own_cost(p: Problem, state: State, action: int) -> float:
    """What an action costs by itself at a state: with missing setups and, for a fix, expected comebacks."""
    arrays = p.arrays
    checks = len(arrays.condition)
    reach = state.b.sum()
    if action < checks:
        missing = arrays.check_setups[action] & ~state.standing
        return float(reach * (arrays.check_cost[action] + setups_cost(p, missing)))
    a = action - checks
    missing = arrays.fix_setups[a] & ~state.standing
    slips = (state.b * arrays.missed[a] * (1.0 - arrays.detects)).sum()
    return float(reach * (arrays.fix_cost[a] + setups_cost(p, missing)) + slips * arrays.comeback)


def next_states(p: Problem, state: State, action: int) -> list[State]:
    """The states an action may lead to, other than the release: one for each result, or "still there"."""
    arrays = p.arrays
    checks = len(arrays.condition)
    if action >= checks:
        a = action - checks
        failed = state.failed.copy()
        failed[a] = True
        caught = state.b * arrays.missed[a] * arrays.detects
        standing = state.standing | int(arrays.fix_setups[a])
        return [State(caught, state.seen, state.digits, failed, standing)]
    joint = np.empty((arrays.shows.shape[2], len(state.b)))
    results_of(p, state, action, joint)
    standing = state.standing | int(arrays.check_setups[action])
    states = []
    for r in range(int(arrays.results[action])):
        digits, seen = state.digits.copy(), state.seen.copy()
        digits[action] = r + 1
        seen[arrays.condition[action]] *= arrays.shows[action, :, r]
        states.append(State(joint[r], seen, digits, state.failed, standing))
    return states
