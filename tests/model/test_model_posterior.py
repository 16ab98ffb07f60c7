import warnings
from math import inf, log

import numpy as np
import pytest
from general_libraries import agrum_posterior, brute_force, pgmpy_posterior
from hypothesis import given, settings
from hypothesis import strategies as st
from random_models import random_evidence, random_model

from benchlore.model import (
    Evidence,
    EvidenceError,
    conflict,
    exact_densities,
    fault_log_likelihoods,
    fix_of,
    model_of,
    named_check,
    numeric_check,
    pack,
    posterior,
    result_table,
)
from benchlore.model.densities import log_likelihoods
from benchlore.model.kernels import number_log_likelihood
from benchlore.model.reference import joint_reference, result_table_reference
from benchlore.units import OL, Measure

seeds = st.integers(0, 2**32 - 1)

TENNIS = """
sunny hot high weak no; sunny hot high strong no; overcast hot high weak yes; rain mild high weak yes;
rain cool normal weak yes; rain cool normal strong no; overcast cool normal strong yes; sunny mild high weak no;
sunny cool normal weak yes; rain mild normal weak yes; sunny mild normal strong yes; overcast mild high strong yes;
overcast hot normal weak yes; rain mild high strong no
"""


def tennis():
    """Each attribute is a condition that one check reads without error; "no" and "yes" are the faults."""
    days = [day.split() for day in TENNIS.split(";")]
    plays = ["no", "yes"]
    states, checks, names = [], [], []
    for column in range(4):
        values = sorted({day[column] for day in days})
        states.append([[sum(d[column] == v and d[4] == p for d in days) for v in values] for p in plays])
        checks.append(named_check(f"c{column}", column, np.eye(len(values)), results=values))
        names.append(values)
    prior = [sum(day[4] == play for day in days) for play in plays]
    return model_of(prior, states, checks), names


def test_naive_bayes_of_the_tennis_days_gives_the_textbook_answer():
    # Mitchell 1997, "Machine Learning", section 6.9.1 (data of Quinlan 1986): P(no) = 0.795
    model, names = tennis()
    day = ("sunny", "cool", "high", "strong")
    belief = posterior(model, Evidence(readings=tuple((c, names[c].index(v)) for c, v in enumerate(day))))
    assert belief.faults[0] == pytest.approx(0.795417, abs=1e-6)
    assert belief.log_evidence == pytest.approx(log(0.020571 + 0.005291), abs=1e-4)


@pytest.mark.parametrize("seed", range(6))
def test_posteriors_equal_those_of_pyagrum(seed):
    model = random_model(seed, faults=6, conditions=5, checks=9)
    evidence = random_evidence(model, seed)
    ours = posterior(model, evidence)
    theirs, chance = agrum_posterior(model, evidence)
    for mine, other in zip([ours.faults, *ours.conditions], theirs, strict=True):
        np.testing.assert_allclose(mine, other, rtol=0, atol=1e-9)
    if not evidence.values:  # pyAgrum scales likelihood evidence as it likes
        assert ours.log_evidence == pytest.approx(log(chance), abs=1e-9)


def test_the_probability_of_evidence_equals_that_of_pyagrum():
    model = random_model(3, numbers=False)
    evidence = random_evidence(model, 3)
    _, chance = agrum_posterior(model, evidence)
    assert posterior(model, evidence).log_evidence == pytest.approx(log(chance), abs=1e-9)


@pytest.mark.parametrize("seed", range(3))
def test_posteriors_equal_those_of_pgmpy(seed):
    model = random_model(seed, faults=6, conditions=4, checks=8)
    evidence = random_evidence(model, seed + 50)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        theirs = pgmpy_posterior(model, evidence)
    ours = posterior(model, evidence)
    for mine, other in zip([ours.faults, *ours.conditions], theirs, strict=True):
        np.testing.assert_allclose(mine, other, rtol=0, atol=1e-9)


@settings(max_examples=40, deadline=None)
@given(seeds)
def test_several_checks_on_one_condition_are_summed_over_its_state_exactly(seed):
    model = random_model(seed, faults=3, conditions=2, checks=5, zeros=True)
    evidence = random_evidence(model, seed)
    joint = brute_force(model, evidence)
    belief = posterior(model, evidence)
    if joint.sum() == 0:  # a passing or failing fix may rule out every fault
        assert belief.log_evidence == -inf
    else:
        np.testing.assert_allclose(belief.faults, joint / joint.sum(), rtol=1e-11, atol=1e-14)
        assert belief.log_evidence == pytest.approx(log(joint.sum()), abs=1e-9)


def test_two_checks_of_one_condition_are_not_independent_witnesses():
    # state s1 has 0.5 under f0 and 0.1 under f1; each check errs in one case of ten
    table = [[0.9, 0.1], [0.1, 0.9]]
    checks = [named_check("a", 0, table), named_check("b", 0, table)]
    model = model_of([0.5, 0.5], [[[0.5, 0.5], [0.9, 0.1]]], checks)
    belief = posterior(model, Evidence(readings=((0, 1), (1, 1))))
    both = np.array([0.5 * 0.01 + 0.5 * 0.81, 0.9 * 0.01 + 0.1 * 0.81])
    np.testing.assert_allclose(belief.faults, both / both.sum(), rtol=1e-12)


@settings(max_examples=30, deadline=None)
@given(seeds)
def test_beliefs_sum_to_one(seed):
    model = random_model(seed, zeros=True)
    belief = posterior(model, random_evidence(model, seed))
    assert belief.faults.sum() == pytest.approx(1, abs=1e-12)
    for row in belief.conditions:
        assert row.sum() == pytest.approx(1, abs=1e-12)


@settings(max_examples=30, deadline=None)
@given(seeds)
def test_the_order_of_evidence_is_irrelevant(seed):
    model = random_model(seed)
    evidence = random_evidence(model, seed)
    turned = Evidence(
        *(part[::-1] for part in (evidence.readings, evidence.values, evidence.failed, evidence.passed))
    )
    one, other = posterior(model, evidence), posterior(model, turned)
    np.testing.assert_allclose(one.faults, other.faults, rtol=1e-12, atol=1e-15)
    assert one.log_evidence == pytest.approx(other.log_evidence, abs=1e-10)


def test_no_evidence_leaves_the_prior():
    model = random_model(1)
    belief = posterior(model, Evidence())
    np.testing.assert_array_equal(belief.faults, model.fault_probabilities)
    assert belief.log_evidence == pytest.approx(0, abs=1e-12)


def test_a_failed_fix_counts_by_what_it_leaves_and_the_retest_shows():
    model = model_of([0.5, 0.3, 0.2], [], fixes=[fix_of("a", [0.9, 0.0, 0.4])], detects=[1.0, 0.5, 0.8])
    weights = np.array([0.5 * 0.1 * 1.0, 0.3 * 1.0 * 0.5, 0.2 * 0.6 * 0.8])
    np.testing.assert_allclose(
        posterior(model, Evidence(failed=(0,))).faults, weights / weights.sum(), rtol=1e-12
    )


def test_a_passed_fix_may_have_been_missed_by_the_retest():
    model = model_of([0.5, 0.3, 0.2], [], fixes=[fix_of("a", [0.9, 0.0, 0.4])], detects=[1.0, 0.5, 0.8])
    weights = np.array([0.5 * 0.9, 0.3 * 0.5, 0.2 * (0.4 + 0.6 * 0.2)])
    np.testing.assert_allclose(
        posterior(model, Evidence(passed=(0,))).faults, weights / weights.sum(), rtol=1e-12
    )


def test_impossible_evidence_falls_back_to_the_prior():
    checks = [named_check("a", 0, np.eye(2)), named_check("b", 0, np.eye(2)), named_check("c", 1, np.eye(2))]
    model = model_of([0.6, 0.4], [[[0.5, 0.5]] * 2, [[0.5, 0.5]] * 2], checks)
    evidence = Evidence(readings=((0, 0), (2, 1), (1, 1)))
    belief = posterior(model, evidence)
    assert belief.log_evidence == -inf
    np.testing.assert_array_equal(belief.faults, model.fault_probabilities)
    np.testing.assert_allclose(belief.conditions[0], [0.5, 0.5])
    table = result_table(model, evidence)
    np.testing.assert_allclose(table.faults, model.fault_probabilities)


def test_a_conflict_names_only_what_disagrees():
    checks = [named_check("a", 0, np.eye(2)), named_check("b", 0, np.eye(2)), named_check("c", 1, np.eye(2))]
    model = model_of([0.6, 0.4], [[[0.5, 0.5]] * 2, [[0.5, 0.5]] * 2], checks)
    assert conflict(model, Evidence(readings=((0, 0), (2, 1), (1, 1)))) == Evidence(readings=((0, 0), (1, 1)))


def test_a_fix_can_be_part_of_a_conflict():
    check = named_check("a", 0, np.eye(2))
    model = model_of([0.5, 0.5], [np.eye(2)], [check], [fix_of("x", [1.0, 0.0])])
    evidence = Evidence(readings=((0, 0),), failed=(0,))  # only f0 shows this, and x always cures f0
    assert conflict(model, evidence) == evidence


def test_a_fault_without_prior_does_not_make_evidence_possible():
    model = model_of([1.0, 0.0], [np.eye(2)], [named_check("a", 0, np.eye(2))])
    evidence = Evidence(readings=((0, 1),))
    assert posterior(model, evidence).log_evidence == -inf
    assert conflict(model, evidence) == evidence


def test_possible_evidence_has_no_conflict():
    model = random_model(5)
    assert conflict(model, random_evidence(model, 5)) == Evidence()


def test_evidence_too_improbable_for_a_float_is_still_weighed():
    # 150 readings of 1e-3 each under one fault, 2e-3 under the other: 1e-450 is below the smallest float
    tables = [named_check(f"c{c}", c, np.eye(2)) for c in range(150)]
    model = model_of([0.5, 0.5], [[[0.999, 0.001], [0.998, 0.002]]] * 150, tables)
    belief = posterior(model, Evidence(readings=tuple((c, 1) for c in range(150))))
    assert belief.faults[0] == pytest.approx(1 / (1 + 2.0**150), rel=1e-9)
    assert belief.log_evidence == pytest.approx(log(0.5) + 150 * log(0.002), abs=1e-9)


def test_a_state_excluded_by_all_but_one_fault_survives_underflow():
    # 200 readings speak 1e-3 to 1 for s0, but fault f1 never has s0
    checks = [named_check(f"c{c}", 0, [[0.999, 0.001], [0.001, 0.999]]) for c in range(200)]
    model = model_of([0.0, 1.0], [np.eye(2)], checks)
    belief = posterior(model, Evidence(readings=tuple((c, 0) for c in range(200))))
    assert belief.log_evidence == pytest.approx(200 * log(0.001), rel=1e-9)
    np.testing.assert_allclose(belief.conditions[0], [0, 1])


@settings(max_examples=10, deadline=None)
@given(seeds)
def test_the_result_table_equals_the_reference(seed):
    model = random_model(seed)
    evidence = random_evidence(model, seed)
    expected = result_table_reference(model, evidence)
    table = result_table(model, evidence)
    np.testing.assert_allclose(table.joint, expected, rtol=0, atol=1e-12)
    np.testing.assert_allclose(
        result_table(model, evidence, parallel=True).joint, expected, rtol=0, atol=1e-12
    )
    done = {c for c, _ in (*evidence.readings, *evidence.values)}
    assert set(np.flatnonzero(~table.undone)) == done


def test_the_result_table_agrees_with_the_posterior_after_each_result():
    model = random_model(8)
    evidence = Evidence(readings=((1, 0),), failed=(0,))
    table = result_table(model, evidence)
    for c in np.flatnonzero(table.undone):
        for r in range(len(model.checks[c].results)):
            after = posterior(model, Evidence((*evidence.readings, (int(c), r)), failed=(0,)))
            np.testing.assert_allclose(table.joint[c, r] / table.results[c, r], after.faults, rtol=1e-10)


def test_results_of_every_check_not_done_sum_to_one():
    model = random_model(9)
    table = result_table(model, Evidence(readings=((1, 0),)))
    np.testing.assert_allclose(table.results.sum(axis=1), table.undone.astype(float), atol=1e-12)


@settings(max_examples=25, deadline=None)
@given(seeds)
def test_fault_log_likelihoods_are_the_posterior_without_prior(seed):
    model = random_model(seed)
    evidence = random_evidence(model, seed)
    joint, _ = joint_reference(model, evidence)
    logs = fault_log_likelihoods(model, evidence)
    np.testing.assert_allclose(np.exp(logs) * model.fault_probabilities, joint, rtol=1e-9, atol=1e-300)


@pytest.mark.parametrize("value", [OL, 0.0, -1.0, 1e-300, 3.0, 3.3, 1e6, 1e300])
@pytest.mark.parametrize("log_normal", [True, False])
def test_the_kernel_and_the_densities_agree_on_every_number(value, log_normal):
    densities = exact_densities(
        Measure.VOLTAGE, [3.0, 1.0], [0.2, 2.0], over=[0.1, 0.01], log_normal=log_normal
    )
    model = model_of([1.0, 1.0], [np.eye(2)], [numeric_check("c", 0, densities)])
    logs = [number_log_likelihood(pack(model), 0, s, value) for s in (0, 1)]
    np.testing.assert_allclose(logs, log_likelihoods(model.checks[0], [value])[0], rtol=1e-12)
    assert np.isfinite(logs).all()


def test_a_number_says_more_than_its_band():
    densities = exact_densities(Measure.VOLTAGE, [3.85, 3.4], [0.05, 0.1])
    model = model_of([0.5, 0.5], [np.eye(2)], [numeric_check("c", 0, densities)])
    assert model.checks[0].edges[0] > 3.4
    band = posterior(model, Evidence(readings=((0, 0),))).faults[1]
    typical, blunder = (posterior(model, Evidence(values=((0, volts),))).faults[1] for volts in (3.4, 2.3))
    assert typical > band > 0.98
    assert blunder == pytest.approx(0.5, abs=0.01)  # in the band of f1, but no board shows 2.3 V


@pytest.mark.parametrize(
    ("evidence", "message"),
    [
        (Evidence(readings=((9, 0),)), "a check from 0 to 6 expected"),
        (Evidence(readings=((-1, 0),)), "a check from 0 to 6 expected"),
        (Evidence(readings=((1, 0), (1, 1))), "one reading of check 'c1' expected"),
        (Evidence(readings=((1, 9),)), "a result of check 'c1' expected"),
        (Evidence(values=((1, 3.0),)), "a named result of check 'c1' expected"),
        (Evidence(values=((0, float("nan")),)), "a number, or infinity for over range expected"),
        (Evidence(values=((0, -inf),)), "a number, or infinity for over range expected"),
        (Evidence(failed=(7,)), "a fix from 0 to 2 expected"),
        (Evidence(readings=((0, 0),), values=((0, 1.0),)), "one reading of check 'c0' expected"),
    ],
)
def test_evidence_that_does_not_fit_is_refused(evidence, message):
    with pytest.raises(EvidenceError, match=message):
        posterior(random_model(0), evidence)


def test_a_state_that_never_shows_a_number_is_excluded_by_one():
    volts = exact_densities(Measure.VOLTAGE, [1.0, 2.0], [0.1, 0.1], over=[0.0, 1.0])
    model = model_of([0.5, 0.5], [np.eye(2)], [numeric_check("volts", 0, volts)], [])
    assert posterior(model, Evidence(values=((0, 1.0),))).faults.tolist() == [1.0, 0.0]
    assert posterior(model, Evidence(values=((0, OL),))).faults.tolist() == [0.0, 1.0]
