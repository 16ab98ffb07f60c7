"""Near the optimum where the table of all soaks is too large: exact with one soak a fix, then better soaks.

A choice among ``k`` soaks makes the table ``((k + 1) / 2) ** fixes`` times as large, and hardly changes which
check or fix comes next. So the problem is solved exactly with every fix's shortest soak, with the next, and
so on; each fix step of each of these optima then gets the soak that costs least there.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from benchlore.procedure.arrays import reduced
from benchlore.procedure.exact import fits, solve_exact
from benchlore.procedure.instance import Instance
from benchlore.procedure.policy import Policy, translated
from benchlore.procedure.resoak import resoaked
from benchlore.procedure.walk import cost_of


@dataclass(frozen=True, eq=False)
class Priced:
    """A policy and its exact expected cost."""

    policy: Policy
    expected: float


def solve_one_soak(
    instance: Instance, *, memory: int, progress: Callable[[float], None] | None = None
) -> Priced | None:
    """The cheapest of these policies; ``None`` where no fix has a choice, or a table does not fit ``memory``.

    ``progress`` is told the share of the work that is done.
    """
    choices = _choices(instance)
    narrow = [replace(instance, fixes=tuple(instance.fixes[a] for a in chosen)) for chosen in choices]
    if len(choices) < 2 or not all(fits(reduced(one), memory) for one in narrow):
        return None
    best: Priced | None = None
    for k, (one, chosen) in enumerate(zip(narrow, choices, strict=True)):
        found = solve_exact(one, memory=memory).policy
        checks = len(instance.checks)
        policy = resoaked(translated(found, tuple(range(checks)), chosen, checks), instance)
        cost = cost_of(policy, instance)
        if best is None or cost < best.expected:
            best = Priced(policy, cost)
        if progress:
            progress((k + 1) / len(narrow))
    return best


def _choices(instance: Instance) -> list[tuple[int, ...]]:
    """Every fix with its shortest soak, with its second, and so on; one with fewer keeps its longest."""
    names = [fix.name for fix in instance.fixes]
    order = np.argsort([fix.soak for fix in instance.fixes], kind="stable").tolist()
    variants = [[a for a in order if names[a] == name] for name in dict.fromkeys(names)]
    most = max((len(each) for each in variants), default=0)
    return [tuple(each[min(k, len(each) - 1)] for each in variants) for k in range(most)]
