"""What each action costs first, and what follows it: by a table where it is small, else by estimate."""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from math import log2
from typing import Final, Protocol

import numpy as np

from benchlore.model import FloatArray
from benchlore.procedure.arrays import Arrays, BoolArray, IntArray, foretells, part_of, worth_soaking
from benchlore.procedure.exact import Table, bytes_of, swept
from benchlore.procedure.outlook import after_check, after_fix
from benchlore.procedure.position import Position
from benchlore.procedure.rank import ranked_costs

LOOKED_AT: Final = 24
"""Checks and fixes, of each so many, whose cost is estimated: what tells or cures most for its cost."""

TOLD_SHARE: Final = 0.3
"""Weight of perfect information in the estimate of what follows; the rest is fixes alone."""


class Ranking(Protocol):
    """Costs at a position, in the actions of the whole instance (``C`` checks first, then ``A`` fixes)."""

    @property
    def costs(self) -> FloatArray:
        """Expected cost of each action first, ``(C + A,)``; ``inf`` where it is not to be done."""

    def after(self, action: int) -> tuple[FloatArray, FloatArray]:
        """``P(fault, result)`` ``(R, F)`` and the cost after each result times its chance ``(R,)``."""


@dataclass(frozen=True, eq=False)
class LookAhead:
    """One step exactly, then the estimate."""

    position: Position

    @cached_property
    def costs(self) -> FloatArray:
        """Estimated costs of the checks that tell most and of the fixes that cure most."""
        problem, state = self.position.problem, self.position.state
        costs: FloatArray = ranked_costs(problem, state, LOOKED_AT, LOOKED_AT, TOLD_SHARE)
        return costs

    def after(self, action: int) -> tuple[FloatArray, FloatArray]:
        """Beliefs and estimated costs after each result."""
        return _estimated(self.position, action)


@dataclass(frozen=True, eq=False)
class Exact:
    """The optimum of everything that may follow, from a table of a reduced problem."""

    position: Position
    table: Table
    checks: tuple[int, ...]
    fixes: tuple[int, ...]

    @cached_property
    def costs(self) -> FloatArray:
        """Optimal costs."""
        count = len(self.position.state.digits)
        costs = np.full(len(self.position.why), np.inf)
        costs[[*self.checks, *(count + a for a in self.fixes)]] = self.table.action_costs()
        return costs

    def after(self, action: int) -> tuple[FloatArray, FloatArray]:
        """Beliefs and optimal costs after each result."""
        joint, rest = _estimated(self.position, action)
        count = len(self.position.state.digits)
        if action in self.checks:
            place = self.checks.index(action)
            results = int(self.position.problem.arrays.results[action])
            rest[:results] = [self.table.value_after_check(place, r) for r in range(results)]
        elif action - count in self.fixes:
            rest[0] = self.table.value_after_fix(self.fixes.index(action - count))
        return joint, rest


def _estimated(position: Position, action: int) -> tuple[FloatArray, FloatArray]:
    checks = len(position.state.digits)
    joint: FloatArray
    rest: FloatArray
    if action < checks:
        joint, rest = after_check(position.problem, position.state, action, TOLD_SHARE)
    else:
        joint, rest = after_fix(position.problem, position.state, action - checks, TOLD_SHARE)
    return joint, rest


def ranking_of(position: Position, memory: int) -> Exact | LookAhead:
    """Rank exactly where the table of what can still matter fits ``memory`` bytes, else by look-ahead."""
    found = _kept(position, memory)
    if found is None:
        return LookAhead(position)
    checks, fixes = found
    arrays = _reduced(position, checks, fixes)
    if bytes_of(arrays) > memory:
        return LookAhead(position)
    return Exact(position, swept(arrays, memory=memory), checks, fixes)


def best_cost(position: Position, memory: int) -> float:
    """The least expected cost at a position, the return included."""
    return min(float(ranking_of(position, memory).costs.min(initial=np.inf)), give_up_of(position))


def give_up_of(position: Position) -> float:
    """What the return costs."""
    return float(position.problem.arrays.give_up)


def _kept(position: Position, memory: int) -> tuple[tuple[int, ...], tuple[int, ...]] | None:
    """Return checks and fixes that can matter (as :func:`reduced` says); ``None`` if plainly too many."""
    arrays, state = position.problem.arrays, position.state
    live, count = state.b > 0, len(state.digits)
    open_ = ~position.blocked
    helps = np.any(arrays.detects[:, live] < 1, axis=1) | np.any(arrays.missed[:, live] < 1, axis=1)
    fixes = np.flatnonzero(open_[count:] & helps)
    # The table has at least 2^fixes columns: do not look further into what can never fit.
    if len(np.unique(arrays.fix_group[fixes])) > log2(max(memory, 1)):
        return None
    fixes = _worth_soaking(position, live, fixes)
    kept = open_[:count] & _telling(position, live)
    if _bits(arrays, kept, fixes) > log2(max(memory, 1)):
        return None
    kept = _with_openers(position, kept, fixes + count)
    if _bits(arrays, kept, fixes) > log2(max(memory, 1)):
        return None
    return tuple(np.flatnonzero(kept).tolist()), tuple(fixes.tolist())


def _bits(arrays: Arrays, kept: BoolArray, fixes: IntArray) -> float:
    """Return the binary logarithm of the states of the table."""
    ways = np.concatenate([arrays.results[kept], np.bincount(arrays.fix_group[fixes])])
    return float(np.log2(ways + 1.0).sum())


def _worth_soaking(position: Position, live: BoolArray, fixes: IntArray) -> IntArray:
    arrays, open_ = position.problem.arrays, ~position.blocked
    costs = np.concatenate([arrays.check_cost[open_[: len(arrays.check_cost)]], arrays.fix_cost[fixes]])
    at_stake = arrays.comeback - min(arrays.give_up, float(costs.min(initial=np.inf)))
    kept: IntArray = fixes[
        worth_soaking(
            arrays.fix_cost[fixes],
            arrays.fix_group[fixes],
            arrays.missed[fixes][:, live],
            arrays.detects[fixes][:, live],
            at_stake,
        )
    ]
    return kept


def _telling(position: Position, live: BoolArray) -> BoolArray:
    """Whether the fault moves the condition of a check, and the condition its result, ``(C,)``."""
    arrays = position.problem.arrays
    rows = position.states[:, live]
    moved = np.any(rows != rows[:, :1], axis=(1, 2))
    shown = position.prepared.shown
    answer: BoolArray = moved[arrays.condition] & shown
    return answer


def _with_openers(position: Position, kept: BoolArray, fixes: IntArray) -> BoolArray:
    """Add the checks that kept actions wait for, and those that foretell these."""
    condition, open_ = position.problem.arrays.condition, ~position.blocked[: len(kept)]
    kept = kept.copy()
    while True:
        doing = [*np.flatnonzero(kept).tolist(), *fixes.tolist()]
        openers = [gate.check for k in doing for gate in position.waits.get(k, ())]
        needed = open_ & foretells(condition, position.prepared.shown, openers)
        needed[openers] = True
        if not np.any(needed & ~kept):
            return kept
        kept |= needed


def _reduced(position: Position, checks: tuple[int, ...], fixes: tuple[int, ...]) -> Arrays:
    """The arrays of the chosen checks and fixes with the evidence in them; equal faults become one."""
    arrays, state = position.problem.arrays, position.state
    c, a = np.array(checks, dtype=np.int64), np.array(fixes, dtype=np.int64)
    groups = list(_merged(position, np.unique(arrays.condition[c]), a))
    first = np.array([group[0] for group in groups], dtype=np.int64)
    return part_of(
        arrays,
        c,
        a,
        first,
        prior=np.array([state.b[group].sum() for group in groups]),
        states=position.states[:, first],
        standing=state.standing,
    )


def _merged(position: Position, conditions: IntArray, fixes: IntArray) -> Iterator[list[int]]:
    arrays = position.problem.arrays
    live = np.flatnonzero(position.state.b > 0)
    states = position.states[conditions][:, live].transpose(1, 0, 2).reshape(len(live), -1)
    fates = (arrays.missed[fixes][:, live].T, arrays.detects[fixes][:, live].T)
    keys = np.concatenate([states, *fates], axis=1)
    groups: dict[bytes, list[int]] = {}
    for f, key in zip(live.tolist(), keys, strict=True):
        groups.setdefault(key.tobytes(), []).append(f)
    yield from groups.values()
