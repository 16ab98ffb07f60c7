"""One way in: a model and a shop become a procedure, by the exact method where its table fits."""

from collections.abc import Callable
from dataclasses import replace
from time import perf_counter

from benchlore.model import Model
from benchlore.procedure.anytime import Effort, Limits, limits_of, never, solve_anytime
from benchlore.procedure.arrays import reduced
from benchlore.procedure.exact import MEMORY, fits, solve_exact
from benchlore.procedure.graph import Title, procedure_of
from benchlore.procedure.instance import Instance
from benchlore.procedure.one_soak import Priced, solve_one_soak
from benchlore.procedure.policy import Solution
from benchlore.procedure.pricing import instance_of
from benchlore.procedure.values import Procedure
from benchlore.shop import Shop

PlanProgress = Callable[[float, float | None, float | None], None]
"""Told the share of the work that is done, and the least cost and the highest bound so far, if any."""


class _GivenUpError(Exception):
    """The exact method was asked to end, or would not end in time; it has nothing to show before its end."""


def plan(  # noqa: PLR0913 what a caller may leave out has its name
    model: Model,
    shop: Shop,
    *,
    memory: int = MEMORY,
    effort: Effort = Effort.NORMAL,
    limits: Limits = Limits(),  # noqa: B008 a frozen value
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
        How hard the look-ahead tries, if ``limits`` names neither time nor states.
    limits
        When the look-ahead stops, set by hand. The exact method is given up where it would take longer.
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
    instance = instance_of(model, shop)
    start = clock()

    def is_too_slow(share: float) -> bool:
        return limits.seconds is not None and clock() - start > limits.seconds * share

    def is_hopeless(share: float) -> bool:
        return interrupted() or is_too_slow(share)

    solution = simple = None
    if fits(reduced(instance), memory):
        solution = _exactly(instance, memory, is_hopeless, progress)
    if solution is None:
        simple = _one_soak(instance, memory, is_hopeless)
        solution = solve_anytime(
            instance,
            limits=_left(limits_of(effort, limits), clock() - start),
            memory=memory,
            clock=clock,
            interrupted=interrupted,
            progress=progress,
        )
    solution = _cheaper(solution, simple)
    return procedure_of(instance, solution, Title(model.board, model.complaint, shop.name, shop.currency))


def _left(limits: Limits, spent: float) -> Limits:
    return limits if limits.seconds is None else replace(limits, seconds=max(0.0, limits.seconds - spent))


def _one_soak(instance: Instance, memory: int, is_hopeless: Callable[[float], bool]) -> Priced | None:
    """The optimum with one soak, its soaks chosen anew; ``None`` if there is none, or it was given up."""

    def told(share: float) -> None:
        if share < 1 and is_hopeless(share):
            raise _GivenUpError

    try:
        return solve_one_soak(instance, memory=memory, progress=told)
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


def _exactly(
    instance: Instance, memory: int, is_hopeless: Callable[[float], bool], progress: PlanProgress | None
) -> Solution | None:
    """The optimum; ``None`` if it was given up, or the machine has less memory than was allowed."""

    def told(share: float) -> None:
        if share < 1 and is_hopeless(share):
            raise _GivenUpError
        if progress:
            progress(share, None, None)

    try:
        return solve_exact(instance, memory=memory, progress=told)
    except (MemoryError, _GivenUpError):
        return None
