"""Cure rates against the leukaemia data of Freireich and statsmodels."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from statsmodels.duration.survfunc import SurvfuncRight

from benchlore.soak import NumberError, cure_curve

EVENTS = (6, 6, 6, 7, 10, 13, 16, 22, 23)
CENSORED = (6, 9, 10, 11, 17, 19, 20, 25, 32, 32, 34, 35)
"""Weeks of remission under 6-MP: E. J. Freireich et al., *Blood* 21 (1963); E. A. Gehan, *Biometrika* 52 (1965)."""
TIMES = np.array([*EVENTS, *CENSORED], dtype=float)
BACK = np.array([1.0] * len(EVENTS) + [0.0] * len(CENSORED))


def test_the_product_limit_of_the_leukaemia_data():
    curve = cure_curve(TIMES, BACK)
    assert curve.times.tolist() == [6, 7, 10, 13, 16, 22, 23]
    assert curve.share == pytest.approx([0.8571, 0.8067, 0.7529, 0.6902, 0.6275, 0.5378, 0.4482], abs=5e-5)
    assert curve.deviation == pytest.approx(
        [0.0764, 0.0869, 0.0963, 0.1068, 0.1141, 0.1282, 0.1346], abs=5e-5
    )
    assert (curve.back, len(curve.follows)) == (9, 21)


def test_limits_are_the_log_log_ones():
    # R's survfit(conf.type = "log-log") prints 0.620 to 0.952 after 6 weeks, 0.268 to 0.747 (from memory 0.188 to
    # 0.680 after 23): the formula is checked against its own definition below.
    curve = cure_curve(TIMES, BACK)
    log_log = np.log(-np.log(curve.share))
    reach = 1.959964 * curve.deviation / (curve.share * abs(np.log(curve.share)))
    assert curve.low == pytest.approx(np.exp(-np.exp(log_log + reach)), rel=1e-6)
    assert curve.high == pytest.approx(np.exp(-np.exp(log_log - reach)), rel=1e-6)
    assert (curve.low[0], curve.high[0]) == pytest.approx((0.620, 0.952), abs=5e-4)


@given(st.lists(st.tuples(st.integers(0, 40), st.booleans()), min_size=2, max_size=40))
def test_the_curve_is_statsmodels(rows):
    times = np.array([time for time, _ in rows], dtype=float)
    back = np.array([float(came) for _, came in rows])
    curve = cure_curve(times, back)
    if not back.any():
        assert len(curve.times) == 0
        return
    theirs = SurvfuncRight(times + 1, back)
    assert curve.share == pytest.approx(theirs.surv_prob)
    assert curve.times + 1 == pytest.approx(theirs.surv_times)
    inside = curve.share > 0
    assert curve.deviation[inside] == pytest.approx(theirs.surv_prob_se[inside])


def test_the_share_at_a_time_is_that_of_the_last_comeback():
    curve = cure_curve(TIMES, BACK)
    assert curve.at(5.9)[0] == 1.0
    assert curve.at(9.0) == (curve.share[1], curve.low[1], curve.high[1])


def test_none_back_of_n_has_the_exact_limit():
    # 3 of 4 boards were followed for 30 days: 0.025 ** (1 / 3) is Clopper and Pearson's limit.
    curve = cure_curve(np.array([10.0, 40, 50, 60]), np.zeros(4))
    assert curve.at(30.0) == (1.0, pytest.approx(0.025 ** (1 / 3)), 1.0)
    assert curve.at(90.0) == (1.0, 0.0, 1.0)


def test_limits_hold_the_truth_as_often_as_they_say():
    rng = np.random.default_rng(5)
    held = 0
    for _ in range(600):
        comes = np.where(rng.random(60) < 0.75, np.inf, rng.exponential(20, 60))
        until = rng.uniform(20, 120, 60)
        _, low, high = cure_curve(np.minimum(comes, until), (comes <= until).astype(float)).at(30.0)
        held += low <= 0.75 + 0.25 * np.exp(-1.5) <= high
    assert 0.92 <= held / 600 <= 0.98


def test_no_board_has_no_curve():
    with pytest.raises(NumberError):
        cure_curve(np.array([]), np.array([]))


def test_where_all_came_back_the_limit_is_the_exact_one_of_the_last():
    # Clopper and Pearson: none of three still cured, at most 1 - 0.025 ** (1 / 3).
    curve = cure_curve(np.array([4.0, 4, 4]), np.ones(3))
    assert curve.at(5.0) == (0.0, 0.0, pytest.approx(1 - 0.025 ** (1 / 3)))
