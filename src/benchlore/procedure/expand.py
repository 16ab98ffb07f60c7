"""Kernels that read a swept table: the worth of every action at a state, and the optimal policy as a tree."""

import numpy as np
from numba import njit

from benchlore.model import FloatArray
from benchlore.procedure.arrays import IntArray
from benchlore.procedure.rows import put_row
from benchlore.procedure.sweep import Grid, allowed, is_identified, mask_after

TIE = 1e-12
"""Relative difference below which the simpler action wins: return before fix before check."""

_RETURN = -1
_FINISHED = -2


@njit(cache=True)
def state_of(grid: Grid, e: int, digits: IntArray, weights: FloatArray) -> int:
    """Fill in the digits and weights ``P(e, f)`` of an evidence index; return its set of setups."""
    done = 0
    for c in range(len(digits)):
        digits[c] = e // grid.stride[c] % grid.radix[c]
        if digits[c] > 0:
            done = grid.after[done, c]
    weights[:] = grid.prior
    c = 0
    while c < len(digits):
        place = grid.place[c]
        row = grid.first[place]
        while c < len(digits) and grid.place[c] == place:
            row += digits[c] * grid.inner[c]
            c += 1
        weights *= grid.likelihood[row]
    return done


@njit(cache=True, error_model="numpy")
def action_values(grid: Grid, values: FloatArray, e: int, m: int, worth: FloatArray) -> float:
    """Fill ``worth (C + A,)`` with the unnormalised cost of each action first (inf: not allowed); return P.

    Returning the board costs ``P`` times the cost of a return. Each holds the price of a step.
    """
    checks, fixes, masks = len(grid.radix), grid.fix_cost.shape[1], grid.survive.shape[1]
    digits = np.empty(checks, dtype=np.int64)
    weights = np.empty(len(grid.prior))
    done = state_of(grid, e, digits, weights)
    reach = 0.0
    for f in range(len(weights)):
        reach += weights[f] * grid.survive[f, m]
    worth[:] = np.inf
    for c in range(checks):
        if digits[c] == 0 and allowed(grid, digits, c):
            worth[c] = reach * grid.check_cost[done, c, m] + grid.step_price
            for r in range(1, grid.radix[c]):
                worth[c] += values[(e + r * grid.stride[c]) * masks + m]
    for a in range(fixes):
        after = mask_after(grid, m, a)
        if after != m and allowed(grid, digits, checks + a):
            bad = 0.0
            for f in range(len(weights)):
                bad += weights[f] * grid.slip[grid.variant[a, 1], f, after]
            worth[checks + a] = (
                reach * grid.fix_cost[done, a, m]
                + bad * grid.comeback
                + grid.step_price
                + values[e * masks + after]
            )
    return reach


@njit(cache=True)
def is_over(grid: Grid, e: int, m: int) -> bool:
    """Whether an identification is finished at a state."""
    digits = np.empty(len(grid.radix), dtype=np.int64)
    weights = np.empty(len(grid.prior))
    state_of(grid, e, digits, weights)
    return grid.identify and is_identified(weights * grid.survive[:, m])


@njit(cache=True)
def best_action(grid: Grid, values: FloatArray, e: int, m: int, worth: FloatArray) -> int:
    """The action to take at a state; a return where the state has no probability."""
    checks = len(grid.radix)
    reach = action_values(grid, values, e, m, worth)
    if reach <= 0.0:
        return _RETURN
    if is_over(grid, e, m):
        return _FINISHED
    best, lowest = _RETURN, reach * grid.give_up + grid.step_price
    for action in range(checks, len(worth)):
        if worth[action] < lowest * (1.0 - TIE):
            best, lowest = action, worth[action]
    for action in range(checks):
        if worth[action] < lowest * (1.0 - TIE):
            best, lowest = action, worth[action]
    return best


@njit(cache=True)
def _longer(array: IntArray, needed: int) -> IntArray:
    if needed <= len(array):
        return array
    grown = np.empty(max(needed, 2 * len(array)), dtype=np.int64)
    put_row(grown, array)
    return grown


@njit(cache=True)
def expand(grid: Grid, values: FloatArray, e: int, m: int) -> tuple[IntArray, IntArray, IntArray]:
    """The optimal policy from a state: ``action``, ``start`` and ``target`` of a tree in preorder."""
    checks = len(grid.radix)
    worth = np.empty(checks + grid.fix_cost.shape[1])
    action, start, target = np.empty(64, np.int64), np.zeros(65, np.int64), np.empty(128, np.int64)
    stack = [(e, m, -1)]
    nodes, links = 0, 0
    while len(stack) > 0:
        e, m, slot = stack.pop()
        if slot >= 0:
            target[slot] = nodes
        best = best_action(grid, values, e, m, worth)
        action, start = _longer(action, nodes + 1), _longer(start, nodes + 2)
        action[nodes] = best
        if best >= checks:
            target = _longer(target, links + 2)
            target[links + 1] = -1
            stack.append((e, mask_after(grid, m, best - checks), links))
            links += 2
        elif best >= 0:
            results = grid.radix[best] - 1
            target = _longer(target, links + results)
            for r in range(results - 1, -1, -1):
                stack.append((e + (r + 1) * grid.stride[best], m, links + r))  # noqa: PERF401 numba
            links += results
        nodes += 1
        start[nodes] = links
    return action[:nodes], start[: nodes + 1], target[:links]
