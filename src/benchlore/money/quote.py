"""What to charge: the price of a repair from the distribution of what it costs.

``P`` is the price of a repair, earned when the board goes home; ``D`` the diagnostic fee, earned when it goes
back unrepaired (zero where nothing is charged for what is not repaired). With the cash cost ``C`` of a job,

``margin = P − C`` if the board goes home, ``D − C`` if it goes back.

Over ``n`` jobs with ``r`` of them repaired, the margins sum to less than nothing exactly if ``P`` is below
``(Σ C − D (n − r)) / r``: a threshold whose distribution answers both questions, how likely a loss is at a
price, and which price keeps it as unlikely as asked. For one job it is exact; for more it is drawn.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from benchlore.model import FloatArray
from benchlore.money.errors import AmountError, not_negative, share_of
from benchlore.money.job_costs import SLACK, JobCosts

SERIES: Final = 20_000
"""Series of jobs that are drawn for the chance of a loss over several jobs."""
QUANTILES: Final = (0.05, 0.25, 0.5, 0.75, 0.9, 0.95, 0.99)


@dataclass(frozen=True, slots=True)
class Offer:
    """One way of charging, with the fee for a device that goes back, and what it means.

    ``break_even`` is the price at which a job earns nothing on average, ``None`` if no board ever goes home.
    ``price`` is the least that keeps the chance of a loss at the ``target``, ``None`` if no price does, for
    it never falls below ``least_loss``. ``margin`` and ``loss`` are the expected margin of a job, and the
    chance of a loss, at the ``asked`` price; ``margin_at_price`` is the expected margin at ``price``.
    """

    fee: float
    asked: float
    target: float
    jobs: int
    break_even: float | None
    price: float | None
    margin_at_price: float | None
    least_loss: float
    margin: float
    loss: float


def offer(
    costs: JobCosts, *, fee: float, asked: float, target: float = 0.1, jobs: int = 1, seed: int = 1
) -> Offer:
    """What charging a price for a repair, and a fee for a return, means for the shop.

    Parameters
    ----------
    costs
        What a job costs.
    fee, asked
        Earned when a device goes back, and when it goes home.
    target
        The chance of a loss that the shop is willing to take.
    jobs
        Over how many jobs a loss is counted; with more than one the chance is drawn with ``seed``.

    Raises
    ------
    AmountError
        If an amount is negative, or ``target`` is no share, or there is no job.
    """
    not_negative("the diagnostic fee", fee)
    not_negative("the price", asked)
    share_of("the chance of a loss", target)
    if jobs < 1:
        raise AmountError("jobs", jobs, "one or more")
    level, chance = _thresholds(costs, fee, jobs, seed)
    price = _least_price(level, chance, target)
    return Offer(
        fee=fee,
        asked=asked,
        target=target,
        jobs=jobs,
        break_even=break_even(costs, fee),
        price=price,
        margin_at_price=None if price is None else expected_margin(costs, price, fee),
        least_loss=float(chance[np.isposinf(level)].sum()),
        margin=expected_margin(costs, asked, fee),
        loss=float(chance[level > asked + SLACK].sum()),
    )


def expected_margin(costs: JobCosts, price: float, fee: float) -> float:
    """What a job earns on average."""
    return price * (1 - costs.returned) + fee * costs.returned - costs.mean


def break_even(costs: JobCosts, fee: float) -> float | None:
    """The least price at which a job earns nothing on average, and loses nothing; ``None``: there is none."""
    released = 1 - costs.returned
    if released <= SLACK:
        return None
    return max(0.0, (costs.mean - fee * costs.returned) / released)


def _thresholds(costs: JobCosts, fee: float, jobs: int, seed: int) -> tuple[FloatArray, FloatArray]:
    """Prices below which a loss is made, rising, with their chances; infinite where none helps."""
    if jobs == 1:
        never = np.where(costs.cost > fee + SLACK, np.inf, -np.inf)
        level, chance = np.where(costs.released, costs.cost, never), costs.chance
    else:
        level, chance = _drawn(costs, fee, jobs, seed), np.full(SERIES, 1 / SERIES)
    order = np.argsort(level, kind="stable")
    return level[order], chance[order]


def _drawn(costs: JobCosts, fee: float, jobs: int, seed: int) -> FloatArray:
    rng = np.random.default_rng(seed)
    spent, repaired = np.zeros(SERIES), np.zeros(SERIES)
    sums = costs.sums / costs.sums[-1]
    for _ in range(jobs):
        place = np.searchsorted(sums, rng.random(SERIES), side="right")
        spent += costs.cost[place]
        repaired += costs.released[place]
    short = spent - fee * (jobs - repaired)
    never = np.where(short > SLACK, np.inf, -np.inf)
    level: FloatArray = np.where(repaired > 0, short / np.maximum(repaired, 1), never)
    return level


def _least_price(level: FloatArray, chance: FloatArray, target: float) -> float | None:
    """The least price with which a loss is at most as likely as the target."""
    if target >= 1:
        return 0.0
    place = int(np.searchsorted(np.cumsum(chance), 1 - target - SLACK))
    found = float(level[min(place, len(level) - 1)])
    return None if np.isinf(found) and found > 0 else max(0.0, found)


@dataclass(frozen=True, slots=True)
class AtRate:
    """What another hourly rate makes of a job: its cash cost, break-even price and margin on average."""

    hour: float
    cost: float
    break_even: float | None
    margin: float


def at_rates(costs: Sequence[tuple[float, JobCosts]], *, fee: float, asked: float) -> tuple[AtRate, ...]:
    """Set the same procedure's costs at several hourly rates side by side."""
    return tuple(
        AtRate(hour, each.mean, break_even(each, fee), expected_margin(each, asked, fee))
        for hour, each in costs
    )
