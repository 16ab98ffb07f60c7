"""Kernels of the exact method: one backward sweep over a dense table of all evidence.

A state is an index: a mixed-radix number ``e`` over the checks (digit 0: not done, else result + 1) times a
mixed-radix number ``m`` over the fixes (digit 0: not tried, else which variant failed, from 1; a bit mask
where no fix has variants). The table holds unnormalised values ``U = P(state) V(state)``, so that a
check's value is its cost times ``P`` plus the plain sum of its children's ``U``. Children have larger
indices, hence the sweep runs downwards. Weights ``P(e, f)`` are products of one row for each condition, kept
as prefix products that are renewed from the digit that moved.
"""

from typing import NamedTuple

import numpy as np
from numba import njit

from benchlore.model import FloatArray
from benchlore.procedure.arrays import BoolArray, IntArray
from benchlore.procedure.rows import put_row

IDENTIFIED = 1e-12
"""The share of belief outside one fault below which that fault is certain."""


class Grid(NamedTuple):
    """The index arithmetic and the tables that a sweep needs.

    ``C`` checks sorted by condition, ``N`` fixes in ``A`` variants, ``M`` masks (the product over the fixes
    of their variants + 1), ``F`` faults, ``D`` sets of setups that checks can leave standing. ``radix (C,)``
    is results + 1, ``stride (C,)`` the weight of a digit in ``e``; ``place (C,)`` numbers the conditions that
    are read, ``inner (C,)`` is the digit's weight within its condition's rows of ``likelihood``, which begin
    at ``first (G,)``.

    ``survive (F, M)`` is ``prod (1 - rho) d`` over the mask; ``slip (K, F, M)`` is the share released uncured
    by the last fix of a mask if that one retests in way ``k``, one of ``K`` rows of ``d``. ``variant (A, 3)``
    has of each variant its fix, its way, and what its failure adds to a mask; ``fix_digit (N, 2)`` the radix
    of each fix's digit in a mask and the digit's weight. They are packed because kernels take a grid by
    value. ``check_cost (D, C, M)`` and ``fix_cost (D, A, M)`` hold the setups still missing; ``after (D, C)``
    is the set of setups that a check leaves. ``outside (F,)`` is, where it ``leaves``, what ending the job in
    some other way would cost, by fault. ``step_price`` is what each step of the procedure costs besides,
    however few jobs get there; states of no probability are free of it.
    """

    radix: IntArray
    stride: IntArray
    place: IntArray
    inner: IntArray
    first: IntArray
    likelihood: FloatArray
    prior: FloatArray
    survive: FloatArray
    slip: FloatArray
    variant: IntArray
    fix_digit: IntArray
    check_cost: FloatArray
    fix_cost: FloatArray
    after: IntArray
    gate_check: IntArray
    gate_open: BoolArray
    give_up: float
    comeback: float
    step_price: float
    outside: FloatArray
    has_variants: bool
    slips: bool
    leaves: bool
    identify: bool


@njit(cache=True)
def allowed(grid: Grid, digits: IntArray, action: int) -> bool:
    """Whether every gate of an action is open."""
    for k in range(grid.gate_check.shape[1]):
        check = grid.gate_check[action, k]
        if check >= 0 and (digits[check] == 0 or not grid.gate_open[action, k, digits[check] - 1]):
            return False
    return True


@njit(cache=True)
def mask_after(grid: Grid, m: int, a: int) -> int:
    """The mask after one more failed fix; the mask itself where that fix was tried before, with any soak."""
    radix, weight = grid.fix_digit[grid.variant[a, 0]]
    return m if m // weight % radix else m + grid.variant[a, 2]


@njit(cache=True)
def is_reachable(grid: Grid, digits: IntArray) -> bool:
    """Whether every check that was done was allowed; evidence stays, so an open gate stays open."""
    for check in range(len(digits)):  # noqa: SIM110 numba has no all()
        if digits[check] > 0 and not allowed(grid, digits, check):
            return False
    return True


@njit(cache=True)
def is_identified(weights: FloatArray) -> bool:
    """Whether one fault carries all the belief."""
    total = weights.sum()
    return bool(total - weights.max() <= IDENTIFIED * total)


@njit(cache=True)
def renew(grid: Grid, digits: IntArray, moved: int, prefix: FloatArray, standing: IntArray) -> None:
    """Recompute prefix products and setups from the digit that moved.

    ``prefix (G + 1, F)`` ends with ``P(e, f)``; ``standing (C + 1,)`` ends with the set of setups done.
    """
    checks = len(digits)
    for c in range(moved, checks):
        standing[c + 1] = grid.after[standing[c], c] if digits[c] > 0 else standing[c]
    c = moved
    while c > 0 and grid.place[c - 1] == grid.place[moved]:
        c -= 1
    while c < checks:
        place = grid.place[c]
        row = grid.first[place]
        while c < checks and grid.place[c] == place:
            row += digits[c] * grid.inner[c]
            c += 1
        for f in range(prefix.shape[1]):
            prefix[place + 1, f] = prefix[place, f] * grid.likelihood[row, f]


@njit(cache=True, error_model="numpy")
def weigh(grid: Grid, weights: FloatArray, reach: FloatArray, bad: FloatArray, best: FloatArray) -> None:
    """For every mask: ``P(e, m)``, what its last fix costs in slips and as a step, what ending the job costs.

    ``bad (K, M)`` has a row for each way of retesting.
    """
    masks = len(reach)
    reach[:] = 0.0
    bad[:, :] = grid.step_price
    for f in range(len(weights)):
        w = weights[f]
        if w > 0.0:
            for m in range(masks):
                reach[m] += w * grid.survive[f, m]
            if grid.slips:
                k = w * grid.comeback
                for way in range(len(bad)):
                    for m in range(masks):
                        bad[way, m] += k * grid.slip[way, f, m]
    for m in range(masks):
        best[m] = reach[m] * grid.give_up + grid.step_price if reach[m] > 0.0 else 0.0
    if grid.leaves:
        _leave(grid, weights, best)


@njit(cache=True, error_model="numpy")
def _leave(grid: Grid, weights: FloatArray, best: FloatArray) -> None:
    """Let every state end outside, where that is cheaper than the return."""
    ending = np.zeros(len(best))
    for f in range(len(weights)):
        cost = weights[f] * grid.outside[f]
        for m in range(len(best)):
            ending[m] += cost * grid.survive[f, m]
    for m in range(len(best)):
        best[m] = min(best[m], ending[m])


@njit(cache=True, error_model="numpy")
def _try_checks(
    grid: Grid,
    digits: IntArray,
    cost: FloatArray,
    state: FloatArray,
    reach: FloatArray,
    value: FloatArray,
    best: FloatArray,
) -> None:
    """Lower ``best (M,)`` by every allowed check: its cost and the plain sum of its children.

    ``cost (C, M)`` holds with the setups that stand here; ``state`` are the values from this state's on, so
    that a child's stand at a fixed distance. ``value (M,)`` is scratch.
    """
    masks = len(best)
    for c in range(len(digits)):
        if digits[c] == 0 and allowed(grid, digits, c):
            own = cost[c]
            for m in range(masks):
                value[m] = reach[m] * own[m] + grid.step_price
            for r in range(1, grid.radix[c]):
                child = state[r * grid.stride[c] * masks :]
                for m in range(masks):
                    value[m] += child[m]
            for m in range(masks):
                best[m] = min(best[m], value[m])


@njit(cache=True)
def _usable(grid: Grid, digits: IntArray, usable: IntArray) -> int:
    """Fill in the variants of fixes whose gates are open; return how many there are."""
    count = 0
    for a in range(len(usable)):
        if allowed(grid, digits, len(digits) + a):
            usable[count] = a
            count += 1
    return count


@njit(cache=True, error_model="numpy")
def _try_fixes(
    cost: FloatArray, reach: FloatArray, bad: FloatArray, usable: IntArray, count: int, best: FloatArray
) -> None:
    """Lower ``best (M,)`` by every usable fix; larger masks first, so what follows a failure is final.

    ``cost (A, M)`` holds with the setups that stand here. Every fix has one retest, all in the same way, so
    that a mask is one of bits; this is two to three times as fast as :func:`_try_variants`.
    """
    for m in range(len(best) - 1, -1, -1):
        lowest = best[m]
        for k in range(count):
            a = usable[k]
            after = m | (1 << a)
            if after != m:
                lowest = min(lowest, reach[m] * cost[a, m] + bad[after] + best[after])
        best[m] = lowest


@njit(cache=True, error_model="numpy")
def _try_variants(
    grid: Grid,
    cost: FloatArray,
    reach: FloatArray,
    bad: FloatArray,
    usable: IntArray,
    count: int,
    best: FloatArray,
) -> None:
    """As :func:`_try_fixes` where fixes have variants: a mask has a digit for each fix."""
    failed = grid.fix_digit[:, 0] - 1
    for m in range(len(best) - 1, -1, -1):
        lowest = best[m]
        for k in range(count):
            a = usable[k]
            if failed[grid.variant[a, 0]] == 0:
                after = m + grid.variant[a, 2]
                lowest = min(lowest, reach[m] * cost[a, m] + bad[grid.variant[a, 1], after] + best[after])
        best[m] = lowest
        _count_mask_down(grid, failed)


@njit(cache=True)
def _count_mask_down(grid: Grid, failed: IntArray) -> None:
    """Go to the next lower mask, given by its digits ``(N,)``."""
    for group in range(len(failed)):
        if failed[group] > 0:
            failed[group] -= 1
            return
        failed[group] = grid.fix_digit[group, 0] - 1


@njit(cache=True)
def _count_down(grid: Grid, digits: IntArray) -> int:
    """Go to the next lower evidence; return the first digit that moved."""
    moved = len(digits) - 1
    while moved >= 0:
        if digits[moved] > 0:
            digits[moved] -= 1
            return moved
        digits[moved] = grid.radix[moved] - 1
        moved -= 1
    return 0


@njit(cache=True, error_model="numpy")
def sweep(grid: Grid, values: FloatArray, top: int, bottom: int) -> None:
    """Fill ``values (E * M,)`` for evidence from ``top`` down to ``bottom``; all above must be filled."""
    checks, masks = len(grid.radix), grid.survive.shape[1]
    digits = top // grid.stride % grid.radix
    prefix = np.empty((len(grid.first) + 1, len(grid.prior)))
    put_row(prefix[0], grid.prior)
    standing = np.zeros(checks + 1, dtype=np.int64)
    reach, value, best = np.empty(masks), np.empty(masks), np.empty(masks)
    bad = np.empty((len(grid.slip), masks))
    usable = np.empty(grid.fix_cost.shape[1], dtype=np.int64)
    moved = int(np.int64(0))  # numba compiles a literal apart
    for e in range(top, bottom - 1, -1):
        renew(grid, digits, moved, prefix, standing)
        weights = prefix[-1]
        state = values[e * masks :]
        over = grid.identify and is_identified(weights)
        if over or weights.max() == 0.0 or not is_reachable(grid, digits):
            state[:masks] = 0.0
        else:
            weigh(grid, weights, reach, bad, best)
            _try_checks(grid, digits, grid.check_cost[standing[checks]], state, reach, value, best)
            count = _usable(grid, digits, usable)
            if grid.has_variants:
                _try_variants(grid, grid.fix_cost[standing[checks]], reach, bad, usable, count, best)
            else:
                _try_fixes(grid.fix_cost[standing[checks]], reach, bad[0], usable, count, best)
            put_row(state, best)
        moved = _count_down(grid, digits)
