"""One way in: a model and a shop become a procedure, by the exact method where its table fits."""

from collections.abc import Callable

from benchlore.model import Model
from benchlore.procedure.arrays import reduced
from benchlore.procedure.exact import MEMORY, fits, solve_exact
from benchlore.procedure.graph import Title, procedure_of
from benchlore.procedure.instance import Instance
from benchlore.procedure.lookahead import Effort, solve_lookahead
from benchlore.procedure.policy import Solution
from benchlore.procedure.pricing import instance_of
from benchlore.procedure.size import at_most
from benchlore.procedure.values import Procedure
from benchlore.shop import Shop


def plan(
    model: Model,
    shop: Shop,
    *,
    memory: int = MEMORY,
    effort: Effort = Effort.NORMAL,
    steps: int | None = None,
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
    steps
        How many steps the procedure may have at most, one or more; no limit where left out.
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
        solution = solve_lookahead(instance, effort=effort, progress=progress)
    if steps is not None:
        solution = at_most(instance, solution, steps, memory=memory, progress=progress)
    return procedure_of(instance, solution, Title(model.board, model.complaint, shop.name, shop.currency))


def _exactly(
    instance: Instance, memory: int, progress: Callable[[float, float | None], None] | None
) -> Solution | None:
    """The optimum; ``None`` where the machine has less memory than was allowed."""
    share = (lambda done: progress(done, None)) if progress else None
    try:
        return solve_exact(instance, memory=memory, progress=share)
    except MemoryError:
        return None
