"""Checks that cost nothing come first.

The law: "free" evidence never lowers expected utility (Good, "On the principle of total evidence", British Journal
for the Philosophy of Science 17, 1967), so that some best procedure begins with it.
"""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchlore.model import Gate
from benchlore.procedure import Cost, solve_exact
from benchlore.procedure.beforehand import MOST, after_free_checks
from benchlore.procedure.bounds import bounds_after_free_checks, lower_bounds
from random_instances import random_instance


def with_free_checks(rng, free):
    instance = random_instance(rng, (5, 3, 6, 4), gates=0.2, setups=2)
    checks = tuple(
        replace(each, cost=Cost()) if k in free else each for k, each in enumerate(instance.checks)
    )
    return replace(instance, checks=checks)


@given(st.integers(0, 1_000_000), st.sets(st.integers(0, 5), max_size=3))
@settings(max_examples=30, deadline=None)
def test_the_optimum_is_the_mean_of_what_is_left_after_free_checks(seed, free):
    instance = with_free_checks(np.random.default_rng(seed), free)
    known = after_free_checks(instance)
    assert sum(each.chance for each in known) == pytest.approx(1.0)
    prior = sum(each.chance * each.left.prior for each in known)
    assert prior == pytest.approx(instance.prior)
    mean = sum(each.chance * solve_exact(each.left).expected for each in known)
    assert mean == pytest.approx(solve_exact(instance).expected)


def test_a_free_check_is_done_and_what_costs_waits_or_needs_a_setup_is_not():
    instance = random_instance(np.random.default_rng(3), (5, 3, 6, 4), setups=2)
    free, dear, bench, waiting, *others = instance.checks
    checks = (
        replace(free, cost=Cost(), setups=0),
        replace(dear, setups=0),
        replace(bench, cost=Cost(), setups=1),
        replace(waiting, cost=Cost(), setups=0, gates=(Gate(1, (0,)),)),
        *others,
    )
    known = after_free_checks(replace(instance, checks=checks))
    assert len(known) == len(free.results)
    for each in known:
        assert [check.name for check in each.left.checks if check.excluded] == [free.name]
    standing = after_free_checks(replace(instance, checks=checks, standing=1))
    assert len(standing) == len(free.results) * len(bench.results)


def test_no_more_results_are_told_apart_than_are_allowed():
    instance = with_free_checks(np.random.default_rng(1), set(range(6)))
    instance = replace(instance, checks=tuple(replace(check, setups=0) for check in instance.checks))
    results = [len(check.results) for check in instance.checks]
    assert np.prod(results) > MOST
    known = after_free_checks(instance)
    assert MOST / max(results) < len(known) <= MOST


@given(st.integers(0, 1_000_000), st.sets(st.integers(0, 5), min_size=1, max_size=3))
@settings(max_examples=12, deadline=None)
def test_bounds_after_free_checks_rise_and_do_not_exceed_the_optimum(seed, free):
    instance = with_free_checks(np.random.default_rng(seed), free)
    values = [bound.value for bound in bounds_after_free_checks(instance)]
    assert values == sorted(values)
    assert bool(values) == (len(after_free_checks(instance)) > 1)
    assert max(values, default=0.0) <= solve_exact(instance).expected + 1e-9


def test_prices_of_their_own_for_each_result_of_a_free_check_raise_the_bound():
    before, after, optimum = 0.0, 0.0, 0.0
    for seed in range(4):
        instance = with_free_checks(np.random.default_rng(seed), {0, 1})
        instance = replace(
            instance, checks=tuple(replace(each, setups=0, gates=()) for each in instance.checks)
        )
        *_, whole = lower_bounds(instance, states=1)
        *_, split = bounds_after_free_checks(instance)
        before, after = before + whole.value, after + split.value
        optimum += solve_exact(instance).expected
    assert after - before > 0.4 * (optimum - before)
