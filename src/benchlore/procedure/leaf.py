"""Exact sweeps as leaves of a search: where what is left of a problem is small, it is solved and done with.

Only what provably cannot matter any more is left out: faults without belief, checks that were done, are shut
or tell nothing of the faults left, fixes that failed, are shut or cannot help.
"""

from typing import Final, NamedTuple

import numpy as np
from numba import njit

from benchlore.model import FloatArray
from benchlore.procedure.arrays import Arrays, BoolArray, IntArray, part_of
from benchlore.procedure.exact import swept
from benchlore.procedure.memo import STOP, SURE, Memo, entry_of
from benchlore.procedure.policy import Policy
from benchlore.procedure.rank import before_actions
from benchlore.procedure.rows import put_row
from benchlore.procedure.state import Problem, State, can_help, own_cost, put_next, rows_for

LEAF_STATES: Final = 1 << 16
"""States of a leaf's table at most, times the share of jobs that get there. Measured: more do not pay."""

LEAF_BYTES: Final = 1 << 26
"""Memory that a leaf's sweep may take, its tables of costs and weights included."""

SAME: Final = 1e-12
"""Difference of probabilities that is rounding."""


class Left(NamedTuple):
    """What is left at a state: faults ``(F,)``, checks and fixes ``(C + A,)`` that can still matter."""

    faults: BoolArray
    actions: BoolArray


@njit(cache=True)
def _tells(p: Problem, state: State, check: int, row: FloatArray, first: FloatArray) -> bool:
    """Whether the faults left differ in the states that the check reads, and its results in the state."""
    g = p.arrays.condition[check]
    begun, differs = False, False
    for f in range(len(state.b)):
        if state.b[f] > 0.0:
            total = 0.0
            for s in range(len(row)):
                row[s] = p.arrays.table[g, f, s] * state.seen[g, s]
                total += row[s]
            for s in range(len(row)):
                row[s] /= total
                if begun and abs(row[s] - first[s]) > SAME:
                    differs = True
            if not begun:
                put_row(first, row)
                begun = True
    shows = p.arrays.shows[check]
    return differs and bool(np.any(np.abs(shows - shows[0]) > SAME))


@njit(cache=True)
def _foretells(p: Problem, state: State, check: int) -> bool:
    """Whether a check may tell what another one will show that opens a gate."""
    arrays = p.arrays
    for k in range(arrays.gate_check.size):
        opener = arrays.gate_check.flat[k]
        if opener in (-1, check) or state.digits[opener] > 0:
            continue
        if arrays.condition[opener] == arrays.condition[check]:
            shows = arrays.shows[check]
            return bool(np.any(np.abs(shows - shows[0]) > SAME))
    return False


@njit(cache=True)
def left_at(p: Problem, state: State, most: int) -> tuple[Left, bool]:
    """What is left at a state, and whether its table has at most so many states."""
    arrays = p.arrays
    checks, fixes = len(state.digits), len(state.failed)
    left = Left(state.b > 0.0, np.zeros(checks + fixes, dtype=np.bool_))
    before = before_actions(p, state)
    variants = np.zeros(len(p.begin) - 1, dtype=np.int64)
    for a in range(fixes):
        if before[checks + a] < np.inf and can_help(p, state, a):
            left.actions[checks + a] = True
            variants[arrays.fix_group[a]] += 1
    size = 1
    for count in variants:
        size *= int(count) + 1
        if size > most:
            return left, False
    row, first = np.empty(state.seen.shape[1]), np.empty(state.seen.shape[1])
    for c in range(checks):
        if before[c] < np.inf and (_tells(p, state, c, row, first) or _foretells(p, state, c)):
            left.actions[c] = True
            size *= arrays.results[c] + 1
            if size > most:
                return left, False
    size *= _add_openers(p, state, left)
    return left, size <= most


@njit(cache=True)
def _add_openers(p: Problem, state: State, left: Left) -> int:
    """Keep the checks that what is kept waits for; return how many times larger the table becomes."""
    gate_check, times, changed = p.arrays.gate_check, 1, True
    while changed:
        changed = False
        for action in np.flatnonzero(left.actions):
            for k in range(gate_check.shape[1]):
                c = gate_check[action, k]
                if c >= 0 and state.digits[c] == 0 and not left.actions[c]:
                    left.actions[c] = changed = True
                    times *= p.arrays.results[c] + 1
    return times


def arrays_left(arrays: Arrays, state: State, left: Left) -> Arrays:
    """The problem that is left at a state, on its own."""
    checks = len(arrays.condition)
    table = arrays.table[:, left.faults] * state.seen[:, None, :]
    sums = table.sum(axis=2, keepdims=True)
    return part_of(
        arrays,
        np.flatnonzero(left.actions[:checks]),
        np.flatnonzero(left.actions[checks:]),
        np.flatnonzero(left.faults),
        prior=state.b[left.faults],
        states=np.divide(table, sums, out=np.zeros_like(table), where=sums > 0),
        standing=state.standing,
    )


def optimal_from(arrays: Arrays, state: State, left: Left) -> Policy:
    """The optimal policy from a state, in the actions of the whole problem."""
    policy = swept(arrays_left(arrays, state, left), memory=LEAF_BYTES).policy()
    codes = np.append(np.flatnonzero(left.actions), [STOP, STOP])  # the last two: finished, return
    return Policy(codes[policy.action], policy.start, policy.target)


@njit(cache=True)
def plant(p: Problem, m: Memo, first: State, action: IntArray, start: IntArray, target: IntArray) -> bool:
    """Enter a proven policy into the memo, in both layers; false if there is no room for it."""
    entries, own = np.empty(len(action), dtype=np.int64), np.zeros(len(action))
    stack = [(first, 0)]
    while len(stack) > 0:
        state, n = stack.pop()
        entries[n] = entry_of(p, m, state)
        if entries[n] < 0:
            return False
        if action[n] == STOP:
            own[n] = m.stop[entries[n]]
            continue
        own[n] = own_cost(p, state, action[n])
        b, seen, digits, failed, standing = rows_for(p, p.arrays.shows.shape[2])
        # As int64, like the look-ahead: numba compiles each width of integer apart.
        for r in range(put_next(p, state, int(np.int64(action[n])), b, seen, digits, failed, standing)):
            after = State(b[r], seen[r], digits[r], failed[r], standing[r])
            stack.append((after, target[start[n] + r]))
    for n in range(len(action) - 1, -1, -1):
        for k in range(start[n], start[n + 1]):
            if target[k] >= 0:
                own[n] += own[target[k]]
        m.value[entries[n]] = own[n]
        m.action[entries[n]] = action[n]
        m.level[entries[n]] = SURE
    return True
