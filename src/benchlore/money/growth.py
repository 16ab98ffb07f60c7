"""How knowledge grows with the boards examined, and when to stop paying for more of it.

After ``n`` boards those faults are known that one of them had. What a job then costs is the cost, under all
that is known now, of the procedure that is planned as if nothing else were known: what was not seen counts as
unlisted. Beyond the boards there are, coverage is extrapolated (Chao & Jost 2012), and each share of boards
that becomes known saves what a board with a known fault costs less than one with an unknown fault.
"""

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from benchlore.model import FloatArray, Model
from benchlore.money.errors import MOST_COUNTED, not_negative
from benchlore.money.research import Demand
from benchlore.procedure import Effort, Instance, Kind, Policy, Procedure, instance_of, plan
from benchlore.procedure.costing import policy_of
from benchlore.procedure.pricing import menu_of
from benchlore.procedure.walk import cost_of
from benchlore.shop import Shop

NINETY: Final = (0.05, 0.95)


@dataclass(frozen=True, slots=True)
class KnowingCost:
    """What a job costs who knows some faults: on all boards, on those with a known fault, on the others.

    ``known`` and ``unknown`` are ``None`` where there are no such boards.
    """

    each: float
    known: float | None
    unknown: float | None


def knowing_only(model: Model, seen: frozenset[str]) -> Model:
    """The model of who has met these faults only: the chance of the others goes to ``unlisted``, the last.

    Without any chance of an unlisted fault a model stays as it is.
    """
    keep = np.array([name in seen for name in model.faults[:-1]] + [True])
    prior = np.where(keep, model.prior, 0.0)
    prior[-1] += float(model.prior[~keep].sum())
    return replace(model, prior=prior) if prior[-1] > 0 else model


def knowing_cost(model: Model, shop: Shop, seen: frozenset[str], *, effort: Effort) -> KnowingCost:
    """The cost of a job, under ``model``, by a procedure that knows only the faults ``seen``.

    It never costs more than returning every board at once, which takes no knowledge.

    Raises
    ------
    PlanningError
        If the model cannot be priced for the shop.
    """
    procedure = plan(knowing_only(model, seen), shop, effort=effort, bounded=False)
    whole = _followable(model, shop, procedure)
    is_seen = np.array([name in seen for name in model.faults])
    policy = policy_of(procedure, whole)  # unfolded once: a long procedure has many ways through it
    each = cost_of(policy, whole)
    if each > whole.give_up:
        return KnowingCost(whole.give_up, whole.give_up, whole.give_up)
    return KnowingCost(each, _cost_on(policy, whole, is_seen), _cost_on(policy, whole, ~is_seen))


def _followable(model: Model, shop: Shop, procedure: Procedure) -> Instance:
    soaks = {step.soak for step in procedure.steps if step.kind is Kind.FIX}
    return instance_of(model, shop, soaks=tuple(sorted(soaks | set(menu_of(model, shop)))))


def _cost_on(policy: Policy, instance: Instance, faults: NDArray[np.bool_]) -> float | None:
    prior = np.where(faults, instance.prior, 0.0)
    total = float(prior.sum())
    return cost_of(policy, replace(instance, prior=prior / total)) if total > 0 else None


@dataclass(frozen=True, slots=True)
class Served:
    """What an hour of research costs and whom its results serve.

    ``weight`` is what a job a year is worth over the years that count, in jobs of today.
    """

    rate: float
    demand: Demand
    shops: float
    weight: float

    def __post_init__(self) -> None:
        """Refuse numbers that make no sense."""
        not_negative("the rate", self.rate)
        not_negative("shops", self.shops, below=MOST_COUNTED)


@dataclass(frozen=True, slots=True)
class StopPaying:
    """Where more research stops paying: the place on the curve, 0 where none pays, and the value there.

    ``low`` and ``high`` are that place for a demand at either end of nine tenths of what it may be.
    ``still`` tells that the curve ends before research stops paying.
    """

    shops: float
    place: int
    value: float
    low: int
    high: int
    still: bool


def values_along(saved: FloatArray, hours: FloatArray, served: Served, jobs: float) -> FloatArray:
    """The value of research that ends at each point, ``(P,)``: ``jobs · weight · saved − rate · hours``."""
    found: FloatArray = jobs * served.weight * saved - served.rate * hours
    return found


def marginal(saved: FloatArray, hours: FloatArray, served: Served) -> FloatArray:
    """What one hour more brings from each point to the next, over all years, ``(P - 1,)``."""
    jobs = served.demand.mean * served.shops
    found: FloatArray = jobs * served.weight * np.diff(saved) / np.diff(hours)
    return found


def stop_at(saved: FloatArray, hours: FloatArray, served: Served) -> StopPaying:
    """Find the point of greatest value; of equal ones the first.

    ``saved (P,)`` is what a job saves at each point and ``hours (P,)`` what it took, both from zero on.
    """
    low, high = _ends(served.demand)

    def place(jobs: float) -> int:
        return int(np.argmax(np.round(values_along(saved, hours, served, jobs * served.shops), 9)))

    at = place(served.demand.mean)
    value = float(values_along(saved, hours, served, served.demand.mean * served.shops)[at])
    return StopPaying(served.shops, at, value, place(low), place(high), at == len(saved) - 1 > 0)


def _ends(demand: Demand) -> tuple[float, float]:
    drawn = demand.rates(np.random.default_rng(1), 20_000)
    low, high = np.quantile(drawn, NINETY)
    return float(low), float(high)
