"""What equipment that a shop lacks is worth to it: what it saves in a year, and whether its price comes back.

``NPV = −price + Σ_u s_u Σ_t N_ut / (1 + r)^t`` over the complaints ``u`` of the shop's year, ``s_u`` what a
job saves and ``N_ut`` its jobs in year ``t`` of the equipment's life. Savings count at the end of their year
(Brealey, Myers & Allen, "Principles of Corporate Finance", chapters 2 and 5).
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from benchlore.model import FloatArray
from benchlore.money.errors import AmountError, not_negative
from benchlore.money.research import DRAWS, Demand, Research, values


@dataclass(frozen=True, slots=True)
class Use:
    """A complaint at the shop: what a job of it saves, and how many there are in a year."""

    saving: float
    demand: Demand


@dataclass(frozen=True, slots=True)
class Purchase:
    """What equipment costs, and how many years it lasts; ``discount`` a year."""

    price: float
    years: int = 5
    discount: float = 0.05

    def __post_init__(self) -> None:
        """Refuse numbers that make no sense."""
        not_negative("the price", self.price)
        not_negative("the discount rate", self.discount)
        if self.years < 1:
            raise AmountError("years", self.years, "one or more")


@dataclass(frozen=True, slots=True)
class Yearly:
    """What equipment saves in a year: expected, and where nine tenths of what demand may be lie."""

    saved: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Return:
    """What a purchase brings. ``pays`` is whether its value is at least nothing.

    ``payback`` is in how many years savings add up to the price, not discounted (``None``: never).
    ``paid_by`` is the year by whose end they have, discounted (``None``: not in its life). ``most`` is the
    highest price at which it pays. ``chance`` is the probability that it pays with demand uncertain and jobs
    coming at random; ``low`` to ``high`` holds nine tenths of what may come out.
    """

    value: float
    pays: bool
    payback: float | None
    paid_by: int | None
    most: float
    chance: float
    low: float
    high: float


def yearly(uses: Sequence[Use], *, seed: int = 1, draws: int = DRAWS) -> Yearly:
    """What is saved in a year, and how far the demand leaves it open.

    Draws of one seed and one list of complaints are the same whatever is saved, so that equipment can be
    compared.
    """
    saved = sum(use.saving * use.demand.mean for use in uses)
    drawn = np.zeros(draws)
    for use, rng in zip(uses, _generators(uses, seed), strict=True):
        drawn += use.saving * use.demand.rates(rng, draws)
    low, high = np.quantile(drawn, (0.05, 0.95))
    return Yearly(saved, float(low), float(high))


def purchased(uses: Sequence[Use], purchase: Purchase, *, seed: int = 1, draws: int = DRAWS) -> Return:
    """Say what a purchase brings over its life.

    >>> bought = purchased([Use(20.0, Demand(10.0))], Purchase(500.0, years=4, discount=0.10))
    >>> round(bought.value, 2), bought.payback, bought.paid_by
    (133.97, 2.5, 4)
    """
    single = _research(Use(1.0, Demand(1.0)), purchase)
    saved = sum(use.saving * use.demand.mean for use in uses)
    most = saved * float(single.weights.sum())
    drawn: FloatArray = np.full(draws, -purchase.price)
    for use, rng in zip(uses, _generators(uses, seed), strict=True):
        drawn += values(_research(use, purchase), rng, draws)
    low, high = np.quantile(drawn, (0.05, 0.95))
    back = np.cumsum(saved * single.weights) - purchase.price
    years = np.flatnonzero(back >= -1e-9)
    return Return(
        value=most - purchase.price,
        pays=most >= purchase.price - 1e-9,
        payback=purchase.price / saved if saved > 0 else None,
        paid_by=int(years[0]) + 1 if len(years) else None,
        most=most,
        chance=float((drawn >= -1e-9).mean()),
        low=float(low),
        high=float(high),
    )


def _research(use: Use, purchase: Purchase) -> Research:
    """A use as research that costs nothing: the same years, the same discounting."""
    return Research(0, 0, use.saving, use.demand, 1, purchase.years, purchase.discount)


def _generators(uses: Sequence[Use], seed: int) -> list[np.random.Generator]:
    return [np.random.default_rng(each) for each in np.random.SeedSequence(seed).spawn(len(uses))]
