"""Kernels of the look-ahead: what each action is worth at one state, by an estimate of what follows it."""

import numpy as np
from numba import njit

from benchlore.model import FloatArray
from benchlore.procedure.arrays import IntArray
from benchlore.procedure.estimate import NEGLIGIBLE, estimate, usable_fixes
from benchlore.procedure.state import (
    Problem,
    State,
    information,
    is_seen,
    results_of,
    setups_cost,
    tried_fixes,
    unseen_information,
)


@njit(cache=True)
def before_actions(p: Problem, state: State) -> FloatArray:
    """What stands before each action, ``(C + A,)``: 0 if nothing, what opens its gates, ``inf`` for ever."""
    arrays = p.arrays
    checks = len(state.digits)
    before = np.zeros(checks + len(state.failed))
    tried = tried_fixes(p, state.failed)
    for action in range(len(before)):
        done = state.digits[action] > 0 if action < checks else tried[action - checks]
        if done:
            before[action] = np.inf
        for k in range(arrays.gate_check.shape[1]):
            check = arrays.gate_check[action, k]
            if check >= 0 and state.digits[check] == 0:
                before[action] += arrays.check_cost[check]
            elif check >= 0 and not arrays.gate_open[action, k, state.digits[check] - 1]:
                before[action] = np.inf
    _wait_for_ever(p, state, before)
    return before


@njit(cache=True)
def _wait_for_ever(p: Problem, state: State, before: FloatArray) -> None:
    """What waits for a check that can never be done can never be done either."""
    gate_check = p.arrays.gate_check
    changed = True
    while changed:
        changed = False
        for action in range(len(before)):
            for k in range(gate_check.shape[1]):
                check = gate_check[action, k]
                if check >= 0 and state.digits[check] == 0 and before[check] == np.inf > before[action]:
                    before[action] = np.inf
                    changed = True


@njit(cache=True, error_model="numpy")
def _gains(p: Problem, state: State, before: FloatArray) -> FloatArray:
    """Information per cost of each check, with what stands before it, ``(C,)``; -1 where there is none."""
    arrays = p.arrays
    joint = np.empty((arrays.shows.shape[2], len(state.b)))
    reach = state.b.sum()
    gain = np.full(len(state.digits), -1.0)
    for c in range(len(gain)):
        if before[c] < np.inf:
            if is_seen(state.seen, arrays.condition[c]):
                results_of(p, state, c, joint)
                told = information(p, state, c, joint)
            else:
                told = unseen_information(p, state.b, c, reach)
            if told > NEGLIGIBLE * reach:
                setups = setups_cost(p, arrays.check_setups[c] & ~state.standing)
                gain[c] = told / (arrays.check_cost[c] + setups + before[c] + 1e-9)
    return gain


@njit(cache=True, error_model="numpy")
def _ratios(p: Problem, state: State, before: FloatArray) -> FloatArray:
    """Chance to cure per cost of each fix, with what stands before it, ``(A,)``; 0 where that is ``inf``.

    Of the variants of a fix only the cheapest has a ratio; the others are 0.
    """
    arrays = p.arrays
    ratio = np.zeros(len(state.failed))
    for a in range(len(ratio)):
        if not p.leads[a]:
            continue
        for k in range(p.first[a], p.first[a + 1]):
            f = p.cured[k]
            ratio[a] += state.b[f] * (1.0 - arrays.missed[a, f])
        setups = setups_cost(p, arrays.fix_setups[a] & ~state.standing)
        ratio[a] /= arrays.fix_cost[a] + setups + before[len(state.digits) + a] + 1e-9
    return ratio


@njit(cache=True, error_model="numpy")
def _check_costs(
    p: Problem, state: State, chosen: IntArray, told: float, sequence: IntArray, worth: FloatArray
) -> None:
    """Fill in the estimated cost of the chosen checks, as if they were allowed."""
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
    p: Problem, state: State, chosen: IntArray, told: float, sequence: IntArray, worth: FloatArray
) -> IntArray:
    """Fill in the estimated cost of the best variant of each chosen fix, as if allowed; return those."""
    arrays = p.arrays
    checks, reach = len(state.digits), state.b.sum()
    usable = usable_fixes(p, state.digits, state.failed)
    soaked = chosen.copy()
    for k, lead in enumerate(chosen):
        group = arrays.fix_group[lead]
        variants = p.member[p.begin[group] : p.begin[group + 1]]
        standing = state.standing | arrays.fix_setups[lead]
        uncured = state.b * arrays.missed[lead]
        before = usable[lead]
        for a in variants:
            usable[a] = np.inf
        lowest = np.inf
        for a in variants:
            caught = uncured * arrays.detects[a]
            cost = (
                reach * (arrays.fix_cost[a] + setups_cost(p, standing & ~state.standing))
                + (uncured - caught).sum() * arrays.comeback
                + estimate(p, caught, usable, standing, told, sequence)
            )
            if cost < lowest:
                soaked[k], lowest = a, cost
        worth[checks + soaked[k]] = lowest
        for a in variants:
            usable[a] = before
    return soaked


@njit(cache=True)
def _opener(p: Problem, digits: IntArray, action: int) -> int:
    """The action itself if it is allowed, else the check to do first on the way to it."""
    k = 0
    while k < p.arrays.gate_check.shape[1]:
        check = p.arrays.gate_check[action, k]
        k += 1
        if check >= 0 and digits[check] == 0:
            action, k = check, 0
    return action


@njit(cache=True, error_model="numpy")
def ranked_costs(p: Problem, state: State, checks: int, fixes: int, told: float) -> FloatArray:
    """Estimated cost of each action first, ``(C + A,)``; ``inf`` where not allowed or not looked at.

    Looked at are the checks with the most information and the fixes with the most cure per cost, each with
    the soak that is estimated to be best. One whose gates wait counts, with what opens them, as a reason to
    do the check that opens the first. Where faults are only identified there is no estimate: the figure then
    falls as information per cost rises.
    """
    before = before_actions(p, state)
    gain, ratio = _gains(p, state, before), _ratios(p, state, before)
    count = len(gain)
    direct = np.full(len(before), np.inf)
    chosen = np.argsort(-gain, kind="mergesort")[: min(checks, (gain > 0.0).sum())]
    tried = np.argsort(-ratio, kind="mergesort")[: min(fixes, (ratio > 0.0).sum())]
    if p.arrays.identify:
        for action in chosen:
            direct[action] = state.b.sum() * p.arrays.give_up / (1.0 + gain[action])
    else:
        sequence = np.empty(len(ratio), dtype=np.int64)
        _check_costs(p, state, chosen, told, sequence, direct)
        tried = _fix_costs(p, state, tried, told, sequence, direct)
    worth = np.full(len(before), np.inf)
    for action in np.concatenate((chosen, count + tried)):
        first = _opener(p, state.digits, action)
        worth[first] = min(worth[first], direct[action] + state.b.sum() * before[action])
    return worth
