"""Policies in one graph, and what is left at its states."""

from itertools import product

import numpy as np
import pytest
from test_procedure_costing import other

from benchlore.procedure import solve_exact
from benchlore.procedure.policy import RETURN, PolicyBuilder
from benchlore.procedure.pool import (
    Part,
    cheapest,
    costs_by_fault,
    costs_of,
    followed,
    kept,
    pool_of,
    weights_of,
)
from benchlore.procedure.remainder import remainder
from benchlore.procedure.walk import cost_of, walked, whole
from random_instances import random_instance

SIZE = (6, 3, 7, 4)


def several(seed):
    """An instance, its optimum, and the optima of three instances that differ in their probabilities."""
    instance = random_instance(np.random.default_rng(seed), SIZE, gates=0.2)
    return instance, [
        solve_exact(each).policy for each in (instance, *(other(instance, k) for k in range(3)))
    ]


def pooled(instance, policies):
    return pool_of(policies[0], [Part(frozenset(), policy) for policy in policies[1:]], instance)


@pytest.mark.parametrize("seed", range(5))
def test_the_first_policy_costs_in_the_pool_what_it_costs_alone_on_any_instance(seed):
    instance, policies = several(seed)
    for which in range(len(policies)):
        turned = policies[which:] + policies[:which]
        pool, there = pooled(instance, turned), other(instance, 9)
        arrays = whole(there)
        costs = costs_of(pool, arrays, weights_of(pool, arrays))
        assert costs[followed(pool, pool.taken)].sum() == pytest.approx(cost_of(turned[0], there), rel=1e-9)


@pytest.mark.parametrize("seed", range(5))
def test_the_cheapest_mixture_costs_no_more_than_any_policy_and_no_less_than_the_optimum(seed):
    instance, policies = several(seed)
    pool, there = pooled(instance, policies), other(instance, 7)
    arrays = whole(there)
    costs = costs_of(pool, arrays, weights_of(pool, arrays))
    found = cheapest(pool, costs)
    assert found.expected[0] <= min(cost_of(policy, there) for policy in policies) + 1e-9
    assert found.expected[0] >= solve_exact(there).expected - 1e-9
    assert costs[followed(pool, found.chosen[0])].sum() == pytest.approx(found.expected[0], rel=1e-12)


def test_costs_by_fault_add_up():
    instance, policies = several(1)
    pool, arrays = pooled(instance, policies), whole(instance)
    weights = weights_of(pool, arrays)
    np.testing.assert_allclose(
        costs_by_fault(pool, arrays, weights).sum(axis=1), costs_of(pool, arrays, weights), rtol=1e-12
    )


def test_what_is_pruned_does_not_change_what_is_left():
    instance, policies = several(2)
    pool, arrays = pooled(instance, policies), whole(instance)
    costs = costs_of(pool, arrays, weights_of(pool, arrays))
    wanted = np.zeros(len(costs), dtype=bool)
    wanted[followed(pool, cheapest(pool, costs).chosen[0])] = True
    small = kept(pool, wanted)
    again = costs_of(small, arrays, weights_of(small, arrays))
    assert len(small.action) == wanted.sum() == len(small.parent)
    assert again.sum() == pytest.approx(cheapest(pool, costs).expected[0], rel=1e-12)


@pytest.mark.parametrize("seed", range(4))
def test_the_rest_of_an_optimum_is_the_optimum_of_the_rest(seed):
    """Bellman's principle ties the problem that is left to the whole one."""
    instance, policies = several(seed)
    policy = policies[0]
    pool = pool_of(policy, (), instance)
    weights, walk = weights_of(pool, whole(instance)), walked(policy, instance)
    totals = {round(float(reach), 14): total for reach, total in zip(walk.reach, walk.total, strict=True)}
    looked = 0
    for n in range(1, len(pool.parent)):
        left = remainder(instance, pool.done[n], weights.faults[n], weights.seen[n])
        reach = float(weights.faults[n].sum())
        if left is not None and reach > 1e-3:
            assert solve_exact(left).expected * reach == pytest.approx(totals[round(reach, 14)], rel=1e-9)
            looked += 1
    assert looked > 1


def test_nothing_is_left_of_an_impossible_state():
    instance = random_instance(np.random.default_rng(0), SIZE)
    done = np.full(len(instance.checks) + len(instance.fixes), -1)
    shape = (len(instance.tables), max(table.shape[1] for table in instance.tables))
    assert remainder(instance, done, np.zeros(len(instance.faults)), np.ones(shape)) is None


def test_a_part_begins_where_its_evidence_says():
    """Return after the first result of a check: the mixture may take it there and nowhere else."""
    instance, policies = several(0)
    builder = PolicyBuilder()
    builder.add(RETURN)
    action = int(policies[0].action[0])
    part = Part(frozenset({(action, 0)}), builder.build())
    before, after = (pool_of(policies[0], parts, instance) for parts in ((), (part,)))
    more = len(after.action) - len(before.action)
    assert more == 1
    [new] = [
        j
        for j, (n, code) in enumerate(zip(after.state, after.action, strict=True))
        if code == RETURN and after.done[n, action] == 0 and (after.done[n] >= 0).sum() == 1
    ]
    assert after.own[new] == instance.give_up


def test_states_are_shared_whatever_the_order():
    instance = random_instance(np.random.default_rng(5), (4, 3, 3, 2), gates=0.0)
    trees = []
    for first, second in ((0, 1), (1, 0)):
        builder = PolicyBuilder()
        results = [len(instance.checks[c].results) for c in (first, second)]
        root = builder.add(first, results[0])
        for r in range(results[0]):
            node = builder.add(second, results[1], root, r)
            for k in range(results[1]):
                builder.add(RETURN, 0, node, k)
        trees.append(builder.build())
    pool = pooled(instance, trees)
    counts = [len(instance.checks[c].results) for c in (0, 1)]
    assert len(pool.parent) == 1 + sum(counts) + len(list(product(*map(range, counts))))
