import numpy as np
import pytest

from benchlore.model import (
    Work,
    counts_of,
    exact_densities,
    fix_of,
    model_of,
    named_check,
    normalised,
    numeric_check,
)
from benchlore.model.make import CERTAIN
from benchlore.units import Measure


def test_probabilities_come_back_from_their_counts():
    model = model_of([0.5, 0.3, 0.2], [[[0.9, 0.1], [0.2, 0.8], [1.0, 0.0]]])
    np.testing.assert_allclose(model.fault_probabilities, [0.5, 0.3, 0.2], rtol=1e-15)
    np.testing.assert_allclose(model.state_probabilities[0], [[0.9, 0.1], [0.2, 0.8], [1, 0]], rtol=1e-15)
    assert model.prior.sum() == pytest.approx(CERTAIN)


def test_zeros_stay_exactly_zero():
    assert counts_of([0.0, 1.0])[0] == 0
    assert fix_of("a", [0.0, 1.0]).cures.tolist() == [[0, CERTAIN], [CERTAIN, 0]]


def test_names_are_made_up_where_none_are_given():
    model = model_of([0.5, 0.5], [np.eye(2)], [named_check("c", 0, np.eye(2))])
    assert model.faults == ("f0", "unlisted")
    assert model.conditions[0].states == ("s0", "s1")
    assert model.checks[0].results == ("r0", "r1")


def test_what_is_given_is_kept():
    work = Work(5.0, ruins=0.01)
    check = named_check("c", 0, np.eye(2), results=["lit", "dark"], work=work)
    model = model_of([1, 1], [np.eye(2)], [check], faults=["a", "b"], detects=[1.0, 0.5], worth=90.0)
    assert (model.faults, model.worth) == (("a", "b"), 90.0)
    assert (model.checks[0].results, model.checks[0].work) == (("lit", "dark"), work)
    np.testing.assert_array_equal(model.detects, [1.0, 0.5])


def test_state_weights_move_the_edges_of_bands():
    d = exact_densities(Measure.VOLTAGE, [3.0, 4.0], [0.4, 0.4])
    even, skewed = (numeric_check("c", 0, d, weights=w).edges for w in ([1, 1], [1, 50]))
    assert even != skewed


def test_exact_densities_are_all_but_normal():
    d = exact_densities(Measure.VOLTAGE, [3.0], [0.4])
    assert d.kappa[0] == CERTAIN
    assert np.sqrt(d.scale / d.shape)[0] == pytest.approx(0.4)


def test_a_row_of_zeros_is_uniform():
    np.testing.assert_array_equal(normalised(np.zeros((1, 4))), [[0.25] * 4])
