"""Trends against the NIST/SEMATECH e-Handbook, section 8.2.3.4 and 8.4.5.2, and published records."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchlore.soak import NumberError, burst_proof, laplace, military, power_law, reverse_arrangements

TIMES = np.array([5, 40, 43, 175, 389, 712, 747, 795, 1299, 1478.0])
END = 1500.0
INTERVALS = np.diff(np.concatenate([[0], TIMES]))

PLANE_7908 = (413, 14, 58, 37, 100, 65, 9, 169, 447, 184, 36, 201, 118, 34, 31, 18, 18, 67, 57, 62, 7, 22, 34)
PLANE_7909 = (
    90,
    10,
    60,
    186,
    61,
    49,
    14,
    24,
    56,
    20,
    79,
    84,
    44,
    59,
    29,
    118,
    25,
    156,
    310,
    76,
    26,
    44,
    23,
    62,
)
"""Hours between failures of the air conditioning of two planes: F. Proschan, *Technometrics* 5 (1963) 375-383;
read in scipy's tests of the k-sample Anderson-Darling test (F. W. Scholz and M. A. Stephens, *JASA* 82, 1987),
where plane 7908 is in two parts because of an overhaul after the thirteenth failure."""


def test_reverse_arrangements_of_the_handbook():
    found = reverse_arrangements(INTERVALS)
    assert found.statistic == 33
    assert found.rarer == pytest.approx(0.036275, abs=1e-6)


@pytest.mark.parametrize(
    ("n", "critical"),
    [
        (5, (9, 9, 10)),
        (6, (12, 13, 14)),
        (7, (16, 17, 19)),
        (8, (20, 22, 24)),
        (9, (25, 27, 30)),
        (10, (31, 33, 36)),
        (11, (37, 39, 43)),
    ],
)
def test_critical_values_of_reverse_arrangements(n, critical):
    # Handbook 8.2.3.4: the smallest R with a chance of at most 10, 5 and 1 %.
    chances = {}
    intervals = np.arange(1.0, n + 1)
    order = list(range(n))
    # Sorting by neighbours' swaps takes one arrangement away at a time.
    for _ in range(n * (n - 1) // 2 + 1):
        found = reverse_arrangements(intervals[order])
        chances[int(found.statistic)] = found.rarer
        for k in range(n - 1):
            if order[k] < order[k + 1]:
                order[k], order[k + 1] = order[k + 1], order[k]
                break
    smallest = tuple(min(r for r, p in chances.items() if p <= level) for level in (0.10, 0.05, 0.01))
    assert smallest == critical


def test_military_and_laplace_of_the_handbook():
    found = military(TIMES, END)
    assert found.statistic == pytest.approx(37.228081, abs=1e-6)
    assert found.oftener == pytest.approx(0.989014, abs=1e-6)
    found = laplace(TIMES, END)
    assert found.statistic == pytest.approx(-1.326949, abs=1e-6)
    assert found.rarer == pytest.approx(0.092263, abs=1e-6)


def test_power_law_of_the_handbook():
    found = power_law(TIMES, END)
    assert (found.growth, found.exponent, found.scale) == pytest.approx(
        (0.516494, 0.483506, 0.2913003), rel=2e-6
    )
    assert (found.now, found.low, found.high) == pytest.approx((310.234, 157.7138, 548.5566), rel=1e-6)
    assert float(found.expected(END)) == pytest.approx(len(TIMES))


def test_a_plane_with_an_overhaul_changed_and_one_without_did_not():
    # Derived from the data; no published value to compare with.
    overhauled, steady = (
        laplace(np.cumsum(np.array(plane, dtype=float))) for plane in (PLANE_7908, PLANE_7909)
    )
    assert overhauled.either < 0.05
    assert not overhauled.is_rarer
    assert steady.either > 0.2


def test_with_an_end_at_the_last_event_that_event_is_not_counted():
    cut = laplace(TIMES)
    assert cut.statistic == laplace(TIMES[:-1], float(TIMES[-1])).statistic
    assert military(TIMES).statistic == military(TIMES[:-1], float(TIMES[-1])).statistic


@given(st.lists(st.floats(0.01, 0.99), min_size=4, max_size=30), st.floats(1e-3, 1e6))
def test_the_unit_of_time_does_not_matter(shares, unit):
    times = np.sort(np.array(shares))
    for test in (laplace, military):
        assert test(times * unit, unit).statistic == pytest.approx(test(times, 1.0).statistic, abs=1e-9)


@given(st.lists(st.floats(0.01, 0.99), min_size=4, max_size=30))
def test_a_record_read_backwards_has_laplaces_opposite_trend(shares):
    times = np.sort(np.array(shares))
    forth, back = laplace(times, 1.0), laplace(np.sort(1 - times), 1.0)
    assert forth.statistic == pytest.approx(-back.statistic, abs=1e-9)
    assert forth.either == pytest.approx(back.either)


@pytest.mark.parametrize("test", [laplace, military])
@pytest.mark.parametrize("truncated", [True, False])
def test_a_constant_rate_shows_a_trend_as_seldom_as_stated(test, truncated):
    rng = np.random.default_rng(11)
    found = 0
    for _ in range(1000):
        times = np.sort(rng.uniform(0, 1, 12)) if truncated else np.cumsum(rng.exponential(1, 12))
        found += test(times, 1.0 if truncated else None).either < 0.05
    assert 0.033 <= found / 1000 <= 0.067


def test_bursts_weaken_a_trend():
    trend = laplace(TIMES, END)
    uneven = np.array([1, 1, 1, 1, 900.0])
    assert abs(burst_proof(trend, uneven).statistic) < abs(trend.statistic)


@pytest.mark.parametrize(
    "call",
    [
        lambda: laplace(np.array([]), 5.0),
        lambda: laplace(np.array([1.0])),
        lambda: military(np.array([1.0, 7.0]), 5.0),
        lambda: power_law(np.array([1.0, 2.0]), 5.0),
        lambda: reverse_arrangements(np.array([1.0])),
    ],
)
def test_too_few_events_and_ends_before_them_are_refused(call):
    with pytest.raises(NumberError, match="is expected"):
        call()
