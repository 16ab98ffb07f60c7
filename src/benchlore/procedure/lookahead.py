"""One pass of the search for problems whose exact table is too large: a depth-first look-ahead with a memo.

At every state the checks with the most information per cost are ranked again by what they are expected to
cost in all, with a cheap estimate of what follows each result (after Heckerman, Breese & Rommelse,
"Decision-theoretic troubleshooting", Communications of the ACM 38(3), 1995). The best few actions are
followed: first with one action at a time below them, then those that came close once more with several.
States that hardly any job reaches end with fixes alone, then the return. What is compared is always the exact
cost of complete policies, and what an earlier pass has found stays: no value ever rises.

The kernel can be stopped after any number of newly ranked states. It then forgets only where it stood, and
finds its way back through the memo.
"""

from collections.abc import Callable, Iterator
from typing import Final, NamedTuple

import numpy as np
from numba import njit

from benchlore.model import FloatArray
from benchlore.procedure.arrays import BoolArray, IntArray
from benchlore.procedure.estimate import stop_cost
from benchlore.procedure.leaf import LEAF_STATES, left_at, optimal_from, plant
from benchlore.procedure.memo import (
    ALLOWED,
    CHOICES,
    ENTRY_BYTES,
    FIRST_ENTRIES,
    FULL,
    HOPELESS,
    LEAF,
    MISSING,
    NO_ROOM,
    RANKED,
    STOP,
    SURE,
    USED,
    Memo,
    entry_of,
    known_entry,
    new_memo,
    resized,
)
from benchlore.procedure.policy import FINISHED, RETURN, Policy
from benchlore.procedure.rank import ranked_costs
from benchlore.procedure.rows import put_row, put_rows
from benchlore.procedure.state import Problem, State, first_state, own_cost, put_next, rows_for
from benchlore.procedure.values import RELEASE

TOLD: Final = 0.3
"""Weight of perfect information in the estimate of a state; the rest is fixes alone."""

CHECKS: Final = 5
"""Checks that are ranked again at each state, those that tell most for their cost."""

FIXES: Final = 3
"""Fixes that are ranked at each state, those that cure most for their cost."""

COMMON: Final = 0.01
"""Share of jobs from which on a state is common, so that more of both are ranked."""

COMMON_CHECKS: Final = 12
COMMON_FIXES: Final = 6

DEEPEST: Final = 200
"""Actions after which a branch ends with fixes alone, so that no problem exhausts the stack."""

COMPARED: Final = 0
"""The layer of the memo in which actions are compared, all ends equally deep."""

DEEPER: Final = 1
"""The layer in which what was chosen is followed to deeper ends."""

KEPT: Final = 0.7
"""Share of a full memo that the best policies may need at most for the search to go on."""

TIE: Final = 1e-12
"""Relative difference below which the action found first is kept."""


WIDTH: Final = 0
SLACK: Final = 1
NEAR: Final = 2
NARROW: Final = 3
CUTOFF: Final = 4
"""Columns of the settings in an array."""


class Settings(NamedTuple):
    """How one search looks.

    Where at least ``narrow`` of the jobs get to, up to ``width`` actions are followed: those with an estimate
    within ``slack * reach ** (1/3)`` of the best; and among those found within ``near`` of the best the wide
    search goes on. Elsewhere one is followed. States that fewer than ``cutoff`` of the jobs reach end with
    fixes alone. With a width of 0 nothing is ranked that was not.
    """

    width: float
    slack: float
    near: float
    narrow: float
    cutoff: float


def following_one(cutoff: float) -> Settings:
    """Follow the best action everywhere."""
    return Settings(1.0, 0.0, 0.0, np.inf, cutoff)


PROVEN: Final = Settings(np.inf, np.inf, np.inf, 0.0, 0.0)
AS_KNOWN: Final = Settings(0.0, 0.0, 0.0, np.inf, 0.0)
"""Follow what is known already: what comparing has found since gets into the deeper layer."""

SLICE: Final = 100
"""States ranked between two looks at the clock; some hundredths of a second."""


@njit(cache=True)
def _is_settled(m: Memo, rows: FloatArray, entry: int, row: int, layer: int, reach: float) -> bool:
    """Whether a search with settings at least as good has been here, so that its value stands.

    In the deeper layer each pass goes everywhere, so that its values are those of what it follows now.
    """
    level = int(m.level[entry, layer])
    if level < 0:
        return False
    if level in (row, SURE):
        return True
    if layer == DEEPER or rows[level, CUTOFF] > rows[row, CUTOFF]:
        return False
    if rows[row, WIDTH] == 1 or reach < rows[row, NARROW]:
        return True
    return bool(
        np.all(rows[level, :NARROW] >= rows[row, :NARROW]) and rows[level, NARROW] <= rows[row, NARROW]
    )


@njit(cache=True)
def _rank(p: Problem, m: Memo, state: State, entry: int, reach: float) -> bool:
    """Remember the actions worth following at a state, best estimate first; false if no more may be."""
    if m.counts[RANKED] >= m.counts[ALLOWED]:
        return False
    m.counts[RANKED] += 1
    checks, fixes = (COMMON_CHECKS, COMMON_FIXES) if reach >= COMMON else (CHECKS, FIXES)
    worth = ranked_costs(p, state, checks, fixes, TOLD)
    open_ = np.flatnonzero(worth < np.inf)
    order = open_[np.argsort(worth[open_], kind="mergesort")[:CHOICES]]
    m.ranks[entry] = len(order)
    for k in range(len(order)):
        m.choices[entry, k] = order[k]
        m.guess[entry, k] = worth[order[k]]
    return True


@njit(cache=True)
def _place(m: Memo, entry: int, action: int) -> int:
    """Which of the choices an action is, -1 if none."""
    for k in range(m.ranks[entry]):
        if m.choices[entry, k] == action:
            return k
    return -1


@njit(cache=True)
def _one(m: Memo, entry: int, layer: int) -> IntArray:
    """What to follow where a search follows one action: the best so far, else the one with the best estimate.

    In the deeper layer its own best comes first, then the one that comparing has found.
    """
    own, compared = _place(m, entry, m.action[entry, layer]), _place(m, entry, m.action[entry, COMPARED])
    if own < 0 and compared < 0 and m.ranks[entry] > 0 and m.guess[entry, 0] <= m.stop[entry]:
        own = 0
    return np.array([k for k in (own, compared if compared != own else -1) if k >= 0], dtype=np.int64)


@njit(cache=True)
def _unfound(m: Memo, entry: int, settings: FloatArray, reach: float) -> IntArray:
    """The actions whose estimates are close enough and that were never followed."""
    slack = settings[SLACK]
    limit = min(m.guess[entry, 0] * (1.0 + slack * reach ** (1 / 3)), m.stop[entry] * (1.0 + slack))
    close = m.guess[entry, : min(settings[WIDTH], m.ranks[entry])] <= limit
    return np.flatnonzero(close & (m.found[entry, : len(close)] == np.inf))


@njit(cache=True)
def _near(m: Memo, entry: int, near: float) -> IntArray:
    """The actions that were found to cost nearly as little as the best, cheapest first."""
    order: IntArray = np.argsort(m.found[entry], kind="mergesort")
    found = m.found[entry][order]
    near_ones: IntArray = order[(found < np.inf) & (found <= found[0] * (1.0 + near))]
    return near_ones


class Leaf(NamedTuple):
    """Room for one state, ``(1, ...)`` each; ``is_waiting (1,)`` says whether it holds one."""

    is_waiting: BoolArray
    b: FloatArray
    seen: FloatArray
    digits: IntArray
    failed: BoolArray
    standing: IntArray


@njit(cache=True)
def _hand_over(state: State, leaf: Leaf) -> None:
    put_row(leaf.b[0], state.b)
    put_rows(leaf.seen[0], state.seen)
    put_row(leaf.digits[0], state.digits)
    put_row(leaf.failed[0], state.failed)
    leaf.standing[0] = state.standing
    leaf.is_waiting[0] = True


@njit(cache=True)
def _begun(  # noqa: PLR0913, PLR0917 as explore
    p: Problem, m: Memo, rows: FloatArray, leaf: Leaf, state: State, depth: int, row: int, layer: int
) -> tuple[int, float]:
    """The number of a state that is to be explored, its actions ranked, and 0; else -1 and its value.

    The value is NaN where the search is to stop here.
    """
    entry = entry_of(p, m, state)
    if entry == NO_ROOM:
        return -1, np.nan
    if entry == MISSING:
        return -1, float(stop_cost(p, state, HOPELESS, np.empty(len(state.failed), dtype=np.int64))[0])
    reach = state.b.sum() / p.arrays.prior.sum()
    if (
        _is_settled(m, rows, entry, row, layer, reach)
        or reach < rows[row, CUTOFF]
        or depth >= DEEPEST
        or m.stop[entry] == 0.0
        or (m.ranks[entry] < 0 and rows[row, WIDTH] == 0)
    ):
        return -1, float(m.value[entry, layer])
    if m.ranks[entry] < 0:
        if reach >= COMMON and m.counts[LEAF] > 0 and left_at(p, state, int(reach * m.counts[LEAF]))[1]:
            _hand_over(state, leaf)
            return -1, np.nan
        if not _rank(p, m, state, entry, reach):
            return -1, np.nan
    return entry, 0.0


@njit(cache=True, error_model="numpy")
def explore(  # noqa: PLR0913, PLR0917 numba can only recur within one function
    p: Problem, m: Memo, rows: FloatArray, leaf: Leaf, state: State, depth: int, row: int, layer: int
) -> float:
    """The exact cost (times probability) of the best policy found from a state; NaN if it was stopped.

    ``rows (N, 5)`` are settings; the one before a wide one has the same cutoff and follows one action. It
    stops at a state from which a sweep is to go on, and puts that into ``leaf``.
    """
    entry, value = _begun(p, m, rows, leaf, state, depth, row, layer)
    if entry < 0:
        return value
    reach = state.b.sum() / p.arrays.prior.sum()
    single = layer == DEEPER or rows[row, WIDTH] == 1 or reach < rows[row, NARROW]
    order = _one(m, entry, layer) if single else _unfound(m, entry, rows[row], reach)
    below, lenient = (row, 1.0) if single else (row - 1, 1.0 + rows[row, NEAR])
    b, seen, digits, failed, standing = rows_for(p, p.arrays.shows.shape[2])
    step = 0
    while True:
        if step == len(order):
            if below == row:
                break
            order, step, below, lenient = _near(m, entry, rows[row, NEAR]), 0, row, 1.0
            continue
        k = order[step]
        action = m.choices[entry, k]
        is_own = layer == DEEPER and action == m.action[entry, DEEPER]
        limit = np.inf if is_own else lenient * m.value[entry, layer]
        step += 1
        cost = own_cost(p, state, int(action))
        count = put_next(p, state, int(np.int64(action)), b, seen, digits, failed, standing)
        for r in range(count):
            if cost >= limit:
                break
            after = State(b[r], seen[r], digits[r], failed[r], standing[r])
            cost += explore(p, m, rows, leaf, after, depth + 1, below, layer)
        if np.isnan(cost):
            return np.nan
        if layer == COMPARED:
            m.found[entry, k] = cost
        if cost < m.value[entry, layer] * (1.0 - TIE):
            m.value[entry, layer] = cost
            m.action[entry, layer] = action
    m.level[entry, layer] = row
    return float(m.value[entry, layer])


@njit(cache=True, error_model="numpy")
def _written(p: Problem, m: Memo, first: State) -> IntArray:
    """What the memo does, in preorder ``(N, 4)``: action, number of results, parent, result there."""
    checks = len(p.arrays.condition)
    sequence = np.empty(len(first.failed), dtype=np.int64)
    stack, nodes, size = [(first, -1, 0)], np.empty((64, 4), dtype=np.int64), 0
    while len(stack) > 0:
        state, parent, result = stack.pop()
        nodes = _with_room(nodes, size + len(sequence) + 1)
        entry = known_entry(m, state)
        action = np.int64(m.action[entry, DEEPER] if entry >= 0 else STOP)
        if action == STOP:
            cost, length = stop_cost(p, state, HOPELESS, sequence)
            for k in range(length):
                nodes[size] = (checks + sequence[k], 2, parent, result)
                parent, result, size = size, 0, size + 1
            over = p.arrays.identify and cost == 0.0 and state.b.sum() > 0.0
            nodes[size] = (FINISHED if over else RETURN, 0, parent, result)
        else:
            b, seen, digits, failed, standing = rows_for(p, p.arrays.shows.shape[2])
            count = put_next(p, state, int(np.int64(action)), b, seen, digits, failed, standing)
            nodes[size] = (action, count + (action >= checks), parent, result)
            for r in range(count - 1, -1, -1):
                stack.append((State(b[r], seen[r], digits[r], failed[r], standing[r]), size, r))  # noqa: PERF401 numba
        size += 1
    return nodes[:size]


@njit(cache=True)
def _with_room(nodes: IntArray, needed: int) -> IntArray:
    if needed <= len(nodes):
        return nodes
    grown = np.empty((2 * needed, nodes.shape[1]), dtype=np.int64)
    put_rows(grown, nodes)
    return grown


class Search:
    """The memo, the settings used so far, and what may be spent; runs passes in slices."""

    def __init__(self, problem: Problem, memory: int, leaf_states: int = LEAF_STATES) -> None:
        self._problem = problem
        self._leaf = Leaf(np.zeros(1, dtype=np.bool_), *rows_for(problem, 1))
        self._first = first_state(problem.arrays)
        self._memo = new_memo(problem.arrays)
        self._most = max(FIRST_ENTRIES, 2 * memory // (3 * ENTRY_BYTES))
        self._rows = [PROVEN]
        self._memo.counts[LEAF] = leaf_states

    @property
    def ranked(self) -> int:
        """The number of states whose actions were ranked so far."""
        return int(self._memo.counts[RANKED])

    @property
    def is_proven(self) -> bool:
        """Whether the whole problem was solved by one sweep."""
        entry = known_entry(self._memo, self._first)
        return bool(entry >= 0 and self._memo.level[entry, DEEPER] == SURE)

    @property
    def expected(self) -> float:
        """The least expected cost found."""
        entry = known_entry(self._memo, self._first)
        value = self._memo.value[entry, DEEPER] if entry >= 0 else self._stopping()
        return float(value / self._problem.arrays.prior.sum())

    def _stopping(self) -> float:
        sequence = np.empty(len(self._first.failed), dtype=np.int64)
        return float(stop_cost(self._problem, self._first, HOPELESS, sequence)[0])

    def policy(self) -> Policy:
        """The best policy found, as a tree."""
        action, count, parent, result = _written(self._problem, self._memo, self._first).T
        start = np.concatenate([[0], np.cumsum(count)])
        target = np.full(start[-1], RELEASE, dtype=np.int64)
        target[start[parent[1:]] + result[1:]] = np.arange(1, len(action))
        return Policy(np.ascontiguousarray(action), start, target)

    def compare(self, settings: Settings, allowed: Callable[[], int]) -> Iterator[None]:
        """Compare actions; ``allowed`` says how many states may be ranked in all before it yields."""
        self._rows += [following_one(settings.cutoff), settings]
        return self._run(COMPARED, allowed)

    def deepen(self, cutoff: float, allowed: Callable[[], int]) -> Iterator[None]:
        """Follow the actions chosen, down to rarer states than they were compared on."""
        self._rows.append(following_one(cutoff))
        return self._run(DEEPER, allowed)

    def catch_up(self) -> None:
        """Take what comparing has found since into the best policy; ranks nothing."""
        self._rows.append(AS_KNOWN)
        for _ in self._run(DEEPER, lambda: self.ranked):
            pass

    def _run(self, layer: int, allowed: Callable[[], int]) -> Iterator[None]:
        rows = np.array(self._rows)
        while True:
            self._memo.counts[ALLOWED] = allowed()
            cost = explore(self._problem, self._memo, rows, self._leaf, self._first, 0, len(rows) - 1, layer)
            if not np.isnan(cost):
                return
            if self._leaf.is_waiting[0]:
                self._solve_leaf()
            elif int(self._memo.counts[USED]) == len(self._memo.key):
                self._make_room()
            if self.ranked >= self._memo.counts[ALLOWED]:
                yield

    def _make_room(self) -> None:
        """Double the memo, as far as it may grow."""
        used, room = int(self._memo.counts[USED]), len(self._memo.key)
        if room == self._most:
            self._memo.counts[FULL] = 1
        else:
            self._memo = resized(self._memo, min(2 * room, self._most), np.arange(used))

    def _solve_leaf(self) -> None:
        """Solve what is left at the state that waits; where that finds no room, leaves are given up."""
        self._leaf.is_waiting[0] = False
        b, seen, digits, failed, standing = (rows[0] for rows in self._leaf[1:])
        state = State(b, seen, digits, failed, int(standing))
        left, _ = left_at(self._problem, state, int(self._memo.counts[LEAF]))  # fits, or would not wait
        policy = optimal_from(self._problem.arrays, state, left)
        if not plant(self._problem, self._memo, state, policy.action, policy.start, policy.target):
            self._memo.counts[LEAF] *= not self._memo.counts[FULL]
            self._make_room()
        self._memo.counts[RANKED] += 1

    def forget(self) -> bool:
        """Where the memo is full, keep only what the best policies need; false if that frees too little."""
        memo = self._memo
        if not memo.counts[FULL]:
            return True
        kept = np.flatnonzero(_needed(self._problem, memo, self._first))
        self._memo = resized(memo, self._most, kept)
        self._memo.counts[FULL] = 0
        return len(kept) < KEPT * self._most


@njit(cache=True, error_model="numpy")
def _needed(p: Problem, m: Memo, first: State) -> BoolArray:
    """Which states the best policies of both layers lead through, ``(N,)``."""
    needed = np.zeros(m.counts[USED], dtype=np.bool_)
    stack = [first]
    while len(stack) > 0:
        state = stack.pop()
        entry = known_entry(m, state)
        if entry < 0 or needed[entry]:
            continue
        needed[entry] = True
        for layer in (COMPARED, DEEPER):
            action = np.int64(m.action[entry, layer])
            if action != STOP and (layer == COMPARED or action != m.action[entry, COMPARED]):
                b, seen, digits, failed, standing = rows_for(p, p.arrays.shows.shape[2])
                for r in range(put_next(p, state, int(np.int64(action)), b, seen, digits, failed, standing)):
                    stack.append(State(b[r], seen[r], digits[r], failed[r], standing[r]))  # noqa: PERF401 numba
    return needed
