"""Whether research pays: hours of an expert now against better margins for years.

``NPV = −K + Σ_t m N_t / (1 + r)^t`` with ``K`` the research's cost, ``m`` the margin that a job gains, ``r``
the discount rate, and ``N_t = j s (1 − g)^(t−1)`` jobs in year ``t``: ``j`` a year and shop, ``s`` shops, of
which a share ``g`` fewer come each year as the devices disappear. Gains count at the end of their year
(Brealey, Myers & Allen, "Principles of Corporate Finance", chapter 2).
"""

from dataclasses import dataclass
from math import ceil, inf, sqrt

import numpy as np
from scipy import optimize, special

from benchlore.model import FloatArray
from benchlore.money.errors import MOST_COUNTED, MOST_MONEY, AmountError, not_negative

DRAWS = 20_000


@dataclass(frozen=True, slots=True)
class Demand:
    """Jobs a year at one shop: a gamma distribution with this mean, of ``shape`` (``inf``: known exactly)."""

    mean: float
    shape: float = inf

    def __post_init__(self) -> None:
        """Refuse what is no demand."""
        not_negative("jobs a year", self.mean, below=MOST_COUNTED)
        if not self.shape > 0:
            raise AmountError("the shape of the demand", self.shape, "a number above zero")

    def rates(self, rng: np.random.Generator, draws: int) -> FloatArray:
        """Draw the unknown mean."""
        if self.shape == inf or self.mean == 0:
            return np.full(draws, self.mean)
        return rng.gamma(self.shape, self.mean / self.shape, draws)


def demand_from_jobs(jobs: int, shop_years: float) -> Demand:
    """The demand of a shop after so many jobs in so many years of shops.

    With a gamma prior of shape one half and no rate (Jeffreys 1961, "Theory of Probability") the posterior is
    gamma of shape ``jobs + 1/2`` and rate ``shop_years``.
    """
    if jobs < 0 or not shop_years > 0:
        raise AmountError("jobs in years of shops", (jobs, shop_years), "a count, and years above zero")
    return Demand((jobs + 0.5) / shop_years, jobs + 0.5)


def demand_from_quantiles(middle: float, high: float, share: float = 0.95) -> Demand:
    """The gamma distribution with this median, which is below ``high`` with this probability.

    The 50/95 method of the NIST/SEMATECH e-Handbook, 8.2.5.
    """
    if not 0 < middle < high:
        raise AmountError("middle and high demand", (middle, high), "two rising numbers above zero")

    def apart(log_shape: float) -> float:
        shape = np.exp(log_shape)
        return float(special.gammaincinv(shape, share) / special.gammaincinv(shape, 0.5) - high / middle)

    if apart(-3.0) < 0:
        raise AmountError("high demand", high, "less than many times the middle")
    shape = float(np.exp(optimize.brentq(apart, -3.0, 14.0, xtol=1e-13)))
    scale = middle / float(special.gammaincinv(shape, 0.5))
    return Demand(shape * scale, shape)


@dataclass(frozen=True, slots=True)
class Research:
    """A piece of research and those who would use it; amounts in one currency, shares a year.

    ``gain`` is the margin of a job with the book less that without.
    """

    hours: float
    rate: float
    gain: float
    demand: Demand
    shops: float = 1
    years: int = 5
    discount: float = 0.05
    fading: float = 0.0

    def __post_init__(self) -> None:
        """Refuse numbers that make no sense."""
        not_negative("hours", self.hours)
        not_negative("the rate", self.rate)
        not_negative("shops", self.shops, below=MOST_COUNTED)
        not_negative("the discount rate", self.discount)
        if not abs(self.gain) < MOST_MONEY:
            raise AmountError("the gain", f"{self.gain:,.15g}", f"an amount of less than {MOST_MONEY:,.0f}")
        if self.years < 1:
            raise AmountError("years", self.years, "one or more")
        if not 0 <= self.fading < 1:
            raise AmountError("fading", self.fading, "a share from 0 to less than 1")

    @property
    def cost(self) -> float:
        """What the research costs."""
        return self.hours * self.rate

    @property
    def weights(self) -> FloatArray:
        """What a job a year from now on is worth in each year, in jobs of today, ``(years,)``."""
        years = np.arange(1, self.years + 1)
        found: FloatArray = (1 - self.fading) ** (years - 1.0) / (1 + self.discount) ** years
        return found


@dataclass(frozen=True, slots=True)
class Year:
    """A year: its jobs, what they gain in its money, and the discounted balance at its end."""

    year: int
    jobs: float
    gain: float
    balance: float


@dataclass(frozen=True, slots=True)
class Verdict:
    """What research is worth. ``pays`` is whether the expected value is at least nothing.

    ``least_shops`` and ``least_jobs`` (a year, over all shops) are those from which on it pays, ``None``
    where a job gains nothing. ``most_hours`` is what may be spent at most. ``payback`` is the year in which
    what was spent has come back, ``None`` if it does not. ``chance`` is the probability that it pays, with
    demand uncertain and jobs coming at random (Poisson); ``low`` to ``high`` holds nine tenths of what may
    come out.
    """

    value: float
    pays: bool
    least_shops: int | None
    least_jobs: float | None
    most_hours: float | None
    payback: int | None
    years: tuple[Year, ...]
    chance: float
    low: float
    high: float


def verdict(research: Research, *, seed: int = 1, draws: int = DRAWS) -> Verdict:
    """Say whether research pays, from how many shops on, and how sure that is."""
    weights = research.weights
    yearly = research.demand.mean * research.shops
    worth_of_one = research.gain * float(weights.sum())
    jobs = None if worth_of_one <= 0 else research.cost / worth_of_one
    shops = None if jobs is None or research.demand.mean == 0 else ceil(jobs / research.demand.mean - 1e-9)
    value = yearly * worth_of_one - research.cost
    drawn = values(research, np.random.default_rng(seed), draws)
    years = _years(research, yearly)
    low, high = np.quantile(drawn, (0.05, 0.95))
    return Verdict(
        value=value,
        pays=value >= -1e-9,
        least_shops=shops,
        least_jobs=jobs,
        most_hours=None if research.rate == 0 else max(0.0, yearly * worth_of_one) / research.rate,
        payback=next((year.year for year in years if year.balance >= -1e-9), None),
        years=years,
        chance=float((drawn >= -1e-9).mean()),
        low=float(low),
        high=float(high),
    )


def _years(research: Research, yearly: float) -> tuple[Year, ...]:
    balance, found = -research.cost, []
    for year in range(1, research.years + 1):
        jobs = yearly * (1 - research.fading) ** (year - 1)
        balance += research.gain * jobs / (1 + research.discount) ** year
        found.append(Year(year, jobs, research.gain * jobs, balance))
    return tuple(found)


def values(research: Research, rng: np.random.Generator, draws: int) -> FloatArray:
    """Draw what comes of it, ``(draws,)``: one demand for all years, Poisson jobs in each."""
    rates = research.demand.rates(rng, draws) * research.shops
    years = np.arange(research.years)
    jobs = rng.poisson(rates[:, None] * (1 - research.fading) ** years)
    found: FloatArray = research.gain * (jobs / (1 + research.discount) ** (years + 1.0)).sum(axis=1)
    return found - research.cost


def deviation(research: Research) -> float:
    """The standard deviation of what comes of it, in closed form (gamma–Poisson)."""
    weights, years = research.weights, np.arange(1, research.years + 1)
    yearly = research.demand.mean * research.shops
    own = yearly * float((weights / (1 + research.discount) ** years).sum())
    shared = (yearly * float(weights.sum())) ** 2 / research.demand.shape
    return abs(research.gain) * sqrt(own + shared)
