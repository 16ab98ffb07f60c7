"""One planning problem in money: what is believed, what may be done, what everything costs.

The solvers know nothing of models and shops; they take an :class:`Instance`. ``F`` faults, ``S_g`` states of
condition ``g``, ``R_c`` results of check ``c``. Sets of setups are bit masks: bit ``k`` is ``setups[k]``.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field
from enum import StrEnum
from functools import cached_property
from math import isfinite
from typing import Final

import numpy as np

from benchlore.model import FloatArray, Gate
from benchlore.procedure.errors import ComebackTooCheapError, InvalidInstanceError
from benchlore.procedure.values import Cost

MOST_SETUPS: Final = 62
"""Setup masks are 64-bit signed integers in the kernels."""

ROW_TOLERANCE: Final = 1e-6
"""How far a row of probabilities may be from summing to one before it counts as a mistake."""


class Mode(StrEnum):
    """What ends a job."""

    REPAIR = "repair"
    """A released or a returned board."""

    IDENTIFY = "identify"
    """One fault is certain (test sequencing without repair); returning is what "cannot tell" costs."""


@dataclass(frozen=True, slots=True)
class SetupOption:
    """A bench state; ``needs`` is the mask of itself and of all that must stand before it."""

    name: str
    cost: Cost
    needs: int


@dataclass(frozen=True, eq=False)
class CheckOption:
    """A check; ``table`` is ``P(result | state)``, ``(S, R)``; ``cost`` is its own, without setups.

    ``setups`` is closed: with a setup it holds all that stand before it. All ``gates`` must be open.
    ``excluded`` is why the check cannot be done, ``""`` if it can.
    """

    name: str
    condition: int
    results: tuple[str, ...]
    table: FloatArray
    cost: Cost
    setups: int = 0
    gates: tuple[Gate, ...] = ()
    excluded: str = ""


@dataclass(frozen=True, eq=False)
class FixOption:
    """A fix with one way of trying the complaint again.

    ``cures`` is ``rho``, ``(F,)``; ``cost`` is its own with the retest, without setups. ``detects`` ``(F,)``
    is the probability that the retest shows the complaint on a board that is not cured; left out, it always
    does. ``soak`` is how long the board runs in the retest, in minutes. Options of one name are variants of
    one fix, which is tried once: they differ in ``detects``, ``soak`` and what the retest costs.
    """

    name: str
    cures: FloatArray
    cost: Cost
    setups: int = 0
    gates: tuple[Gate, ...] = ()
    excluded: str = ""
    detects: FloatArray = field(default_factory=lambda: np.ones(0))
    soak: float = 0.0

    def __post_init__(self) -> None:
        """Let a retest of which nothing is said always show the complaint."""
        if self.detects.size == 0:
            object.__setattr__(self, "detects", np.ones(self.cures.shape))


@dataclass(frozen=True, eq=False)
class Instance:
    """A planning problem.

    ``prior`` is ``P(f)``, ``tables[g]`` is ``P(state | f)`` of shape ``(F, S_g)``. ``give_up`` is the cost of
    returning the board, ``comeback`` that of releasing it uncured. ``standing`` are the setups done before
    the start.

    Raises
    ------
    ComebackTooCheapError
        If ``comeback < give_up``.
    InvalidInstanceError
        If a number is not finite, a probability is none, or a reference points nowhere.
    """

    faults: tuple[str, ...]
    prior: FloatArray
    tables: tuple[FloatArray, ...]
    checks: tuple[CheckOption, ...]
    fixes: tuple[FixOption, ...]
    setups: tuple[SetupOption, ...]
    give_up: float
    comeback: float
    mode: Mode = Mode.REPAIR
    standing: int = 0

    def __post_init__(self) -> None:
        """Refuse what the solvers could not make sense of."""
        for where, found, expected in _mistakes(self):
            raise InvalidInstanceError(where, found, expected)
        if self.comeback < self.give_up:
            raise ComebackTooCheapError(self.comeback, self.give_up)

    @cached_property
    def open_checks(self) -> tuple[int, ...]:
        """The checks that can ever be done: not excluded, and their gates wait for such checks."""
        allowed: set[int] = set()
        while True:
            more = {
                index
                for index, check in enumerate(self.checks)
                if not check.excluded and all(gate.check in allowed for gate in check.gates)
            }
            if more == allowed:
                return tuple(sorted(allowed))
            allowed = more

    @cached_property
    def open_fixes(self) -> tuple[int, ...]:
        """The fixes that can ever be tried; none where faults are only identified."""
        if self.mode is Mode.IDENTIFY:
            return ()
        allowed = set(self.open_checks)
        return tuple(
            index
            for index, fix in enumerate(self.fixes)
            if not fix.excluded and all(gate.check in allowed for gate in fix.gates)
        )

    @cached_property
    def setup_order(self) -> tuple[int, ...]:
        """Setups in an order in which they can be made: what stands before another has fewer needs."""
        return tuple(sorted(range(len(self.setups)), key=lambda k: (self.setups[k].needs.bit_count(), k)))

    def setups_in(self, mask: int) -> tuple[str, ...]:
        """Names of the setups in a mask, in the order in which to make them."""
        return tuple(self.setups[k].name for k in self.setup_order if mask >> k & 1)

    def setup_cost(self, mask: int) -> Cost:
        """What making every setup in a mask costs."""
        costs = [self.setups[k].cost for k in range(len(self.setups)) if mask >> k & 1]
        return Cost(
            setups=sum((cost.setups for cost in costs), 0.0), risk=sum((cost.risk for cost in costs), 0.0)
        )


def _mistakes(instance: Instance) -> Iterator[tuple[str, object, str]]:
    """Yield (where, found, expected) for everything that makes no sense."""
    yield from _belief_mistakes(instance)
    yield from _cost_mistakes(instance)
    yield from _action_mistakes(instance)


def _belief_mistakes(instance: Instance) -> Iterator[tuple[str, object, str]]:
    count = len(instance.faults)
    if count == 0:
        yield "faults", 0, "at least one fault"
    if instance.prior.shape != (count,):
        yield "prior", instance.prior.shape, f"one number for each of {count} faults"
    elif not np.all((instance.prior >= 0) & (instance.prior <= 1 + ROW_TOLERANCE)):
        yield "prior", instance.prior.tolist(), "probabilities"
    if abs(float(instance.prior.sum()) - 1) > ROW_TOLERANCE:
        yield "prior", float(instance.prior.sum()), "a sum of 1"
    for index, table in enumerate(instance.tables):
        if table.ndim != 2 or table.shape[0] != count:
            yield f"condition {index}", table.shape, f"a row of states for each of {count} faults"
        elif not _is_stochastic(table):
            yield f"condition {index}", table.tolist(), "rows of probabilities that sum to 1"


def _cost_mistakes(instance: Instance) -> Iterator[tuple[str, object, str]]:
    named = [
        *((f"setup '{option.name}'", option.cost) for option in instance.setups),
        *((f"check '{option.name}'", option.cost) for option in instance.checks),
        *((f"fix '{option.name}'", option.cost) for option in instance.fixes),
    ]
    for where, cost in named:
        if not all(isfinite(part) and part >= 0 for part in parts_of(cost)):
            yield where, cost, "costs that are finite and not negative"
    for where, amount in (("return", instance.give_up), ("comeback", instance.comeback)):
        if not (isfinite(amount) and amount >= 0):
            yield f"cost of {where}", amount, "a finite amount that is not negative"


def _action_mistakes(instance: Instance) -> Iterator[tuple[str, object, str]]:
    if len(instance.setups) > MOST_SETUPS:
        yield "setups", len(instance.setups), f"at most {MOST_SETUPS}"
    known = (1 << len(instance.setups)) - 1
    for setup in instance.setups:
        if setup.needs & ~known:
            yield f"setup '{setup.name}'", setup.needs, "needs among the setups"
    for check in instance.checks:
        where = f"check '{check.name}'"
        if not 0 <= check.condition < len(instance.tables):
            yield where, check.condition, f"one of {len(instance.tables)} conditions"
        elif check.table.shape != (instance.tables[check.condition].shape[1], len(check.results)):
            yield where, check.table.shape, "a table of its condition's states by its results"
        elif not _is_stochastic(check.table):
            yield where, check.table.tolist(), "rows of probabilities that sum to 1"
        yield from _option_mistakes(instance, where, check)
    yield from _fix_mistakes(instance)


def _fix_mistakes(instance: Instance) -> Iterator[tuple[str, object, str]]:
    for fix in instance.fixes:
        where = f"fix '{fix.name}'"
        for array, what in ((fix.cures, "cure"), (fix.detects, "detection")):
            if array.shape != (len(instance.faults),) or not np.all((array >= 0) & (array <= 1)):
                yield where, array.tolist(), f"a probability of {what} for each fault"
        if not (isfinite(fix.soak) and fix.soak >= 0):
            yield where, fix.soak, "a soak in minutes, finite and not negative"
        yield from _option_mistakes(instance, where, fix)
    yield from _variant_mistakes(instance)


def _variant_mistakes(instance: Instance) -> Iterator[tuple[str, object, str]]:
    """Variants of one fix are one piece of work, and each is named by its soak."""
    first: dict[str, FixOption] = {}
    known: set[tuple[str, float]] = set()
    for fix in instance.fixes:
        where = f"fix '{fix.name}'"
        lead = first.setdefault(fix.name, fix)
        if (fix.name, fix.soak) in known:
            yield where, fix.soak, "each soak once"
        known.add((fix.name, fix.soak))
        if (fix.setups, fix.gates) != (lead.setups, lead.gates) or not np.array_equal(fix.cures, lead.cures):
            yield where, f"soak {fix.soak}", "the same cures, setups and gates as with its other soaks"


def _option_mistakes(
    instance: Instance, where: str, option: CheckOption | FixOption
) -> Iterator[tuple[str, object, str]]:
    if option.setups & ~((1 << len(instance.setups)) - 1):
        yield where, option.setups, "setups of this problem"
    for gate in option.gates:
        if not 0 <= gate.check < len(instance.checks):
            yield f"{where}, only after", gate.check, f"one of {len(instance.checks)} checks"
        elif not all(0 <= result < len(instance.checks[gate.check].results) for result in gate.results):
            yield f"{where}, only after", gate.results, "results of that check"


def _is_stochastic(table: FloatArray) -> bool:
    return bool(np.all(table >= 0) and np.all(np.abs(table.sum(axis=1) - 1) <= ROW_TOLERANCE))


def parts_of(cost: Cost) -> tuple[float, ...]:
    """The parts of a cost, in the order of its fields."""
    return (
        cost.hands_on,
        cost.waiting,
        cost.setups,
        cost.parts,
        cost.retest,
        cost.risk,
        cost.comeback,
        cost.lost_worth,
    )
