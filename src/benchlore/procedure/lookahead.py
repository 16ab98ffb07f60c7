"""Procedures for problems whose exact table is too large: a search guided by a one-step look-ahead.

At every state the checks with the most information per cost are ranked again by what they are expected to
cost in all, with a cheap estimate of what follows each result (after Heckerman, Breese & Rommelse,
"Decision-theoretic troubleshooting", Communications of the ACM 38(3), 1995). The best few actions are
followed, fewer where they differ clearly or where hardly any job gets to; below a probability the state ends
with fixes alone, then the return. What is compared is always the exact cost of complete policies.
"""

from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum
from math import isfinite
from typing import Final

import numpy as np

from benchlore.procedure.arrays import reduced
from benchlore.procedure.bounds import lower_bound
from benchlore.procedure.estimate import stop_cost
from benchlore.procedure.instance import Instance
from benchlore.procedure.policy import FINISHED, RETURN, Policy, PolicyBuilder, Solution, translated
from benchlore.procedure.rank import ranked_costs
from benchlore.procedure.resoak import resoaked
from benchlore.procedure.state import Problem, State, first_state, next_states, own_cost, problem_of
from benchlore.procedure.walk import cost_of

TOLD: Final = 0.3
"""Weight of perfect information in the estimate of a state; the rest is fixes alone."""

CHECKS: Final = 5
"""Checks that are ranked again at each state, those that tell most for their cost."""

FIXES: Final = 3
"""Fixes that are ranked at each state, those that cure most for their cost."""

DEEPEST: Final = 200
"""Actions after which a branch ends with fixes alone, so that no problem exhausts the stack."""


class Effort(StrEnum):
    """How hard to look for a cheaper procedure."""

    QUICK = "quick"
    NORMAL = "normal"
    THOROUGH = "thorough"


@dataclass(frozen=True, slots=True)
class Pass:
    """One search: follow at most ``width`` actions at a state.

    Where fewer than ``narrow`` of the jobs get to, only one is followed, and elsewhere another only if its
    estimate is within ``slack * reach ** (1/3)`` of the best. States that fewer than ``cutoff`` of the jobs
    reach end with fixes alone; those on the chosen branches are then searched once more, with one action
    each, down to ``polish``.
    """

    width: int
    slack: float
    narrow: float
    cutoff: float
    polish: float


_QUICK: Final = Pass(1, 0.0, 1.0, 1e-3, 1e-4)
_WIDER: Final = Pass(2, 0.05, 0.01, 1e-3, 3e-5)
_WIDEST: Final = Pass(3, 0.1, 0.03, 1e-3, 1e-5)

PASSES: Final = {
    Effort.QUICK: (_QUICK,),
    Effort.NORMAL: (_QUICK, _WIDER),
    Effort.THOROUGH: (_QUICK, _WIDER, _WIDEST),
}


def solve_lookahead(
    instance: Instance,
    *,
    effort: Effort = Effort.NORMAL,
    progress: Callable[[float, float], None] | None = None,
) -> Solution:
    """A good policy and a lower bound.

    Parameters
    ----------
    instance
        The problem.
    effort
        How many passes of the search to make; the best policy of all is kept.
    progress
        Told, after each pass, the share of passes done and the least expected cost found.
    """
    small = reduced(instance)
    problem = problem_of(small.arrays)
    passes = PASSES[effort]
    best: tuple[float, Policy, Pass] | None = None
    for k, settings in enumerate(passes):
        found = translated(searched(problem, settings), small.checks, small.fixes, len(instance.checks))
        found = resoaked(found, instance)
        cost = cost_of(found, instance)
        if best is None or cost < best[0]:
            best = (cost, found, settings)
        if progress:
            progress((k + 1) / len(passes), best[0])
    assert best is not None
    cost, policy, settings = best
    bound = lower_bound(instance)
    return Solution(
        policy=policy,
        expected=cost,
        bound=min(bound.value, cost),
        proof="bounded",
        method=f"look-ahead, width {settings.width}",
        bound_method=bound.method,
    )


def searched(problem: Problem, settings: Pass) -> Policy:
    """One pass of the search."""
    search = _Search(problem, settings)
    search.cost(first_state(problem.arrays), 0)
    return search.policy()


class _Search:
    """A depth-first search with a memo on evidence."""

    def __init__(self, problem: Problem, settings: Pass) -> None:
        self._problem = problem
        self._settings = settings
        self._cutoff, self._narrow = settings.cutoff, settings.narrow
        self._total = float(problem.arrays.prior.sum())
        self._memo: dict[bytes, tuple[float, int | None]] = {}
        self._sequence = np.empty(len(problem.arrays.fix_cost), dtype=np.int64)

    def cost(self, state: State, depth: int) -> float:
        """The exact cost (times probability) of the best policy found from a state."""
        key = state.digits.tobytes() + state.failed.tobytes()
        if key not in self._memo:
            self._memo[key] = self._best(state, depth)
        return self._memo[key][0]

    def _best(self, state: State, depth: int) -> tuple[float, int | None]:
        """Cost and first action; ``None`` stands for stopping: fixes alone, then the return."""
        best, action = stop_cost(self._problem, state, 0.0, self._sequence)[0], None
        reach = float(state.b.sum()) / self._total
        if best == 0.0 or reach < self._cutoff or depth >= DEEPEST:
            return best, action
        for candidate in self._candidates(state, reach, best):
            cost = own_cost(self._problem, state, candidate)
            for after in next_states(self._problem, state, candidate):
                if cost >= best:
                    break
                cost += self.cost(after, depth + 1)
            if cost < best * (1 - 1e-12):
                best, action = cost, candidate
        return best, action

    def _candidates(self, state: State, reach: float, stop: float) -> list[int]:
        """The actions worth following, best estimate first: close to the best, and to stopping now."""
        worth = ranked_costs(self._problem, state, CHECKS, FIXES, TOLD)
        width = self._settings.width if reach >= self._narrow else 1
        slack = self._settings.slack if width > 1 else 0.0
        order = np.argsort(worth, kind="stable")[:width]
        limit = min(worth[order[:1]].min(initial=np.inf) * (1 + slack * reach ** (1 / 3)), stop * (1 + slack))
        return [int(a) for a in order if worth[a] <= limit and isfinite(worth[a])]

    def policy(self) -> Policy:
        """The best policy found, its rare ends searched again more deeply."""
        builder = PolicyBuilder()
        self._cutoff, self._narrow = self._settings.polish, np.inf
        stack = [(first_state(self._problem.arrays), -1, 0, 0)]
        while stack:
            state, parent, result, depth = stack.pop()
            action = self._action(state, depth)
            if action is None:
                self._stop(builder, state, parent, result)
                continue
            onwards = next_states(self._problem, state, action)
            is_fix = action >= len(self._problem.arrays.condition)
            node = builder.add(action, len(onwards) + is_fix)
            if parent >= 0:
                builder.link(parent, result, node)
            stack.extend((after, node, r, depth + 1) for r, after in reversed(list(enumerate(onwards))))
        return builder.build()

    def _action(self, state: State, depth: int) -> int | None:
        """What to do at a state; where the search had stopped, look again with one action at a time."""
        key = state.digits.tobytes() + state.failed.tobytes()
        known = self._memo.get(key)
        reach = float(state.b.sum()) / self._total
        if known is None or (known[1] is None and self._cutoff <= reach < self._settings.cutoff):
            known = self._memo[key] = self._best(state, depth)
        return known[1]

    def _stop(self, builder: PolicyBuilder, state: State, parent: int, result: int) -> None:
        """Append the fixes that are worth trying and the return."""
        checks = len(self._problem.arrays.condition)
        finished = self._problem.arrays.identify and bool(state.b.sum() > 0)
        cost, length = stop_cost(self._problem, state, 0.0, self._sequence)
        for a in self._sequence[:length].tolist():
            node = builder.add(checks + a, 2)
            if parent >= 0:
                builder.link(parent, result, node)
            parent, result = node, 0
        last = builder.add(FINISHED if finished and cost == 0.0 else RETURN)
        if parent >= 0:
            builder.link(parent, result, last)
