import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from random_models import random_model
from scipy import stats

from benchlore.model import (
    densities_of,
    exact_densities,
    model_of,
    named_check,
    numeric_check,
    result_of,
    sample,
    simulate,
)
from benchlore.model.sample import draw_values
from benchlore.units import Measure

seeds = st.integers(0, 2**32 - 1)


def test_drawn_rows_have_the_mean_and_deviation_of_their_dirichlet():
    counts = np.array([2.0, 5.0, 0.5])
    model = model_of(counts, [], weight=counts.sum())
    rng = np.random.default_rng(0)
    draws = np.array([sample(model, rng).fault_probabilities for _ in range(5000)])
    exact = stats.dirichlet(counts)
    np.testing.assert_allclose(draws.mean(axis=0), exact.mean(), atol=0.012)
    np.testing.assert_allclose(draws.var(axis=0), exact.var(), rtol=0.08)


def test_small_counts_are_drawn_without_underflow():
    model = model_of([1e-4, 1e-4], [], weight=2e-4)
    rng = np.random.default_rng(1)
    draws = np.array([sample(model, rng).fault_probabilities[0] for _ in range(400)])
    assert np.isfinite(draws).all()
    assert 0.4 < (draws > 0.5).mean() < 0.6


def test_drawn_densities_have_the_distribution_of_their_prior():
    d = densities_of(Measure.VOLTAGE, [3.0], [0.2], [0.1], log_normal=False, strength=8.0)
    model = model_of([0.5, 0.5], [[[1.0]] * 2], [numeric_check("c", 0, d)])
    rng = np.random.default_rng(2)
    drawn = [sample(model, rng).checks[0].densities for _ in range(3000)]
    means = np.array([one.mean[0] for one in drawn])
    precisions = np.array([one.shape[0] / one.scale[0] for one in drawn])
    assert stats.kstest(precisions, stats.gamma(d.shape[0], scale=1 / d.scale[0]).cdf).pvalue > 1e-3
    # the mean's marginal is Student-t with 2 shape degrees of freedom and scale² scale / (shape kappa)
    marginal = stats.t(2 * d.shape[0], 3.0, np.sqrt(d.scale[0] / (d.shape[0] * d.kappa[0])))
    assert stats.kstest(means, marginal.cdf).pvalue > 1e-3


@settings(max_examples=20, deadline=None)
@given(seeds)
def test_zeros_stay_zeros_and_bands_and_gates_stay(seed):
    model = random_model(seed, zeros=True)
    drawn = sample(model, np.random.default_rng(seed))
    for before, after in zip(model.states, drawn.states, strict=True):
        np.testing.assert_array_equal(before == 0, after == 0)
    for before, after in zip(model.checks, drawn.checks, strict=True):
        assert (after.results, after.edges, after.gates) == (before.results, before.edges, before.gates)
        np.testing.assert_allclose(after.probabilities.sum(axis=1), 1)


def test_a_draw_of_a_known_model_is_that_model():
    table = [[0.9, 0.1], [0.2, 0.8]]
    model = model_of([0.7, 0.3], [table], [named_check("c", 0, table)])
    drawn = sample(model, np.random.default_rng(0))
    np.testing.assert_allclose(drawn.fault_probabilities, [0.7, 0.3], atol=3e-3)
    np.testing.assert_allclose(drawn.checks[0].probabilities, table, atol=3e-3)


def test_equal_seeds_draw_equal_things():
    model = random_model(1)
    one, other = (sample(model, np.random.default_rng(5)) for _ in range(2))
    np.testing.assert_array_equal(one.prior, other.prior)
    first, second = (simulate(model, np.random.default_rng(5), 20) for _ in range(2))
    np.testing.assert_array_equal(first.values, second.values)


def test_simulated_boards_follow_the_model():
    model = random_model(3)
    drawn = simulate(model, np.random.default_rng(0), 40_000)
    share = np.bincount(drawn.faults, minlength=5) / 40_000
    np.testing.assert_allclose(share, model.fault_probabilities, atol=0.012)
    for f in range(5):
        mine = drawn.faults == f
        for g, rows in enumerate(model.state_probabilities):
            share = np.bincount(drawn.states[mine, g], minlength=rows.shape[1]) / mine.sum()
            assert (abs(share - rows[f]) < 5 / np.sqrt(mine.sum())).all()
    for c, check in enumerate(model.checks):
        for s in range(check.counts.shape[0]):
            mine = drawn.states[:, check.condition] == s
            share = np.bincount(drawn.results[mine, c], minlength=len(check.results)) / mine.sum()
            assert (abs(share - check.probabilities[s]) < 5 / np.sqrt(mine.sum())).all()


def test_results_are_the_bands_that_the_values_fall_into():
    model = random_model(3)
    drawn = simulate(model, np.random.default_rng(0), 200)
    for c, check in enumerate(model.checks):
        if check.densities is None:
            assert np.isnan(drawn.values[:, c]).all()
        else:
            assert drawn.results[:, c].tolist() == [result_of(check, value) for value in drawn.values[:, c]]


def test_drawn_values_have_the_predictive_distribution():
    d = densities_of(
        Measure.VOLTAGE, [3.0, 1.0], [0.2, 0.1], [0.1, 0.0], log_normal=False, strength=8.0, slip=1e-9
    )
    values = draw_values(d, np.zeros(20_000, dtype=np.int64), np.random.default_rng(4))
    assert np.isinf(values).mean() == pytest.approx(0.1, abs=0.01)
    predictive = stats.t(8.0, 3.0, 0.2 * np.sqrt(9 / 8))
    assert stats.kstest(values[np.isfinite(values)], predictive.cdf).pvalue > 1e-3


def test_what_is_impossible_is_never_drawn():
    model = model_of([0.0, 1.0, 0.0], [[[1, 0, 0], [0, 0, 1], [0, 1, 0]]], [named_check("c", 0, np.eye(3))])
    drawn = simulate(model, np.random.default_rng(0), 1000)
    assert set(drawn.faults) == {1}
    assert set(drawn.results[:, 0]) == {2}


def test_a_model_without_conditions_can_be_simulated():
    drawn = simulate(model_of([0.5, 0.5], []), np.random.default_rng(0), 7)
    assert drawn.states.shape == (7, 0)
    assert drawn.results.shape == (7, 0)


def test_log_normal_values_are_drawn_on_their_scale():
    d = exact_densities(Measure.RESISTANCE, [np.log(4200.0)], [0.1], log_normal=True)
    values = draw_values(d, np.zeros(5000, dtype=np.int64), np.random.default_rng(4))
    assert np.median(values) == pytest.approx(4200, rel=0.01)
