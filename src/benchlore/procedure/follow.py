"""Walk boards on which everything is given, what checks show and what fixes cure, through a procedure."""

from dataclasses import dataclass, fields, replace
from typing import Self

import numpy as np
from numba import njit

from benchlore.model import FloatArray
from benchlore.procedure.actions import CHECKS, RETURNS, Actions, actions_of
from benchlore.procedure.arrays import BoolArray, IntArray
from benchlore.procedure.instance import Instance
from benchlore.procedure.values import RELEASE, Procedure


@dataclass(frozen=True, eq=False)
class Boards:
    """``n`` boards of a model with ``C`` checks and ``A`` fixes (not: variants), and what is known of them.

    ``fault (n,)``; ``results (n, C)``; ``cured (n, A)`` is whether a fix cures the board. ``luck (n, A)`` is
    from 0 to 1: the retest after a fix that did not cure shows the complaint if ``luck`` is below its
    probability of detection. ``known_results (n, C)`` and ``known_fixes (n, A)`` say what was recorded; the
    rest was drawn.
    """

    fault: IntArray
    results: IntArray
    cured: BoolArray
    luck: FloatArray
    known_results: BoolArray
    known_fixes: BoolArray

    def some(self, rows: IntArray) -> Self:
        """Some of the boards."""
        return replace(self, **{field.name: getattr(self, field.name)[rows] for field in fields(self)})


@dataclass(frozen=True, eq=False)
class Followed:
    """What became of ``n`` boards.

    ``spent (n, K)`` are sums of the ``K`` prices of a board's steps. ``last (n,)`` is the number of the last
    step, ``released (n,)`` whether the board went home, ``cured (n,)`` whether its fault was gone then.
    ``outcomes (n,)`` counts the results and retests on the way, ``drawn (n,)`` those of them that were drawn.
    """

    spent: FloatArray
    last: IntArray
    released: BoolArray
    cured: BoolArray
    outcomes: IntArray
    drawn: IntArray


def follow(procedure: Procedure, instance: Instance, boards: Boards, prices: FloatArray) -> Followed:
    """Follow a procedure of ``N`` steps on every board; ``prices (N, K)`` are what its steps cost.

    The instance is the one that the procedure was planned on, or names the same actions.
    """
    count = len(boards.fault)
    followed = Followed(
        spent=np.zeros((count, prices.shape[1])),
        last=np.zeros(count, dtype=np.int64),
        released=np.zeros(count, dtype=np.bool_),
        cured=np.zeros(count, dtype=np.bool_),
        outcomes=np.zeros(count, dtype=np.int64),
        drawn=np.zeros(count, dtype=np.int64),
    )
    names = list(dict.fromkeys(fix.name for fix in instance.fixes))
    fix_of = np.array([names.index(fix.name) for fix in instance.fixes], dtype=np.int64)
    detects = np.array([fix.detects for fix in instance.fixes]).reshape(-1, len(instance.faults))
    _follow(
        actions_of(procedure, instance),
        prices,
        fix_of,
        detects,
        (boards.fault, boards.results, boards.cured, boards.luck, boards.known_results, boards.known_fixes),
        (followed.spent, followed.last, followed.released, followed.cured, followed.outcomes, followed.drawn),
    )
    return followed


@njit(cache=True)
def _follow(
    actions: Actions,
    prices: FloatArray,
    fix_of: IntArray,
    detects: FloatArray,
    boards: tuple[IntArray, IntArray, BoolArray, FloatArray, BoolArray, BoolArray],
    followed: tuple[FloatArray, IntArray, BoolArray, BoolArray, IntArray, IntArray],
) -> None:
    fault, results, cured, luck, known_results, known_fixes = boards
    spent, last, released, healed, outcomes, drawn = followed
    for board in range(len(fault)):
        n = 0
        while n != RELEASE:
            last[board] = n
            spent[board] += prices[n]
            kind, row, first = actions.kind[n], actions.row[n], actions.start[n]
            if kind == RETURNS:
                break
            outcomes[board] += 1
            if kind == CHECKS:
                drawn[board] += not known_results[board, row]
                n = actions.target[first + results[board, row]]
                continue
            a = fix_of[row]
            drawn[board] += not known_fixes[board, a]
            caught = not cured[board, a] and luck[board, a] < detects[row, fault[board]]
            healed[board], released[board] = cured[board, a], not caught
            n = actions.target[first] if caught else actions.target[first + 1]
