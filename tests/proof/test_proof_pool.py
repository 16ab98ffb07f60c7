"""Forecasts are checked and laid out."""

import numpy as np
import pytest

from benchlore.proof.pool import pooled

HALVES = np.array([0.5, 0.5])


def test_categories_are_laid_out_one_forecast_after_the_other():
    pool, base = pooled([np.array([0.2, 0.8]), np.array([0.5, 0.25, 0.25])], [1, 2], np.array([7, 9]), None)
    assert base is None
    assert pool.chances.tolist() == [0.2, 0.8, 0.5, 0.25, 0.25]
    assert pool.starts.tolist() == [0, 2]
    assert pool.lengths.tolist() == [2, 3]
    assert pool.happened.tolist() == [False, True, False, False, True]
    assert pool.of_shown.tolist() == [0.8, 0.25]
    assert pool.sums(pool.chances).tolist() == [1, 1]


def test_jobs_are_numbered_and_sums_are_taken_over_them():
    pool, _ = pooled([HALVES] * 4, [0, 1, 0, 1], np.array([30, 10, 30, 20]), None)
    assert (pool.forecasts, pool.jobs) == (4, 3)
    assert pool.per_job(np.ones(4)).tolist() == [1, 1, 2]


def test_a_base_forecast_stays_with_its_forecast():
    rows = [np.array([0.9, 0.1]), np.array([0.3, 0.7]), np.array([0.1, 0.9])]
    pool, base = pooled(rows, [1, 0, 1], np.array([2, 1, 0]), [row[::-1] for row in rows])
    assert base is not None
    assert base.chances.tolist() == [0.9, 0.1, 0.7, 0.3, 0.1, 0.9]
    assert pool.chances.tolist() == [0.1, 0.9, 0.3, 0.7, 0.9, 0.1]


@pytest.mark.parametrize("row", [[0.5, 0.4], [1.5, -0.5], [float("nan"), 1.0], [float("inf"), 0.0]])
def test_what_is_no_distribution_is_refused(row: list[float]):
    with pytest.raises(ValueError, match="forecast 1 is no probability distribution"):
        pooled([HALVES, np.array(row)], [0, 0], np.array([0, 1]), None)


def test_a_category_that_the_forecast_does_not_have_is_refused():
    with pytest.raises(ValueError, match="forecast 0 has 2 categories, but category 2 came true"):
        pooled([HALVES], [2], np.array([0]), None)
    with pytest.raises(ValueError, match="category -1 came true"):
        pooled([HALVES], [-1], np.array([0]), None)


def test_numbers_that_do_not_fit_together_are_refused():
    with pytest.raises(ValueError, match="got 1, 2, 1 and no"):
        pooled([HALVES], [0, 0], np.array([0]), None)
    with pytest.raises(ValueError, match="got 1, 1, 1 and 2"):
        pooled([HALVES], [0], np.array([0]), [HALVES, HALVES])
    with pytest.raises(ValueError, match="forecast 0 has 2 categories, its base has 3"):
        pooled([HALVES], [0], np.array([0]), [np.full(3, 1 / 3)])
