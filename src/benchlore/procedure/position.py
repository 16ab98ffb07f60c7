"""Where a job stands: what is believed, what may still be done, what stands; as the kernels see it.

Everything that does not depend on the job is laid out once, in :class:`Prepared`; a position then costs a
posterior and a few masks.
"""

from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache
from itertools import pairwise
from math import inf

import numpy as np

from benchlore.model import (
    Evidence,
    FloatArray,
    Gate,
    Model,
    conflict,
    gate_open,
    posterior,
    set_aside,
    state_log_likelihoods,
    without,
)
from benchlore.procedure.arrays import BoolArray, IntArray
from benchlore.procedure.instance import CheckOption, FixOption, Instance
from benchlore.procedure.pricing import exclusions, instance_of, lacking_of
from benchlore.procedure.state import Problem, State, problem_of
from benchlore.procedure.values import Kind
from benchlore.procedure.walk import whole
from benchlore.shop import Shop

DONE = "done"
TRIED = "tried"
SKIPPED = "skipped"
UNCLEAR = "its reading was unclear"
OVER_BUDGET = "would spend"


@dataclass(frozen=True, slots=True)
class Situation:
    """What is known of a job on the bench, as indices into a model; order carries no meaning.

    Parameters
    ----------
    evidence
        Readings and fixes tried so far; raw numbers count as such.
    setups
        Setups that stand already; those of what was done need not be named.
    unclear
        Checks that were made and told nothing: they are not proposed again.
    skipped
        Names of checks and fixes that are not to be proposed.
    without
        Equipment of the shop that is missing today.
    budget
        What may still be spent, in the shop's currency; ``None`` is no limit.
    """

    evidence: Evidence = Evidence()  # noqa: RUF009 it is frozen
    setups: tuple[int, ...] = ()
    unclear: tuple[int, ...] = ()
    skipped: tuple[str, ...] = ()
    without: tuple[str, ...] = ()
    budget: float | None = None

    @property
    def read(self) -> tuple[int, ...]:
        """The checks that were read."""
        return tuple(check for check, _ in (*self.evidence.readings, *self.evidence.values))


@dataclass(frozen=True, eq=False)
class Prepared:
    """A model priced for a shop and laid out for the kernels, with nothing left out."""

    model: Model
    shop: Shop
    instance: Instance
    problem: Problem

    @cached_property
    def options(self) -> tuple[CheckOption | FixOption, ...]:
        """Checks, then fixes: the order of the actions everywhere."""
        return (*self.instance.checks, *self.instance.fixes)

    @cached_property
    def gated(self) -> tuple[int, ...]:
        """The actions that have gates."""
        return tuple(k for k, option in enumerate(self.options) if option.gates)

    @cached_property
    def outlays(self) -> FloatArray:
        """What each action spends by itself, without setups, ``(C + A,)``."""
        return np.array([option.cost.outlay for option in self.options])

    @cached_property
    def needs(self) -> np.ndarray[tuple[int], np.dtype[np.int64]]:
        """The setups that each action needs, as masks, ``(C + A,)``."""
        return np.array([option.setups for option in self.options], dtype=np.int64)

    @cached_property
    def shown(self) -> BoolArray:
        """Whether the state of its condition moves the result of each check, ``(C,)``."""
        moved = [bool(np.any(check.table != check.table[0])) for check in self.instance.checks]
        return np.array(moved, dtype=np.bool_)

    @cached_property
    def places(self) -> dict[tuple[Kind, str, float], int]:
        """The place of each check (soak 0) and each variant of a fix by kind, name and soak."""
        checks = {(Kind.CHECK, check.name, 0.0): c for c, check in enumerate(self.instance.checks)}
        fixes = enumerate(self.instance.fixes, len(checks))
        return checks | {(Kind.FIX, fix.name, fix.soak): k for k, fix in fixes}

    @cached_property
    def leads(self) -> tuple[int, ...]:
        """The actions with each fix once, with the soak that costs least."""
        checks = len(self.instance.checks)
        fixes = checks + np.flatnonzero(self.problem.leads)
        return (*range(checks), *fixes.tolist())

    @cached_property
    def variants(self) -> tuple[IntArray, ...]:
        """The places of each fix that has a choice of soaks, the cheapest first."""
        begin, member = self.problem.begin, self.problem.member + len(self.instance.checks)
        groups = (member[one:other] for one, other in pairwise(begin.tolist()))
        return tuple(group for group in groups if len(group) > 1)

    def variants_of(self, place: int) -> tuple[int, ...]:
        """All places of a check or of a fix."""
        return self._variants_at.get(place, (place,))

    @cached_property
    def _variants_at(self) -> dict[int, tuple[int, ...]]:
        groups = [tuple(group.tolist()) for group in self.variants]
        return {place: group for group in groups for place in group}

    @cached_property
    def excluded_with(self) -> Callable[[frozenset[str]], tuple[str, ...]]:
        """Why each action cannot be done with some equipment, ``""`` where it can; remembered."""
        return lru_cache(maxsize=64)(self._excluded_with)

    @cached_property
    def lacking_with(self) -> Callable[[frozenset[str]], tuple[tuple[str, ...], ...]]:
        """The sets of equipment that some action lacks beside what is there; remembered."""
        return lru_cache(maxsize=64)(lambda there: lacking_of(self.model, self._shop_with(there)))

    def _excluded_with(self, equipment: frozenset[str]) -> tuple[str, ...]:
        checks, fixes = exclusions(self.model, self._shop_with(equipment))
        return (
            *(checks[check.name] for check in self.instance.checks),
            *(fixes[fix.name] for fix in self.instance.fixes),
        )

    def _shop_with(self, equipment: frozenset[str]) -> Shop:
        return replace(self.shop, instruments=equipment, skills=frozenset())


def equipment_at(prepared: Prepared, situation: Situation) -> frozenset[str]:
    """What the shop has there today."""
    return prepared.shop.equipment - set(situation.without)


def prepare(model: Model, shop: Shop, *, soaks: Sequence[float] | None = None) -> Prepared:
    """Price a model for a shop; arguments and errors are those of :func:`benchlore.procedure.instance_of`."""
    instance = instance_of(model, shop, soaks=soaks)
    return Prepared(model, shop, instance, problem_of(whole(instance)))


@dataclass(frozen=True, eq=False)
class Position:
    """A job's place among all that may be known.

    ``why`` says for each action (checks first) why it cannot be done any more, ``""`` if it can, at once or
    after others; ``waits`` are the gates still to be opened, by action. ``problem`` and ``state`` have
    evidence and masks in them. ``certain`` is the evidence that counts; ``conflict`` and ``aside`` are what
    no fault allows together, and the part of it that was left out of the belief.
    """

    prepared: Prepared
    situation: Situation
    certain: Evidence
    why: tuple[str, ...]
    waits: dict[int, tuple[Gate, ...]]
    problem: Problem
    state: State
    conflict: Evidence
    aside: Evidence

    @cached_property
    def blocked(self) -> BoolArray:
        """Which actions cannot be done any more, ``(C + A,)``."""
        return np.array([bool(reason) for reason in self.why], dtype=np.bool_)

    @cached_property
    def states(self) -> FloatArray:
        """``P(state | fault, evidence)``, ``(G, F, S)``."""
        return self.states_of(range(len(self.state.b)))

    def states_of(self, faults: Sequence[int]) -> FloatArray:
        """``P(state | fault, evidence)`` of some faults, ``(G, N, S)``."""
        table = self.problem.arrays.table[:, list(faults)]
        joint = table * self.state.seen[:, None, :]
        total = joint.sum(axis=2, keepdims=True)
        # A fault that the readings exclude has no probability; its row only has to be one.
        after: FloatArray = np.where(total > 0, joint / np.where(total > 0, total, 1.0), table)
        return after

    def blocking(self, reasons: dict[int, str]) -> "Position":
        """Return the position in which some more actions cannot be done."""
        why = [reasons.get(k) or reason for k, reason in enumerate(self.why)]
        _block_what_waits(self.prepared, why, self.waits)
        return _masked(self, tuple(why))

    def equipped(self, equipment: frozenset[str]) -> "Position":
        """Return the position in which this equipment is there."""
        excluded = self.prepared.excluded_with(equipment)
        why, waits = _settled(self.prepared, self.situation, self.certain, excluded)
        _over_budget(self.prepared, self.situation, self.state.standing, why)
        _block_what_waits(self.prepared, why, waits)
        return _masked(replace(self, waits=waits), tuple(why))


def position_of(prepared: Prepared, situation: Situation) -> Position:
    """Place a job.

    A fix that passed its retest ends a job. Whoever asks what to do next after one has the device back, so
    the board was not cured then. Where no fault allows the evidence, the best explanation counts: the fewest
    readings are set aside, and open no gates.
    """
    model, evidence = prepared.model, situation.evidence
    certain = replace(evidence, passed=())
    belief = posterior(model, certain)
    clash = aside = Evidence()
    if belief.log_evidence == -inf:
        clash, aside = conflict(model, certain), set_aside(model, certain)
        certain = without(certain, aside)
        belief = posterior(model, certain)
    faults, odd = _came_back(belief.faults, model, evidence.passed)
    if odd:
        clash = replace(clash, passed=odd)
        aside = replace(aside, passed=odd)
    state = State(
        b=faults,
        seen=_seen(prepared, certain, faults),
        digits=np.zeros(len(prepared.instance.checks), dtype=np.int64),
        failed=np.zeros(len(prepared.instance.fixes), dtype=np.bool_),
        standing=_standing(prepared, situation),
    )
    problem = _without_gates(prepared.problem, situation)
    base = Position(prepared, situation, certain, (), {}, problem, state, clash, aside)
    return base.equipped(equipment_at(prepared, situation))


def _masked(position: Position, why: tuple[str, ...]) -> Position:
    """Tell the kernels what cannot be done: it counts as done already.

    A fix of which only some soaks are blocked can still be tried: then those have no price that anybody pays.
    """
    blocked = np.array([bool(reason) for reason in why], dtype=np.bool_)
    checks = len(position.state.digits)
    arrays = position.prepared.problem.arrays
    open_ = np.bincount(arrays.fix_group, weights=~blocked[checks:]) > 0
    failed = ~open_[arrays.fix_group]
    costs = np.where(blocked[checks:] & ~failed, np.inf, arrays.fix_cost)
    problem = position.problem._replace(arrays=position.problem.arrays._replace(fix_cost=costs))
    state = position.state._replace(digits=blocked[:checks].astype(np.int64), failed=failed)
    return replace(position, why=why, state=state, problem=problem)


def _without_gates(problem: Problem, situation: Situation) -> Problem:
    """Take away the gates on what was read: they are open, or their action is blocked."""
    read = np.zeros(len(problem.arrays.condition) + 1, dtype=np.bool_)  # the last answers for "no gate", -1
    read[list(situation.read)] = True
    gates = np.where(read[problem.arrays.gate_check], -1, problem.arrays.gate_check)
    return problem._replace(arrays=problem.arrays._replace(gate_check=gates))


def _came_back(
    belief: FloatArray, model: Model, passed: Collection[int]
) -> tuple[FloatArray, tuple[int, ...]]:
    """Believe that fixes did not cure although their retests showed nothing.

    Where retests overlook no possible fault, they are taken to have overlooked this one all the same. Also
    returns the fixes that would have cured every fault that is left: they tell nothing then. Nobody said how
    long the board soaked: the retest's own soak counts, as after a fix that failed.
    """
    odd = []
    for fix in sorted(set(passed)):
        uncured = belief * (1 - model.fixes[fix].cure_probabilities)
        overlooked = uncured * (1 - model.detects)
        likely = overlooked if overlooked.sum() > 0 else uncured
        if likely.sum() > 0:
            belief = likely / likely.sum()
        else:
            odd.append(fix)
    return belief, tuple(odd)


def _standing(prepared: Prepared, situation: Situation) -> int:
    instance, evidence = prepared.instance, situation.evidence
    standing = instance.standing
    for check in (*situation.read, *situation.unclear):
        standing |= instance.checks[check].setups
    tried = {prepared.model.fixes[fix].name for fix in (*evidence.failed, *evidence.passed)}
    for option in instance.fixes:
        if option.name in tried:
            standing |= option.setups
    for setup in situation.setups:
        standing |= instance.setups[setup].needs
    return standing


def _seen(prepared: Prepared, evidence: Evidence, belief: FloatArray) -> FloatArray:
    """``P(readings | state)`` of each condition up to a factor, ``(G, S)``; ones where nothing was read.

    The factor makes the best state that a possible fault may cause one, so that none of them underflows
    together.
    """
    table = prepared.problem.arrays.table
    seen = np.ones((table.shape[0], table.shape[2]))
    checks = [check for check, _ in (*evidence.readings, *evidence.values)]
    read = sorted({prepared.instance.checks[check].condition for check in checks})
    if read:
        logs = state_log_likelihoods(prepared.model, evidence)[read, : seen.shape[1]]
        possible = np.any(table[read] * (belief > 0)[None, :, None] > 0, axis=1)
        high = np.where(possible, logs, -inf).max(axis=1, keepdims=True)
        seen[read] = np.exp(np.minimum(logs - high, 0.0))
    return seen


def _settled(
    prepared: Prepared, situation: Situation, certain: Evidence, excluded: tuple[str, ...]
) -> tuple[list[str], dict[int, tuple[Gate, ...]]]:
    """Say why actions cannot be done by themselves, and which gates of the others wait."""
    model, checks, why = prepared.model, len(prepared.instance.checks), list(excluded)
    read, skipped = set(situation.read), set(situation.skipped)
    judge = _Judge(model, certain)
    waits: dict[int, tuple[Gate, ...]] = {}
    for k in prepared.gated:
        gates = prepared.options[k].gates
        waits[k] = tuple(gate for gate in gates if gate.check not in read)
        shut = (gate.check for gate in gates if gate.check in read and not judge.is_open(gate))
        why[k] = why[k] or judge.reason(next(shut, None))
    tried = {model.fixes[a].name for a in (*situation.evidence.failed, *situation.evidence.passed)}
    for k, option in enumerate(prepared.options) if skipped or tried else ():
        if option.name in skipped:
            why[k] = excluded[k] or SKIPPED
        if k >= checks and option.name in tried:
            why[k] = TRIED
    for c in situation.unclear:
        why[c] = UNCLEAR
    for c in read:
        why[c] = DONE
    return why, waits


class _Judge:
    """Decides which gates the readings open."""

    def __init__(self, model: Model, evidence: Evidence) -> None:
        self._model = model
        self._results = dict(evidence.readings)
        self._values = dict(evidence.values)

    def is_open(self, gate: Gate) -> bool:
        if gate.check in self._results:
            return self._results[gate.check] in gate.results
        return gate.check in self._values and gate_open(self._model, gate, self._values[gate.check])

    def reason(self, check: int | None) -> str:
        if check is None:
            return ""
        name = self._model.checks[check].name
        if check in self._results or check in self._values:
            return f"'{name}' showed what forbids it"
        return f"only after '{name}', whose reading does not go with the others"


def _over_budget(prepared: Prepared, situation: Situation, standing: int, why: list[str]) -> None:
    """Hold back what would spend more than is left, with the setups that it still needs."""
    if situation.budget is None:
        return
    spends, missing = prepared.outlays.copy(), prepared.needs & ~standing
    for k, setup in enumerate(prepared.instance.setups):
        spends += setup.cost.outlay * (missing >> k & 1)
    currency = prepared.shop.currency
    for k in np.flatnonzero(spends > situation.budget + 1e-9).tolist():
        why[k] = why[k] or (f"{OVER_BUDGET} {spends[k]:.2f} {currency}, more than is left")


def _block_what_waits(prepared: Prepared, why: list[str], waits: dict[int, tuple[Gate, ...]]) -> None:
    """Block what waits for a check that cannot be done any more."""
    changed = True
    while changed:
        changed = False
        for k, gates in waits.items():
            shut = next((gate.check for gate in gates if why[gate.check]), None)
            if not why[k] and shut is not None:
                because = "whose reading was unclear" if why[shut] == UNCLEAR else "which cannot be done"
                why[k] = f"only after '{prepared.options[shut].name}', {because}"
                changed = True
