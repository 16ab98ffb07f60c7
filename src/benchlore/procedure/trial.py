"""Kernels of the search from both sides: one trial follows the most promising actions to a new state.

As in heuristic search for Markov decision processes (bounded real-time dynamic programming: McMahan,
Likhachev & Gordon, ICML 2005), a trial takes at every state the action with the lowest lower bound and goes
on to the result whose bounds are furthest apart; on its way back it renews the bounds of the states that it
came through. A state that was not opened yet is bounded from the one before it.
"""

from typing import Final

import numpy as np
from numba import njit

from benchlore.model import FloatArray
from benchlore.procedure.arrays import BoolArray
from benchlore.procedure.estimate import stop_cost
from benchlore.procedure.memo import STOP
from benchlore.procedure.rows import put_row, put_rows
from benchlore.procedure.state import (
    Problem,
    State,
    can_help,
    is_allowed,
    results_of,
    setups_cost,
    tried_fixes,
)
from benchlore.procedure.tree import FIRST_KEY, Here, Tree, dual_at, is_certain, opened, place_of, told_here

DEEPEST: Final = 100
"""Actions in a trial; deeper states keep their first bounds."""

CLOSED: Final = 1e-9
"""Relative distance of the bounds at which a state counts as solved."""


@njit(cache=True)
def _is_read_elsewhere(p: Problem, state: State, check: int) -> bool:
    """Whether another check that was not done reads the same condition."""
    g = p.arrays.condition[check]
    for other in range(len(state.digits)):
        if other != check and state.digits[other] == 0 and p.arrays.condition[other] == g:
            return True
    return False


@njit(cache=True, error_model="numpy")
def _kept_share(p: Problem, tree: Tree, state: State, check: int, result: int, b: FloatArray) -> float:
    """The largest share of the belief that a result leaves as it was, so that it need not be known again.

    Nothing where the check opens a gate. Where more checks read its condition their results change too, so
    the share must hold for every state of it.
    """
    if tree.opens[check]:
        return 0.0
    share = np.inf
    if _is_read_elsewhere(p, state, check):
        g = p.arrays.condition[check]
        for s in range(state.seen.shape[1]):
            if state.seen[g, s] > 0.0:
                share = min(share, p.arrays.shows[check, s, result])
    for f in range(len(b)):
        if state.b[f] > 0.0:
            share = min(share, b[f] / state.b[f])
    return share


@njit(cache=True, error_model="numpy")
def _bounded(tree: Tree, here: Here, after: FloatArray, told: FloatArray, share: float, paid: float) -> float:
    """Bound an unopened state with belief ``after`` from the state before it.

    The optimal cost is concave and homogeneous in the belief, so it is at least that of the share which is
    left as it was, and of knowing the fault for the rest; ``paid`` are the setups made in between.
    """
    b = here.state.b
    known, kept = 0.0, 0.0
    for f in range(len(after)):
        known += after[f] * told[f]
        kept += (after[f] - share * b[f]) * told[f]
    if share > 0.0:
        known = max(known, kept + share * (tree.low[here.place] - paid * b.sum()))
    return known


@njit(cache=True)
def check_values(
    p: Problem, tree: Tree, here: Here, c: int, joint: FloatArray, low: FloatArray
) -> tuple[float, float]:
    """Bounds on the cost of doing a check; fills ``joint (R, F)`` and what each result costs at least."""
    arrays, state = p.arrays, here.state
    results_of(p, state, c, joint)
    paid = setups_cost(p, arrays.check_setups[c] & ~state.standing)
    told = told_here(p, tree, state.standing | arrays.check_setups[c], state.failed)
    least = most = state.b.sum() * (arrays.check_cost[c] + paid)
    is_alone = not _is_read_elsewhere(p, state, c)
    for r in range(arrays.results[c]):
        child = place_of(tree.keys, here.key ^ tree.check_words[c, r])
        low[r] = 0.0
        if tree.keys[child] != np.uint64(0):
            low[r] = tree.low[child]
            most += tree.high[child]
        elif joint[r].sum() > 0.0 and not is_certain(p, joint[r]):
            share = _kept_share(p, tree, state, c, r, joint[r])
            low[r] = _bounded(tree, here, joint[r], told, share, paid)
            if is_alone:
                low[r] = max(low[r], dual_at(tree, here.place, joint[r]) - paid * joint[r].sum())
            most = np.inf
        least += low[r]
    return least, most


@njit(cache=True)
def fix_values(p: Problem, tree: Tree, here: Here, a: int, caught: FloatArray) -> tuple[float, float, float]:
    """Bounds on the cost of trying a fix, and on what follows a failure; fills the belief then, ``(F,)``."""
    arrays, state = p.arrays, here.state
    paid = setups_cost(p, arrays.fix_setups[a] & ~state.standing)
    own, share = state.b.sum() * (arrays.fix_cost[a] + paid), np.inf
    for f in range(len(caught)):
        uncured = state.b[f] * arrays.missed[a, f]
        caught[f] = uncured * arrays.detects[a, f]
        own += (uncured - caught[f]) * arrays.comeback
        if state.b[f] > 0.0:
            share = min(share, caught[f] / state.b[f])
    child = place_of(tree.keys, here.key ^ tree.fix_words[a])
    if tree.keys[child] != np.uint64(0):
        return own + tree.low[child], own + tree.high[child], tree.low[child]
    if caught.sum() <= 0.0:
        return own, own, 0.0
    state.failed[a] = True
    told = told_here(p, tree, state.standing | arrays.fix_setups[a], state.failed)
    state.failed[a] = False
    low = _bounded(tree, here, caught, told, share, paid)
    low = max(low, dual_at(tree, here.place, caught) - paid * caught.sum())
    return own + low, np.inf, low


@njit(cache=True)
def _may(p: Problem, state: State, action: int, tried: BoolArray) -> bool:
    """Whether an action is allowed and, if it is a fix, can change what is believed."""
    checks = len(state.digits)
    if not is_allowed(p.arrays, state.digits, action):
        return False
    if action < checks:
        return bool(state.digits[action] == 0)
    a = action - checks
    return not p.arrays.identify and not tried[a] and can_help(p, state, a)


@njit(cache=True)
def renewed(p: Problem, tree: Tree, here: Here) -> tuple[int, float, float]:
    """Renew a state's bounds from all its actions.

    Returns the action with the lowest lower bound (checks first, then fixes, or ``STOP``), that bound, and
    the second lowest.
    """
    arrays, state = p.arrays, here.state
    checks = len(state.digits)
    joint, low = np.empty((arrays.shows.shape[2], len(state.b))), np.empty(arrays.shows.shape[2])
    best, least = STOP, state.b.sum() * arrays.give_up
    second, high = least, min(tree.high[here.place], least)
    tried = tried_fixes(p, state.failed)
    for action in range(checks + len(state.failed)):
        if not _may(p, state, action, tried):
            continue
        if action < checks:
            value, most = check_values(p, tree, here, action, joint, low)
        else:
            value, most, _ = fix_values(p, tree, here, action - checks, joint[0])
        high = min(high, most)
        if value < least:
            best, least, second = action, value, least
        else:
            second = min(second, value)
    tree.high[here.place] = high
    tree.low[here.place] = min(max(tree.low[here.place], least), high)
    return best, least, second


@njit(cache=True)
def cheapest(p: Problem, tree: Tree, state: State, key: np.uint64) -> int:
    """The action with the lowest upper bound, ``STOP`` where doing no more checks costs no more."""
    here = Here(state, key, place_of(tree.keys, key))
    if tree.keys[here.place] == np.uint64(0) or is_certain(p, state.b):
        return STOP
    checks = len(state.digits)
    joint, low = np.empty((p.arrays.shows.shape[2], len(state.b))), np.empty(p.arrays.shows.shape[2])
    lowest = stop_cost(p, state, 0.0, np.empty(len(state.failed), dtype=np.int64))[0] * (1.0 - CLOSED)
    best = STOP
    tried = tried_fixes(p, state.failed)
    for action in range(checks + len(state.failed)):
        if not _may(p, state, action, tried):
            continue
        if action < checks:
            most = check_values(p, tree, here, action, joint, low)[1]
        else:
            most = fix_values(p, tree, here, action - checks, joint[0])[1]
        if most < lowest:
            best, lowest = action, most
    return best


@njit(cache=True)
def _widest(p: Problem, tree: Tree, here: Here, c: int, joint: FloatArray, low: FloatArray) -> int:
    """The result of a check whose bounds are furthest apart; fills as :func:`check_values` does."""
    check_values(p, tree, here, c, joint, low)
    widest, widest_gap = 0, -1.0
    for r in range(p.arrays.results[c]):
        child = place_of(tree.keys, here.key ^ tree.check_words[c, r])
        high = tree.high[child] if tree.keys[child] != np.uint64(0) else joint[r].sum() * p.arrays.give_up
        if high - low[r] > widest_gap:
            widest, widest_gap = r, high - low[r]
    return widest


@njit(cache=True)
def is_closed(tree: Tree, place: int) -> bool:
    """Whether a state's bounds have met."""
    return bool(tree.high[place] - tree.low[place] <= CLOSED * tree.high[place])


@njit(cache=True)
def _trial(p: Problem, tree: Tree, first: State, b: FloatArray, seen: FloatArray) -> None:
    """One trial; ``b (D, F)`` and ``seen (D, G, S)`` are room for the states on the way."""
    digits, failed = first.digits.copy(), first.failed.copy()
    joint, low = np.empty((p.arrays.shows.shape[2], b.shape[1])), np.empty(p.arrays.shows.shape[2])
    places, rest, second = np.empty(len(b), np.int64), np.empty(len(b)), np.empty(len(b))
    put_row(b[0], first.b)
    put_rows(seen[0], first.seen)
    key, standing, depth = FIRST_KEY, first.standing, 0
    before = int(np.int64(-1))  # numba compiles a literal apart
    while True:
        state = State(b[depth], seen[depth], digits, failed, standing)
        place = place_of(tree.keys, key)
        is_new = tree.keys[place] == np.uint64(0)
        if is_new:
            place = opened(p, tree, state, key, before)
        here = Here(state, key, place)
        places[depth] = before = place
        action, least, second[depth] = renewed(p, tree, here)
        if is_new or action == STOP or depth == len(b) - 1 or is_closed(tree, place):
            break
        put_rows(seen[depth + 1], seen[depth])
        if action < len(digits):
            r = _widest(p, tree, here, action, joint, low)
            rest[depth] = least - low[r]
            put_row(b[depth + 1], joint[r])
            for s in range(first.seen.shape[1]):
                seen[depth + 1, p.arrays.condition[action], s] *= p.arrays.shows[action, s, r]
            digits[action] = r + 1
            key ^= tree.check_words[action, r]
            standing |= p.arrays.check_setups[action]
        else:
            a = action - len(digits)
            rest[depth] = least - fix_values(p, tree, here, a, b[depth + 1])[2]
            failed[a] = True
            key ^= tree.fix_words[a]
            standing |= p.arrays.fix_setups[a]
        depth += 1
    for d in range(depth - 1, -1, -1):
        value = min(rest[d] + tree.low[places[d + 1]], second[d])
        tree.low[places[d]] = min(max(tree.low[places[d]], value), tree.high[places[d]])


@njit(cache=True)
def run_trials(p: Problem, tree: Tree, first: State, trials: int) -> bool:
    """Make trials until the first state is solved or the memory is full; whether more may help."""
    b = np.empty((DEEPEST + 1, len(first.b)))
    seen = np.empty((DEEPEST + 1, *first.seen.shape))
    for _ in range(trials):
        _trial(p, tree, first, b, seen)
        if is_closed(tree, place_of(tree.keys, FIRST_KEY)) or tree.used[0] > len(tree.keys) * 3 // 4:
            return False
    return True
