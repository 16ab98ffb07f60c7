import numpy as np
import pytest
from scipy import stats

from benchlore.money import AmountError, Demand, Purchase, Use, purchased, yearly


@pytest.mark.parametrize(
    ("discount", "years", "factor"),
    [(0.05, 5, 4.3295), (0.08, 10, 6.7101), (0.10, 3, 2.4869), (0.12, 20, 7.4694)],
)
def test_a_level_saving_is_worth_its_annuity_factor(discount, years, factor):
    """Tables of annuity factors as every finance textbook prints them, such as Brealey, Myers & Allen, appendix."""
    found = purchased([Use(1.0, Demand(1.0))], Purchase(0.0, years, discount), draws=10)
    assert found.most == pytest.approx(factor, abs=5e-5)


def test_payback_by_hand():
    """1,000 for 300 a year: back in 3.33 years; at 10 % the balance turns in year 5: 300 × 3.7908 = 1,137.24."""
    uses = [Use(20.0, Demand(10.0)), Use(50.0, Demand(2.0))]
    found = purchased(uses, Purchase(1000.0, 6, 0.10))
    assert found.payback == pytest.approx(1000 / 300)
    assert found.paid_by == 5
    assert found.value == pytest.approx(300 * 4.3553 - 1000, abs=0.02)  # annuity table, 6 years at 10 %
    late = purchased(uses, Purchase(1400.0, 6, 0.10))
    assert (late.pays, late.paid_by) == (False, None)
    assert late.most == pytest.approx(found.most)


def test_at_the_most_that_may_be_paid_it_just_pays():
    uses = [Use(20.0, Demand(10.0, 4.5))]
    most = purchased(uses, Purchase(0.0)).most
    assert purchased(uses, Purchase(most)).pays
    assert not purchased(uses, Purchase(most + 0.01)).pays


def test_the_range_is_that_of_the_demand():
    """With one complaint a year's saving is a gamma distribution, whose quantiles scipy has."""
    found = yearly([Use(20.0, Demand(3.0, 4.5))], draws=200_000)
    exact = stats.gamma.ppf((0.05, 0.95), 4.5, scale=20 * 3 / 4.5)
    assert (found.low, found.high) == pytest.approx(tuple(exact), rel=0.01)
    assert found.saved == 60.0
    known = yearly([Use(20.0, Demand(3.0))])
    assert (known.low, known.saved, known.high) == (60.0, 60.0, 60.0)


def test_what_saves_nothing_never_comes_back():
    found = purchased([Use(0.0, Demand(10.0))], Purchase(10.0))
    assert (found.payback, found.paid_by, found.value, found.chance) == (None, None, -10.0, 0.0)
    assert purchased([], Purchase(0.0)).pays


def test_what_saves_more_is_never_worth_less_by_any_draw():
    less, more = (purchased([Use(s, Demand(3.0, 2.5))], Purchase(100.0)) for s in (10.0, 11.0))
    assert np.all(np.array([less.low, less.value, less.high]) < [more.low, more.value, more.high])
    assert less.chance <= more.chance


@pytest.mark.parametrize(("price", "years", "discount"), [(-1, 5, 0.1), (1, 0, 0.1), (1, 5, -0.1)])
def test_numbers_without_sense_are_refused(price, years, discount):
    with pytest.raises(AmountError, match="makes no sense"):
        Purchase(price, years, discount)
