"""One way in: a model and a shop become a procedure, by the exact method where its table fits."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import partial
from time import perf_counter
from typing import Final, TypeVar

from benchlore.model import Model
from benchlore.procedure.anytime import (
    INTERRUPTED,
    TIME_SPENT,
    Effort,
    Limits,
    limits_of,
    never,
    solve_anytime,
)
from benchlore.procedure.arrays import reduced
from benchlore.procedure.bounds import Bound
from benchlore.procedure.exact import MEMORY, fits, solve_exact
from benchlore.procedure.graph import Title, procedure_of
from benchlore.procedure.instance import Instance
from benchlore.procedure.one_soak import Priced, solve_one_soak
from benchlore.procedure.policy import Solution
from benchlore.procedure.pricing import instance_of
from benchlore.procedure.sampled import sampled_bound
from benchlore.procedure.size import at_most
from benchlore.procedure.values import Procedure
from benchlore.shop import Shop

PlanProgress = Callable[[float, float | None, float | None], None]
"""Told the share of the work that is done, and the least cost and the highest bound so far, if any."""


Found = TypeVar("Found")


class _GivenUpError(Exception):
    """The exact method was asked to end, or would not end in time; it has nothing to show before its end."""


SIZE_SECONDS: Final = 3.0
"""Seconds that a size limit may take at least, where the time is limited and the search has used it up."""

SEARCH_SHARE: Final = 0.7
"""The share of the work that the search is, for the progress, where a size limit comes after it."""

BEFORE_SAMPLE: Final = 0.3
"""The same where the bound is sampled after it."""

AFTER_SAMPLE: Final = 0.9
"""The share that is done once it is sampled, where a size limit comes after that."""


def plan(  # noqa: PLR0913 what a caller may leave out has its name
    model: Model,
    shop: Shop,
    *,
    memory: int = MEMORY,
    effort: Effort = Effort.NORMAL,
    limits: Limits = Limits(),  # noqa: B008 a frozen value
    steps: int | None = None,
    sample: int = 0,
    workers: int = 1,
    bounded: bool = True,
    soaks: Sequence[float] | None = None,
    clock: Callable[[], float] = perf_counter,
    interrupted: Callable[[], bool] = never,
    progress: PlanProgress | None = None,
) -> Procedure:
    """Compile the cheapest procedure for a shop.

    Parameters
    ----------
    model, shop
        The board and complaint, and the bench.
    memory
        Bytes that the exact method's table may take; above that the look-ahead is used, within the same.
    effort
        How hard the look-ahead tries, if ``limits`` names neither time nor states; and how long each job of a
        sample is looked at.
    limits
        When the look-ahead stops, set by hand. The exact method is given up where it would take longer.
    steps
        How many steps the procedure may have at most, one or more; no limit where left out. Where time is
        limited, this takes what the search has left of it, and three seconds in any case.
    sample
        Over how many jobs the bound is sampled, 30 or more, where the optimum is not proven; 0: not at all.
        What was proven stays, if it is higher. No limit of time ends this.
    workers
        How many of those jobs are looked at at a time.
    bounded
        Whether to look for a bound where the exact method does not fit. Who needs the cost alone is served in
        a fraction of the time without; what the search from both sides might find is then left out.
    soaks
        Minutes to choose from for an intermittent complaint's soak, as in :func:`instance_of`.
    clock, interrupted
        Seconds; and whether to stop now, with the best that is found.
    progress
        Told a few times a second how far the work is.

    Raises
    ------
    PlanningError
        If the model cannot be priced for the shop: nobody says what a repair is worth, a rate of exchange is
        missing, a comeback costs less than returning the board.
    """
    instance = instance_of(model, shop, soaks=soaks)
    watch = _Watch(limits.seconds, clock, interrupted)
    searched, sampled = _shares(steps=steps is not None, sample=sample > 0)
    search_part = _part(progress, 0.0, searched)
    limited = limits_of(effort, limits)
    solution = _unlimited(instance, memory, limited, watch, bounded=bounded, progress=search_part)
    if sample:
        sampling = partial(sampled_bound, instance, sample, effort=effort, workers=workers)
        solution = _sampled(solution, sampling, watch, _part(progress, searched, sampled))
    if steps is not None:
        solution = at_most(
            instance,
            solution,
            steps,
            memory=memory,
            stopped=watch.until(SIZE_SECONDS),
            progress=_part(progress, sampled, 1.0),
        )
    return procedure_of(instance, solution, Title(model.board, model.complaint, shop.name, shop.currency))


class _Watch:
    """How much of the time is used up, and whether to stop."""

    def __init__(
        self, seconds: float | None, clock: Callable[[], float], interrupted: Callable[[], bool]
    ) -> None:
        self.clock, self.interrupted = clock, interrupted
        self._seconds, self._start = seconds, clock()

    def is_hopeless(self, share: float) -> bool:
        """Whether work of which this share is done would not end in time, or shall not."""
        spent = self.clock() - self._start
        return self.interrupted() or (self._seconds is not None and spent > self._seconds * share)

    def left_of(self, limits: Limits) -> Limits:
        """The same limits, less the time that is used up."""
        if limits.seconds is None:
            return limits
        return replace(limits, seconds=max(0.0, limits.seconds - (self.clock() - self._start)))

    def until(self, least: float) -> Callable[[], str]:
        """Say why to stop, once the time is used up, and so many seconds from now are over."""
        end = None if self._seconds is None else max(self._start + self._seconds, self.clock() + least)

        def why() -> str:
            if self.interrupted():
                return INTERRUPTED
            return TIME_SPENT if end is not None and self.clock() >= end else ""

        return why


def _shares(*, steps: bool, sample: bool) -> tuple[float, float]:
    """What share of the work is done after the search, and after the bound is sampled."""
    if sample:
        return BEFORE_SAMPLE, AFTER_SAMPLE if steps else 1.0
    return (SEARCH_SHARE, SEARCH_SHARE) if steps else (1.0, 1.0)


def _part(progress: PlanProgress | None, low: float, high: float) -> PlanProgress | None:
    """Tell of a part of the work as a part of the whole."""
    if progress is None:
        return None
    return lambda share, cost, bound: progress(low * (1 - share) + high * share, cost, bound)


def _unlimited(
    instance: Instance,
    memory: int,
    limits: Limits,
    watch: _Watch,
    *,
    bounded: bool,
    progress: PlanProgress | None,
) -> Solution:
    """The cheapest of any size: by the exact method where it fits, else by the search."""
    if fits(reduced(instance), memory):
        solution = _unless_hopeless(
            lambda told: solve_exact(instance, memory=memory, progress=told),
            watch.is_hopeless,
            (lambda share: progress(share, None, None)) if progress else None,
        )
        if solution is not None:
            return solution
    simple = _unless_hopeless(
        lambda told: solve_one_soak(instance, memory=memory, progress=told),
        watch.is_hopeless,
    )
    solution = solve_anytime(
        instance,
        limits=watch.left_of(limits),
        memory=memory,
        bounds=None if bounded else iter(()),
        clock=watch.clock,
        interrupted=watch.interrupted,
        progress=progress,
    )
    return _cheaper(solution, simple)


def _sampled(
    solution: Solution,
    bounded: Callable[..., Bound | None],
    watch: _Watch,
    progress: PlanProgress | None,
) -> Solution:
    """The same with a sampled bound, which ``bounded`` finds, where that is higher than what is proven."""

    def told(share: float, bound: float) -> None:
        if progress:
            progress(share, solution.expected, min(max(bound, solution.bound), solution.expected))

    found = None
    if solution.proof != "optimal":
        found = bounded(stopped=watch.interrupted, told=told)
    told(1.0, 0.0 if found is None else found.value)
    if found is None or found.value <= solution.bound:
        return solution
    proven = f"proven: {solution.bound:.2f}, {solution.bound_method}"
    return replace(
        solution, bound=min(found.value, solution.expected), bound_method=f"{found.method}; {proven}"
    )


def _unless_hopeless(
    solve: Callable[[Callable[[float], None]], Found],
    is_hopeless: Callable[[float], bool],
    progress: Callable[[float], None] | None = None,
) -> Found | None:
    """What a method finds; ``None`` if it was given up, or the machine has less memory than was allowed.

    ``solve`` is given what it tells the share of its work that is done.
    """

    def told(share: float) -> None:
        if share < 1 and is_hopeless(share):
            raise _GivenUpError
        if progress:
            progress(share)

    try:
        return solve(told)
    except (MemoryError, _GivenUpError):
        return None


def _cheaper(found: Solution, simple: Priced | None) -> Solution:
    """What the search found, or what is known to be cheaper."""
    if simple is None or found.expected <= simple.expected:
        return found
    return replace(
        found,
        policy=simple.policy,
        expected=simple.expected,
        bound=min(found.bound, simple.expected),
        method="exact sweep with one soak, then the best soak at each step",
    )
