"""What an action costs beyond what the price of information foresees: never less than nothing.

The certificate of :mod:`benchlore.procedure.information` bounds the cost from every state of evidence, from a
belief ``b`` over the faults that were not told: ``sum_f b_f (worth_f - lam_f log(b_f lam_f / sum_k b_k
lam_k))``, where what was done no longer sells and setups that stand are not paid again. The cost of an
action, plus that bound after it in expectation, less the bound before it, is its residual. For a check it is
what its sales foresaw and it does not bring, and the relative entropy of its results to the reference law.
"""

from typing import Final, NamedTuple

import numpy as np
from numba import njit

from benchlore.model import FloatArray
from benchlore.procedure.arrays import Arrays, BoolArray, IntArray
from benchlore.procedure.information import Market
from benchlore.procedure.sales import best_firsts, open_checks, put_left, put_told, readers_of
from benchlore.procedure.state import (
    Problem,
    State,
    first_state,
    is_allowed,
    setups_cost,
    tried_fixes,
)
from benchlore.procedure.tree import Tree, told_here

MOST_ROWS: Final = 1 << 14
"""Joint results of the checks on all conditions up to which a certificate is made."""


class Certificate(NamedTuple):
    """Tables of the bound at every state, for the kernels.

    ``price (F,)`` and ``worth (F,)`` are the certificate's; ``tried (X, F)`` and ``tells (X, F)`` as in
    :class:`~benchlore.procedure.information.Dual`. ``masks (M,)`` are the sets of setups that checks can make
    from ``start`` on, ``whole (M, G, F)`` what each condition sells with them. Joint results of condition
    ``g`` begin at row ``begin[g]``, a check's result counts ``stride (C,)`` of them, ``place (C,)`` is its
    place on its condition. Of each row, ``own (N, F)`` is the probability and ``rest (N, F)`` what can still
    be sold; ``next (N, K, F)`` is what can still be sold, in expectation, after one more check, and ``spread
    (N, K, F)`` the entropy of its results.
    """

    price: FloatArray
    worth: FloatArray
    tried: FloatArray
    tells: BoolArray
    masks: IntArray
    start: int
    whole: FloatArray
    begin: IntArray
    stride: IntArray
    place: IntArray
    own: FloatArray
    rest: FloatArray
    next: FloatArray
    spread: FloatArray


def certificate_of(market: Market) -> Certificate | None:
    """Tables from a market's best prices; ``None`` where they would have more than :data:`MOST_ROWS` rows."""
    problem, dual = market.problem, market.dual()
    arrays = problem.arrays
    left = open_checks(arrays, first_state(arrays).digits)
    counts = np.array([_joint_results(arrays, left, g) for g in range(len(arrays.table))], dtype=np.int64)
    if counts.sum() > MOST_ROWS:
        return None
    begin = np.cumsum(counts) - counts
    most = int(np.bincount(arrays.condition[left], minlength=1).max())
    rows, faults = int(counts.sum()), len(arrays.prior)
    stride, place = np.zeros(len(left), dtype=np.int64), np.zeros(len(left), dtype=np.int64)
    tables = np.ones((rows, faults)), np.zeros((rows, faults))
    after = np.zeros((rows, most, faults)), np.zeros((rows, most, faults))
    for g, first in enumerate(begin):
        _fill(arrays, left, g, int(first), dual.law, dual.price, stride, place, *tables, *after)
    return Certificate(
        dual.price,
        dual.worth,
        dual.tried,
        dual.tells,
        np.array(market.masks, dtype=np.int64),
        market.start,
        np.array([best_firsts(arrays, dual.firsts, left, mask)[0] for mask in market.masks]),
        begin,
        stride,
        place,
        *tables,
        *after,
    )


def _joint_results(arrays: Arrays, left: BoolArray, g: int) -> int:
    """Joint results on a condition, without what it would take to list them."""
    count = 1
    for c in np.flatnonzero(left & (arrays.condition == g)):
        count = min(count * (int(arrays.results[c]) + 1), 2 * MOST_ROWS)
    return count


@njit(cache=True, error_model="numpy")
def _fill(  # noqa: PLR0913, PLR0917 a kernel writes into rows
    arrays: Arrays,
    left: BoolArray,
    g: int,
    first: int,
    law: FloatArray,
    price: FloatArray,
    stride: IntArray,
    place: IntArray,
    own: FloatArray,
    rest: FloatArray,
    after: FloatArray,
    spread: FloatArray,
) -> None:
    """Fill the rows of one condition."""
    on = readers_of(arrays, left, g, MOST_ROWS)
    count = len(on.shown)
    for k in range(len(on.checks)):
        stride[on.checks[k]], place[on.checks[k]] = on.strides[k], k
    if len(on.checks) == 0:
        return
    chance, expected = arrays.table[g] @ on.shown.T, on.shown @ law[g]
    told, most, slope = np.empty(count), np.empty(count), np.empty(count)
    firsts = np.empty((2, len(on.checks)))
    for f in range(len(chance)):
        put_told(chance[f], expected, told)
        put_left(arrays, on, chance[f], told, price[f], most, slope, firsts[0], firsts[1])
        for code in range(count):
            own[first + code, f], rest[first + code, f] = chance[f, code], most[code]
            for k in range(len(on.checks)):
                results = arrays.results[on.checks[k]]
                if chance[f, code] > 0.0 and code // on.strides[k] % (results + 1) == 0:
                    for r in range(1, results + 1):
                        share = chance[f, code + r * on.strides[k]] / chance[f, code]
                        if share > 0.0:
                            after[first + code, k, f] += share * most[code + r * on.strides[k]]
                            spread[first + code, k, f] -= share * np.log(share)


class Point(NamedTuple):
    """A state as residuals see it, with what follows from it.

    ``b (F,)`` is the belief, which sums to one; ``rows (G,)`` the joint results on each condition, ``begun
    (G,)`` whether there are any. ``told (F,)`` is what each fault costs if it is known, ``settled (F,)``
    whether it is, ``worth (F,)`` what it is worth otherwise; ``mass (F,)`` is ``b lam``, zero where settled.
    """

    b: FloatArray
    digits: IntArray
    failed: BoolArray
    standing: int
    mask: int
    rows: IntArray
    begun: BoolArray
    told: FloatArray
    settled: BoolArray
    worth: FloatArray
    mass: FloatArray


@njit(cache=True)
def _mask_of(cert: Certificate, standing: int) -> int:
    """The largest of the sets of setups that checks make which stand."""
    best, found = 0, cert.masks[0]
    for m in range(len(cert.masks)):
        if (cert.masks[m] & ~standing) == 0 and (cert.masks[m] & found) == found:
            best, found = m, cert.masks[m]
    return best


@njit(cache=True, error_model="numpy")
def point_of(p: Problem, cert: Certificate, tree: Tree, state: State) -> Point:
    """What residuals need of a state."""
    arrays = p.arrays
    b = state.b / state.b.sum()
    mask = _mask_of(cert, state.standing)
    rows, begun = cert.begin.copy(), np.zeros(len(cert.begin), dtype=np.bool_)
    for c in range(len(state.digits)):
        if state.digits[c] > 0:
            rows[arrays.condition[c]] += state.digits[c] * cert.stride[c]
            begun[arrays.condition[c]] = True
    settled, worth = np.zeros(len(b), dtype=np.bool_), cert.worth.copy()
    for a in np.flatnonzero(state.failed):
        settled |= cert.tells[arrays.fix_group[a]]
        worth += cert.tried[arrays.fix_group[a]]
    for g in np.flatnonzero(begun):
        worth += cert.whole[mask, g] - cert.rest[rows[g]]
    worth -= setups_cost(p, state.standing & ~cert.start)
    mass = np.where(settled, 0.0, b * cert.price)
    known = np.any(settled & (b > 0.0))
    told = told_here(p, tree, state.standing, state.failed) if known else np.zeros(len(b))
    return Point(b, state.digits, state.failed, state.standing, mask, rows, begun, told, settled, worth, mass)


@njit(cache=True, error_model="numpy")
def _surprise(mass: FloatArray) -> float:
    """``-sum_f y_f log(y_f / sum_k y_k)`` of masses ``y``."""
    total = mass.sum()
    value = 0.0
    for f in range(len(mass)):
        if mass[f] > 0.0:
            value -= mass[f] * np.log(mass[f] / total)
    return value


@njit(cache=True, error_model="numpy")
def bound_at(at: Point) -> float:
    """No procedure costs less from there."""
    value = _surprise(at.mass)
    for f in range(len(at.b)):
        if at.b[f] > 0.0:
            value += at.b[f] * (at.told[f] if at.settled[f] else at.worth[f])
    return value


@njit(cache=True, error_model="numpy")
def _raised(cert: Certificate, at: Point, mask: int, f: int) -> float:
    """How much more conditions that were read have sold, if checks can use the setups ``mask`` now."""
    more = 0.0
    if mask != at.mask:
        for g in range(len(at.begun)):
            if at.begun[g]:
                more += cert.whole[mask, g, f] - cert.whole[at.mask, g, f]
    return more


@njit(cache=True, error_model="numpy")
def check_residual(p: Problem, cert: Certificate, tree: Tree, at: Point, c: int) -> float:
    """The residual of a check that is allowed."""
    arrays = p.arrays
    g, k = arrays.condition[c], cert.place[c]
    row = at.rows[g]
    standing = at.standing | arrays.check_setups[c]
    paid = setups_cost(p, standing & ~at.standing)
    before = setups_cost(p, standing & ~cert.start) - setups_cost(p, at.standing & ~cert.start)
    mask = at.mask if standing == at.standing else _mask_of(cert, standing)
    told = at.told
    if standing != at.standing and np.any(at.settled & (at.b > 0.0)):
        told = told_here(p, tree, standing, at.failed)
    value, total = arrays.check_cost[c] + paid, at.mass.sum()
    for f in range(len(at.b)):
        if at.b[f] <= 0.0:
            continue
        if at.settled[f]:
            value += at.b[f] * (told[f] - at.told[f])
            continue
        sold = cert.rest[row, f] if at.begun[g] else cert.whole[mask, g, f]
        value += at.b[f] * (sold - cert.next[row, k, f] + _raised(cert, at, mask, f) - before)
        value += at.mass[f] * cert.spread[row, k, f]
    for r in range(1, arrays.results[c] + 1):
        share = 0.0
        for f in range(len(at.b)):
            if at.mass[f] > 0.0:
                share += at.mass[f] * cert.own[row + r * cert.stride[c], f] / cert.own[row, f]
        if share > 0.0:
            value += share * np.log(share / total)
    return float(value)


@njit(cache=True, error_model="numpy")
def fix_residual(p: Problem, cert: Certificate, tree: Tree, at: Point, a: int, here: float) -> float:
    """The residual of a fix that is allowed; ``here`` is the bound at the state."""
    arrays = p.arrays
    group = arrays.fix_group[a]
    standing = at.standing | arrays.fix_setups[a]
    before = setups_cost(p, standing & ~cert.start) - setups_cost(p, at.standing & ~cert.start)
    mask = at.mask if standing == at.standing else _mask_of(cert, standing)
    value = arrays.fix_cost[a] + setups_cost(p, standing & ~at.standing)
    caught, mass = np.empty(len(at.b)), np.zeros(len(at.b))
    known = False
    for f in range(len(at.b)):
        uncured = at.b[f] * arrays.missed[a, f]
        caught[f] = uncured * arrays.detects[a, f]
        value += (uncured - caught[f]) * arrays.comeback
        if at.settled[f] or cert.tells[group, f]:
            known |= caught[f] > 0.0
        else:
            mass[f] = caught[f] * cert.price[f]
            if caught[f] > 0.0:
                worth = at.worth[f] + cert.tried[group, f] + _raised(cert, at, mask, f) - before
                value += caught[f] * worth
    if known:
        at.failed[a] = True
        told = told_here(p, tree, standing, at.failed)
        at.failed[a] = False
        for f in range(len(at.b)):
            if at.settled[f] or cert.tells[group, f]:
                value += caught[f] * told[f]
    return float(value + _surprise(mass) - here)


@njit(cache=True, error_model="numpy")
def put_residuals(p: Problem, cert: Certificate, tree: Tree, at: Point, out: FloatArray) -> None:
    """Fill ``out (C + A + 1,)`` with all residuals, ``inf`` where not allowed; the last is the return's."""
    arrays = p.arrays
    checks = len(at.digits)
    here = bound_at(at)
    out[:] = np.inf
    out[-1] = arrays.give_up - here
    tried = tried_fixes(p, at.failed)
    for action in range(checks + len(at.failed)):
        if not is_allowed(arrays, at.digits, action):
            continue
        if action < checks:
            if at.digits[action] == 0:
                out[action] = check_residual(p, cert, tree, at, action)
        elif not tried[action - checks]:
            out[action] = fix_residual(p, cert, tree, at, action - checks, here)
