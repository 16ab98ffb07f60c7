"""The area under the receiver operating characteristic."""

import numpy as np
import pytest
from forecast_makers import drawn
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import norm
from sklearn.metrics import roc_auc_score

from benchlore.proof.pool import pooled
from benchlore.proof.ranking import roc_area, roc_of

LEVELS = np.array([1.0, 2, 3, 4, 5])


def test_readings_of_ct_images_rank_as_published():
    # Hanley & McNeil 1982, Radiology 143, 29-36: 109 readings on a five-point scale; area 0.893, standard error 0.032
    found = roc_area(np.repeat(LEVELS, [3, 2, 2, 11, 33]), np.repeat(LEVELS, [33, 6, 6, 11, 2]))
    assert found is not None
    assert found.area.value == pytest.approx(0.893171, abs=1e-6)
    assert found.error == pytest.approx(0.031990, abs=1e-6)


def test_the_area_is_that_of_scikit_learn():
    pool = pooled(*drawn(np.random.default_rng(6), 200), None)[0]
    found = roc_of(pool)
    assert found is not None
    assert found.area.value == pytest.approx(roc_auc_score(pool.happened, pool.chances), rel=1e-12)


def test_without_others_there_is_nothing_to_rank():
    assert roc_of(pooled([np.array([1.0])] * 2, [0, 0], np.arange(2), None)[0]) is None


chances = st.lists(st.sampled_from([0.1, 0.2, 0.5, 0.9]), min_size=1, max_size=15).map(np.array)


@settings(deadline=None)
@given(chances, chances)
def test_an_area_lies_within_its_interval_and_turns_with_the_events(happened, others):
    found, turned = roc_area(happened, others), roc_area(others, happened)
    assert found is not None
    assert turned is not None
    assert 0 <= found.area.low <= found.area.value <= found.area.high <= 1
    assert found.area.value == pytest.approx(1 - turned.area.value)
    assert found.error == pytest.approx(turned.error)
    assert found.area.low == pytest.approx(1 - turned.area.high, abs=1e-9)


def test_perfect_ranking_of_few_events_is_no_certainty():
    found = roc_area(np.full(10, 0.9), np.full(10, 0.1))
    assert found is not None
    assert (found.area.value, found.area.high) == (1, 1)
    assert 0.6 < found.area.low < 0.9


@pytest.mark.parametrize(("happened", "others", "apart"), [(20, 20, 0.5), (20, 100, 1.5), (60, 200, 3.0)])
def test_the_interval_holds_the_true_area(happened: int, others: int, apart: float):
    # Two normal distributions: the area is Φ(distance / √2); 95 % of 400 less 3.5 standard deviations is 0.912
    rng = np.random.default_rng(happened + others)
    truth = norm.cdf(apart / 2**0.5)
    areas = [roc_area(rng.normal(apart, 1, happened), rng.normal(0, 1, others)) for _ in range(400)]
    assert (
        np.mean([found is not None and found.area.low <= truth <= found.area.high for found in areas])
        >= 0.912
    )


@pytest.mark.parametrize("happened", range(3, 60, 7))
def test_events_that_are_all_ranked_right_have_an_interval_whatever_rounding_does(happened):
    rng = np.random.default_rng(happened)
    for others in (happened, 2 * happened, 12 * happened):
        found = roc_area(2 + rng.random(happened), rng.random(others))
        assert found.area.value == found.area.high == 1.0
        assert 0 < found.area.low < 1
        mirrored = roc_area(rng.random(happened), 2 + rng.random(others))
        assert mirrored.area.value == mirrored.area.low == 0.0
