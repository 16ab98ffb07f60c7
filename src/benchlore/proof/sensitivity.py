"""How much a procedure hangs on what is not known well: its cost, its first step, and what records are worth.

``docs/proof.md``, "Sensitivity", has the method.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import count
from math import ceil
from typing import Final

import numpy as np

from benchlore.model import FloatArray, Model
from benchlore.procedure import Effort, Instance, Kind, Procedure, expected_cost
from benchlore.procedure.graph import described
from benchlore.procedure.pool import Pool, kept
from benchlore.proof.drawn import AT_ONCE, drawn_of, now_followed
from benchlore.proof.estimate import Estimate, between_percentiles, proportion
from benchlore.proof.records_worth import RecordsWorth, mean_with_error, records_worth
from benchlore.proof.rivals import FIRST_DRAWS, FIRST_STEPS, compared, pricing_of
from benchlore.proof.sways import Sway, sways_of
from benchlore.proof.work import Result, Run, Task, in_turn, seeds
from benchlore.shop import Shop

RIVALS, DRAWS, RECORDS = range(3)
"""Stages of the work, each with seeds of its own."""

STEPS_OF_QUANTILES: Final = 41
"""Quantiles of the cost: the least, the most, and every 2.5 % between."""

AS_GOOD: Final = 0.01
"""A first step counts as best if no other costs less by more than this share."""

SHARES: Final = (0.0, 0.5, 0.75, 1.0)
"""Share of the work that is done before each stage and at the end, roughly."""


@dataclass(frozen=True, slots=True)
class FirstStep:
    """A first step, and the ``share`` of drawn models under which it is the best one.

    ``name`` is ``""`` for returning the board at once.
    """

    kind: Kind
    name: str
    share: float


@dataclass(frozen=True, slots=True)
class Sensitivity:
    """How much a procedure hangs on what is not known well.

    ``cost`` is its expected cost under the model, with the central 95 % of its expected costs under
    ``draws`` models drawn from what is known; ``quantiles`` are those of the drawn costs, the least, the most
    and every 2.5 % between; ``hangs_on`` says what the range stems from.

    ``first_step`` is its own, with the share of draws in which it is the best of those compared;
    ``first_step_best`` is the share in which no other costs less by more than 1 %. ``rivals`` are the other
    first steps compared, best first. ``worth_knowing_all`` is what a job would cost less if the model were
    known exactly and the best of all that was compared were done. ``records`` are those found to be worth
    something, best first, of ``looked_at`` unknowns.
    """

    cost: Estimate
    draws: int
    quantiles: tuple[float, ...]
    hangs_on: tuple[Sway, ...]
    first_step: FirstStep
    first_step_best: Estimate
    rivals: tuple[FirstStep, ...]
    worth_knowing_all: Estimate
    records: tuple[RecordsWorth, ...]
    looked_at: int


def sensitivity_of(  # noqa: PLR0913 what a caller may leave out has its name
    model: Model,
    shop: Shop,
    procedure: Procedure,
    *,
    draws: int = 200,
    rivals: int = 8,
    records: int = 10,
    effort: Effort = Effort.QUICK,
    seed: int = 0,
    run: Run = in_turn,
    progress: Callable[[float], None] | None = None,
) -> Sensitivity:
    """Follow a procedure under models drawn from what is known, and compare it with rivals.

    Parameters
    ----------
    model, shop, procedure
        What is known of a board, the bench, and the procedure planned for the two.
    draws
        Models drawn, at least 4.
    rivals
        Models under which rival procedures are planned.
    records
        Records of one unknown of which the worth is given, at least 1.
    effort
        How hard rivals are looked for.
    seed
        Equal seeds give equal figures, whoever does the work.
    run
        Who does it.
    progress
        Told the share that is done, as tasks come back.

    Raises
    ------
    PlanningError
        If the model cannot be priced for the shop.
    KeyError
        If the procedure does something that the model does not know.
    """
    pricing = pricing_of(model, shop, procedure)
    instance = pricing.instance(model)
    told = _Told(run, progress or _untold)
    both = compared(
        model,
        procedure,
        pricing,
        seeds(seed, RIVALS, rivals),
        effort=effort,
        run=told.stage(RIVALS, rivals + FIRST_STEPS * (1 + FIRST_DRAWS)),
    )
    drawn = drawn_of(
        model, pricing, both, seeds(seed, DRAWS, draws), told.stage(DRAWS, ceil(draws / AT_ONCE))
    )
    useful = np.asarray(drawn.used.any(axis=0))
    useful[now_followed(both.pool, instance)] = True
    looked = records_worth(
        model,
        instance,
        kept(both.pool, useful),
        drawn,
        records,
        seeds(seed, RECORDS, 1)[0],
        told.stage(RECORDS, 1 + len(model.checks)),
    )
    told.progress(1.0)
    first, others = _first_steps(both.beginnings, instance, drawn.beginnings)
    worth = [one for one in looked if one.worth.low > 0]
    return Sensitivity(
        cost=between_percentiles(expected_cost(procedure, instance), drawn.own),
        draws=draws,
        quantiles=tuple(np.quantile(drawn.own, np.linspace(0, 1, STEPS_OF_QUANTILES)).tolist()),
        hangs_on=sways_of(model, instance, both.pool, drawn),
        first_step=first,
        first_step_best=_as_good(drawn.beginnings),
        rivals=others,
        worth_knowing_all=mean_with_error(drawn.now - drawn.best),
        records=tuple(sorted(worth, key=lambda one: (-one.worth.value, one.of, one.action, one.fault))),
        looked_at=len(looked),
    )


def _untold(share: float) -> None:
    """Nobody listens."""


@dataclass(frozen=True)
class _Told:
    """Tells how far the work is as tasks come back."""

    run: Run
    progress: Callable[[float], None]

    def stage(self, number: int, expected: int) -> Run:
        """Run the tasks of a stage, about so many in all of its calls."""
        low, high = SHARES[number : number + 2]
        done = count(1)

        def run(function: Callable[[Task], Result], tasks: Sequence[Task]) -> Iterator[Result]:
            for result in self.run(function, tasks):
                self.progress(low + (high - low) * min(1.0, next(done) / expected))
                yield result

        return run


def _as_good(costs: FloatArray) -> Estimate:
    """How often the first column is the least, or nearly."""
    good = costs[:, 0] <= costs.min(axis=1) * (1 + AS_GOOD)
    return proportion(int(good.sum()), len(good))


def _first_steps(
    pool: Pool, instance: Instance, costs: FloatArray
) -> tuple[FirstStep, tuple[FirstStep, ...]]:
    """The procedure's own first step and the others, with how often each is the best."""
    times = np.bincount(costs.argmin(axis=1), minlength=costs.shape[1])
    steps = []
    for j, best in zip(pool.beginnings, times.tolist(), strict=True):
        kind, name, _ = described(instance, int(pool.action[j]))
        steps.append(FirstStep(kind, name, best / len(costs)))
    own, *others = steps
    return own, tuple(sorted(others, key=lambda step: (-step.share, step.name)))
