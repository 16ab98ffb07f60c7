"""One way in: a model and a shop become a procedure, by the exact method where its table fits."""

from collections.abc import Callable
from dataclasses import replace

from benchlore.model import Model
from benchlore.procedure.arrays import reduced
from benchlore.procedure.exact import MEMORY, fits, solve_exact
from benchlore.procedure.graph import Title, procedure_of
from benchlore.procedure.instance import Instance
from benchlore.procedure.lookahead import Effort, solve_lookahead
from benchlore.procedure.one_soak import solve_one_soak
from benchlore.procedure.policy import Solution
from benchlore.procedure.pricing import instance_of
from benchlore.procedure.values import Procedure
from benchlore.shop import Shop


def plan(
    model: Model,
    shop: Shop,
    *,
    memory: int = MEMORY,
    effort: Effort = Effort.NORMAL,
    progress: Callable[[float, float | None], None] | None = None,
) -> Procedure:
    """Compile the cheapest procedure for a shop.

    Parameters
    ----------
    model, shop
        The board and complaint, and the bench.
    memory
        Bytes that the exact method's table may take; above that the look-ahead is used.
    effort
        How hard the look-ahead tries.
    progress
        Told the share of the work that is done, and the least expected cost found so far if there is one.

    Raises
    ------
    PlanningError
        If the model cannot be priced for the shop: nobody says what a repair is worth, a rate of exchange is
        missing, a comeback costs less than returning the board.
    """
    instance = instance_of(model, shop)
    solution = _exactly(instance, memory, progress) if fits(reduced(instance), memory) else None
    if solution is None:
        solution = _nearly(instance, memory, effort, progress)
    return procedure_of(instance, solution, Title(model.board, model.complaint, shop.name, shop.currency))


def _nearly(
    instance: Instance,
    memory: int,
    effort: Effort,
    progress: Callable[[float, float | None], None] | None,
) -> Solution:
    """The cheaper of what the look-ahead finds and the optimum with one soak, its soaks chosen anew."""
    share = (lambda done: progress(done / 2, None)) if progress else None
    try:
        simple = solve_one_soak(instance, memory=memory, progress=share)
    except MemoryError:
        simple = None
    if simple is None:
        return solve_lookahead(instance, effort=effort, progress=progress)
    rest = (lambda done, cost: progress(0.5 + done / 2, min(cost, simple.expected))) if progress else None
    found = solve_lookahead(instance, effort=effort, progress=rest)
    if found.expected <= simple.expected:
        return found
    return replace(
        found,
        policy=simple.policy,
        expected=simple.expected,
        bound=min(found.bound, simple.expected),
        method="exact sweep with one soak, then the best soak at each step",
    )


def _exactly(
    instance: Instance, memory: int, progress: Callable[[float, float | None], None] | None
) -> Solution | None:
    """The optimum; ``None`` where the machine has less memory than was allowed."""
    share = (lambda done: progress(done, None)) if progress else None
    try:
        return solve_exact(instance, memory=memory, progress=share)
    except MemoryError:
        return None
