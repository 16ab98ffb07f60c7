"""The anytime search: passes of the look-ahead, each wider and deeper than the one before, until a limit.

It holds a complete policy and a lower bound from the start, and both only close. Equal problems and equal
limits on states give equal policies; a limit on time, or an interrupt, ends where this machine has got to.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from enum import StrEnum
from itertools import count
from time import perf_counter
from typing import Final

from benchlore.procedure.arrays import reduced
from benchlore.procedure.bounds import Bound
from benchlore.procedure.closing import SIDES, RisingBounds
from benchlore.procedure.exact import MEMORY
from benchlore.procedure.instance import Instance
from benchlore.procedure.leaf import LEAF_STATES
from benchlore.procedure.lookahead import SLICE, Search, Settings, following_one
from benchlore.procedure.memo import CHOICES
from benchlore.procedure.policy import Solution, translated
from benchlore.procedure.resoak import resoaked
from benchlore.procedure.state import problem_of
from benchlore.procedure.trial import CLOSED
from benchlore.procedure.walk import cost_of


class Effort(StrEnum):
    """How hard to look for a cheaper procedure: presets of how many states to look at."""

    QUICK = "quick"
    NORMAL = "normal"
    THOROUGH = "thorough"


NODES: Final = {Effort.QUICK: 4_000, Effort.NORMAL: 40_000, Effort.THOROUGH: 400_000}
"""States that each effort looks at; the passes are the same, and more of them are made."""


@dataclass(frozen=True, slots=True)
class Limits:
    """When the search ends, whichever comes first; ``None`` sets no limit.

    ``seconds`` on the clock, ``gap`` as a share of the bound, ``nodes`` states looked at.
    """

    seconds: float | None = None
    gap: float | None = None
    nodes: int | None = None


def limits_of(effort: Effort, limits: Limits) -> Limits:
    """Limits set by hand; where neither time nor states are limited, the effort limits the states."""
    if limits.seconds is None and limits.nodes is None:
        return Limits(gap=limits.gap, nodes=NODES[effort])
    return limits


@dataclass(frozen=True, slots=True)
class Pass:
    """Compare actions by these settings, then follow those chosen down to ``deepest``."""

    settings: Settings
    deepest: float


NODES_SPENT: Final = "as many as allowed"
TIME_SPENT: Final = "stopped by the clock"
GAP_REACHED: Final = "close enough"
INTERRUPTED: Final = "interrupted"
MEMORY_SPENT: Final = "memory used up"
NOTHING_LEFT: Final = "nothing left to look at"
PROVEN: Final = "proven"
"""Why a search ended."""

IDLE_PASSES: Final = 2
"""Passes in a row that looked at nothing new, after which there is nothing left to look at."""

FIRST: Final = (Pass(following_one(1e-2), 1e-2), Pass(following_one(1e-3), 1e-3))
"""A complete policy at once, and a better one soon."""

FINEST: Final = 1e-9
"""Share of jobs below which no state is worth a search."""


def passes() -> Iterator[Pass]:
    """The passes, in order; each about half as dear again as the one before."""
    yield from FIRST
    for k in count():
        cutoff = 2e-3 * 0.7**k
        if cutoff < FINEST:
            return
        settings = Settings(
            width=CHOICES, slack=0.1 * 1.05**k, near=0.003 * 1.1**k, narrow=0.1 * 0.6**k, cutoff=cutoff
        )
        yield Pass(settings, 0.1 * cutoff)


def never() -> bool:
    """Nobody interrupts."""
    return False


Progress = Callable[[float, float, float], None]
"""Told the share of the limits used up, the least expected cost found, and the highest bound."""

CATCH_UP: Final = 1.2
"""Comparing pauses whenever so many times as many states were looked at, to renew the best policy."""

SIDES_SHARE: Final = 4
"""What part of the memory allowed the search from both sides may take."""

TAKE_BOUND: Final = 1_000
"""States looked at between two bounds."""

AT_LEAST: Final = 16
"""Bounds taken where no clock stops the search: the cheap ones, and one of a search from both sides."""

STATES_PER_BOUND: Final = 500
"""So many states allowed allow one more of these, as long as they rise."""

LEAF_SHARE: Final = 64
"""Bytes of the memory allowed for each state of a leaf's table."""

SOON: Final = 1000
"""States before which comparing is not interrupted for that."""


def solve_anytime(  # noqa: PLR0913 what a caller may leave out has its name
    instance: Instance,
    *,
    limits: Limits,
    memory: int = MEMORY,
    leaf_states: int = LEAF_STATES,
    bounds: Iterator[Bound] | None = None,
    clock: Callable[[], float] = perf_counter,
    interrupted: Callable[[], bool] = never,
    progress: Progress | None = None,
) -> Solution:
    """A good policy and a lower bound, as good as the limits allow.

    Parameters
    ----------
    instance
        The problem.
    limits
        When to stop. With none the search ends when there is nothing left to look at, or no memory.
    memory
        Bytes that the memo may take; 1.7 MB are taken in any case. When it is full, what the best policies do
        not need is forgotten. The search from both sides takes at most a quarter of it.
    leaf_states
        Where what is left has a table of at most so many states, times the share of jobs that get there, it
        is solved exactly; 0: nowhere.
    bounds
        Lower bounds, taken now and then; if not given, a :class:`RisingBounds`, whose search from both sides
        may also find the policy.
    clock
        Seconds, from any start.
    interrupted
        Asked often; once it says so, the best found so far is returned.
    progress
        Told a few times a second how far the search is.
    """
    small = reduced(instance)
    problem = problem_of(small.arrays)
    world = _World(clock, interrupted, progress or _untold)
    search = Search(problem, memory, min(leaf_states, memory // LEAF_SHARE))
    below = RisingBounds(instance, problem, memory // SIDES_SHARE) if bounds is None else bounds
    run = _Run(search, limits, below, world)
    why = run.until_stopped()
    policies = [search.policy()]
    if isinstance(below, RisingBounds) and below.search and below.search.high < search.expected:
        policies.append(below.search.policy())
    checks = len(instance.checks)
    whole = [resoaked(translated(each, small.checks, small.fixes, checks), instance) for each in policies]
    cost, best = min((cost_of(policy, instance), k) for k, policy in enumerate(whole))
    bound = run.bound if not search.is_proven else Bound(cost, "exact sweep")
    is_proven = bound.value >= cost * (1.0 - CLOSED)
    world.progress(1.0, cost, min(bound.value, cost))
    return Solution(
        policy=whole[best],
        expected=cost,
        bound=cost if is_proven else bound.value,
        proof="optimal" if is_proven else "bounded",
        method=f"{('look-ahead', SIDES)[best]}, {search.ranked:,} states, {why}",
        bound_method=bound.method,
    )


def _untold(share: float, cost: float, bound: float) -> None:
    """Nobody listens."""


@dataclass(frozen=True, slots=True)
class _World:
    clock: Callable[[], float]
    interrupted: Callable[[], bool]
    progress: Progress


class _Run:
    """Passes until a limit; ``search`` holds the best policy, ``bound`` the highest bound."""

    def __init__(self, search: Search, limits: Limits, bounds: Iterator[Bound], world: _World) -> None:
        self.search = search
        self.bound = next(bounds, Bound(0.0, "costs are not negative"))
        self._limits, self._bounds, self._world = limits, bounds, world
        self._start = world.clock()
        self._share = 0.0
        self._next_catch_up = SOON
        self._next_bound = TAKE_BOUND // 4
        self._taken = 1

    def until_stopped(self) -> str:
        """Make passes; return why they ended."""
        why = self._passes()
        least = AT_LEAST + (self._limits.nodes or 0) // STATES_PER_BOUND
        while why in (NODES_SPENT, MEMORY_SPENT) and self._taken < least and self._raise_bound():
            if self._reached() in (INTERRUPTED, TIME_SPENT):
                break
        while why == NOTHING_LEFT and self._raise_bound():
            why = self._reached() or why
        return why

    def _passes(self) -> str:
        idle = 0
        for each in passes():
            before = self.search.ranked
            if why := self._compare(each.settings) or self._deepen(each.deepest):
                return why
            if not self.search.forget():
                return MEMORY_SPENT
            idle = 0 if self.search.ranked > before else idle + 1
            if idle == IDLE_PASSES:
                break
        return NOTHING_LEFT

    def _compare(self, settings: Settings) -> str:
        """One comparing pass; now and then what it has found is taken over."""
        for _ in self.search.compare(settings, self._allowed):
            if (why := self._reached()) == NODES_SPENT:
                return why
            if why or self.search.ranked >= self._next_catch_up:
                self.search.catch_up()
                self._next_catch_up = max(SOON, int(CATCH_UP * self.search.ranked))
            if why := why or self._reached():
                return why
        return ""

    def _deepen(self, cutoff: float) -> str:
        for _ in self.search.deepen(cutoff, self._allowed):
            if why := self._reached():
                return why
        return self._reached()

    def _allowed(self) -> int:
        """States that may have been ranked when a slice ends; the same for equal limits on states."""
        most = self.search.ranked + SLICE
        return most if self._limits.nodes is None else min(most, self._limits.nodes)

    def _reached(self) -> str:
        """Which limit is reached, ``""`` if none is; tells the progress on the way."""
        limits = self._limits
        seconds = self._world.clock() - self._start
        nodes, cost, bound = self.search.ranked, self.search.expected, self.bound.value
        gap = (cost - bound) / bound if bound > 0 else float("inf")
        self._tell(max(seconds / (limits.seconds or float("inf")), nodes / (limits.nodes or float("inf"))))
        if self._world.interrupted():
            return INTERRUPTED
        if limits.seconds is not None and seconds >= limits.seconds:
            return TIME_SPENT
        if limits.nodes is not None and nodes >= limits.nodes:
            return NODES_SPENT
        if limits.gap is not None and gap <= limits.gap:
            return GAP_REACHED
        if nodes >= self._next_bound:
            self._next_bound = nodes + TAKE_BOUND
            self._raise_bound()
        return PROVEN if self._is_solved() else ""

    def _is_solved(self) -> bool:
        """Whether a search from both sides has met in the middle."""
        below = self._bounds
        return isinstance(below, RisingBounds) and below.search is not None and below.search.is_solved

    def _tell(self, share: float) -> None:
        self._share = max(self._share, min(share, 1.0))
        cost = self.search.expected
        self._world.progress(self._share, cost, min(self.bound.value, cost))

    def _raise_bound(self) -> bool:
        """Take the next bound if it is higher; false if there is none."""
        following = next(self._bounds, None)
        self._taken += 1
        if following is not None and following.value > self.bound.value:
            self.bound = following
        return following is not None
