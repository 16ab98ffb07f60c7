from itertools import product

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchlore.book import read_book
from benchlore.model import build
from benchlore.money import (
    AmountError,
    Demand,
    Research,
    Served,
    knowing_cost,
    knowing_only,
    marginal,
    stop_at,
    values_along,
    verdict,
)
from benchlore.procedure import Effort, plan
from benchlore.shop import Shop
from soak_book import BOOK

SHOP = Shop("Quay", "EUR", 60.0, 6.0, diagnostic_fee=10.0)


@pytest.fixture(scope="module")
def model():
    return build(read_book(BOOK).book, "dead")


def test_who_knows_every_fault_pays_what_the_procedure_promises(model):
    known = knowing_cost(model, SHOP, frozenset(model.faults), effort=Effort.QUICK)
    assert known.each == pytest.approx(plan(model, SHOP).expected)


def test_who_knows_nothing_returns_every_board(model):
    known = knowing_cost(model, SHOP, frozenset(), effort=Effort.QUICK)
    assert known.each == pytest.approx(110.0)  # worth 120 less the fee of 10
    assert known.known is None


def test_costs_of_boards_with_known_and_unknown_faults_make_up_the_cost(model):
    known = knowing_cost(model, SHOP, frozenset({"joint"}), effort=Effort.QUICK)
    share = model.fault_probabilities[model.faults.index("joint")]
    assert known.each == pytest.approx(share * known.known + (1 - share) * known.unknown)
    assert known.known < known.each < known.unknown


def test_what_was_not_seen_counts_as_unlisted(model):
    limited = knowing_only(model, frozenset({"joint"}))
    chances = dict(zip(limited.faults, limited.fault_probabilities, strict=True))
    assert chances["timer"] == 0
    assert sum(chances.values()) == pytest.approx(1)
    assert limited.prior.sum() == pytest.approx(model.prior.sum())


WEIGHT = float(Research(0, 0, 0, Demand(0), 1, 4, 0.05).weights.sum())


def test_the_value_at_a_point_is_that_of_research():
    """200 h at 45, three jobs a year, 60 a job, four years at 5 %: as ``verdict`` has it, year by year."""
    served = Served(45.0, Demand(3.0), 15.0, WEIGHT)
    (found,) = values_along(np.array([60.0]), np.array([200.0]), served, 45.0)
    assert found == pytest.approx(verdict(Research(200, 45, 60, Demand(3.0), 15, 4, 0.05), draws=10).value)


def test_hard_random_restarts_are_researched_for_the_field_and_not_for_one_shop():
    """Common practice, no source: 100 to 300 h to find the fault, at most five jobs a year, 40 to 200 charged.

    Nothing is saved before the fault is found; half of the charge is margin.
    """
    for found_after, charge, jobs in product((100.0, 300.0), (40.0, 200.0), (1.0, 5.0)):
        hours = np.array([0.0, found_after / 2, found_after, 2 * found_after])
        saved = np.array([0.0, 0.0, charge / 2, charge / 2])
        assert stop_at(saved, hours, Served(45.0, Demand(jobs), 1.0, WEIGHT)).place == 0
        field = stop_at(saved, hours, Served(45.0, Demand(jobs), 3000.0, WEIGHT))
        assert (field.place, field.still) == (2, False), "found, and no hour more"


@given(
    st.lists(st.floats(0, 10), min_size=2, max_size=8),
    st.floats(0, 100),
    st.floats(0.1, 50),
)
def test_on_a_curve_that_flattens_research_stops_where_an_hour_brings_less_than_it_costs(gains, rate, jobs):
    saved = np.concatenate([[0.0], np.cumsum(sorted(gains, reverse=True))])
    hours = np.arange(len(saved), dtype=np.float64)
    served = Served(rate, Demand(jobs), 1.0, WEIGHT)
    stop, next_hour = stop_at(saved, hours, served), marginal(saved, hours, served)
    assert np.all(next_hour[: stop.place] >= rate - 1e-6)
    assert np.all(next_hour[stop.place :] <= rate + 1e-6)
    assert stop.value == pytest.approx(values_along(saved, hours, served, jobs).max())


def test_uncertain_demand_leaves_open_where_to_stop():
    saved, hours = np.sqrt(np.arange(30.0)), np.arange(30.0)
    stop = stop_at(saved, hours, Served(20.0, Demand(10.0, 2.5), 1.0, 4.0))
    assert stop.low < stop.place < stop.high


@pytest.mark.parametrize(("rate", "shops"), [(-1.0, 1.0), (1.0, -1.0), (float("nan"), 1.0)])
def test_numbers_without_sense_are_refused(rate, shops):
    with pytest.raises(AmountError, match="makes no sense"):
        Served(rate, Demand(1.0), shops, 4.0)
