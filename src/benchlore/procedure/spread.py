"""What finishing a job may cost, from wherever it stands: not only on average."""

from dataclasses import dataclass, replace
from itertools import repeat
from typing import Final, TypeVar

import numpy as np

from benchlore.model import FloatArray
from benchlore.procedure.anytime import Limits, solve_anytime
from benchlore.procedure.arrays import reduced
from benchlore.procedure.bounds import Bound
from benchlore.procedure.exact import fits, solve_exact
from benchlore.procedure.graph import Title, procedure_of
from benchlore.procedure.instance import CheckOption, FixOption, Instance
from benchlore.procedure.position import Position
from benchlore.procedure.simulate import simulate

JOBS: Final = 4_000
"""Simulated jobs: the 10 % quantile is then met to about half a per cent of jobs (one standard deviation)."""
STATES: Final = 300
"""States that the search may look at where no table fits; the range hardly hangs on the last per cent."""
TABLE_BYTES: Final = 8 * 1024**2
LOW: Final = 0.1
HIGH: Final = 0.9

Option = TypeVar("Option", CheckOption, FixOption)


@dataclass(frozen=True, eq=False)
class Spread:
    """Costs to the end of simulated jobs, ``(n,)``, in the shop's currency, lowest first."""

    costs: FloatArray

    @property
    def mean(self) -> float:
        """The mean."""
        return float(self.costs.mean())

    def quantile(self, share: float) -> float:
        """The cost that this share of jobs does not exceed."""
        return float(np.quantile(self.costs, share))

    @property
    def low(self) -> float:
        """One job in ten costs less."""
        return self.quantile(LOW)

    @property
    def high(self) -> float:
        """One job in ten costs more."""
        return self.quantile(HIGH)


def spread_at(position: Position, rng: np.random.Generator, jobs: int = JOBS) -> Spread:
    """Plan what is left at a position, and walk simulated jobs through it.

    The plan is the optimum where its table is small, else what a short search finds: both count the same
    costs as the advice. The risk of ruining a board counts as its expectation.
    """
    instance = rest_of(position)
    if fits(reduced(instance), TABLE_BYTES):
        solution = solve_exact(instance, memory=TABLE_BYTES)
    else:
        # Nobody asks here how good the plan is, so no bound is looked for.
        limits, bounds = Limits(nodes=STATES), repeat(Bound(0.0, "none"))
        solution = solve_anytime(instance, limits=limits, memory=TABLE_BYTES, bounds=bounds)
    model, shop = position.prepared.model, position.prepared.shop
    title = Title(model.board, model.complaint, shop.name, shop.currency)
    procedure = procedure_of(instance, solution, title)
    return Spread(np.sort(simulate(procedure, instance, rng, jobs).cost))


def rest_of(position: Position) -> Instance:
    """What is left of the problem: the same actions, without those that are done or cannot be done here."""
    instance, checks = position.prepared.instance, len(position.prepared.instance.checks)
    read = frozenset(position.situation.read)
    states = position.states_of(range(len(position.state.b)))
    return replace(
        instance,
        prior=position.state.b / position.state.b.sum(),
        tables=tuple(states[g, :, : table.shape[1]] for g, table in enumerate(instance.tables)),
        checks=tuple(_left(each, position.why[c], read) for c, each in enumerate(instance.checks)),
        fixes=tuple(_left(each, position.why[checks + a], read) for a, each in enumerate(instance.fixes)),
        standing=position.state.standing,
    )


def _left(option: Option, why: str, read: frozenset[int]) -> Option:
    """An action with the gates that are still to open; those on what was read are open, or it is blocked."""
    gates = tuple(gate for gate in option.gates if gate.check not in read)
    return replace(option, gates=gates, excluded=why)
