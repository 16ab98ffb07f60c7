"""Scores, and shares of forecasts whose foremost categories came true."""

from math import log

import numpy as np
import pytest
from forecast_makers import any_forecasts, drawn
from hypothesis import given, settings
from sklearn.metrics import brier_score_loss, log_loss, top_k_accuracy_score

from benchlore.proof import FLOOR, proportion
from benchlore.proof.pool import pooled
from benchlore.proof.scores import (
    WORST_BRIER,
    WORST_LOG,
    brier_scores,
    log_scores,
    places_taken,
    ratio,
    resamples,
    score_of,
    share_of,
)


def pool_of(forecasts):
    return pooled(*forecasts, None)[0]


def test_scores_are_those_of_scikit_learn():
    # Two general-purpose implementations of Good's and Brier's scores, scikit-learn 1.9
    rng = np.random.default_rng(4)
    rows = rng.dirichlet(np.full(5, 0.5), size=80)
    shown = [int(rng.choice(5, p=row)) for row in rows]
    pool = pool_of((list(rows), shown, np.arange(80)))
    assert log_scores(pool).mean() == pytest.approx(log_loss(shown, rows, labels=range(5)), rel=1e-9)
    brier = brier_score_loss(shown, rows, labels=range(5), scale_by_half=False)
    assert brier_scores(pool).mean() == pytest.approx(brier, rel=1e-9)
    for places in (1, 3):
        expected = top_k_accuracy_score(shown, rows, k=places, labels=range(5))
        assert places_taken(pool, places).mean() == pytest.approx(expected)


def test_a_brier_score_of_a_rain_forecast():
    # Brier 1950: the sum over both categories, so 0.7 for rain that came scores 0.3² + 0.3²
    assert brier_scores(pool_of(([np.array([0.7, 0.3])], [0], np.array([0])))) == pytest.approx([0.18])


def test_ruling_out_what_came_true_costs_no_more_than_the_floor():
    pool = pool_of(([np.array([1.0, 0.0]), np.array([1.0, 0.0])], [0, 1], np.array([0, 1])))
    assert log_scores(pool).tolist() == [0.0, pytest.approx(-log(FLOOR))]
    assert brier_scores(pool).tolist() == [0.0, 2.0]


@settings(deadline=None)
@given(any_forecasts())
def test_scores_stay_within_their_bounds(forecasts):
    pool = pool_of(forecasts)
    assert np.all((log_scores(pool) >= 0) & (log_scores(pool) <= WORST_LOG))
    assert np.all((brier_scores(pool) >= 0) & (brier_scores(pool) <= WORST_BRIER + 1e-12))
    one, three = places_taken(pool, 1), places_taken(pool, 3)
    assert np.all((one >= 0) & (one <= three) & (three <= 1))


def test_a_tie_for_the_last_place_shares_the_credit():
    rows = [np.array([0.4, 0.2, 0.2, 0.2]), np.array([0.5, 0.5]), np.array([0.6, 0.3, 0.1])]
    pool = pool_of((rows, [2, 0, 2], np.arange(3)))
    assert places_taken(pool, 1).tolist() == [0, 0.5, 0]
    assert places_taken(pool, 3).tolist() == [pytest.approx(2 / 3), 1, 1]


def test_what_is_gained_over_a_base_is_paired():
    rng = np.random.default_rng(8)
    forecasts = drawn(rng, 60)
    pool = pool_of(forecasts)
    own = brier_scores(pool)
    score = score_of(pool, own, own + 0.1, WORST_BRIER, resamples(pool.jobs, rng))
    assert score.gain is not None
    assert score.skill is not None
    assert score.base is not None
    assert (score.gain.value, score.gain.low, score.gain.high) == (pytest.approx(0.1),) * 3
    assert score.value.high - score.value.low > 0.1
    assert score.skill.value == pytest.approx(1 - score.value.value / score.base.value)
    assert score.skill.low < score.skill.value < score.skill.high


def test_there_is_no_skill_over_a_base_that_never_errs():
    pool = pool_of(([np.array([0.5, 0.5])] * 3, [0, 0, 0], np.arange(3)))
    score = score_of(
        pool, brier_scores(pool), np.zeros(3), WORST_BRIER, resamples(3, np.random.default_rng(0))
    )
    assert score.skill is None
    assert score.gain is not None
    assert score.gain.value == -0.5


def test_one_job_tells_hardly_anything():
    found = ratio(np.array([1.0]), np.array([1.0]), resamples(1, np.random.default_rng(0)), (0.0, 2.0))
    assert found.low < 0.2
    assert found.high > 1.8


def test_jobs_that_agree_leave_no_interval():
    found = ratio(np.full(9, 0.3), np.ones(9), resamples(9, np.random.default_rng(0)), (0.0, 2.0))
    assert found.low == found.value == found.high


def test_a_job_with_many_forecasts_weighs_as_many():
    found = ratio(
        np.array([1.0, 8.0]), np.array([1.0, 4.0]), resamples(2, np.random.default_rng(0)), (0.0, 5.0)
    )
    assert found.value == pytest.approx(9 / 5)


@pytest.mark.parametrize("jobs", [10, 40])
def test_the_interval_of_a_skewed_score_holds_the_truth(jobs: int):
    # Each of a job's 3 forecasts is sure to a degree of its job; 95 % of 300 less 3.5 standard deviations is 0.906
    rng = np.random.default_rng(jobs)

    def scores(count: int) -> np.ndarray:
        given = np.repeat(rng.beta(4, 0.5, size=count), 3)
        right = rng.random(3 * count) < given
        return -np.log(np.where(right, given, 1 - given).clip(FLOOR)).reshape(count, 3).sum(axis=1)

    truth = scores(200_000).mean() / 3
    held = 0
    for _ in range(300):
        found = ratio(scores(jobs), np.full(jobs, 3.0), resamples(jobs, rng), (0.0, WORST_LOG))
        held += found.low <= truth <= found.high
    assert 0.906 <= held / 300 <= 0.995


def test_a_share_of_independent_forecasts_has_wilsons_interval():
    pool = pool_of(([np.array([0.9, 0.1])] * 10, [0] * 8 + [1] * 2, np.arange(10)))
    found = share_of(pool, places_taken(pool, 1))
    expected = proportion(8, 10)
    assert (found.value, found.low, found.high) == pytest.approx(
        (expected.value, expected.low, expected.high)
    )


def test_a_share_of_forecasts_that_succeed_by_the_job_counts_jobs():
    pool = pool_of(([np.array([0.9, 0.1])] * 40, [0] * 20 + [1] * 20, np.repeat(np.arange(10), 4)))
    found = share_of(pool, places_taken(pool, 1))
    expected = proportion(5, 10)
    assert (found.low, found.high) == pytest.approx((expected.low, expected.high), abs=0.01)


def test_a_share_of_forecasts_that_succeed_by_the_job_in_part_counts_in_between():
    # Spread over jobs 10/9 · 28 against 40 · 1/4 if they were independent: 40 forecasts are worth 40 · 10 / 31.1
    right = [4, 4, 4, 3, 3, 1, 1, 0, 0, 0]
    shown = [int(place >= of_job) for of_job in right for place in range(4)]
    pool = pool_of(([np.array([0.9, 0.1])] * 40, shown, np.repeat(np.arange(10), 4)))
    found = share_of(pool, places_taken(pool, 1))
    worth = 40 * 10 / (10 / 9 * 28)
    # Wilson's interval of one half reaches z / (2 √(n + z²)) to each side
    assert (found.high - found.low) / 2 == pytest.approx(
        1.959964 / 2 / (worth + 1.959964**2) ** 0.5, rel=1e-6
    )


def test_where_all_forecasts_succeed_each_job_counts_once():
    pool = pool_of(([np.array([0.9, 0.1])] * 40, [0] * 40, np.repeat(np.arange(10), 4)))
    assert share_of(pool, places_taken(pool, 1)).low == pytest.approx(proportion(10, 10).low)


def test_the_interval_of_a_clustered_share_holds_the_truth():
    # 25 jobs of 6 forecasts whose chances of success differ by the job: beta(2, 2), mean one half
    rng = np.random.default_rng(12)
    held = 0
    for _ in range(400):
        right = rng.random((25, 6)) < rng.beta(2, 2, size=(25, 1))
        pool = pool_of(
            ([np.array([0.9, 0.1])] * 150, (~right).astype(int).ravel().tolist(), np.repeat(np.arange(25), 6))
        )
        found = share_of(pool, places_taken(pool, 1))
        held += found.low <= 0.5 <= found.high
    assert 0.91 <= held / 400 <= 0.98
