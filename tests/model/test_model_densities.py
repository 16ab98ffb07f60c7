from math import inf

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import integrate, stats

from benchlore.model import (
    densities_of,
    exact_densities,
    log_likelihoods,
    named_check,
    numeric_check,
    result_of,
)
from benchlore.model.densities import (
    band_probabilities,
    cumulative,
    from_scale,
    log_density,
    over_probabilities,
    predictive_scale,
    to_scale,
)
from benchlore.units import OL, Measure


def volts(**options):
    return densities_of(
        Measure.VOLTAGE, [3.85, 3.4, 0.1], [0.04, 0.1, 0.05], [0.002, 0.002, 0.3], log_normal=False, **options
    )


def test_the_prior_expects_the_mean_deviation_and_over_range_given():
    d = volts(strength=10.0)
    np.testing.assert_allclose(d.mean, [3.85, 3.4, 0.1])
    np.testing.assert_allclose(d.shape / d.scale, [0.04**-2, 0.1**-2, 0.05**-2])  # the mean precision
    np.testing.assert_allclose(d.over.sum(axis=1), 10)
    np.testing.assert_allclose(over_probabilities(d), [0.002, 0.002, 0.3])


def test_a_blunder_covers_every_state():
    d = volts()
    assert d.slip_mean - d.slip_sd == pytest.approx(0.1 - 4 * 0.05)
    assert d.slip_mean + d.slip_sd == pytest.approx(3.85 + 4 * 0.04)


def test_the_predictive_density_is_scipys_student_t_mixed_with_the_blunder():
    # Murphy 2007, "Conjugate Bayesian analysis of the Gaussian distribution", section 6: df 2a, scale² b(k+1)/(ak)
    d = volts(strength=7.0)
    ys = np.array([-1.0, 0.1, 3.3, 3.85, 9.0])
    scale = np.sqrt(d.scale * (d.kappa + 1) / (d.shape * d.kappa))
    expected = 0.99 * stats.t.pdf(ys[:, None], 2 * d.shape, d.mean, scale)
    expected += 0.01 * stats.norm.pdf(ys, d.slip_mean, d.slip_sd)[:, None]
    np.testing.assert_allclose(np.exp(log_density(d, ys)), expected, rtol=1e-12)


def test_the_density_integrates_to_one():
    d = volts()
    for s in range(3):
        total, _ = integrate.quad(
            lambda y, s=s: np.exp(log_density(d, np.array([y]))[0, s]), -60, 60, points=d.mean, limit=400
        )
        assert total == pytest.approx(1, abs=1e-6)


def test_band_probabilities_are_differences_of_scipys_cumulative_distribution():
    d = densities_of(Measure.RESISTANCE, np.log([4200.0, 2.0]), [0.13, 1.0], [0.002, 0.05], log_normal=True)
    edges = [12.0, 3100.0]
    table = band_probabilities(d, edges, has_over_range=True)
    below = 0.99 * stats.t.cdf(np.log(edges)[:, None], 2 * d.shape, d.mean, predictive_scale(d))
    below += 0.01 * stats.norm.cdf(np.log(edges), d.slip_mean, d.slip_sd)[:, None]
    expected = np.array([below[0], below[1] - below[0], 1 - below[1]]) * np.array([0.998, 0.95])
    np.testing.assert_allclose(table[:, :3], expected.T, rtol=1e-10)
    np.testing.assert_allclose(table[:, 3], [0.002, 0.05])


def test_without_a_result_of_its_own_over_range_counts_as_the_highest_band():
    d = volts()
    with_ol = band_probabilities(d, [1.0, 3.6], has_over_range=True)
    without = band_probabilities(d, [1.0, 3.6], has_over_range=False)
    np.testing.assert_allclose(without[:, 2], with_ol[:, 2] + with_ol[:, 3])


@settings(max_examples=50, deadline=None)
@given(st.lists(st.floats(-10, 10), min_size=1, max_size=4, unique=True), st.booleans())
def test_band_probabilities_sum_to_one(edges, has_over_range):
    table = band_probabilities(volts(), sorted(edges), has_over_range=has_over_range)
    assert (table >= 0).all()
    np.testing.assert_allclose(table.sum(axis=1), 1, atol=1e-12)


@settings(max_examples=50, deadline=None)
@given(st.floats(1e-12, 1e12), st.booleans())
def test_the_scale_and_back_gives_the_number(value, log_normal):
    d = exact_densities(Measure.RESISTANCE, [0.0], [1.0], log_normal=log_normal)
    assert from_scale(d, to_scale(d, [value]))[0] == pytest.approx(value, rel=1e-12)


def test_over_range_has_the_probability_of_its_counts():
    check = numeric_check("c", 0, volts())
    np.testing.assert_allclose(np.exp(log_likelihoods(check, [OL])[0]), [0.002, 0.002, 0.3])


@pytest.mark.parametrize("value", [0.0, -0.3])
def test_zero_ohms_counts_as_the_lowest_band(value):
    d = exact_densities(Measure.RESISTANCE, np.log([4200.0, 2.0]), [0.13, 1.0], log_normal=True)
    check = numeric_check("c", 0, d)
    np.testing.assert_allclose(np.exp(log_likelihoods(check, [value])[0]), check.probabilities[:, 0])


def test_no_number_is_impossible():
    logs = log_likelihoods(numeric_check("c", 0, volts()), [-1e300, 1e300, 0.0, 1e-300])
    assert np.isfinite(logs).all()


def test_a_number_on_an_edge_belongs_to_the_band_above():
    check = numeric_check("c", 0, exact_densities(Measure.VOLTAGE, [1.0, 5.0], [0.3, 0.3]))
    edge = check.edges[0]
    assert [result_of(check, x) for x in (np.nextafter(edge, -inf), edge)] == [0, 1]


def test_over_range_is_the_last_result_where_the_check_has_it():
    ohms = numeric_check("c", 0, exact_densities(Measure.RESISTANCE, [1.0, 9.0], [0.3, 0.3], log_normal=True))
    volt = numeric_check("c", 0, exact_densities(Measure.VOLTAGE, [1.0, 9.0], [0.3, 0.3]))
    assert ohms.results[result_of(ohms, OL)] == "OL"
    assert volt.results[result_of(volt, OL)].startswith("above")


def test_cumulative_probability_runs_from_nothing_to_one():
    d = volts()
    np.testing.assert_allclose(cumulative(d, [-inf, inf]), [[0, 0, 0], [1, 1, 1]])


def test_a_named_check_has_no_densities():
    with pytest.raises(AssertionError, match="'c' is not numeric"):
        log_likelihoods(named_check("c", 0, np.eye(2)), [1.0])
