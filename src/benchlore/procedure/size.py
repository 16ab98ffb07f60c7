"""Procedures of at most so many printed steps, chosen for least expected cost.

A price for each step, however few jobs get there, makes procedures short (Lagrangian relaxation: Everett,
Operations Research 11, 1963). It is halved and doubled until the procedure just fits: in the exact recursion
where that was used, and in the pruning of the policy that was found. From the policies that are still too large,
steps are saved one by one. The cheapest of all that fit is taken; what it costs is exact.
"""

from collections.abc import Callable, Iterator
from dataclasses import replace
from math import exp, log
from typing import Final

from benchlore.procedure.arrays import reduced
from benchlore.procedure.exact import swept
from benchlore.procedure.instance import Instance
from benchlore.procedure.policy import RETURN, Policy, PolicyBuilder, Solution, translated
from benchlore.procedure.prune import prunable
from benchlore.procedure.share import Sized, shrunk, sized

HALVINGS: Final = 12
"""How often the interval that holds the price is halved, on a logarithmic scale."""

LEAST_PRICE: Final = 1e-7
"""The least price of a step, as a share of the cost of a return."""


def at_most(
    instance: Instance,
    solution: Solution,
    steps: int,
    *,
    memory: int,
    progress: Callable[[float, float | None], None] | None = None,
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
    progress
        Told the share of the work that is done, and the least expected cost found so far if there is one.
    """
    whole = sized(solution.policy, instance)
    if whole.steps <= steps:
        return replace(solution, limit=steps, unlimited=whole.cost)
    ways = [_pruned(instance, solution.policy)]
    if solution.proof == "optimal":
        ways.append(_priced(instance, memory))
    best = sized(_return(), instance)
    for k, way in enumerate(ways):
        for tried, found in enumerate(_fitting(instance, way, whole, steps)):
            best = min(best, found, key=lambda each: (each.cost, each.steps))
            if progress:
                progress((k + tried / (HALVINGS + 2)) / len(ways), best.cost)
    bound_method = "the optimum without the limit" if solution.proof == "optimal" else solution.bound_method
    return Solution(
        policy=best.policy,
        expected=best.cost,
        bound=min(solution.bound, best.cost),
        proof="bounded",
        method=f"{solution.method}, at most {steps} steps",
        bound_method=bound_method,
        limit=steps,
        unlimited=whole.cost,
    )


def _fitting(
    instance: Instance, policy_at: Callable[[float], Policy], whole: Sized, steps: int
) -> Iterator[Sized]:
    """Yield policies that fit, from a bisected price of a step."""
    most = max(instance.give_up, 1e-9)
    low, high, larger = log(LEAST_PRICE * most), log(most), {(whole.cost, whole.steps): whole}
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        found = sized(policy_at(exp(middle)), instance)
        if found.steps > steps:
            low = middle
            larger[found.cost, found.steps] = found
        else:
            high = middle
            yield found
    for each in larger.values():
        smaller = shrunk(each, instance, steps)
        if smaller is not None:
            yield smaller


def _pruned(instance: Instance, policy: Policy) -> Callable[[float], Policy]:
    return prunable(policy, instance).at


def _priced(instance: Instance, memory: int) -> Callable[[float], Policy]:
    """The exact method with a price for each step."""
    small = reduced(instance)

    def policy_at(price: float) -> Policy:
        table = swept(small.arrays, memory=memory, step_price=price)
        return translated(table.policy(), small.checks, small.fixes, len(instance.checks))

    return policy_at


def _return() -> Policy:
    builder = PolicyBuilder()
    builder.add(RETURN)
    return builder.build()
