"""Procedures of at most so many printed steps, chosen for least expected cost.

A price for each step, however few jobs get there, makes procedures short (Lagrangian relaxation: Everett,
Operations Research 11, 1963). Every price has its cheapest policy: in the exact recursion where that was
used, and among the prunings of the policy that was found. The prices are those at which two neighbours on
the curve of cost against size cost the same, so that the curve fills in where it bends most. From policies
that are somewhat too large, steps are saved one by one. The cheapest that fits is taken; its cost is exact.

Whatever is tried for a limit is tried for every larger one too, so that a larger limit never costs more,
unless the solution fits it as it is: one from a search may be dearer than what its own steps can be put
together to.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from heapq import heappop, heappush
from typing import Final, TypeAlias

from benchlore.procedure.anytime import MEMORY_SPENT
from benchlore.procedure.arrays import reduced
from benchlore.procedure.exact import fits, states_of, swept
from benchlore.procedure.instance import Instance
from benchlore.procedure.policy import RETURN, Policy, PolicyBuilder, Solution, translated
from benchlore.procedure.prune import prunable
from benchlore.procedure.share import Sized, shrinking, sized

PRICES: Final = 120
"""Prices of a step that are tried for prunings, and in the exact recursion where its table is small."""

FEWEST_PRICES: Final = 12
"""Prices that are tried in the exact recursion however large its table is."""

SWEPT: Final = 100_000_000
"""States that the exact recursion may visit for all prices together, a few seconds' work."""

RUNG: Final = 1.15
"""Ratio of the sizes of policies from which steps are saved one by one."""

LEAST_TRIED: Final = 12
"""Policies that are tried even if the work shall stop; more until one does better than the return."""

PolicyAt: TypeAlias = Callable[[float], Policy]


class _StoppedError(Exception):
    """The work shall stop in the middle of a sweep, or cannot go on."""

    def __init__(self, why: str) -> None:
        super().__init__(why)
        self.why = why


def going_on() -> str:
    """Nobody stops the work."""
    return ""


def at_most(
    instance: Instance,
    solution: Solution,
    steps: int,
    *,
    memory: int,
    stopped: Callable[[], str] = going_on,
    progress: Callable[[float, float, float], None] | None = None,
) -> Solution:
    """A procedure of at most ``steps`` steps, equal parts shared.

    Parameters
    ----------
    instance
        The problem.
    solution
        What was found without the limit; it stays as it is where it fits.
    steps
        One at least: returning the board at once is a procedure, of one step.
    memory
        Bytes that the exact method's table may take, where the solution was found exactly.
    stopped
        Says why the work shall stop, ``""`` to go on; the best found so far is returned, after twelve
        policies at least, and when one of them does more than return the board; no sweep is begun for that.
    progress
        Told the share of the work that is done, the least expected cost found so far, and the bound.
    """
    whole = sized(solution.policy, instance)
    if whole.steps <= steps:
        if progress:
            progress(1.0, whole.cost, min(solution.bound, whole.cost))
        return replace(solution, limit=steps, unlimited=whole.cost)
    best, why = sized(_return(), instance), ""
    try:
        for tried, (share, found) in enumerate(_tried(instance, solution, whole, steps, memory, stopped), 1):
            if found.steps <= steps:
                best = min(best, found, key=lambda each: (each.cost, each.steps))
            if progress:
                progress(share, best.cost, min(solution.bound, best.cost))
            why = stopped()
            if why and tried >= LEAST_TRIED and len(best.merged.action) > 1:
                break
    except _StoppedError as stop:
        why = stop.why
    if progress:
        progress(1.0, best.cost, min(solution.bound, best.cost))
    bound_method = "the optimum without the limit" if solution.proof == "optimal" else solution.bound_method
    return Solution(
        policy=best.policy,
        expected=best.cost,
        bound=min(solution.bound, best.cost),
        proof="bounded",
        method=_method(solution, steps, why),
        bound_method=bound_method,
        limit=steps,
        unlimited=whole.cost,
    )


def _method(solution: Solution, steps: int, why: str) -> str:
    limited = f"{solution.method}, at most {steps} steps"
    return f"{limited}, {why}" if why and why not in solution.method else limited


def _tried(
    instance: Instance,
    solution: Solution,
    whole: Sized,
    steps: int,
    memory: int,
    stopped: Callable[[], str],
) -> Iterator[tuple[float, Sized]]:
    """Yield the share of the work that is done, and policies."""
    ways: list[tuple[PolicyAt, int]] = [(prunable(solution.policy, instance).at, PRICES)]
    small = reduced(instance)
    if solution.proof == "optimal" and fits(small, memory):
        prices = min(PRICES, max(FEWEST_PRICES, SWEPT // states_of(small.arrays)))
        ways.append((_priced(instance, memory, stopped), prices))
    for done, (policy_at, prices) in enumerate(ways):
        curve = [whole]
        for k, found in enumerate(_curve(instance, policy_at, whole, prices)):
            curve.append(found)
            yield (done + 0.8 * k / prices) / len(ways), found
        for found in _shrunk(instance, curve, steps):
            yield (done + 0.8) / len(ways), found


def _curve(instance: Instance, policy_at: PolicyAt, whole: Sized, prices: int) -> Iterator[Sized]:
    """Yield the cheapest policies at so many prices of a step, where the curve bends most first."""
    least = sized(_return(), instance)
    gaps: list[tuple[float, int, Sized, Sized]] = []
    _add_gap(gaps, whole, least, 0)
    for k in range(prices):
        if not gaps:
            return
        _, _, large, small = heappop(gaps)
        price = (small.cost - large.cost) / (large.nodes - small.nodes)
        found = sized(policy_at(price), instance)
        yield found
        if found.cost + price * found.nodes < (small.cost + price * small.nodes) * (1 - 1e-12):
            _add_gap(gaps, large, found, 2 * k + 1)
            _add_gap(gaps, found, small, 2 * k + 2)


def _add_gap(gaps: list[tuple[float, int, Sized, Sized]], large: Sized, small: Sized, number: int) -> None:
    """Add two neighbours on the curve; the number only breaks ties."""
    if large.nodes > small.nodes + 1 and small.cost > large.cost:
        room = (large.nodes - small.nodes) / large.nodes * (small.cost - large.cost)
        heappush(gaps, (-room, number, large, small))


def _shrunk(instance: Instance, curve: Sequence[Sized], steps: int) -> Iterator[Sized]:
    """Yield policies with steps saved one by one, from those of at most twice the size allowed.

    Those that fit are among them, so that a larger limit starts from all that a smaller one does.
    """
    above = 0.0
    for found in sorted(curve, key=lambda each: (each.steps, each.cost)):
        if above <= found.steps <= 2 * steps + 1:
            above = RUNG * found.steps
            yield from shrinking(found, instance)


def _priced(instance: Instance, memory: int, stopped: Callable[[], str]) -> PolicyAt:
    """The exact method with a price for each step."""
    small = reduced(instance)

    def told(_: float) -> None:
        if why := stopped():
            raise _StoppedError(why)

    def policy_at(price: float) -> Policy:
        try:
            table = swept(small.arrays, memory=memory, progress=told, step_price=price)
        except MemoryError:  # the machine has less than was allowed
            raise _StoppedError(MEMORY_SPENT) from None
        return translated(table.policy(), small.checks, small.fixes, len(instance.checks))

    return policy_at


def _return() -> Policy:
    builder = PolicyBuilder()
    builder.add(RETURN)
    return builder.build()
