from itertools import product

import numpy as np
import pytest

from benchlore.money.errors import AmountError
from benchlore.money.research import (
    Demand,
    Research,
    demand_from_jobs,
    demand_from_quantiles,
    deviation,
    values,
    verdict,
)
from benchlore.units import money


@pytest.mark.parametrize(
    ("discount", "years", "factor"),
    [(0.05, 5, 4.3295), (0.08, 10, 6.7101), (0.10, 3, 2.4869), (0.12, 20, 7.4694)],
)
def test_a_level_gain_is_worth_its_annuity_factor(discount, years, factor):
    """Tables of annuity factors as every finance textbook prints them; recomputed as (1 - (1 + r)^-n) / r."""
    found = verdict(Research(0, 0, 1.0, Demand(1.0), years=years, discount=discount))
    assert found.value == pytest.approx(factor, abs=5e-5)
    assert found.value == pytest.approx((1 - (1 + discount) ** -years) / discount)


def test_year_by_year_by_hand():
    """1,000 for research, 10 jobs at 40 in the first year, a tenth fewer each year, 10 % a year."""
    found = verdict(
        Research(20, 50, 40.0, Demand(2.0), shops=5, years=3, discount=0.10, fading=0.10),
    )
    assert [year.jobs for year in found.years] == pytest.approx([10, 9, 8.1])
    assert [year.gain for year in found.years] == pytest.approx([400, 360, 324])
    balances = [
        -1000 + 400 / 1.1,
        -1000 + 400 / 1.1 + 360 / 1.21,
        -1000 + 400 / 1.1 + 360 / 1.21 + 324 / 1.331,
    ]
    assert [year.balance for year in found.years] == pytest.approx(balances)
    assert found.value == pytest.approx(balances[-1])
    assert found.payback is None
    assert not found.pays


@pytest.mark.parametrize("hours", [100, 300])
def test_hard_random_restarts_pay_for_the_field_and_not_for_one_shop(hours):
    """Common practice, no source: 100 to 300 h on an unfamiliar board, at most five times a year, 40 to 200 charged.

    Best case for the shop: every charge is margin, its hours cost it 30, the device lives five years.
    """
    for charge, jobs, rate in product((40.0, 200.0), (1.0, 5.0), (30.0, 60.0)):
        alone = Research(hours, rate, charge, Demand(jobs), shops=1, years=5, discount=0.05)
        found = verdict(alone, draws=100)
        best = (hours, charge, jobs, rate) == (100, 200.0, 5.0, 30.0)
        assert found.pays == best, "only the luckiest corner of all pays for a shop alone"
        assert found.least_shops <= 2080
        assert verdict(Research(hours, rate, charge, Demand(jobs), shops=3000, years=5), draws=100).pays


def test_the_middle_of_common_practice_in_figures():
    """200 h at 45, three jobs a year, 120 charged of which half is margin, four years at 5 % (common practice, no source)."""
    found = verdict(Research(200, 45, 60.0, Demand(3.0), years=4, discount=0.05))
    assert found.value == pytest.approx(-9000 + 180 * 3.5459505, abs=0.01)
    assert found.least_shops == 15
    assert verdict(Research(200, 45, 60.0, Demand(3.0), shops=15, years=4), draws=10).pays
    assert not verdict(Research(200, 45, 60.0, Demand(3.0), shops=14, years=4), draws=10).pays
    assert found.most_hours == pytest.approx(180 * 3.5459505 / 45, abs=1e-3)


def test_spread_of_gamma_and_poisson_in_closed_form():
    research = Research(10, 10, 7.0, Demand(3.0, 2.5), shops=4, years=3, discount=0.1, fading=0.2)
    drawn = values(research, np.random.default_rng(0), 200_000)
    assert drawn.std() == pytest.approx(deviation(research), rel=0.01)
    mean = 7 * 12 * research.weights.sum() - 100
    assert drawn.mean() == pytest.approx(mean, abs=5 * deviation(research) / np.sqrt(200_000))


def test_a_gamma_distribution_from_two_quantiles():
    """NIST/SEMATECH e-Handbook 8.2.5: median MTBF 600 h, above 250 h with 95 %: shape 2.863, rate 1522.46 (rounded)."""
    found = demand_from_quantiles(1 / 600, 1 / 250)
    assert found.shape == pytest.approx(2.863055, rel=1e-5)
    assert found.shape / found.mean == pytest.approx(1522.506, rel=1e-5)


def test_demand_from_recorded_jobs():
    found = demand_from_jobs(12, 4.0)
    assert (found.mean, found.shape) == (12.5 / 4, 12.5)


@pytest.mark.parametrize(
    "make",
    [
        lambda: Research(-1, 50, 40, Demand(1)),
        lambda: Research(1, -50, 40, Demand(1)),
        lambda: Demand(-1),
        lambda: Demand(float("nan")),
        lambda: Research(1, 1, 1, Demand(1), years=0),
        lambda: Research(1, 1, 1, Demand(1), fading=1.0),
        lambda: demand_from_jobs(3, 0),
        lambda: demand_from_quantiles(5, 4),
        lambda: Research(1, 1, float("nan"), Demand(1)),
        lambda: Research(1, 1, float("inf"), Demand(1)),
        lambda: Research(1, 1, -1e12, Demand(1)),
        lambda: Research(1, 1e12, 1, Demand(1)),
        lambda: Research(1, 1, 1, Demand(1), shops=1e8),
        lambda: Demand(1e8),
    ],
)
def test_numbers_that_make_no_sense_are_refused(make):
    with pytest.raises(AmountError, match="makes no sense here"):
        make()


def test_the_largest_numbers_that_are_taken_have_a_verdict():
    found = verdict(Research(9e11, 9e11, 9e11, Demand(9e7, 0.5), shops=9e7, years=100), draws=100)
    assert np.isfinite([found.value, found.low, found.high, found.chance, found.years[-1].balance]).all()
    assert money(found.value, "EUR").endswith(" EUR")


def test_research_that_gains_nothing_never_pays():
    found = verdict(Research(10, 10, 0.0, Demand(5)))
    assert (found.least_shops, found.least_jobs, found.payback, found.chance) == (None, None, None, 0.0)
    assert verdict(Research(10, 10, 5.0, Demand(0))).least_shops is None
