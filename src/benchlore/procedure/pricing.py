"""From a model and a shop to a planning problem in money.

An action costs its hands-on minutes times the hourly rate, its waiting minutes times the waiting rate, its
parts at the shop's rate of exchange, and its chance of ruining the board times the board's worth. A setup
costs the same way, once. Returning the board loses the worth, less the diagnostic fee. A fix on an
intermittent complaint comes with a choice of soaks.
"""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from math import isfinite
from typing import Final

import numpy as np

from benchlore.model import Check, Fix, Model, Work, detection
from benchlore.procedure.errors import InvalidInstanceError, NoExchangeRateError, NoWorthError
from benchlore.procedure.instance import CheckOption, FixOption, Instance, SetupOption
from benchlore.procedure.soaks import soak_menu
from benchlore.procedure.values import Cost
from benchlore.shop import Shop

CURES_NOTHING: Final = "cures no fault of this complaint"
"""Why a fix is left out that the shop could do."""


def instance_of(model: Model, shop: Shop, *, soaks: Sequence[float] | None = None) -> Instance:
    """Price a model for a shop.

    Checks and fixes that the shop cannot do stay in the instance, so that readings made elsewhere still
    count; their ``excluded`` says what is missing. A fix has an option for each soak.

    Parameters
    ----------
    model, shop
        The board and the bench.
    soaks
        Minutes to choose from for the soak of an intermittent complaint's retest; left out, the book's own
        and a few that suit the shop's costs.

    Raises
    ------
    NoWorthError
        If nobody says what a finished repair is worth.
    NoExchangeRateError
        If an amount in the book's currency has no rate.
    ComebackTooCheapError
        If a comeback would cost less than returning the board.
    InvalidInstanceError
        If a rate or an amount is negative or not finite.
    """
    for where, amount in (("hour", shop.hour), ("waiting hour", shop.waiting_hour)):
        if not (isfinite(amount) and amount >= 0):
            raise InvalidInstanceError(f"shop, {where}", amount, "a finite amount that is not negative")
    worth = worth_of(model, shop)
    closed = _closed(model)
    lacking = _Lacking(model, shop)
    give_up, comeback = _ends(worth, shop)
    menu = menu_of(model, shop, soaks)
    return Instance(
        faults=model.faults,
        prior=model.fault_probabilities,
        tables=model.state_probabilities,
        checks=tuple(_check(model, c, shop, worth, closed, lacking) for c in range(len(model.checks))),
        fixes=tuple(
            option
            for fix in model.fixes
            for option in _soaked(model, _fix(model, fix, shop, worth, closed, lacking), shop, menu)
        ),
        setups=tuple(
            SetupOption(
                setup.name,
                Cost(
                    setups=labour(setup.work, shop),
                    risk=setup.work.ruins * worth,
                ),
                closed[k],
            )
            for k, setup in enumerate(model.setups)
        ),
        give_up=give_up,
        comeback=comeback,
    )


def menu_of(model: Model, shop: Shop, soaks: Sequence[float] | None = None) -> tuple[float, ...]:
    """The soaks that a shop chooses from, as :func:`soak_menu` says; errors are those of :func:`worth_of`."""
    return soak_menu(model, shop.waiting_hour / 60, *_ends(worth_of(model, shop), shop), soaks)


def _ends(worth: float, shop: Shop) -> tuple[float, float]:
    """What a return and a comeback cost."""
    give_up = max(0.0, worth - shop.diagnostic_fee)
    return give_up, worth + shop.hour if shop.comeback is None else shop.comeback


def exclusions(model: Model, shop: Shop) -> tuple[dict[str, str], dict[str, str]]:
    """Why each check and each fix, by name, cannot be done in the shop; ``""`` where it can."""
    lacking = _Lacking(model, shop)
    checks = {
        check.name: lacking.reason(check.work, tuple(gate.check for gate in check.gates))
        for check in model.checks
    }
    return checks, {fix.name: _why_no_fix(model, fix, lacking) for fix in model.fixes}


def lacking_of(model: Model, shop: Shop) -> tuple[tuple[str, ...], ...]:
    """The sets of equipment that the shop lacks for some check or fix, the smallest first."""
    lacking = _Lacking(model, shop)
    sets = {lacking.missing(check.work) for check in model.checks}
    retest = lacking.missing(model.retest)
    sets |= {tuple(sorted({*lacking.missing(fix.work), *retest})) for fix in model.fixes}
    return tuple(sorted(sets - {()}, key=lambda names: (len(names), names)))


def worth_of(model: Model, shop: Shop) -> float:
    """What a finished repair is worth in the shop's currency: the shop's word first, then the book's.

    Raises
    ------
    NoWorthError
        If neither says.
    """
    if model.board in shop.worth:
        worth = shop.worth[model.board]
    elif shop.worth_otherwise is not None:
        worth = shop.worth_otherwise
    elif model.worth is not None:
        worth = model.worth * exchange_rate(model, shop, "the worth of a finished repair")
    else:
        raise NoWorthError(model.board, model.complaint)
    if not (isfinite(worth) and worth >= 0):
        raise InvalidInstanceError("worth", worth, "a finite amount that is not negative")
    return worth


def exchange_rate(model: Model, shop: Shop, what: str) -> float:
    """The price of one unit of the book's currency in the shop's.

    Raises
    ------
    NoExchangeRateError
        If the currencies differ and the shop gives no rate.
    """
    if model.currency == shop.currency:
        return 1.0
    if model.currency not in shop.exchange:
        raise NoExchangeRateError(model.currency, shop.currency, what)
    return shop.exchange[model.currency]


def labour(work: Work, shop: Shop) -> float:
    """What the hands-on and waiting minutes of some work cost."""
    return _hands_on(work, shop) + _waiting(work, shop)


def _hands_on(work: Work, shop: Shop) -> float:
    return work.takes * shop.hour / 60


def _waiting(work: Work, shop: Shop) -> float:
    return work.waits * shop.waiting_hour / 60


def _closed(model: Model) -> list[int]:
    """Mask of each setup with all that stand before it."""
    masks = [1 << k for k in range(len(model.setups))]
    for _ in model.setups:
        for k, setup in enumerate(model.setups):
            masks[k] |= _mask(setup.work, masks)
    return masks


def _mask(work: Work, closed: list[int]) -> int:
    mask = 0
    for setup in work.setups:
        mask |= closed[setup]
    return mask


class _Lacking:
    """Why the shop cannot do some work."""

    def __init__(self, model: Model, shop: Shop) -> None:
        self._model = model
        self._equipment = shop.equipment

    def missing(self, work: Work) -> tuple[str, ...]:
        """Equipment that the work or one of its setups needs and the shop lacks."""
        works = [work, *(self._model.setups[k].work for k in self._all_setups(work))]
        return tuple(sorted({name for each in works for name in each.equipment} - self._equipment))

    def reason(self, work: Work, gates_on: tuple[int, ...]) -> str:
        """Why the work cannot be done; empty if it can."""
        if missing := self.missing(work):
            return f"needs {', '.join(missing)}"
        for check in gates_on:
            if self.unreachable(check, frozenset()):
                return f"only after '{self._model.checks[check].name}', which cannot be done"
        return ""

    def unreachable(self, check: int, asked: frozenset[int]) -> bool:
        """Whether a check can never be done: for want of equipment, or because what it waits for cannot."""
        if check in asked or self.missing(self._model.checks[check].work):
            return True
        return any(self.unreachable(gate.check, asked | {check}) for gate in self._model.checks[check].gates)

    def _all_setups(self, work: Work) -> set[int]:
        found = set(work.setups)
        while True:
            more = found | {k for setup in found for k in self._model.setups[setup].work.setups}
            if more == found:
                return found
            found = more


def _check(
    model: Model, index: int, shop: Shop, worth: float, closed: list[int], lacking: _Lacking
) -> CheckOption:
    check: Check = model.checks[index]
    return CheckOption(
        name=check.name,
        condition=check.condition,
        results=check.results,
        table=check.probabilities,
        cost=Cost(
            hands_on=_hands_on(check.work, shop),
            waiting=_waiting(check.work, shop),
            risk=check.work.ruins * worth,
        ),
        setups=_mask(check.work, closed),
        gates=check.gates,
        excluded=lacking.reason(check.work, tuple(gate.check for gate in check.gates)),
    )


def _fix(model: Model, fix: Fix, shop: Shop, worth: float, closed: list[int], lacking: _Lacking) -> FixOption:
    parts = (
        fix.parts * exchange_rate(model, shop, f"the part price of fix '{fix.name}'") if fix.parts else 0.0
    )
    return FixOption(
        name=fix.name,
        cures=fix.cure_probabilities,
        cost=Cost(
            hands_on=_hands_on(fix.work, shop),
            waiting=_waiting(fix.work, shop),
            parts=parts,
            retest=_hands_on(model.retest, shop),
            risk=(fix.work.ruins + model.retest.ruins) * worth,
        ),
        setups=_mask(fix.work, closed) | _mask(model.retest, closed),
        gates=fix.gates,
        excluded=_why_no_fix(model, fix, lacking),
    )


def _soaked(model: Model, fix: FixOption, shop: Shop, menu: Sequence[float]) -> Iterator[FixOption]:
    """Yield the variants of a fix that is priced without a soak."""
    for soak in menu:
        retest = fix.cost.retest + soak * shop.waiting_hour / 60
        cost = replace(fix.cost, retest=retest)
        yield replace(fix, cost=cost, detects=detection(model, soak), soak=soak)


def _why_no_fix(model: Model, fix: Fix, lacking: _Lacking) -> str:
    if missing := lacking.missing(model.retest):
        return f"the retest needs {', '.join(missing)}"
    if reason := lacking.reason(fix.work, tuple(gate.check for gate in fix.gates)):
        return reason
    if not np.any(fix.cure_probabilities[model.fault_probabilities > 0] > 0):
        return CURES_NOTHING
    return ""
