"""What a search from both sides remembers: each state of evidence once, between two bounds.

Costs are unnormalised, times ``P(state)``. A state is known by a 64-bit sum of random words, one for each
result and each failed fix, so that the order in which evidence came does not matter.
"""

from typing import Final, NamedTuple

import numpy as np
from numba import njit

from benchlore.model import FloatArray
from benchlore.procedure.arrays import BoolArray, IntArray
from benchlore.procedure.estimate import stop_cost
from benchlore.procedure.memo import WordArray
from benchlore.procedure.rows import put_row
from benchlore.procedure.sales import expected_laws, first_sales, laws, open_checks, sales, sets_made
from benchlore.procedure.state import Problem, State, setups_cost
from benchlore.procedure.sweep import IDENTIFIED
from benchlore.procedure.told import told_costs

FIRST_KEY: Final = np.uint64(1)
"""The key of a state in which nothing was read or tried."""

TOLD_ROWS: Final = 1 << 13
"""Sets of setups and fixes used up for which the costs of known faults are remembered."""

ROUNDS: Final = 12
"""Rounds of the minimisation that prices information at a state."""

LAWS: Final = 4
"""Rounds in which the reference law of each condition is sought."""

NEARBY: Final = 1.6
"""Prices this many times lower and higher than those of the state before are tried too."""


class Tree(NamedTuple):
    """Open-addressing tables with ``N`` places, and the random words.

    ``low (N,)`` and ``high (N,)`` bound a state's optimal cost; ``price (N,)`` and ``dual (N, F)`` are the
    price of information there and a certificate, from which :func:`dual_at` bounds other beliefs. ``told
    (T, F)`` are costs of known faults. ``used (2,)`` are states and rows of ``told`` in use. ``opens
    (C,)`` says which checks open a gate.
    """

    check_words: WordArray
    fix_words: WordArray
    group_words: WordArray
    opens: BoolArray
    keys: WordArray
    low: FloatArray
    high: FloatArray
    price: FloatArray
    dual: FloatArray
    told_keys: WordArray
    told: FloatArray
    used: IntArray


class Here(NamedTuple):
    """A state, its key, and its place in the tables."""

    state: State
    key: np.uint64
    place: int


def tree_of(problem: Problem, states: int, seed: int) -> Tree:
    """An empty memory for so many states, a power of two."""
    arrays = problem.arrays
    faults = len(arrays.prior)
    rng = np.random.default_rng(seed)

    def words(*shape: int) -> WordArray:
        return rng.integers(1, 1 << 63, size=shape, dtype=np.uint64)

    opens = np.zeros(len(arrays.condition), dtype=np.bool_)
    opens[arrays.gate_check[arrays.gate_check >= 0]] = True
    return Tree(
        check_words=words(len(arrays.condition), arrays.shows.shape[2]),
        fix_words=words(len(arrays.fix_cost)),
        group_words=words(len(problem.begin) - 1),
        opens=opens,
        keys=np.zeros(states, dtype=np.uint64),
        low=np.zeros(states),
        high=np.zeros(states),
        price=np.zeros(states),
        dual=np.zeros((states, faults)),
        told_keys=np.zeros(2 * TOLD_ROWS, dtype=np.uint64),
        told=np.zeros((2 * TOLD_ROWS, faults)),
        used=np.zeros(2, dtype=np.int64),
    )


@njit(cache=True)
def place_of(keys: WordArray, key: np.uint64) -> int:
    """Where a key is, or the empty place (0) where it would go; the table must have room."""
    mask = np.uint64(len(keys) - 1)
    place = (key ^ (key >> np.uint64(32))) & mask
    while keys[place] != np.uint64(0) and keys[place] != key:
        place = (place + np.uint64(1)) & mask
    return int(np.int64(place))


@njit(cache=True)
def told_here(p: Problem, tree: Tree, standing: int, failed: BoolArray) -> FloatArray:
    """Costs ``(F,)`` if the fault were named, by memory."""
    key = np.uint64(standing + 1) * np.uint64(0x9E3779B97F4A7C15)
    tried = np.zeros(len(tree.group_words), dtype=np.bool_)
    for a in range(len(failed)):
        if failed[a] and not tried[p.arrays.fix_group[a]]:
            tried[p.arrays.fix_group[a]] = True
            key ^= tree.group_words[p.arrays.fix_group[a]]
    place = place_of(tree.told_keys, key)
    if tree.told_keys[place] == np.uint64(0):
        costs = told_costs(p, standing, tried)
        if tree.used[1] >= TOLD_ROWS:
            return costs
        tree.told_keys[place] = key
        put_row(tree.told[place], costs)
        tree.used[1] += 1
    known: FloatArray = tree.told[place]
    return known


@njit(cache=True)
def is_certain(p: Problem, b: FloatArray) -> bool:
    """Whether an identification is finished."""
    return bool(p.arrays.identify and b.sum() - b.max() <= IDENTIFIED * b.sum())


@njit(cache=True)
def opened(p: Problem, tree: Tree, state: State, key: np.uint64, before: int) -> int:
    """Give a new state its place and first bounds; ``before`` is the place that led to it (-1: none)."""
    place = place_of(tree.keys, key)
    tree.keys[place] = key
    tree.used[0] += 1
    tree.price[place] = np.inf
    if is_certain(p, state.b):
        return place
    tree.low[place] = (state.b * told_here(p, tree, state.standing, state.failed)).sum()
    tree.high[place] = stop_cost(p, state, 0.0, np.empty(len(state.failed), dtype=np.int64))[0]
    if not p.arrays.identify and tree.low[place] < tree.high[place]:
        price = tree.price[before] if before >= 0 else 0.02 * p.arrays.give_up
        tree.low[place] = max(tree.low[place], _priced(p, tree, place, state, price))
    return place


@njit(cache=True, error_model="numpy")
def dual_at(tree: Tree, place: int, b: FloatArray) -> float:
    """The bound on a belief ``b`` at least as far on as the state at ``place``, from its certificate.

    With ``w`` such that ``sum_f w_f exp(-L(d, f) / lam) <= 1`` for every decision ``d``, no policy costs less
    than ``lam sum_f b_f log(w_f / b_f)`` for ``b`` that sums to one (Jensen); ``dual`` is ``lam log w``.
    """
    price, total, bound = tree.price[place], b.sum(), 0.0
    if price == np.inf:
        return 0.0
    for f in range(len(b)):
        if b[f] > 0.0:
            bound += b[f] * (tree.dual[place, f] - price * np.log(b[f] / total))
    return bound


@njit(cache=True)
def _priced(p: Problem, tree: Tree, place: int, state: State, price: float) -> float:
    """Keep the best of a few prices of information near ``price`` and its certificate; return the bound."""
    left = open_checks(p.arrays, state.digits)
    masks = sets_made(p.arrays, left, state.standing)
    if len(masks) == 0:
        return 0.0
    losses, made = _losses(p, tree, state, masks)
    best = 0.0
    law, before, rounds = expected_laws(p, state), 0, int(np.int64(LAWS))  # numba compiles a literal apart
    for tried in (price, price / NEARBY, price * NEARBY):
        prices = np.full(len(state.b), tried)
        law = laws(p, state, left, prices, law, rounds, before)
        before += rounds
        firsts = first_sales(p, state, left, prices, law)
        after = losses.copy()
        for k in range(len(masks)):
            sold = sales(p.arrays, firsts, left, masks[k])[0]
            for d in range(len(after)):
                for f in range(len(sold)):
                    if made[d] == k:
                        after[d, f] -= sold[f]
        bound, dual = _minimised(state.b, after, tried)
        if bound > best or tree.price[place] == np.inf:
            best = max(best, bound)
            tree.price[place] = tried
            put_row(tree.dual[place], dual)
    return best


@njit(cache=True)
def _losses(p: Problem, tree: Tree, state: State, masks: IntArray) -> tuple[FloatArray, IntArray]:
    """What each set of setups with each fix first, or the return, costs by fault; and which set it is."""
    arrays = p.arrays
    fixes = len(arrays.fix_cost)
    losses = np.empty((len(masks) * (fixes + 1), len(state.b)))
    made = np.empty(len(losses), dtype=np.int64)
    failed = state.failed.copy()
    count = 0
    for k in range(len(masks)):
        before = setups_cost(p, masks[k] & ~state.standing)
        losses[count], made[count] = before + arrays.give_up, k
        count += 1
        for a in range(fixes):
            if not state.failed[a] and np.any((arrays.missed[a] < 1.0) & (state.b > 0.0)):
                own = before + arrays.fix_cost[a] + setups_cost(p, arrays.fix_setups[a] & ~masks[k])
                failed[a] = True
                told = told_here(p, tree, masks[k] | arrays.fix_setups[a], failed)
                failed[a] = state.failed[a]
                for f in range(len(state.b)):
                    caught = arrays.missed[a, f] * arrays.detects[a, f]
                    slips = arrays.missed[a, f] - caught
                    losses[count, f] = own + slips * arrays.comeback + caught * told[f]
                made[count] = k
                count += 1
    return losses[:count], made[:count]


@njit(cache=True, error_model="numpy")
def _minimised(b: FloatArray, losses: FloatArray, price: float) -> tuple[float, FloatArray]:
    """The least sum over laws ``q`` of decisions, from below, and its certificate (see ``information``)."""
    total = b.sum()
    least = np.empty(len(b))
    for f in range(len(b)):
        least[f] = losses[:, f].min()
    kernel = np.exp((least - losses) / price)
    q = np.full(len(losses), 1.0 / len(losses))
    best, dual = -np.inf, np.zeros(len(b))
    for _ in range(ROUNDS):
        mixed = q @ kernel
        lift = kernel @ (b / (total * mixed))
        highest = lift.max()
        bound = -price * total * np.log(highest)
        for f in range(len(b)):
            bound += b[f] * (least[f] - price * np.log(mixed[f]))
        if bound > best:
            best = bound
            dual = least + price * np.log(np.maximum(b, 1e-300) / (total * mixed * highest))
        q *= lift
    return best, dual
