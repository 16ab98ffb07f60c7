import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from benchlore.model import densities_of, exact_densities, information_lost, named_check, numeric_check
from benchlore.model.bands import band_counts, band_names, banded, choose_bands, half_uniform
from benchlore.model.densities import band_probabilities
from benchlore.units import Measure, parse_quantity

HALF = np.array([0.5, 0.5])


def information(densities, edges, weights, has_over):
    """Mutual information of state and band in nats, from its definition."""
    joint = band_probabilities(densities, edges, has_over_range=has_over) * weights[:, None]
    independent = joint.sum(axis=1, keepdims=True) * joint.sum(axis=0, keepdims=True)
    live = joint > 0
    return float((joint[live] * np.log(joint[live] / independent[live])).sum())


def most_of_any_edges(densities, grid, weights, edges):
    """The mutual information of the best of all choices of so many edges from a grid.

    Each is the sum of its bands' shares, and each band is put together from cells of the whole grid.
    """
    cells = band_probabilities(densities, grid, has_over_range=False) * weights[:, None]
    upto = np.concatenate([np.zeros((weights.size, 1)), cells.cumsum(axis=1)], axis=1)
    joint = upto[:, None, :] - upto[:, :, None]  # of the band from one cell to another
    independent = joint.sum(axis=0) * cells.sum(axis=1)[:, None, None]
    live = (joint > 0) & (independent > 0)
    ratio = np.divide(joint, independent, out=np.ones_like(joint), where=live)
    share = np.where(live, joint * np.log(ratio), 0.0).sum(axis=0)
    chosen = np.array(list(itertools.combinations(range(1, len(grid) + 1), edges)))
    ends = np.full((len(chosen), 1), len(grid) + 1)
    cut = np.concatenate([np.zeros_like(ends), chosen, ends], axis=1)
    return float(share[cut[:, :-1], cut[:, 1:]].sum(axis=1).max())


def random_densities(seed, states=3):
    rng = np.random.default_rng(seed)
    mean, sd = rng.normal(3, 1, states), rng.uniform(0.1, 0.8, states)
    return densities_of(Measure.VOLTAGE, mean, sd, np.full(states, 0.002), log_normal=False)


def test_two_equal_normals_are_split_in_the_middle():
    # for equal weights and deviations the likelihood ratio is monotone and symmetric about the middle
    d = exact_densities(Measure.VOLTAGE, [3.0, 4.0], [0.2, 0.2])
    bands = choose_bands(d, HALF, most=2)
    assert bands.edges == pytest.approx((3.5,), abs=0.02)


def test_the_information_of_the_bands_is_their_mutual_information_with_the_state():
    d = random_densities(4)
    weights = np.array([0.5, 0.3, 0.2])
    bands = choose_bands(d, weights)
    assert bands.information == pytest.approx(information(d, bands.edges, weights, has_over=False), abs=1e-12)
    assert bands.information <= bands.full_information


def test_the_full_information_is_that_of_the_number():
    # integral of the densities' own mutual information, by the trapezoid rule on a fine grid
    d = exact_densities(Measure.VOLTAGE, [3.0, 3.3], [0.2, 0.1])
    ys = np.linspace(-2, 8, 400_001)
    rows = np.array([0.99 * stats.norm.pdf(ys, m, s) for m, s in ((3.0, 0.2), (3.3, 0.1))])
    rows += 0.01 * stats.norm.pdf(ys, d.slip_mean, d.slip_sd)
    mixed = rows.mean(axis=0)
    exact = np.trapezoid((rows * np.log(rows / mixed)).mean(axis=0), ys)
    assert choose_bands(d, HALF).full_information == pytest.approx(exact, rel=2e-3)


@pytest.mark.parametrize("seed", range(5))
def test_no_other_edges_keep_more(seed):
    d, weights = random_densities(seed), np.array([0.5, 0.3, 0.2])
    bands = choose_bands(d, weights)
    grid = np.linspace(1, 6, 60)
    best = most_of_any_edges(d, grid, weights, len(bands.edges))
    some = grid[:: 60 // len(bands.edges)][: len(bands.edges)]
    assert best >= information(d, some, weights, has_over=False) - 1e-12
    # half a per cent may go to rounding, and the candidates are quantiles, not this grid
    assert bands.information >= best - 0.006 * bands.full_information


@pytest.mark.parametrize("seed", range(8))
def test_best_edges_keep_more_than_the_places_where_densities_cross(seed):
    d, weights = random_densities(seed, states=2), np.array([0.8, 0.2])
    order = np.argsort(d.mean)
    ys = np.linspace(d.mean[order[0]], d.mean[order[1]], 2001)
    gap = np.log(weights[order[0]]) + stats.norm.logpdf(
        ys, d.mean[order[0]], np.sqrt(d.scale / d.shape)[order[0]]
    )
    gap -= np.log(weights[order[1]]) + stats.norm.logpdf(
        ys, d.mean[order[1]], np.sqrt(d.scale / d.shape)[order[1]]
    )
    crossing = ys[np.abs(gap).argmin()]
    two = choose_bands(d, weights, most=2)
    assert (
        two.information >= information(d, [crossing], weights, has_over=False) - 0.006 * two.full_information
    )


def test_a_band_that_adds_nothing_is_not_made():
    d = exact_densities(Measure.VOLTAGE, [0.0, 100.0], [0.1, 0.1])
    assert len(choose_bands(d, HALF).edges) < 3


def test_states_that_look_alike_get_one_band():
    check = numeric_check("c", 0, exact_densities(Measure.VOLTAGE, [3.0, 3.0], [0.2, 0.2]))
    assert check.results == ("any value",)
    np.testing.assert_allclose(check.probabilities, 1)
    assert information_lost(check) == 0


def test_a_state_in_the_middle_gets_an_edge_on_either_side():
    d = exact_densities(Measure.VOLTAGE, [3.0, 3.0], [0.1, 1.0])
    edges = choose_bands(d, HALF, most=3).edges
    assert edges[0] < 3.0 < edges[1]


def test_bands_are_named_as_technicians_write():
    d = exact_densities(Measure.RESISTANCE, np.log([4200.0, 60.0, 0.5]), [0.13, 0.4, 0.9], log_normal=True)
    names = numeric_check("c", 0, d).results
    assert names[0].startswith("below ")
    assert names[-2].startswith("above ")
    assert names[-1] == "OL"
    assert " to " in names[1]
    assert len(set(names)) == len(names)


@pytest.mark.parametrize("seed", range(12))
def test_the_names_say_the_edges(seed):
    check = numeric_check("c", 0, random_densities(seed))
    said = [
        parse_quantity(name.split(" ", 1)[1], Measure.VOLTAGE) for name in check.results if name[0] == "b"
    ]
    assert said == pytest.approx(list(check.edges[: len(said)]))


@pytest.mark.parametrize("measure", [Measure.RESISTANCE, Measure.DIODE_DROP])
def test_meters_that_show_over_range_every_day_have_it_as_a_result(measure):
    check = numeric_check("c", 0, exact_densities(measure, [1.0, 9.0], [0.3, 0.3], over=[0.002, 0.002]))
    assert check.has_over_range


def test_a_state_that_shows_over_range_makes_it_a_result():
    d = exact_densities(Measure.CAPACITANCE, [1.0, 1.0], [0.3, 0.3], over=[0.002, 0.98], log_normal=True)
    check = numeric_check("c", 0, d)
    assert check.results == ("any value", "OL")
    np.testing.assert_allclose(check.probabilities, [[0.998, 0.002], [0.02, 0.98]])


def test_edges_have_few_digits_where_that_costs_little():
    d = exact_densities(Measure.VOLTAGE, [3.0, 4.0], [0.1, 0.1])
    bands = choose_bands(d, HALF)
    assert bands.digits == 2
    assert all(float(f"{edge:.1e}") == edge for edge in bands.edges)


def test_edges_keep_the_digits_they_need():
    d = exact_densities(Measure.VOLTAGE, [12.001, 12.003], [0.0003, 0.0003])
    bands = choose_bands(d, HALF)
    assert 12.001 < bands.edges[0] < 12.003
    assert band_names(bands, Measure.VOLTAGE)[0] != band_names(bands, Measure.VOLTAGE)[-1]


def test_counts_of_bands_carry_the_evidence_behind_the_densities():
    d = random_densities(2)
    np.testing.assert_allclose(band_counts(d, [3.0], has_over_range=False).sum(axis=1), d.kappa)


def test_rare_states_count_in_the_choice_of_edges():
    np.testing.assert_allclose(half_uniform(np.array([0.99, 0.01])), [0.745, 0.255])


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 2**32 - 1))
def test_bands_lose_little_and_never_less_than_nothing(seed):
    check = numeric_check("c", 0, random_densities(seed))
    assert 0 <= information_lost(check) < 0.35
    assert len(check.results) <= 4
    assert all(low < high for low, high in itertools.pairwise(check.edges))


def test_more_bands_keep_more():
    d = random_densities(0)
    kept = [choose_bands(d, np.full(3, 1 / 3), most=most).information for most in (1, 2, 3, 4)]
    assert kept[0] == 0
    assert all(fewer < more for fewer, more in itertools.pairwise(kept))


def test_a_named_check_loses_nothing():
    assert information_lost(named_check("c", 0, np.eye(2))) == 0


def test_new_densities_bring_new_bands():
    check = numeric_check("c", 0, random_densities(1))
    again = banded(check, random_densities(3), np.full(3, 1 / 3))
    assert again.edges == numeric_check("c", 0, random_densities(3)).edges
    assert (again.name, again.condition) == (check.name, check.condition)
