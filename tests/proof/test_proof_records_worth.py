"""The worth of records, against closed forms and plain computation."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import betabinom, binom
from sensitive_boards import FREE, SHOP, one_fix, random_board, two_twin_checks

from benchlore.model import Work, fix_of, model_of, named_check, sample
from benchlore.procedure import Effort, instance_of, plan, solve_exact
from benchlore.procedure.pool import cheapest, costs_of, weights_of
from benchlore.procedure.walk import whole
from benchlore.proof.drawn import drawn_of
from benchlore.proof.records_worth import (
    Basis,
    Readings,
    check_records,
    cure,
    fix_records,
    frequencies,
)
from benchlore.proof.rivals import compared, pricing_of
from benchlore.proof.work import in_turn, seeds


def prepared(model, *, draws=200, rivals=4, seed=0):
    """The pool under a model, and its draws."""
    procedure = plan(model, SHOP)
    pricing = pricing_of(model, SHOP, procedure)
    both = compared(model, procedure, pricing, seeds(seed, 0, rivals), effort=Effort.QUICK, run=in_turn)
    drawn = drawn_of(model, pricing, both, seeds(seed, 1, draws), in_turn)
    return Basis(both.pool, pricing.instance(model)), drawn


def preposterior(cured, missed, tries):
    """Raiffa & Schlaifer 1961: try for 100, or return for 200, which also follows a try that fails.

    The best act by present knowledge, less the expectation of the best act after each beta-binomial outcome.
    """

    def least(chance):
        return min(100 + (1 - chance) * 200, 200.0)

    after = [
        betabinom.pmf(k, tries, cured, missed) * least((cured + k) / (cured + missed + tries))
        for k in range(tries + 1)
    ]
    return least(cured / (cured + missed)) - sum(after)


@pytest.mark.parametrize(("cured", "missed"), [(3, 3), (4, 3), (2, 4), (8, 5)])
@pytest.mark.parametrize("tries", [1, 10])
def test_tries_of_a_fix_are_worth_what_the_preposterior_analysis_says(cured, missed, tries):
    basis, _ = prepared(one_fix(cured, missed), draws=4, rivals=2)
    found = fix_records(basis, one_fix(cured, missed), 0, 0, tries)
    assert found.value == pytest.approx(preposterior(cured, missed, tries), rel=1e-9, abs=1e-12)
    assert found.low == found.value == found.high


def test_more_tries_are_worth_more_and_never_more_than_certainty():
    model = one_fix(3, 3)
    basis, drawn = prepared(model, rivals=2)
    worth = [fix_records(basis, model, 0, 0, tries).value for tries in (1, 2, 5, 10, 100)]
    assert worth == sorted(worth)
    saved = drawn.now - drawn.best
    assert worth[-1] <= saved.mean() + 3 * saved.std() / np.sqrt(len(saved))
    # E[max(0, 200 p - 100)] less max(0, 200 E[p] - 100) for p from Beta(3, 3): 200 * E|p - 1/2| / 2 = 15.625.
    assert saved.mean() == pytest.approx(15.625, abs=3 * saved.std() / np.sqrt(len(saved)))


def test_a_chance_that_cannot_change_what_is_done_is_worth_nothing():
    model = one_fix(30, 3, minutes=20.0)
    basis, _ = prepared(model, draws=4, rivals=2)
    assert fix_records(basis, model, 0, 0, 10).value == pytest.approx(0.0, abs=1e-12)


def test_what_is_as_good_as_known_is_not_looked_at():
    model = one_fix(3e6, 2e6)
    basis, _ = prepared(model, draws=4, rivals=2)
    assert fix_records(basis, model, 0, 0, 10) is None


def after_tries(model, fix, fault, counts):
    """The model with other counts for one chance."""
    fixes = list(model.fixes)
    cures = fixes[fix].cures.copy()
    cures[fault] = counts
    fixes[fix] = replace(fixes[fix], cures=cures)
    return replace(model, fixes=tuple(fixes))


def test_tries_are_worth_no_more_than_planning_anew_saves_and_most_of_that():
    """The truth by enumeration: the optimum now, less the mean of the optima after each outcome."""
    found = truth = 0.0
    for seed in range(3):
        model = random_board(seed, weight=4.0)
        basis, _ = prepared(model, draws=4, rivals=8)
        for fix, fault in np.ndindex(4, 4):
            counts = model.fixes[fix].cures[fault]
            worth = fix_records(basis, model, fix, fault, 10)
            if worth is None:
                continue
            chances = betabinom.pmf(np.arange(11), 10, *counts)
            after = [
                optimum(after_tries(model, fix, fault, counts + np.array([k, 10 - k]))) for k in range(11)
            ]
            true = optimum(model) - float(chances @ after)
            assert worth.value <= true + 1e-9
            found, truth = found + worth.value, truth + true
    assert found > 0.75 * truth > 1


def open_check(counts):
    """Two faults that show in their states for certain; only what the check reads for fault a is uncertain."""
    check = named_check("probe", 0, [[0.5, 0.5], [0.05, 0.95]], results=("low", "high"), work=Work(22.0))
    rows = np.array([counts, [5e4, 95e4]], dtype=float)
    fixes = [fix_of("fix-a", [1.0, 0.0], work=Work(80.0)), fix_of("fix-b", [0.0, 1.0], work=Work(90.0))]
    model = model_of([0.5, 0.5], [[[1.0, 0.0], [0.0, 1.0]]], [check], fixes, faults=("a", "b"), retest=FREE)
    return replace(model, checks=(replace(check, counts=rows),))


def optimum(model):
    return solve_exact(instance_of(model, SHOP)).expected


@pytest.mark.parametrize("counts", [(2.0, 2.0), (3.0, 1.5)])
def test_readings_are_worth_what_planning_anew_after_each_outcome_saves(counts):
    """The truth by enumeration: the row is conjugate, so each outcome has a model, and that its optimum."""
    model = open_check(counts)
    basis, drawn = prepared(model, draws=1000, rivals=8)
    truth = optimum(model)
    for k in range(11):
        chance = betabinom.pmf(k, 10, *counts)
        truth -= chance * optimum(open_check((counts[0] + k, counts[1] + 10 - k)))
    worth = dict(check_records(basis, 0, drawn, 10))
    assert truth > 0.3
    error = (worth[0].high - worth[0].low) / 4
    assert abs(worth[0].value - truth) < 4 * error
    assert error < 0.15 * truth
    assert 1 not in worth


def substituted(instance, fault, condition, check, row, shows):
    """An instance with one fault's row of states and one check's rows from a draw."""
    tables = list(instance.tables)
    tables[condition] = tables[condition].copy()
    tables[condition][fault] = row
    checks = list(instance.checks)
    checks[check] = replace(checks[check], table=shows)
    return replace(instance, tables=tuple(tables), checks=tuple(checks))


@pytest.mark.parametrize("seed", range(4))
def test_the_costs_of_choices_are_affine_in_the_features_of_readings(seed):
    model = random_board(seed)
    basis, drawn = prepared(model, draws=5, rivals=2)
    for check, fault in ((0, 0), (1, 2), (2, 3)):
        readings = Readings(basis, check)
        unknown, features = readings.unknown(fault), readings.features(drawn, fault)
        for k in range(5):
            there = substituted(
                basis.instance,
                fault,
                readings.condition,
                check,
                drawn.table[k, readings.condition, fault],
                drawn.shows[k, check],
            )
            plain = costs_of(basis.pool, whole(there), weights_of(basis.pool, whole(there)))
            np.testing.assert_allclose(unknown.costs(features[k : k + 1])[0], plain, rtol=1e-9, atol=1e-12)


@pytest.mark.parametrize("seed", range(4))
def test_the_costs_of_choices_are_affine_in_a_cure_and_in_frequencies(seed):
    model = random_board(seed)
    basis, drawn = prepared(model, draws=4, rivals=2)
    unknown = cure(basis, "a1", 1)
    fixes = [replace(fix, cures=fix.cures.copy()) for fix in basis.instance.fixes]
    fixes[1].cures[1] = 0.3
    there = whole(replace(basis.instance, fixes=tuple(fixes)))
    np.testing.assert_allclose(
        unknown.costs(np.array([[0.7]]))[0],
        costs_of(basis.pool, there, weights_of(basis.pool, there)),
        rtol=1e-9,
    )
    there = whole(replace(basis.instance, prior=drawn.prior[0]))
    np.testing.assert_allclose(
        frequencies(basis).costs(drawn.prior[:1])[0],
        costs_of(basis.pool, there, weights_of(basis.pool, there)),
        rtol=1e-9,
    )


@pytest.mark.parametrize("seed", range(3))
def test_at_the_models_own_features_choices_cost_what_they_do_now(seed):
    model = random_board(seed)
    basis, _ = prepared(model, draws=4, rivals=2)
    for unknown in (Readings(basis, 0).unknown(1), cure(basis, "a0", 0), frequencies(basis)):
        np.testing.assert_allclose(
            unknown.costs(unknown.mean[None])[0], basis.by_fault.sum(axis=1), rtol=1e-9, atol=1e-12
        )


def test_nested_simulation_agrees_where_states_are_hidden():
    """Two-level Monte Carlo with its own draws; the inner expectation is walked, not taken from features."""
    model = two_twin_checks(weight=6.0)
    basis, drawn = prepared(model, draws=1200, rivals=8)
    found = dict(check_records(basis, 0, drawn, 10))[0]
    rng = np.random.default_rng(5)
    draws = [sample(model, rng) for _ in range(1500)]
    rows = np.array([draw.state_probabilities[0][0] for draw in draws])
    shows = np.array([draw.checks[0].probabilities for draw in draws])
    costs = np.array(
        [
            costs_of(basis.pool, arrays, weights_of(basis.pool, arrays))
            for arrays in (
                whole(substituted(basis.instance, 0, 0, 0, r, s)) for r, s in zip(rows, shows, strict=True)
            )
        ]
    )
    low = np.einsum("ks,ks->k", rows, shows[:, :, 0])
    saved = sum_saved(basis, costs, low)
    assert found.value == pytest.approx(saved, abs=0.05 + (found.high - found.low))


def sum_saved(basis, costs, low):
    """Cheapest by what is known, less the expectation of the cheapest after each count of low readings."""
    before = cheapest(basis.pool, costs.mean(axis=0)).expected[0]
    after = 0.0
    for k in range(11):
        likely = binom.pmf(k, 10, low)
        after += likely.mean() * cheapest(basis.pool, likely @ costs / likely.sum()).expected[0]
    return before - after
