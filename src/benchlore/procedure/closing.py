"""A search from both sides: bounds below and above the optimal cost that close as it goes on.

It proves optima of problems several times larger than the exact table holds, where most evidence cannot
matter; on larger ones it raises the lower bound a little.
"""

from collections.abc import Iterator
from typing import Final

import numpy as np

from benchlore.procedure.bounds import Bound, bounds_after_free_checks, lower_bounds
from benchlore.procedure.estimate import stop_cost
from benchlore.procedure.instance import Instance
from benchlore.procedure.memo import STOP
from benchlore.procedure.policy import FINISHED, RETURN, ROOT, Policy, PolicyBuilder
from benchlore.procedure.state import Problem, State, first_state, next_states
from benchlore.procedure.tree import FIRST_KEY, is_certain, place_of, tree_of
from benchlore.procedure.trial import CLOSED, cheapest, run_trials

MOST_BYTES: Final = 1 << 28
"""Memory that the search may take."""

WORK: Final = 1_000_000
"""Size of a stretch of trials between two bounds, in products of faults with results and fixes weighed."""

PATIENCE: Final = 8
"""Stretches over which the bound must have risen by ``WORTHWHILE``, else the search ends."""

WORTHWHILE: Final = 1e-3

AHEAD: Final = 8
"""It ends, too, if so many stretches like the last two would not bring it to what is known without it."""

SOONEST: Final = 3
"""Stretches before which that is not asked, as the first one brings much; if it brings nothing, at once."""

SEED: Final = 1

SIDES: Final = "search from both sides"


class Closing:
    """The search on one problem; ``low`` and ``high`` are per job."""

    def __init__(self, problem: Problem, *, at_least: float = 0.0, memory: int = MOST_BYTES) -> None:
        arrays = problem.arrays
        self._problem = problem
        self._total = float(arrays.prior.sum())
        states = max(1 << 6, memory // (8 * (len(arrays.prior) + 4)))
        self._tree = tree_of(problem, 1 << (states.bit_length() - 1), SEED)
        self._first = first_state(arrays)
        per_trial = len(arrays.prior) * (arrays.shows[:, 0].size + 36 * len(arrays.fix_cost) + 1)
        self._stretch = max(4, WORK // per_trial)
        self._more = run_trials(problem, self._tree, self._first, 1)
        self._root = place_of(self._tree.keys, FIRST_KEY)
        self._known = at_least

    @property
    def low(self) -> float:
        """No procedure costs less."""
        return min(max(self._own, self._known), self.high)

    @property
    def _own(self) -> float:
        """The bound that the search itself has found."""
        return float(self._tree.low[self._root]) / self._total

    @property
    def high(self) -> float:
        """What :meth:`policy` costs at most."""
        return float(self._tree.high[self._root]) / self._total

    @property
    def is_solved(self) -> bool:
        """Whether the two have met."""
        return bool(self.high - self.low <= CLOSED * self.high)

    def stretches(self) -> Iterator[float]:
        """Search on; yield the lower bound now and then, until it is solved or hardly rises any more."""
        lows = [self._own]
        while self._more and not self.is_solved:
            self._more = run_trials(self._problem, self._tree, self._first, self._stretch)
            lows.append(self._own)
            yield self.low
            if len(lows) > PATIENCE and lows[-1] < lows[-1 - PATIENCE] * (1 + WORTHWHILE):
                return
            is_asked = len(lows) > SOONEST or lows[-1] == lows[0]
            if is_asked and lows[-1] + AHEAD * (lows[-1] - lows[-3:][0]) / 2 < self._known:
                return

    def policy(self) -> Policy:
        """The policy behind ``high``, in the actions of the problem."""
        builder = PolicyBuilder()
        stack: list[tuple[State, np.uint64, int, int]] = [(self._first, FIRST_KEY, ROOT, 0)]
        checks = len(self._problem.arrays.condition)
        while stack:
            state, key, parent, result = stack.pop()
            action = cheapest(self._problem, self._tree, state, key)
            if action == STOP:
                builder.add_fixes(*self._ending(state), parent, result)
                continue
            after = next_states(self._problem, state, action)
            node = builder.add(action, len(after) + (action >= checks), parent, result)
            words = (
                self._tree.check_words[action]
                if action < checks
                else self._tree.fix_words[action - checks : action - checks + 1]
            )
            stack.extend((each, key ^ words[r], node, r) for r, each in reversed(list(enumerate(after))))
        return builder.build()

    def _ending(self, state: State) -> tuple[list[int], int]:
        """The fixes that are worth trying where no more checks are done, and the last action."""
        if is_certain(self._problem, state.b):
            return [], FINISHED if state.b.sum() > 0 else RETURN
        sequence = np.empty(len(state.failed), dtype=np.int64)
        length = stop_cost(self._problem, state, 0.0, sequence)[1]
        return (len(state.digits) + sequence[:length]).tolist(), RETURN


class RisingBounds:
    """Lower bounds, cheap ones first; then those of a search from both sides, which may find a policy too.

    ``search`` is that search once it has begun. Where it ends unsolved, free checks are looked behind.
    """

    def __init__(self, instance: Instance, problem: Problem, memory: int = MOST_BYTES) -> None:
        self.search: Closing | None = None
        self._memory = min(memory, MOST_BYTES)
        self._bounds = self._rising(instance, problem)

    def __iter__(self) -> Iterator[Bound]:
        """The same iterator."""
        return self

    def __next__(self) -> Bound:
        """The next bound, which is not always higher."""
        return next(self._bounds)

    def _rising(self, instance: Instance, problem: Problem) -> Iterator[Bound]:
        best = 0.0
        for bound in lower_bounds(instance):
            best = max(best, bound.value)
            yield bound
        self.search = Closing(problem, at_least=best, memory=self._memory)
        yield Bound(self.search.low, SIDES)
        for low in self.search.stretches():
            yield Bound(low, SIDES)
        yield from bounds_after_free_checks(instance)
