"""Which research to fund: the set of candidates with the greatest expected benefit within a budget.

Maximise ``Σ b_i x_i`` with ``Σ c_i x_i ≤ budget``, ``Σ h_i x_i ≤ capacity`` of each person, at most one of
each either-or group, what must be in it, ``x_i`` 0 or 1: a knapsack with side constraints, solved as a
mixed-integer program to proven optimality (HiGHS: Huangfu & Hall, Mathematical Programming Computation 10,
2018). Among equal sets the cheapest is taken, among candidates that are alike the one that comes first. What
brings less than it costs is left out unless it must be in.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from math import inf
from typing import Final

import numpy as np
from scipy import optimize, sparse

from benchlore.model import FloatArray
from benchlore.money.errors import MoneyError, not_negative

SLACK: Final = 1e-7
POINTS: Final = 40
"""Budgets of the curve of benefit against budget."""


@dataclass(frozen=True, slots=True)
class Candidate:
    """Research that may be paid for; ``benefit`` over all years, ``cost`` is the fee asked.

    ``hours`` and ``benefit`` have their relative spread (standard deviation of the logarithm), 0 where they
    are known. ``floor`` is what the hours are worth to who does them, the least fee to offer.
    """

    name: str
    benefit: float
    cost: float
    hours: float = 0.0
    who: str = ""
    must: bool = False
    group: str = ""
    floor: float = 0.0
    hours_spread: float = 0.0
    benefit_spread: float = 0.0

    def __post_init__(self) -> None:
        """Refuse numbers that make no sense."""
        not_negative(f"{self.name}: benefit", self.benefit, below=inf)  # of many jobs, shops and years
        not_negative(f"{self.name}: fee", self.cost)
        not_negative(f"{self.name}: hours", self.hours)


@dataclass(frozen=True, slots=True)
class Pot:
    """What may be spent, and how many hours each person has (whoever is not named: as many as asked)."""

    budget: float
    capacity: Mapping[str, float] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Refuse numbers that make no sense."""
        not_negative("the budget", self.budget)
        for who, hours in self.capacity.items():
            not_negative(f"hours of {who}", hours)


class ConflictError(MoneyError):
    """What must be funded cannot be, all of it."""

    def __init__(self, reasons: Sequence[str]) -> None:
        self.reasons = tuple(reasons)
        super().__init__("what must be funded cannot be: " + "; ".join(reasons))


@dataclass(frozen=True, slots=True)
class Chosen:
    """A set of candidates by their places, with what it brings and costs."""

    places: tuple[int, ...]
    benefit: float
    cost: float


def choose(candidates: Sequence[Candidate], pot: Pot) -> Chosen:
    """The set with the greatest benefit, and of those the cheapest.

    Raises
    ------
    ConflictError
        If what must be in it breaks the budget, a person's hours, or an either-or group.
    """
    refuse_conflicts(candidates, pot)
    benefits, costs = _columns(candidates)
    best = solved(-benefits, _limits(candidates, pot), candidates)
    assert best is not None, "without optional candidates every limit holds"
    most = float(benefits[list(best)].sum())
    at_least = (benefits, most - SLACK * max(1.0, most), np.inf)
    cheapest = solved(costs, [*_limits(candidates, pot), at_least], candidates)
    return _chosen(candidates, _first_of_equals(candidates, best if cheapest is None else cheapest))


def refuse_conflicts(candidates: Sequence[Candidate], pot: Pot) -> None:
    """Raise ``ConflictError`` where what must be funded cannot be, with every reason."""
    must = [each for each in candidates if each.must]
    reasons = []
    total = sum(each.cost for each in must)
    if total > pot.budget + SLACK:
        names = ", ".join(each.name for each in must)
        reasons.append(f"{names} cost {total:,.2f}, the budget is {pot.budget:,.2f}")
    for who, hours in pot.capacity.items():
        asked = sum(each.hours for each in must if each.who == who)
        if asked > hours + SLACK:
            reasons.append(f"{who} has {hours:g} h and would need {asked:g} h")
    for group in sorted({each.group for each in must if each.group}):
        both = [each.name for each in must if each.group == group]
        if len(both) > 1:
            reasons.append(f"{' and '.join(both)} exclude each other (either-or '{group}')")
    if reasons:
        raise ConflictError(reasons)


def _columns(candidates: Sequence[Candidate]) -> tuple[FloatArray, FloatArray]:
    benefits = np.array([each.benefit for each in candidates], dtype=np.float64)
    return benefits, np.array([each.cost for each in candidates], dtype=np.float64)


Limit = tuple[FloatArray, float, float]
"""Weights, and what their sum over the chosen is at least and at most."""


def _limits(candidates: Sequence[Candidate], pot: Pot) -> list[Limit]:
    _, costs = _columns(candidates)
    limits: list[Limit] = [(costs, -np.inf, pot.budget)]
    for who, hours in pot.capacity.items():
        weights = [each.hours if each.who == who else 0.0 for each in candidates]
        limits.append((np.array(weights), -np.inf, hours))
    for group in sorted({each.group for each in candidates if each.group}):
        weights = [float(each.group == group) for each in candidates]
        limits.append((np.array(weights), -np.inf, 1.0))
    return limits


def solved(
    objective: FloatArray, limits: Iterable[Limit], candidates: Sequence[Candidate]
) -> tuple[int, ...] | None:
    """Choose the places with the least sum that keep to all limits; ``None`` where nothing does."""
    if not candidates:
        return ()
    # The solver's tolerances are absolute: every limit is put in parts of its largest weight.
    scaled = [(row / size, low / size, high / size) for row, low, high in limits for size in (_size(row),)]
    rows, low, high = zip(*scaled, strict=True)
    least = np.array([float(each.must) for each in candidates])
    most = np.array([float(each.must or each.benefit > each.cost) for each in candidates])
    found = optimize.milp(
        objective / _size(objective),
        integrality=np.ones(len(candidates), dtype=np.int64),
        bounds=optimize.Bounds(least, most),
        constraints=optimize.LinearConstraint(sparse.csr_array(np.array(rows)), low, high),
        options={"mip_rel_gap": 0.0},
    )
    if found.x is None:
        return None
    return tuple(np.flatnonzero(found.x > 0.5).tolist())


def _size(weights: FloatArray) -> float:
    return float(np.abs(weights).max()) or 1.0


def _first_of_equals(candidates: Sequence[Candidate], places: tuple[int, ...]) -> tuple[int, ...]:
    """Among candidates that differ in name alone, take those that come first."""
    kinds = [replace(each, name="") for each in candidates]
    alike: dict[Candidate, list[int]] = {}
    for place, kind in enumerate(kinds):
        alike.setdefault(kind, []).append(place)
    often: dict[Candidate, int] = {}
    for place in places:
        often[kinds[place]] = often.get(kinds[place], 0) + 1
    return tuple(sorted(place for kind, count in often.items() for place in alike[kind][:count]))


def _chosen(candidates: Sequence[Candidate], places: tuple[int, ...]) -> Chosen:
    benefits, costs = _columns(candidates)
    picked = list(places)
    return Chosen(places, float(benefits[picked].sum()), float(costs[picked].sum()))


def curve(candidates: Sequence[Candidate], pot: Pot, *, points: int = POINTS) -> tuple[Chosen, ...]:
    """The best sets for budgets from the least that must be paid to all that is asked."""
    least = sum(each.cost for each in candidates if each.must)
    most = sum(each.cost for each in candidates)
    budgets = sorted({*np.linspace(least, most, points).tolist(), max(least, pot.budget)})
    found = [choose(candidates, replace(pot, budget=budget)) for budget in budgets]
    return tuple({each.places: each for each in found}.values())


@dataclass(frozen=True, slots=True)
class Margin:
    """What lies next to a budget: what more would buy, and from which on; what less would give up."""

    more: float | None
    then: Chosen | None
    less: Chosen | None


def margin(candidates: Sequence[Candidate], pot: Pot, chosen: Chosen) -> Margin:
    """Look beyond a budget on both sides; ``None`` where there is nothing."""
    benefits, costs = _columns(candidates)
    better = chosen.benefit + max(0.005, 1e-6 * chosen.benefit)  # beyond what the solver tolerates
    others = _limits(candidates, replace(pot, budget=float(costs.sum()) + 1.0))
    places = solved(costs, [*others, (benefits, better, np.inf)], candidates)
    more = None if places is None else float(costs[list(places)].sum())
    then = None if more is None else choose(candidates, replace(pot, budget=more))
    must = sum(each.cost for each in candidates if each.must)
    less = None
    if chosen.cost > must + SLACK:
        less = choose(candidates, replace(pot, budget=max(must, chosen.cost - max(0.01, 1e-6 * chosen.cost))))
    return Margin(more, then, less)


def highest_fee(candidates: Sequence[Candidate], pot: Pot, place: int) -> float | None:
    """The fee up to which a candidate is chosen, all else equal; ``None`` if it is not at any.

    With it, the others must bring at least what the best set without it brings, less its benefit; they do so
    at some least cost, and what is left of the budget is the most that it may cost, up to its benefit.
    """
    own = candidates[place]
    if own.must:
        others = sum(each.cost for each in candidates if each.must) - own.cost
        return max(0.0, pot.budget - others)
    rest = [each for k, each in enumerate(candidates) if k != place]
    without = choose(rest, pot)
    free = replace(own, cost=0.0, must=True)
    both = [*rest, free]
    try:
        refuse_conflicts(both, pot)
    except ConflictError:
        return None
    benefits, costs = _columns(both)
    enough = (benefits, without.benefit - SLACK * max(1.0, without.benefit), np.inf)
    places = solved(costs, [*_limits(both, pot), enough], both)
    if places is None:
        return None
    return min(own.benefit, max(0.0, pot.budget - float(costs[list(places)].sum())))


def _untold(done: int) -> None:
    """Say nothing of how far it is."""


def how_often(
    candidates: Sequence[Candidate],
    pot: Pot,
    *,
    draws: int = 200,
    seed: int = 1,
    told: Callable[[int], None] = _untold,
) -> tuple[FloatArray, int]:
    """Share of draws in which each candidate is chosen, and how many draws had a conflict and count not.

    Benefits and hours are drawn from log-normal laws with the stated mean and spread. Before each draw
    ``told`` hears how many are done.
    """
    rng = np.random.default_rng(seed)
    times, conflicts = np.zeros(len(candidates)), 0
    for done in range(draws):
        told(done)
        drawn = [
            replace(
                each,
                benefit=each.benefit * _factor(rng, each.benefit_spread),
                hours=each.hours * _factor(rng, each.hours_spread),
            )
            for each in candidates
        ]
        try:
            times[list(choose(drawn, pot).places)] += 1
        except ConflictError:
            conflicts += 1
    counted = max(1, draws - conflicts)
    return times / counted, conflicts


def _factor(rng: np.random.Generator, spread: float) -> float:
    """A log-normal number of mean one; one is drawn whatever the spread, so that seeds stay comparable."""
    return float(np.exp(spread * rng.standard_normal() - spread**2 / 2))
