"""Interval-censored times against scipy's exponential fit, closed forms and simulated comebacks."""

from math import inf

import numpy as np
import pytest
from scipy import stats

from benchlore.soak import NumberError, mean_of_intervals, times_within

RADIATION = (
    *[(45, inf), (25, 37), (37, inf), (6, 10), (46, inf), (0, 5), (0, 7), (26, 40), (18, inf), (46, inf)],
    *[(46, inf), (24, inf), (46, inf), (27, 34), (36, inf), (7, 16), (36, 44), (5, 11), (17, inf), (46, inf)],
    *[(19, 35), (7, 14), (36, 48), (17, 25), (37, 44), (37, inf), (24, inf), (0, 8), (40, inf), (32, inf)],
    *[(4, 11), (17, 25), (33, inf), (15, inf), (46, inf), (19, 26), (11, 15), (11, 18), (37, inf), (22, inf)],
    *[(38, inf), (34, inf), (46, inf), (5, 12), (36, inf), (46, inf)],
)
"""Months to breast retraction under radiotherapy: D. M. Finkelstein and R. A. Wolfe, *Biometrics* 41 (1985)."""


def mean_of(pairs):
    since, until = np.array(pairs, dtype=float).T
    return mean_of_intervals(since, until)


def test_the_mean_of_the_breast_retraction_data_is_scipys():
    # scipy.stats.CensoredData and expon.fit, the same likelihood maximised by another program.
    inside = [pair for pair in RADIATION if pair[1] < inf]
    data = stats.CensoredData(interval=inside, right=[a for a, b in RADIATION if b == inf])
    assert mean_of(RADIATION) == pytest.approx(stats.expon.fit(data, floc=0)[1], rel=1e-4)


def test_exact_times_and_those_that_go_on_have_the_total_time_over_the_events():
    # Epstein and Sobel, JASA 48 (1953): 7 + 12 + 30 of time, two events.
    assert mean_of([(7, 7), (12, 12), (30, inf)]) == pytest.approx(49 / 2, rel=1e-5)


def test_of_equal_times_the_mean_is_the_closed_one():
    """Of n times, x are by t and the others later: -t / ln(1 - x / n)."""
    assert mean_of([(0, 60)] * 3 + [(60, inf)] * 7) == pytest.approx(-60 / np.log(0.7), rel=1e-5)


def test_what_nothing_bounds_goes_to_an_end():
    assert mean_of([(0, 60)]) < 1.0
    assert mean_of([(60, inf)]) > 1e6
    assert mean_of([(0, 0)]) == 0.0


def test_simulated_comebacks_of_which_half_have_no_date_give_their_mean_back():
    rng = np.random.default_rng(3)
    came, seen = rng.exponential(80.0, 4000), rng.uniform(10, 200, 4000)
    dated = rng.random(4000) < 0.5
    since = np.where(came > seen, seen, np.where(dated, came, 0.0))
    until = np.where(came > seen, inf, np.where(dated, came, seen))
    assert mean_of_intervals(since, until) == pytest.approx(80.0, rel=0.05)


def test_times_within_are_those_of_the_rate_cut_off():
    # scipy.stats.truncexpon has the same times.
    found = times_within(np.array([30.0, 300.0]), 50.0, 10)
    for row, until in zip(found, (30.0, 300.0), strict=True):
        shares = (np.arange(10) + 0.5) / 10
        assert row == pytest.approx(stats.truncexpon.ppf(shares, until / 50.0, scale=50.0))
    assert times_within(np.array([30.0]), 1e9, 3)[0] == pytest.approx([5, 15, 25], rel=1e-5)
    assert times_within(np.array([30.0]), 0.0, 2).tolist() == [[0.0, 0.0]]


@pytest.mark.parametrize("pairs", [[(3, 2)], [(-1, 2)], [(np.nan, 2)]])
def test_times_that_run_backwards_are_refused(pairs):
    with pytest.raises(NumberError):
        mean_of(pairs)
