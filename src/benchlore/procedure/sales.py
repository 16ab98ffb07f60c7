"""Kernels: what checks sell, when information about the fault has a price.

Let ``Q`` be any law of the results of checks, the same for all faults. By the chain rule of relative entropy
(Cover & Thomas, "Elements of Information Theory", theorem 2.5.3) a job with fault ``f`` learns from a check
``D(P(result | f) || Q(result))`` nats, however its other checks were chosen. At ``lam`` a nat, a check that
costs ``k`` sells at most ``max(0, lam D - k)`` more than it costs. Where several checks read one condition,
the first sells itself and the best that may follow, result by result: a small dynamic programme. What it
shows may decide which setups are made for another, so that any of them may follow; only the first is held to
the setups that are made. ``Q`` is chosen so that little is sold: a cheap check then sells what its result
tells on average, a dear one no more than its channel's capacity.
"""

from typing import Final, NamedTuple

import numpy as np
from numba import njit

from benchlore.model import FloatArray
from benchlore.procedure.arrays import Arrays, BoolArray, IntArray
from benchlore.procedure.rows import put_row
from benchlore.procedure.state import Problem, State

MOST_SETS: Final = 32
"""Sets of setups that are told apart; where checks can make more, setups for checks count as free."""

MOST_CODES: Final = 512
"""Joint results on one condition up to which all that may follow a check is weighed.

Beyond, any check is followed by one that shows the state, for the price of the cheapest.
"""


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


class Readers(NamedTuple):
    """The checks ``(K,)`` on one condition, and their joint results ``N``.

    A joint result is a number with a digit for each check, 0 where it is not done: ``strides (K + 1,)``.
    ``shown (N, S)`` is ``P(results | state)``; it is empty where there would be too many.
    """

    checks: IntArray
    strides: IntArray
    shown: FloatArray


@njit(cache=True)
def readers_of(arrays: Arrays, left: BoolArray, g: int, most: int) -> Readers:
    """The checks on a condition that ``left`` has; joint results up to ``most`` are listed."""
    checks = np.array([c for c in range(len(left)) if left[c] and arrays.condition[c] == g], dtype=np.int64)
    strides = np.ones(len(checks) + 1, dtype=np.int64)
    for k in range(len(checks)):
        strides[k + 1] = min(strides[k] * (arrays.results[checks[k]] + 1), most + 1)
    if strides[-1] > most:
        return Readers(checks, strides, np.ones((0, arrays.shows.shape[1])))
    shown = np.ones((strides[-1], arrays.shows.shape[1]))
    for k in range(len(checks)):
        for r in range(arrays.results[checks[k]]):
            for code in range(strides[k]):
                for s in range(shown.shape[1]):
                    shows = arrays.shows[checks[k], s, r]
                    shown[code + (r + 1) * strides[k], s] = shown[code, s] * shows
    return Readers(checks, strides, shown)


@njit(cache=True, error_model="numpy")
def _own_laws(arrays: Arrays, state: State, g: int) -> FloatArray:
    """``P(state of condition g | f, readings)``, ``(F, S)``; zeros where a fault is not possible."""
    own: FloatArray = arrays.table[g] * state.seen[g]
    for f in range(len(own)):
        total = own[f].sum() if state.b[f] > 0.0 else np.inf
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
def _then_shown(
    arrays: Arrays, c: int, own: FloatArray, mixed: FloatArray, price: float, next_cost: float
) -> tuple[float, float]:
    """What check ``c`` sells beyond its cost, if then the state is shown for ``next_cost`` where that pays.

    Returns the sale and its slope in the price.
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
def put_told(chance: FloatArray, expected: FloatArray, told: FloatArray) -> None:
    """Fill ``told (N,)`` with how many times more likely than expected each joint result is: a logarithm."""
    for code in range(len(told)):
        told[code] = np.log(chance[code] / expected[code]) if chance[code] > 0.0 else 0.0


@njit(cache=True, error_model="numpy")
def put_left(  # noqa: PLR0913, PLR0917 a kernel writes into rows
    arrays: Arrays,
    on: Readers,
    chance: FloatArray,
    told: FloatArray,
    price: float,
    most: FloatArray,
    slope: FloatArray,
    first: FloatArray,
    steep: FloatArray,
) -> None:
    """Fill ``most (N,)`` with what can still be sold beyond its cost after each joint result.

    ``chance (N,)`` is what the results' probability is for the fault, ``told (N,)`` as by :func:`put_told` of
    the reference law's. ``first (K,)`` is filled with what each check sells if it is the first; ``slope`` and
    ``steep`` with the slopes of both in the price.
    """
    for code in range(len(most) - 1, -1, -1):
        most[code], slope[code] = 0.0, 0.0
        if chance[code] <= 0.0:
            continue
        for k in range(len(on.checks)):
            results = arrays.results[on.checks[k]]
            if code // on.strides[k] % (results + 1) > 0:
                continue
            sale, nats = 0.0, 0.0
            for r in range(1, results + 1):
                after = code + r * on.strides[k]
                if chance[after] > 0.0:
                    gained = told[after] - told[code]
                    sale += chance[after] * (price * gained + most[after])
                    nats += chance[after] * (gained + slope[after])
            sale, nats = sale / chance[code] - arrays.check_cost[on.checks[k]], nats / chance[code]
            if code == 0:
                first[k], steep[k] = sale, nats
            if sale > most[code]:
                most[code], slope[code] = sale, nats


@njit(cache=True, error_model="numpy")
def _put_firsts(
    arrays: Arrays, on: Readers, own: FloatArray, mixed: FloatArray, price: FloatArray, firsts: FloatArray
) -> None:
    """Fill ``firsts (F, 2, C)`` for the checks of one condition, as in :func:`first_sales`.

    ``own (F, S)`` are the laws of its states by fault, zero where a fault is not possible; ``mixed (S,)`` is
    the reference law.
    """
    if len(on.shown) == 0:
        for c in on.checks:
            cheapest = np.inf
            for other in on.checks:
                if other != c:
                    cheapest = min(cheapest, arrays.check_cost[other])
            for f in range(len(own)):
                if own[f].sum() > 0.0:
                    firsts[f, :, c] = _then_shown(arrays, c, own[f], mixed, price[f], cheapest)
        return
    chance, expected = own @ on.shown.T, on.shown @ mixed
    rows, first, told = np.empty((2, len(on.shown))), np.zeros((2, len(on.checks))), np.empty(len(on.shown))
    for f in range(len(own)):
        put_told(chance[f], expected, told)
        put_left(arrays, on, chance[f], told, price[f], rows[0], rows[1], first[0], first[1])
        for k in range(len(on.checks)):
            firsts[f, 0, on.checks[k]], firsts[f, 1, on.checks[k]] = first[0, k], first[1, k]


@njit(cache=True, error_model="numpy")
def first_sales(p: Problem, state: State, left: BoolArray, price: FloatArray, law: FloatArray) -> FloatArray:
    """What each check sells beyond its cost to each fault as the first on its condition, and its slope.

    ``price (F,)`` is what a nat about each fault is worth, ``law (G, S)`` the reference law of the states.
    Returns ``(F, 2, C)``: sales, which may be negative, and their slopes in the price.
    """
    firsts = np.zeros((len(state.b), 2, len(left)))
    for g in range(len(law)):
        on = readers_of(p.arrays, left, g, MOST_CODES)
        if len(on.checks) > 0:
            _put_firsts(p.arrays, on, _own_laws(p.arrays, state, g), law[g], price, firsts)
    return firsts


@njit(cache=True, error_model="numpy")
def expected_laws(p: Problem, state: State) -> FloatArray:
    """What is believed of the states of every condition, ``(G, S)``."""
    laws = np.ones(state.seen.shape)
    for g in range(len(laws)):
        put_row(laws[g], (state.b / state.b.sum()) @ _own_laws(p.arrays, state, g))
    return laws


@njit(cache=True, error_model="numpy")
def laws(
    p: Problem, state: State, left: BoolArray, price: FloatArray, start: FloatArray, rounds: int, before: int
) -> FloatArray:
    """A law of the states of every condition, ``(G, S)``, under which its checks sell little in all.

    It begins with ``start (G, S)`` and moves towards those faults to which something is sold (Frank & Wolfe,
    "An algorithm for quadratic programming", Naval Research Logistics Quarterly 3, 1956; sales are convex in
    the law), in steps that shorten with each round and those ``before``. Any law gives a bound, so that
    rounds only tighten it.
    """
    arrays = p.arrays
    chosen = np.ones(state.seen.shape)
    firsts = np.zeros((len(state.b), 2, len(left)))
    for g in range(len(chosen)):
        on = readers_of(arrays, left, g, MOST_CODES)
        if len(on.checks) == 0:
            continue
        own = _own_laws(arrays, state, g)
        mixed = start[g].copy()
        least = np.inf
        for k in range(rounds + 1):
            _put_firsts(arrays, on, own, mixed, price, firsts)
            total, buyers = 0.0, np.zeros(len(own))
            for f in range(len(own)):
                sold = 0.0
                for c in on.checks:
                    sold = max(sold, firsts[f, 0, c])
                total += sold * state.b[f]
                if sold > 0.0:
                    buyers[f] = state.b[f] * price[f]
            if total < least:
                least = total
                put_row(chosen[g], mixed)
            if least == 0.0 or k == rounds:
                break
            mixed = mixed + (buyers / buyers.sum() @ own - mixed) * (2.0 / (before + k + 3.0))
    return chosen


@njit(cache=True)
def best_firsts(arrays: Arrays, firsts: FloatArray, left: BoolArray, made: int) -> FloatArray:
    """What each condition sells to each fault with setups ``made``, and its slope: ``(2, G, F)``."""
    best = np.zeros((2, arrays.table.shape[0], len(firsts)))
    for f in range(len(firsts)):
        for c in range(len(left)):
            if left[c] and (arrays.check_setups[c] & ~made) == 0:
                g = arrays.condition[c]
                if firsts[f, 0, c] > best[0, g, f]:
                    best[0, g, f], best[1, g, f] = firsts[f, 0, c], firsts[f, 1, c]
    return best


@njit(cache=True)
def sales(arrays: Arrays, firsts: FloatArray, left: BoolArray, made: int) -> tuple[FloatArray, FloatArray]:
    """What all conditions sell to each fault, ``(F,)``, with setups ``made``; and its slope in the price.

    ``firsts (F, 2, C)`` must be the same for all sets of setups that are weighed against each other.
    """
    best = best_firsts(arrays, firsts, left, made)
    return best[0].sum(axis=0), best[1].sum(axis=0)
