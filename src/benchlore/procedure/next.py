"""The best next step from anywhere: each allowed action ranked by what the job costs if it comes first."""

from collections.abc import Collection, Iterator
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Final

import numpy as np

from benchlore.model import Evidence, FloatArray, Model, conflict
from benchlore.procedure.advice import Advice, Option, Outlook
from benchlore.procedure.after import DONE, TRIED, instance_after
from benchlore.procedure.arrays import BoolArray, IntArray, Reduced, reduced
from benchlore.procedure.estimate import estimate, usable_fixes
from benchlore.procedure.exact import Table, fits, swept
from benchlore.procedure.graph import own_cost, suspects_of
from benchlore.procedure.instance import CheckOption, FixOption, Instance
from benchlore.procedure.policy import GONE, STILL_THERE
from benchlore.procedure.pricing import instance_of
from benchlore.procedure.rank import ranked_costs
from benchlore.procedure.state import Problem, State, first_state, problem_of, results_of
from benchlore.procedure.values import Cost, Kind
from benchlore.shop import Shop

EXACT_BYTES: Final = 1 << 23
"""The exact method answers at once up to this size of its table."""

LOOKED_AT: Final = 24
"""Checks whose expected cost is computed: those that tell most for their cost."""

TOLD_SHARE: Final = 0.3
"""Weight of perfect information in the estimate of what follows; the rest is fixes alone."""


def next_steps(
    model: Model,
    shop: Shop,
    evidence: Evidence,
    *,
    setups_done: Collection[int] = (),
    skipped: Collection[str] = (),
    without: Collection[str] = (),
    exact_bytes: int = EXACT_BYTES,
) -> Advice:
    """Rank what can be done next, whatever was done before and in whatever order.

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
    exact_bytes
        Memory up to which the exact method is used instead of the look-ahead.

    Raises
    ------
    PlanningError
        If the model cannot be priced for the shop.
    EvidenceError
        If the evidence does not fit the model.
    """
    here = replace(shop, instruments=shop.instruments - set(without), skills=shop.skills - set(without))
    whole = instance_of(model, here)
    left = instance_after(whole, model, evidence, setups_done=setups_done, skipped=skipped)
    small = reduced(left)
    table = swept(small.arrays, memory=exact_bytes) if fits(small, exact_bytes) else None
    position = _Position(model, left, small, table)
    options = sorted(
        [position.returned(), *position.options()], key=lambda option: (option.expected, option.action)
    )
    return Advice(
        currency=shop.currency,
        suspects=suspects_of(left.faults, left.prior, len(left.faults)),
        options=tuple(options),
        held_back=tuple(dict.fromkeys(_held_back(left))),
        conflict=tuple(_named(model, conflict(model, evidence))),
        method="exact" if table else "look-ahead",
    )


def _held_back(left: Instance) -> Iterator[tuple[str, str]]:
    options: tuple[CheckOption | FixOption, ...] = (*left.checks, *left.fixes)
    for option in options:
        if option.excluded and option.excluded not in (DONE, TRIED):
            yield option.name, option.excluded
        elif option.gates and not option.excluded:
            yield option.name, f"only after '{left.checks[option.gates[0].check].name}'"


def _named(model: Model, evidence: Evidence) -> Iterator[str]:
    for check, _ in (*evidence.readings, *evidence.values):
        yield model.checks[check].name
    for fix in (*evidence.failed, *evidence.passed):
        yield model.fixes[fix].name


@dataclass(frozen=True, eq=False)
class _Position:
    """Where a job stands, as the kernels see it."""

    model: Model
    left: Instance
    small: Reduced
    table: Table | None

    @cached_property
    def problem(self) -> Problem:
        """The arrays, for the kernels."""
        return problem_of(self.small.arrays)

    @cached_property
    def state(self) -> State:
        """The start, for the kernels."""
        return first_state(self.small.arrays)

    def costs(self) -> FloatArray:
        """Return the expected cost of each action first; ``inf`` where it is not to be done."""
        if self.table:
            return self.table.action_costs()
        fixes = len(self.small.fixes)
        costs: FloatArray = ranked_costs(self.problem, self.state, LOOKED_AT, fixes, TOLD_SHARE)
        return costs

    def returned(self) -> Option:
        """Return the option of giving the board back."""
        cost = Cost(lost_worth=self.left.give_up)
        return Option(Kind.RETURN, "", "Return the device unrepaired", (), cost, cost.total, 0.0, ())

    def options(self) -> Iterator[Option]:
        """Yield an option for each action that has a cost; a fix once, with its best soak."""
        checks, costs = len(self.small.checks), self.costs()
        groups = self.small.arrays.fix_group
        for group in range(int(groups.max(initial=-1)) + 1):
            variants = checks + np.flatnonzero(groups == group)
            costs[np.delete(variants, costs[variants].argmin())] = np.inf
        for action in np.flatnonzero(np.isfinite(costs)).tolist():
            if action < checks:
                yield self._check(action, float(costs[action]))
            else:
                yield self._fix(action - checks, float(costs[action]))

    def _check(self, place: int, expected: float) -> Option:
        index = self.small.checks[place]
        check, state = self.left.checks[index], self.state
        joint = np.empty((self.small.arrays.shows.shape[2], len(state.b)))
        results_of(self.problem, state, place, joint)
        missing = check.setups & ~self.left.standing
        outlooks = tuple(
            self._outlook(name, joint[result], self._after_check(place, result, joint[result]))
            for result, name in enumerate(check.results)
        )
        return Option(
            Kind.CHECK,
            check.name,
            self.model.checks[index].title,
            self.left.setups_in(missing),
            own_cost(self.left, index, missing),
            expected,
            _bits(joint[: len(check.results)]),
            outlooks,
        )

    def _fix(self, place: int, expected: float) -> Option:
        arrays, state = self.small.arrays, self.state
        index = self.small.fixes[place]
        fix = self.left.fixes[index]
        missing = fix.setups & ~self.left.standing
        uncured = state.b * arrays.missed[place]
        caught = uncured * arrays.detects[place]
        released = state.b - caught
        cost = own_cost(self.left, len(self.left.checks) + index, missing)
        slipped = float((uncured - caught).sum() / state.b.sum())
        return Option(
            Kind.FIX,
            fix.name,
            self._titles[fix.name],
            self.left.setups_in(missing),
            replace(cost, comeback=slipped * self.left.comeback),
            expected,
            _bits(np.stack([caught, released])),
            (
                self._outlook(STILL_THERE, caught, self._after_fix(place, caught)),
                self._outlook(GONE, released, 0.0),
            ),
            fix.soak,
        )

    @cached_property
    def _titles(self) -> dict[str, str]:
        return {fix.name: fix.title for fix in self.model.fixes}

    def _outlook(self, result: str, belief: FloatArray, rest: float) -> Outlook:
        """Describe a result with the belief after it; ``rest`` is the cost from there, times its chance."""
        chance = float(belief.sum() / self.state.b.sum())
        expected = rest / float(belief.sum()) if chance > 0 else 0.0
        return Outlook(result, chance, expected, self._suspects(belief))

    def _after_check(self, place: int, result: int, belief: FloatArray) -> float:
        """Cost of going on after a result, times its probability."""
        if self.table:
            return self.table.value_after_check(place, result)
        digits = self.state.digits.copy()
        digits[place] = result + 1
        return self._estimate(belief, digits, self.state.failed, int(self.small.arrays.check_setups[place]))

    def _after_fix(self, place: int, belief: FloatArray) -> float:
        """Cost of going on after a failed fix, times its probability."""
        if self.table:
            return self.table.value_after_fix(place)
        failed = self.state.failed.copy()
        failed[place] = True
        return self._estimate(belief, self.state.digits, failed, int(self.small.arrays.fix_setups[place]))

    def _estimate(self, belief: FloatArray, digits: IntArray, failed: BoolArray, setups: int) -> float:
        arrays = self.small.arrays
        usable = usable_fixes(self.problem, digits, failed)
        sequence = np.empty(len(arrays.fix_cost), dtype=np.int64)
        return float(estimate(self.problem, belief, usable, arrays.standing | setups, TOLD_SHARE, sequence))

    @cached_property
    def _spread(self) -> tuple[IntArray, FloatArray]:
        """The merged row of each fault, ``(F,)``, and its share of that row's belief."""
        row = np.zeros(len(self.left.faults), dtype=np.int64)
        part = np.zeros(len(self.left.faults))
        for k, group in enumerate(self.small.merged):
            own = self.left.prior[list(group)]
            row[list(group)] = k
            part[list(group)] = own / own.sum()
        return row, part

    def _suspects(self, belief: FloatArray) -> tuple[tuple[str, float], ...]:
        """Spread the belief of merged faults over them again, as they shared it before."""
        row, part = self._spread
        return suspects_of(self.left.faults, belief[row] * part)


def _bits(joint: FloatArray) -> float:
    """Mutual information in bits of result and fault, from ``P(result, fault)`` up to a factor."""
    share = joint / joint.sum()
    apart = share.sum(axis=1, keepdims=True) * share.sum(axis=0, keepdims=True)
    ratio = np.divide(share, apart, out=np.ones_like(share), where=share > 0)
    return max(0.0, float((share * np.log2(ratio)).sum()))
