"""Everything that is told about forecasts."""

import numpy as np
import pytest
from forecast_makers import any_forecasts, drawn, reordered
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import TypeAdapter

from benchlore.proof import FLOOR, Calibration, calibration_of


def told(forecasts, base=None):
    found = calibration_of(*forecasts, rng=np.random.default_rng(1), base=base)
    assert found is not None
    return found


def test_no_forecasts_tell_nothing():
    assert calibration_of([], [], np.array([], dtype=np.int64), rng=np.random.default_rng(0)) is None


def test_forecasts_and_jobs_are_counted():
    found = told(drawn(np.random.default_rng(2), 24, jobs=6))
    assert (found.forecasts, found.jobs) == (24, 6)
    assert sum(one.events for one in found.bins) == sum(
        len(row) for row in drawn(np.random.default_rng(2), 24)[0]
    )


def test_what_was_as_good_as_ruled_out_is_counted():
    rows = [np.array([1.0, 0.0]), np.array([1 - FLOOR / 2, FLOOR / 2]), np.array([0.9, 0.1])]
    assert told((rows, [1, 1, 1], np.arange(3))).ruled_out == 2


def test_better_forecasts_than_the_base_gain():
    forecasts = drawn(np.random.default_rng(9), 200)
    found = told(forecasts, [np.full(len(row), 1 / len(row)) for row in forecasts[0]])
    for score in (found.log_score, found.brier):
        assert score.gain is not None
        assert score.skill is not None
        assert score.gain.low > 0
        assert 0 < score.skill.low < score.skill.high < 1


def test_one_base_may_serve_all_forecasts():
    rng = np.random.default_rng(3)
    prior = np.array([0.5, 0.3, 0.2])
    forecasts = ([prior] * 30, rng.choice(3, size=30, p=prior).tolist(), np.arange(30))
    once, each = told(forecasts, prior), told(forecasts, [prior] * 30)
    assert once == each
    assert once.brier.skill is not None
    assert once.brier.skill.value == 0


def test_without_a_base_there_is_no_gain():
    found = told(drawn(np.random.default_rng(2), 5))
    assert found.brier.base is found.brier.gain is found.brier.skill is None


def test_sharpness_tells_how_sure_forecasts_are():
    rows = [np.array([0.5, 0.5]), np.array([1.0, 0.0]), np.full(4, 0.25)]
    found = told((rows, [0, 0, 0], np.arange(3))).sharpness
    assert found.largest == pytest.approx((0.5 + 1 + 0.25) / 3)
    assert found.entropy == pytest.approx((1 + 0 + 2) / 3)
    assert [bar.low for bar in found.bars if bar.forecasts] == [0.2, 0.5, 0.98]
    assert sum(bar.forecasts for bar in found.bars) == 3


@settings(max_examples=40, deadline=None)
@given(any_forecasts(), st.randoms(use_true_random=False))
def test_the_order_of_forecasts_carries_no_meaning(forecasts, random):
    order = list(range(len(forecasts[0])))
    random.shuffle(order)
    assert told(forecasts) == told(reordered(forecasts, order))


@settings(max_examples=40, deadline=None)
@given(any_forecasts())
def test_a_calibration_goes_to_json_and_back(forecasts):
    adapter = TypeAdapter(Calibration)
    found = told(forecasts, [np.full(len(row), 1 / len(row)) for row in forecasts[0]])
    assert adapter.validate_json(adapter.dump_json(found)) == found


@settings(max_examples=40, deadline=None)
@given(any_forecasts())
def test_every_interval_holds_its_figure(forecasts):
    found = told(forecasts, [np.full(len(row), 1 / len(row)) for row in forecasts[0]])
    scores = [
        figure
        for score in (found.log_score, found.brier)
        for figure in (score.value, score.base, score.gain, score.skill)
    ]
    rest = [
        found.first,
        found.first_three,
        *(one.observed for one in found.bins),
        found.roc.area if found.roc else None,
    ]
    for figure in (*scores, *rest):
        assert figure is None or figure.low <= figure.value <= figure.high
    assert found.first.value <= found.first_three.value


def test_equal_inputs_give_equal_results():
    forecasts = drawn(np.random.default_rng(5), 30)
    assert told(forecasts) == told(forecasts)
