"""The ways of doing a held-out job that a proof compares, and what each spends on it."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np

from benchlore.jobs import Job, Outcome
from benchlore.model import FloatArray, Model
from benchlore.procedure import (
    Boards,
    Effort,
    Instance,
    Kind,
    Limits,
    Procedure,
    Title,
    exchange_rate,
    fixes_alone,
    follow,
    instance_of,
    knowing,
    most_telling,
    plan,
    procedure_of,
    solve_exact,
    worth_of,
)
from benchlore.proof.worlds import BoolArray, IntArray
from benchlore.shop import Shop


class Way(StrEnum):
    """A way of doing a job."""

    PROCEDURE = "this procedure"
    FIXES = "fixes alone"
    TELLING = "most telling check"
    TOLD = "fault known at once"
    BENCH = "as the bench did"


MONEY, HANDS_ON, WAITING = range(3)
"""The columns of what is spent: money, minutes at work, minutes of waiting."""


@dataclass(frozen=True, eq=False)
class Trip:
    """What a way spends on ``J`` jobs in ``D`` worlds, ``spent (J, D, 3)``, and how each ends ``(J, D)``.

    ``named`` is whether the fault most suspected at the end is the board's. ``outcomes`` and ``drawn`` count
    the results and retests on the way, and those of them that were not recorded.
    """

    spent: FloatArray
    released: BoolArray
    cured: BoolArray
    named: BoolArray
    outcomes: IntArray
    drawn: IntArray


@dataclass(frozen=True, eq=False)
class Bench:
    """What the bench really spent on ``J`` jobs ``(J, 3)``; ``timed (J,)`` says whose minutes are known.

    ``reckoned (J,)`` are the minutes at work that the book reckons for what was recorded of each job.
    """

    spent: FloatArray
    reckoned: FloatArray
    timed: BoolArray
    repaired: BoolArray
    came_back: BoolArray
    returned: BoolArray


def trips(
    model: Model, shop: Shop, boards: Boards, draws: int, *, effort: Effort, limits: Limits, steps: int | None
) -> tuple[dict[Way, Trip], Procedure]:
    """Plan from a model and follow every computed way on the boards, all worlds of a job together."""
    instance = instance_of(model, shop)
    procedure = plan(model, shop, effort=effort, limits=limits, steps=steps)
    title = Title(model.board, model.complaint, shop.name, shop.currency)
    planned = {
        Way.PROCEDURE: procedure,
        Way.FIXES: procedure_of(instance, fixes_alone(instance), title),
        Way.TELLING: procedure_of(instance, most_telling(instance), title),
    }
    done = {way: trip_of(each, model, instance, boards, draws) for way, each in planned.items()}
    done[Way.TOLD] = _told_trip(model, instance, title, boards, draws)
    return done, procedure


def trip_of(procedure: Procedure, model: Model, instance: Instance, boards: Boards, draws: int) -> Trip:
    """Follow one procedure on the boards, priced as in the instance."""
    followed = follow(procedure, instance, boards, _prices(procedure, model))
    spent = followed.spent.copy()
    spent[:, MONEY] += instance.comeback * (followed.released & ~followed.cured)
    suspects = [step.suspects[0][0] if step.suspects else "" for step in procedure.steps]
    guess = np.array([model.faults.index(name) if name else -1 for name in suspects])
    shape = (-1, draws)
    return Trip(
        spent=spent.reshape(-1, draws, 3),
        released=followed.released.reshape(shape),
        cured=followed.cured.reshape(shape),
        named=(guess[followed.last] == boards.fault).reshape(shape),
        outcomes=followed.outcomes.reshape(shape),
        drawn=followed.drawn.reshape(shape),
    )


def _prices(procedure: Procedure, model: Model) -> FloatArray:
    """Money without comebacks, minutes at work and minutes of waiting of each step, ``(N, 3)``."""
    works = {check.name: check.work for check in model.checks} | {fix.name: fix.work for fix in model.fixes}
    setups = {setup.name: setup.work for setup in model.setups}
    rows = []
    for step in procedure.steps:
        done = [setups[name] for name in step.setups]
        done += [works[step.action]] if step.action else []
        done += [replace(model.retest, waits=step.soak)] if step.kind is Kind.FIX else []
        rows.append(
            [
                replace(step.cost, comeback=0.0).total,
                sum(work.takes for work in done),
                sum(work.waits for work in done),
            ]
        )
    return np.array(rows, dtype=np.float64)


def _told_trip(model: Model, instance: Instance, title: Title, boards: Boards, draws: int) -> Trip:
    """Each board repaired in the cheapest way for its own fault."""
    columns: dict[str, list[np.ndarray]] = {}
    order = []
    for fault in np.unique(boards.fault).tolist():
        rows = np.flatnonzero(boards.fault == fault)
        order.append(rows)
        known = knowing(instance, fault)
        procedure = procedure_of(known, solve_exact(known), title)
        trip = trip_of(procedure, model, instance, boards.some(rows), 1)
        for name in Trip.__dataclass_fields__:
            columns.setdefault(name, []).append(getattr(trip, name)[:, 0])
    back = np.argsort(np.concatenate(order))
    joined = {name: np.concatenate(parts)[back] for name, parts in columns.items()}
    return Trip(**{name: each.reshape(-1, draws, *each.shape[1:]) for name, each in joined.items()})


def bench_of(model: Model, shop: Shop, jobs: Sequence[Job]) -> Bench:
    """What the recorded jobs cost: time at the shop's rates, parts, losses by return, ruin and comeback.

    Waiting that nobody wrote down counts as none.
    """
    instance, worth = instance_of(model, shop), worth_of(model, shop)
    rate = exchange_rate(model, shop, "parts") if any(fix.parts for fix in model.fixes) else 1.0
    parts = {fix.name: fix.parts * rate for fix in model.fixes}
    rows = []
    for job in jobs:
        lost = {Outcome.RETURNED: instance.give_up, Outcome.RUINED: worth}.get(job.outcome, 0.0)
        lost += instance.comeback if job.comeback else 0.0
        hands_on, waiting = job.hands_on or 0.0, job.waiting or 0.0
        labour = (hands_on * shop.hour + waiting * shop.waiting_hour) / 60
        fitted = sum(parts.get(attempt.fix, 0.0) for attempt in job.attempts)
        rows.append([labour + fitted + lost, hands_on, waiting])
    repaired = np.array([job.outcome is Outcome.REPAIRED for job in jobs], dtype=np.bool_)
    came_back = np.array([bool(job.comeback) for job in jobs], dtype=np.bool_)
    return Bench(
        spent=np.array(rows, dtype=np.float64).reshape(-1, 3),
        reckoned=np.array([_reckoned(model, job) for job in jobs], dtype=np.float64),
        timed=np.array([job.hands_on is not None for job in jobs], dtype=np.bool_),
        repaired=repaired & ~came_back,
        came_back=came_back,
        returned=~repaired,
    )


def _reckoned(model: Model, job: Job) -> float:
    """Minutes at work for what was recorded: checks, fixes with a retest each, the setups that they need."""
    checks = {check.name: check.work for check in model.checks}
    fixes = {fix.name: fix.work for fix in model.fixes}
    tried = [fixes[each.fix] for each in job.attempts if each.fix in fixes]
    done = [checks[reading.check] for reading in job.readings if reading.check in checks] + tried
    needed = {k for work in [*done, *([model.retest] if tried else [])] for k in work.setups}
    setups = sum(model.setups[k].work.takes for k in needed)
    return sum(work.takes for work in done) + len(tried) * model.retest.takes + setups
