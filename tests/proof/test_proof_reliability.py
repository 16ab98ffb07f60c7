"""Bins, Murphy's parts, and the test of whether forecasts keep their promise."""

import numpy as np
import pytest
from forecast_makers import any_forecasts, drawn
from hypothesis import given, settings
from scipy.stats import kstest
from sklearn.calibration import calibration_curve

from benchlore.proof import proportion
from benchlore.proof.pool import pooled
from benchlore.proof.reliability import EDGES, bins_of, murphy, parts_of, spiegelhalter

# Wilks, Statistical Methods in the Atmospheric Sciences, table 7.3 (12 classes of forecasts of rain), as quoted in the
# documentation of the R package "verification": forecasts, observed shares, shares of use.
FORECAST = np.array([0, 0.05, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0])
OBSERVED = np.array([0.006, 0.019, 0.059, 0.15, 0.277, 0.377, 0.511, 0.587, 0.723, 0.779, 0.934, 0.933])
USED = np.array(
    [0.4112, 0.0671, 0.1833, 0.0986, 0.0616, 0.0366, 0.0303, 0.0275, 0.0245, 0.022, 0.017, 0.0203]
)


def pool_of(forecasts):
    return pooled(*forecasts, None)[0]


def test_parts_of_wilks_table_of_rain_forecasts():
    # With the printed base rate 0.162 the parts are 0.00082762, 0.06278687 and 0.135756 and the score 0.07379674;
    # ours use the rate 0.161503 that follows from the table, for which the identity is exact.
    reliability, resolution, uncertainty = murphy(FORECAST, OBSERVED, USED)
    overall = float(USED @ OBSERVED)
    assert overall == pytest.approx(0.161503, abs=1e-6)
    assert reliability == pytest.approx(0.00082762, abs=1e-8)
    assert resolution + (overall - 0.162) ** 2 == pytest.approx(0.06278687, abs=1e-8)
    assert uncertainty == pytest.approx(0.135756 - (0.162 - overall) * (1 - 0.162 - overall), abs=1e-8)
    brier = float(USED @ (OBSERVED * (1 - FORECAST) ** 2 + (1 - OBSERVED) * FORECAST**2))
    assert reliability - resolution + uncertainty == pytest.approx(brier, abs=1e-12)


@settings(deadline=None)
@given(any_forecasts())
def test_the_parts_add_up_to_the_score(forecasts):
    pool = pool_of(forecasts)
    parts = parts_of(pool)
    total = parts.reliability - parts.resolution + parts.uncertainty + parts.within_variance
    assert total - parts.within_covariance == pytest.approx(parts.brier, abs=1e-12)
    assert parts.brier == pytest.approx(float(np.mean((pool.chances - pool.happened) ** 2)))


def test_forecasts_alike_within_each_bin_have_nothing_within():
    rows = [np.array([0.25, 0.75])] * 6 + [np.array([0.03, 0.97])] * 4
    parts = parts_of(pool_of((rows, [0, 1, 1, 1, 1, 1, 1, 1, 1, 0], np.arange(10))))
    assert (parts.within_variance, parts.within_covariance) == (pytest.approx(0), pytest.approx(0))


def test_bins_are_those_of_scikit_learn_where_edges_agree():
    rng = np.random.default_rng(3)
    pool = pool_of(drawn(rng, 900))
    tenths = [found for found in bins_of(pool) if found.low >= 0.1 and found.high <= 0.9]
    observed, forecast = calibration_curve(pool.happened, pool.chances, n_bins=10)
    assert [found.observed.value for found in tenths] == pytest.approx(observed[1:9])
    assert [found.forecast for found in tenths] == pytest.approx(forecast[1:9])


def test_bins_hold_every_event_once_and_empty_ones_are_left_out():
    rows = [np.array([0.02, 0.98]), np.array([0.0, 1.0]), np.array([0.019, 0.981])]
    bins = bins_of(pool_of((rows, [1, 1, 0], np.arange(3))))
    assert [(found.low, found.high, found.events) for found in bins] == [
        (0, 0.02, 2),
        (0.02, 0.05, 1),
        (0.98, 1, 3),
    ]
    assert bins[0].observed == proportion(1, 2)
    assert bins[0].forecast == pytest.approx(0.0095)


def test_bins_cover_the_scale():
    assert EDGES[0] == 0
    assert EDGES[-1] == 1
    assert list(EDGES) == sorted(EDGES)


def test_the_bins_of_right_forecasts_hold_what_was_forecast():
    rng = np.random.default_rng(21)
    held = [
        found.observed.low <= found.forecast <= found.observed.high
        for _ in range(40)
        for found in bins_of(pool_of(drawn(rng, 150)))
    ]
    assert np.mean(held) >= 0.93


def test_for_two_categories_the_statistic_is_spiegelhalters():
    # Spiegelhalter 1986: z = sum (o - p)(1 - 2p) / sqrt(sum (1 - 2p)² p (1 - p))
    rng = np.random.default_rng(5)
    chances = rng.random(50)
    happened = rng.random(50) < chances
    rows = [np.array([1 - chance, chance]) for chance in chances]
    found = spiegelhalter(pool_of((rows, happened.astype(int).tolist(), np.arange(50))), rng)
    weights = 1 - 2 * chances
    expected = np.sum((happened - chances) * weights) / np.sqrt(np.sum(weights**2 * chances * (1 - chances)))
    assert found is not None
    assert found.z == pytest.approx(expected)


def test_p_is_the_share_of_all_outcomes_that_are_as_far_off():
    # Two forecasts have four outcomes: given 0.9 and 0.8, probabilities add up to 1.7, 1.1, 0.9, 0.3.
    pool = pool_of(([np.array([0.9, 0.1]), np.array([0.8, 0.2])], [1, 0], np.arange(2)))
    found = spiegelhalter(pool, np.random.default_rng(1))
    assert found is not None
    # 0.9 or less: 0.1 · 0.8 + 0.1 · 0.2 = 0.10, doubled
    assert found.p == pytest.approx(0.2, abs=0.04)
    assert found.promised == pytest.approx(((1 - 0.82) + (1 - 0.68)) / 2)
    assert found.found == pytest.approx((0.9**2 * 2 + 0.2**2 * 2) / 2)


def test_certain_and_even_forecasts_leave_nothing_to_test():
    rng = np.random.default_rng(0)
    assert spiegelhalter(pool_of(([np.array([1.0, 0.0])] * 3, [0, 0, 1], np.arange(3))), rng) is None
    assert spiegelhalter(pool_of(([np.full(3, 1 / 3)] * 3, [0, 1, 2], np.arange(3))), rng) is None


def test_p_is_uniform_when_forecasts_are_right():
    rng = np.random.default_rng(31)
    found = [spiegelhalter(pool_of(drawn(rng, 40)), rng) for _ in range(400)]
    assert kstest([test.p for test in found if test], "uniform").pvalue > 0.01


def test_p_is_uniform_when_each_reading_is_forecast_from_those_before_it():
    # A job has one of two hidden faults; its 8 readings are forecast by Bayes from those before. Readings of a job depend
    # on each other as strongly as they can, and the test holds without counting jobs.
    rng = np.random.default_rng(32)
    shows = np.array([0.85, 0.25])
    ps = []
    for _ in range(250):
        rows, shown = [], []
        for fault in rng.random(25) < 0.5:
            belief = np.array([0.5, 0.5])
            for _ in range(8):
                chance = float(belief @ shows)
                reading = rng.random() < shows[int(fault)]
                rows.append(np.array([1 - chance, chance]))
                shown.append(int(reading))
                belief = belief * (shows if reading else 1 - shows)
                belief /= belief.sum()
        found = spiegelhalter(pool_of((rows, shown, np.repeat(np.arange(25), 8))), rng)
        assert found is not None
        ps.append(found.p)
    assert kstest(ps, "uniform").pvalue > 0.01


@pytest.mark.parametrize(("power", "sign"), [(2.0, 1), (0.5, -1)])
def test_forecasts_too_sure_or_too_timid_are_found_out(power: float, sign: int):
    rng = np.random.default_rng(33)
    found = [spiegelhalter(pool_of(drawn(rng, 120, power=power, spread=1.0)), rng) for _ in range(50)]
    assert np.mean([test is not None and test.p < 0.05 and test.z * sign > 0 for test in found]) >= 0.9
