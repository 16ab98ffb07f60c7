import numpy as np
import pytest

from benchlore.model import Gate, exact_densities, gate_open, model_of, named_check, numeric_check
from benchlore.model.gates import open_results, refreshed
from benchlore.units import OL, Measure

NORMAL, SHORTED, SAGGING = range(3)
NOT_SHORTED = Gate(0, (), SHORTED, negated=True)


def ohms():
    """A rail to ground: 4.2 kohm, or a few ohms if shorted; a sagging rail reads like a normal one."""
    mean = np.log([4200.0, 3.0, 4200.0])
    d = exact_densities(Measure.RESISTANCE, mean, [0.13, 0.7, 0.13], over=[0.002] * 3, log_normal=True)
    return numeric_check("ohms", 0, d)


def rail(check):
    return model_of([0.5, 0.5], [[[0.8, 0.1, 0.1]] * 2], [check])


def test_not_shorted_is_open_only_for_what_a_shorted_rail_hardly_shows():
    check = ohms()
    open_ones = [check.results[r] for r in open_results(check, SHORTED, negated=True)]
    assert open_ones == [name for name in check.results if name.startswith(("2.", "3 ", "3.", "above"))]
    assert check.results[0] not in open_ones
    assert "OL" not in open_ones


def test_a_state_is_asked_for_by_what_it_shows_best():
    table = [[0.9, 0.06, 0.04], [0.05, 0.9, 0.05]]
    assert open_results(named_check("c", 0, table), 1, negated=False) == (1, 2)


def test_states_that_look_alike_open_a_gate_together():
    check = ohms()
    normal = open_results(check, NORMAL, negated=False)
    assert normal == open_results(check, SAGGING, negated=False)
    assert len(check.results) - 2 in normal


def test_a_result_that_says_nothing_opens_neither_gate():
    check = named_check("c", 0, [[0.5, 0.3, 0.2], [0.3, 0.5, 0.2]])
    assert 2 not in open_results(check, 0, negated=False)
    assert 2 not in open_results(check, 0, negated=True)


def test_one_tenth_of_the_best_likelihood_is_the_limit():
    assert open_results(named_check("c", 0, [[0.9, 0.1], [0.09, 0.91]]), 1, negated=True) == (0,)
    assert open_results(named_check("c", 0, [[0.9, 0.1], [0.091, 0.909]]), 1, negated=True) == ()


@pytest.mark.parametrize(
    ("value", "opened"), [(4000.0, True), (5.0, False), (0.0, False), (OL, False), (90.0, False)]
)
def test_a_number_opens_a_gate_by_its_densities(value, opened):
    assert gate_open(rail(ohms()), NOT_SHORTED, value) is opened


def test_a_gate_for_any_reading_is_open_for_any_number():
    check = ohms()
    gate = Gate(0, tuple(range(len(check.results))))
    assert all(gate_open(rail(check), gate, value) for value in (0.0, 5.0, 4200.0, OL))


def test_a_reading_that_no_state_allows_opens_nothing():
    d = exact_densities(Measure.VOLTAGE, [1.0, 2.0], [0.1, 0.1], over=[0.0, 0.0])
    model = model_of([0.5, 0.5], [[[0.5, 0.5]] * 2], [numeric_check("c", 0, d)])
    assert not gate_open(model, Gate(0, (), 1, negated=True), OL)


def test_gates_follow_their_check_when_it_changes():
    flat = named_check("c", 0, [[0.9, 0.1], [0.9, 0.1]])
    sharp = named_check("c", 0, [[0.95, 0.05], [0.05, 0.95]])
    gates = (Gate(0, (), 1, negated=True), Gate(0, (1,)))
    assert refreshed(gates, (flat,))[0].results == ()
    assert refreshed(gates, (sharp,)) == (Gate(0, (0,), 1, negated=True), Gate(0, (1,)))


def test_a_gate_for_any_number_knows_new_bands():
    check = ohms()
    assert refreshed((Gate(0, (0,)),), (check,))[0].results == tuple(range(len(check.results)))
