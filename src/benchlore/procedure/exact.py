"""Proven optima: dynamic programming over all evidence, on what can matter.

The backward recursion is the finite-horizon Bellman equation of a partially observed decision problem on
information states (Smallwood & Sondik, Operations Research 21, 1973; for troubleshooting Heckerman, Breese &
Rommelse, Communications of the ACM 38(3), 1995), on unnormalised values so that no state needs a division.
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from math import prod
from typing import Final

import numpy as np

from benchlore.model import FloatArray
from benchlore.procedure.arrays import Arrays, BoolArray, IntArray, Reduced, reduced
from benchlore.procedure.errors import TableTooLargeError
from benchlore.procedure.expand import action_values, expand
from benchlore.procedure.instance import Instance
from benchlore.procedure.policy import Policy, Solution, translated
from benchlore.procedure.sweep import Grid, sweep

MEMORY: Final = 1 << 30
"""Bytes that the exact table may take unless told otherwise."""

ADDRESSABLE: Final = 1 << 47
"""Bytes that a process can address at most on today's machines."""

STRETCH: Final = 1 << 22
"""States swept between two reports of progress; about a tenth of a second."""


@dataclass(frozen=True, eq=False)
class Table:
    """A swept table: unnormalised optimal values of every state of a reduced instance.

    ``order[k]`` is the reduced instance's check behind digit ``k`` of the grid.
    """

    arrays: Arrays
    order: tuple[int, ...]
    grid: Grid
    values: FloatArray

    @cached_property
    def expected(self) -> float:
        """The least expected cost from the start."""
        return float(self.values[0] / self.arrays.prior.sum())

    def action_costs(self) -> FloatArray:
        """Expected total cost of taking each check or fix first, ``(C + A,)``; ``inf`` where not allowed."""
        checks = len(self.order)
        worth = np.empty(checks + len(self.arrays.fix_cost))
        reach = action_values(self.grid, self.values, 0, 0, worth)
        costs = worth.copy()
        costs[list(self.order)] = worth[:checks]
        return costs / reach

    def value_after_check(self, check: int, result: int) -> float:
        """Optimal cost of what follows a first check's result, times the probability of that result."""
        stride = int(self.grid.stride[self.order.index(check)])
        return float(self.values[(result + 1) * stride * masks_of(self.arrays)])

    def value_after_fix(self, fix: int) -> float:
        """Optimal cost of what follows a first fix that failed, times the probability of that."""
        return float(self.values[self.grid.variant[fix, 2]])

    def policy(self) -> Policy:
        """The optimal policy, in the actions of the reduced instance."""
        action, start, target = expand(self.grid, self.values, 0, 0)
        codes = np.array([*self.order, *range(len(self.order), len(self.arrays.fix_cost) + len(self.order))])
        known = action >= 0
        renamed = action.copy()
        renamed[known] = codes[action[known]]
        return Policy(renamed, start, target)


def states_of(arrays: Arrays) -> int:
    """The number of states in the exact table."""
    return prod(int(r) + 1 for r in arrays.results.tolist()) * masks_of(arrays)


def masks_of(arrays: Arrays) -> int:
    """The number of ways in which fixes can have failed: each not tried, or one of its variants."""
    return prod(int(variants) + 1 for variants in np.bincount(arrays.fix_group).tolist())


def bytes_of(arrays: Arrays) -> int:
    """Memory that the exact method needs: the table, and the rows that give it weights and costs."""
    faults, masks = len(arrays.prior), masks_of(arrays)
    ways = len(np.unique(arrays.detects, axis=0))
    rows = 0
    for g in set(arrays.condition.tolist()):
        rows += prod(r + 1 for r in arrays.results[arrays.condition == g].tolist())
    sets = min(2 ** len(arrays.results), 2 ** len(arrays.setup_cost))
    actions = len(arrays.results) + len(arrays.fix_cost)
    values: int = states_of(arrays) + rows * faults + (3 + 2 * ways) * masks * faults + sets * actions * masks
    return 8 * values


def solve_exact(
    instance: Instance, *, memory: int = MEMORY, progress: Callable[[float], None] | None = None
) -> Solution:
    """The optimal policy of an instance.

    Parameters
    ----------
    instance
        The problem.
    memory
        Bytes that the table may take.
    progress
        Told the share of the work that is done.

    Raises
    ------
    TableTooLargeError
        If the table does not fit.
    """
    small = reduced(instance)
    table = swept(small.arrays, memory=memory, progress=progress)
    policy = translated(table.policy(), small.checks, small.fixes, len(instance.checks))
    return Solution(policy, table.expected, table.expected, "optimal", "exact sweep", "exact sweep")


def fits(small: Reduced, memory: int) -> bool:
    """Whether the exact method can solve a reduced instance within so many bytes."""
    return bytes_of(small.arrays) <= min(memory, ADDRESSABLE)


def swept(
    arrays: Arrays,
    *,
    memory: int = MEMORY,
    progress: Callable[[float], None] | None = None,
    outside: FloatArray | None = None,
) -> Table:
    """Fill the table of optimal values; with ``outside (F,)``, a job may end at that cost at any state.

    Raises
    ------
    TableTooLargeError
        If it does not fit the memory allowed.
    """
    needed = bytes_of(arrays)
    if needed > memory:
        raise TableTooLargeError(needed, memory)
    order = tuple(int(c) for c in np.argsort(arrays.condition, kind="stable"))
    grid = _grid(arrays, order, outside)
    values = np.empty(states_of(arrays))
    masks = masks_of(arrays)
    top = len(values) // masks - 1
    while top >= 0:
        bottom = max(0, top + 1 - max(1, STRETCH // masks))
        sweep(grid, values, top, bottom)
        top = bottom - 1
        if progress:
            progress(1 - bottom * masks / len(values))
    return Table(arrays, order, grid, values)


def _grid(arrays: Arrays, order: tuple[int, ...], outside: FloatArray | None) -> Grid:
    index = np.array(order, dtype=np.int64)
    radix = arrays.results[index] + 1
    conditions, place = np.unique(arrays.condition[index], return_inverse=True)
    likelihood, first, inner = _likelihood(arrays, order, conditions, place)
    step, fix_digit = _steps(arrays)
    survive, slip, way = _masks(arrays)
    sets, after = _setup_sets(arrays, order)
    check_cost, fix_cost = _costs(arrays, order, sets)
    gate_check, gate_open = _sorted_gates(arrays, order)
    return Grid(
        radix=radix,
        stride=_strides(radix),
        place=place.astype(np.int64),
        inner=inner,
        first=first,
        likelihood=likelihood,
        prior=arrays.prior,
        survive=survive,
        slip=slip,
        variant=np.stack([arrays.fix_group, way, step], axis=1),
        fix_digit=fix_digit,
        check_cost=check_cost,
        fix_cost=fix_cost,
        after=after,
        gate_check=gate_check,
        gate_open=gate_open,
        give_up=arrays.give_up,
        comeback=arrays.comeback,
        outside=np.zeros(len(arrays.prior)) if outside is None else outside,
        has_variants=bool(np.any(fix_digit[:, 0] > 2) or len(slip) > 1),
        slips=bool(np.any(slip > 0)),
        leaves=outside is not None,
        identify=arrays.identify,
    )


def _strides(radix: IntArray) -> IntArray:
    """Weights of mixed-radix digits, the last one moving fastest."""
    return np.append(np.cumprod(radix[:0:-1])[::-1], 1).astype(np.int64)[: len(radix)]


def _likelihood(
    arrays: Arrays, order: tuple[int, ...], conditions: IntArray, place: IntArray
) -> tuple[FloatArray, IntArray, IntArray]:
    """``L_g(f) = sum_s P(s | f) prod_c P(r_c | s)`` for all combinations of results within each condition."""
    rows, first, inner, count = [], [], np.ones(len(order), dtype=np.int64), 0
    for k, g in enumerate(conditions):
        members = np.flatnonzero(place == k)
        joint = np.ones((1, arrays.table.shape[2]))
        for c in members:
            known = arrays.shows[order[c], :, : arrays.results[order[c]]].T
            choices = np.concatenate([np.ones((1, known.shape[1])), known])
            joint = (joint[:, None, :] * choices[None, :, :]).reshape(-1, known.shape[1])
        inner[members] = _strides(arrays.results[[order[c] for c in members]] + 1)
        rows.append(joint @ arrays.table[g].T)
        first.append(count)
        count += len(joint)
    likelihood = np.concatenate(rows) if rows else np.ones((0, len(arrays.prior)))
    return np.ascontiguousarray(likelihood), np.array(first, dtype=np.int64), inner


def _variants(arrays: Arrays) -> list[IntArray]:
    """The variants of each fix; the first fix has the fastest digit of a mask."""
    groups = int(arrays.fix_group.max(initial=-1)) + 1
    return [np.flatnonzero(arrays.fix_group == group) for group in range(groups)]


def _steps(arrays: Arrays) -> tuple[IntArray, IntArray]:
    """What each variant's failure adds to a mask ``(A,)``, and radix and weight of each fix ``(N, 2)``."""
    variants = _variants(arrays)
    radix = np.array([len(each) + 1 for each in variants], dtype=np.int64)
    stride = np.append(1, np.cumprod(radix))[:-1].astype(np.int64)
    step = np.zeros(len(arrays.fix_cost), dtype=np.int64)
    for each, weight in zip(variants, stride, strict=True):
        step[each] = np.arange(1, len(each) + 1) * weight
    return step, np.stack([radix, stride], axis=1)


def _masks(arrays: Arrays) -> tuple[FloatArray, FloatArray, IntArray]:
    """What is left of each fault after every set of failed fixes, and what the last of them let slip.

    ``survive = prod (1 - rho) d``. ``slip[k]`` is the same with ``1 - d`` in place of one ``d`` of the way
    ``k`` of retesting: which of the fixes that retest in one way came last does not matter.
    """
    faults = len(arrays.prior)
    ways, way = np.unique(arrays.detects, axis=0, return_inverse=True)
    detects = ways[:, :, None]
    missed, caught, slip = (
        np.ones((faults, 1)),
        np.ones((faults, 1)),
        np.zeros((max(1, len(ways)), faults, 1)),
    )
    for variants in _variants(arrays):
        blocks = [(missed, caught, slip)]
        for a in variants:
            k = way[a]
            slipped = slip * detects[k]
            slipped[k] = caught * (1 - detects[k])
            blocks.append((missed * arrays.missed[a][:, None], caught * detects[k], slipped))
        missed, caught, slip = (np.concatenate(parts, axis=-1) for parts in zip(*blocks, strict=True))
    return np.ascontiguousarray(missed * caught), np.ascontiguousarray(missed * slip), way.astype(np.int64)


def _setup_sets(arrays: Arrays, order: tuple[int, ...]) -> tuple[list[int], IntArray]:
    """The sets of setups that checks can leave standing, and which one follows each check."""
    sets = [arrays.standing]
    known = {arrays.standing: 0}
    rows: list[list[int]] = []
    while len(rows) < len(sets):
        row = []
        for c in order:
            after = sets[len(rows)] | int(arrays.check_setups[c])
            if after not in known:
                known[after] = len(sets)
                sets.append(after)
            row.append(known[after])
        rows.append(row)
    return sets, np.array(rows, dtype=np.int64).reshape(len(sets), len(order))


def _costs(arrays: Arrays, order: tuple[int, ...], sets: list[int]) -> tuple[FloatArray, FloatArray]:
    """Cost of every action with its missing setups, for every set standing and every mask of failed fixes."""
    made = np.zeros(1, dtype=np.int64)
    for variants in _variants(arrays):
        made = np.concatenate([made, *(made | arrays.fix_setups[a] for a in variants)])
    standing = np.array(sets, dtype=np.int64)[:, None] | made
    costs = []
    for own, needs in (
        (arrays.check_cost[list(order)], arrays.check_setups[list(order)]),
        (arrays.fix_cost, arrays.fix_setups),
    ):
        missing = needs[None, :, None] & ~standing[:, None, :]
        cost = np.broadcast_to(own[None, :, None], missing.shape).copy()
        for k, price in enumerate(arrays.setup_cost):
            cost += price * (missing >> k & 1)
        costs.append(cost)
    return costs[0], costs[1]


def _sorted_gates(arrays: Arrays, order: tuple[int, ...]) -> tuple[IntArray, BoolArray]:
    """Gates in the order of the grid's digits."""
    rows = [*order, *range(len(order), len(arrays.gate_check))]
    place = np.full(len(order) + 1, -1, dtype=np.int64)  # the last entry answers for "no gate", -1
    place[list(order)] = np.arange(len(order))
    return place[arrays.gate_check[rows]], np.ascontiguousarray(arrays.gate_open[rows])
