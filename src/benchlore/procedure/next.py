"""The best next step from anywhere: each allowed action ranked by what the job costs if it comes first."""

from collections.abc import Collection, Iterator
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Final

import numpy as np

from benchlore.model import Evidence, FloatArray, Model, result_of
from benchlore.procedure.advice import Advice, Method, Option, Outlook
from benchlore.procedure.alike import alike_of
from benchlore.procedure.goingon import go_on
from benchlore.procedure.graph import own_cost, suspects_of
from benchlore.procedure.onplan import path_to
from benchlore.procedure.outlook import told_by
from benchlore.procedure.policy import GONE, STILL_THERE
from benchlore.procedure.position import (
    DONE,
    TRIED,
    Position,
    Situation,
    position_of,
    prepare,
)
from benchlore.procedure.ranking import Exact, LookAhead, best_cost, give_up_of, ranking_of
from benchlore.procedure.spread import Spread, spread_at
from benchlore.procedure.values import RELEASE, Cost, Kind, Procedure, Step
from benchlore.shop import Shop

EXACT_BYTES: Final = 1 << 20
"""The exact method is used up to this size of its table: about 2^17 states, a few milliseconds."""

RETURNED: Final = -1
"""The return's place among the actions."""

DETAILED: Final = 8
"""Options whose results are worked out: the best few. The others are ranked all the same."""


def next_steps(  # noqa: PLR0913  one option for each thing that a bench may say
    model: Model,
    shop: Shop,
    evidence: Evidence,
    *,
    setups_done: Collection[int] = (),
    skipped: Collection[str] = (),
    without: Collection[str] = (),
    unclear: Collection[int] = (),
    budget: float | None = None,
    exact_bytes: int = EXACT_BYTES,
    plan: Procedure | None = None,
) -> Advice:
    """Rank what can be done next, whatever was done before and in whatever order.

    This prepares an :class:`Adviser` for one question; keep one to ask more of the same board and shop.

    Parameters
    ----------
    model, shop
        The board and the bench.
    evidence
        Readings and fixes tried so far; raw numbers count as such.
    setups_done
        Setups (indices) that stand already; those of what was done need not be named.
    skipped
        Names of checks and fixes that are not to be proposed.
    without
        Equipment of the shop that is missing today.
    unclear
        Checks (indices) that were made and told nothing.
    budget
        What may still be spent on the job, in the shop's currency.
    exact_bytes
        Memory up to which the exact method is used instead of the look-ahead.
    plan
        The procedure compiled for this model and shop, to be quoted where the job stands on it.

    Raises
    ------
    PlanningError
        If the model cannot be priced for the shop.
    EvidenceError
        If the evidence does not fit the model.
    """
    situation = Situation(
        evidence, tuple(setups_done), tuple(unclear), tuple(skipped), tuple(without), budget
    )
    return Adviser(model, shop, exact_bytes=exact_bytes, plan=plan).advise(situation)


class Adviser:
    """A board and a shop, prepared once, that answers any number of "what next".

    It never changes after it was made, and may be asked from several threads.

    Parameters
    ----------
    model, shop
        The board and the bench.
    exact_bytes
        Memory up to which the exact method is used instead of the look-ahead.
    plan
        The procedure compiled for the same model and shop. Where a job stands exactly on it, its step and
        its expected cost are quoted: it looked deeper than a ranking from there can.

    Raises
    ------
    PlanningError
        If the model cannot be priced for the shop.
    """

    def __init__(
        self, model: Model, shop: Shop, *, exact_bytes: int = EXACT_BYTES, plan: Procedure | None = None
    ) -> None:
        self._prepared = prepare(model, shop)
        self._exact_bytes = exact_bytes
        self._plan = plan

    def advise(self, situation: Situation, *, reasons: bool = True) -> Advice:
        """Rank what can be done next.

        Without ``reasons``, what only explains is left out: the value of knowing, suspects that are alike and
        what would make going on pay.

        Raises
        ------
        EvidenceError
            If the evidence does not fit the model.
        """
        position = position_of(self._prepared, situation)
        ranking = ranking_of(position, self._exact_bytes)
        options = _Options(position, ranking, self._planned(position)).ranked()
        advice = Advice(
            currency=self._prepared.shop.currency,
            suspects=suspects_of(self._prepared.instance.faults, position.state.b, len(position.state.b)),
            options=options,
            held_back=tuple(_held_back(position)),
            conflict=tuple(_named(self._prepared.model, position.conflict)),
            method="exact" if isinstance(ranking, Exact) else "look-ahead",
            set_aside=tuple(_named(self._prepared.model, position.aside)),
        )
        return self._explained(advice, position, ranking) if reasons else advice

    def spread(self, situation: Situation, rng: np.random.Generator) -> Spread:
        """Simulate what the rest of a job may cost; errors are those of :meth:`advise`."""
        return spread_at(position_of(self._prepared, situation), rng)

    def _explained(self, advice: Advice, position: Position, ranking: Exact | LookAhead) -> Advice:
        best = advice.best
        return replace(
            advice,
            knowing=self._knowing(position, ranking, best) if best.kind is Kind.CHECK else None,
            alike=alike_of(position),
            go_on=go_on(position, self._exact_bytes) if best.kind is Kind.RETURN else None,
        )

    def _knowing(self, position: Position, ranking: Exact | LookAhead, best: Option) -> float | None:
        """Value of knowing a check's result, as :class:`Advice` defines it."""
        place = self._prepared.places[best.kind, best.action, best.soak]
        if not np.isfinite(ranking.costs[place]):
            return None
        never = self._never(position, ranking, place)
        return max(0.0, never - (float(ranking.costs[place]) - best.cost.total))

    def _never(self, position: Position, ranking: Exact | LookAhead, check: int) -> float:
        """Return the least expected cost if a check can never be made."""
        opens = any(gate.check == check for gates in position.waits.values() for gate in gates)
        if opens or isinstance(ranking, Exact):
            return best_cost(position.blocking({check: "not to be made"}), self._exact_bytes)
        # Looking one step ahead, the others cost what they did.
        others = np.delete(ranking.costs, check).min(initial=np.inf)
        return min(float(others), give_up_of(position))

    def _planned(self, position: Position) -> tuple[Procedure, Step] | None:
        """Return the plan's step, where the job stands on its path and nothing forbids it."""
        situation, model = position.situation, self._prepared.model
        off = situation.unclear or situation.skipped or situation.without or situation.evidence.passed
        if self._plan is None or off or situation.budget is not None or position.aside != Evidence():
            return None
        readings = {model.checks[c].name: model.checks[c].results[r] for c, r in situation.evidence.readings}
        for c, value in situation.evidence.values:
            readings[model.checks[c].name] = model.checks[c].results[result_of(model.checks[c], value)]
        path = path_to(self._plan, readings, [model.fixes[a].name for a in situation.evidence.failed])
        if path is None:
            return None
        step = path[-1]
        place = self._prepared.places.get((step.kind, step.action, step.soak))
        makeable = step.kind is Kind.RETURN or (place is not None and not position.why[place])
        made = {name for each in path[:-1] for name in each.setups}
        stands = {*self._prepared.instance.setups_in(position.state.standing)}
        return (self._plan, step) if makeable and stands == made else None


def _rounded(cost: float) -> float:
    """Round to nine digits, so that no machine's last digits decide between what costs the same."""
    return float(f"{cost:.9g}")


def _held_back(position: Position) -> Iterator[tuple[str, str]]:
    """Yield what cannot be done now; for a fix its cheapest soak speaks, for others only cost more."""
    options, checks = position.prepared.options, position.prepared.instance.checks
    for k in position.prepared.leads:
        name, why = options[k].name, position.why[k]
        if why and why not in (DONE, TRIED):
            yield name, why
        elif not why and (gates := position.waits.get(k)):
            yield name, f"only after '{checks[gates[0].check].name}'"


def _named(model: Model, evidence: Evidence) -> Iterator[str]:
    for check, _ in (*evidence.readings, *evidence.values):
        yield model.checks[check].name
    for fix in (*evidence.failed, *evidence.passed):
        yield model.fixes[fix].name


@dataclass(frozen=True, eq=False)
class _Options:
    """Builds the options at a position, best first; the plan's step first of all."""

    position: Position
    ranking: Exact | LookAhead
    planned: tuple[Procedure, Step] | None

    def ranked(self) -> tuple[Option, ...]:
        """Return every option; the first few with their results."""
        costs = self.ranking.costs.copy()
        first = self._first()
        if first is not None and first >= 0:
            costs[first] = -np.inf
        for variants in self.position.prepared.variants:
            costs[np.delete(variants, costs[variants].argmin())] = np.inf
        known = np.flatnonzero(costs < np.inf)
        ranked = sorted(known.tolist(), key=lambda k: self._order(float(costs[k]), k))
        limit = _rounded(give_up_of(self.position))
        back = sum(_rounded(float(costs[k])) < limit for k in ranked)
        ranked.insert(0 if first == RETURNED else back, RETURNED)
        bits = dict(
            zip(known.tolist(), told_by(self.position.problem, self.position.state, known), strict=True)
        )
        return tuple(
            self._option(
                k, float(bits.get(k, 0.0)), detailed=n < DETAILED, planned=n == 0 and first is not None
            )
            for n, k in enumerate(ranked)
        )

    def _order(self, cost: float, place: int) -> tuple[float, bool, str]:
        """Order options by what they cost; of those that cost the same, a fix before a check it spares."""
        prepared = self.position.prepared
        is_check = place < len(prepared.instance.checks)
        return _rounded(cost), is_check, prepared.options[place].name

    def _first(self) -> int | None:
        if self.planned is None:
            return None
        step = self.planned[1]
        if step.kind is Kind.RETURN:
            return RETURNED
        return self.position.prepared.places[step.kind, step.action, step.soak]

    def _option(self, place: int, bits: float, *, detailed: bool, planned: bool) -> Option:
        if place == RETURNED:
            return self._returned(planned=planned)
        prepared = self.position.prepared
        checks, option = len(prepared.instance.checks), prepared.options[place]
        is_fix = place >= checks
        missing = option.setups & ~self.position.state.standing
        cost = own_cost(prepared.instance, place, missing)
        if is_fix:
            cost = replace(cost, comeback=self._slips[place - checks] * prepared.instance.comeback)
        # The ranking compares fixes by the soak that it likes best; the plan's may be another.
        ranked = float(self.ranking.costs[list(prepared.variants_of(place))].min())
        expected = self.planned[1].expected if planned and self.planned else ranked
        return Option(
            Kind.FIX if is_fix else Kind.CHECK,
            option.name,
            self._titles[place],
            prepared.instance.setups_in(missing),
            cost,
            expected,
            bits,
            self._outlooks(place, planned=planned) if detailed else (),
            "plan" if planned else self._method,
            ranked if np.isfinite(ranked) else None,
            prepared.instance.fixes[place - checks].soak if is_fix else 0.0,
        )

    @property
    def _method(self) -> Method:
        return "exact" if isinstance(self.ranking, Exact) else "look-ahead"

    @cached_property
    def _titles(self) -> tuple[str, ...]:
        model = self.position.prepared.model
        fixes = {fix.name: fix.title for fix in model.fixes}
        titles = [check.title for check in model.checks]
        return (*titles, *(fixes[fix.name] for fix in self.position.prepared.instance.fixes))

    @cached_property
    def _slips(self) -> FloatArray:
        """Probability of releasing the board uncured after each fix, ``(A,)``."""
        arrays, belief = self.position.problem.arrays, self.position.state.b
        slips: FloatArray = (arrays.missed * (1 - arrays.detects)) @ belief / belief.sum()
        return slips

    def _returned(self, *, planned: bool) -> Option:
        cost = Cost(lost_worth=give_up_of(self.position))
        method: Method = "plan" if planned else "exact"
        title = "Return the device unrepaired"
        return Option(Kind.RETURN, "", title, (), cost, cost.total, 0.0, (), method, cost.total)

    def _outlooks(self, place: int, *, planned: bool) -> tuple[Outlook, ...]:
        """Describe the results of an action, with the beliefs after each."""
        joint, rest = self.ranking.after(place)
        checks = self.position.prepared.instance.checks
        results = checks[place].results if place < len(checks) else (STILL_THERE, GONE)
        reach = float(self.position.state.b.sum())
        faults = self.position.prepared.instance.faults
        chances = joint.sum(axis=1)
        expected = (
            [self._quoted(name) for name in results]
            if planned
            else [float(rest[r] / chances[r]) if chances[r] > 0 else 0.0 for r in range(len(results))]
        )
        return tuple(
            Outlook(name, float(chances[r] / reach), expected[r], suspects_of(faults, joint[r]))
            for r, name in enumerate(results)
        )

    def _quoted(self, result: str) -> float:
        """What the plan says that the rest costs after a result of its step."""
        assert self.planned is not None
        plan, step = self.planned
        target = step.branches.get(result, RELEASE)
        return 0.0 if target == RELEASE else plan.steps[target].expected
