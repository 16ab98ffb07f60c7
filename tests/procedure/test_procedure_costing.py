"""A procedure on other instances than its own."""

from dataclasses import replace

import numpy as np
import pytest

from benchlore.procedure import Limits, simulate, solve_anytime, solve_exact
from benchlore.procedure.costing import expected_cost, policy_of
from benchlore.procedure.graph import Title, procedure_of
from benchlore.procedure.walk import cost_of
from random_instances import random_instance

TITLE = Title("board", "complaint", "shop", "EUR")


def other(instance, seed):
    """The same board with other probabilities."""
    rng = np.random.default_rng(seed)

    def mixed(rows):
        return 0.5 * rows + 0.5 * rng.dirichlet(np.ones(rows.shape[-1]), rows.shape[:-1])

    return replace(
        instance,
        prior=mixed(instance.prior),
        tables=tuple(mixed(table) for table in instance.tables),
        checks=tuple(replace(check, table=mixed(check.table)) for check in instance.checks),
    )


@pytest.mark.parametrize("seed", range(6))
def test_on_its_own_instance_a_procedure_costs_what_it_says(seed):
    instance = random_instance(np.random.default_rng(seed), (6, 4, 6, 4), gates=0.2)
    procedure = procedure_of(instance, solve_exact(instance), TITLE)
    assert expected_cost(procedure, instance) == pytest.approx(procedure.expected, rel=1e-12)


def test_the_unfolded_tree_is_the_policy_that_was_merged():
    instance = random_instance(np.random.default_rng(3), (15, 10, 20, 12))
    solution = solve_anytime(instance, limits=Limits(nodes=1_000))
    policy = policy_of(procedure_of(instance, solution, TITLE), instance)
    np.testing.assert_array_equal(policy.action, solution.policy.action)
    np.testing.assert_array_equal(policy.target, solution.policy.target)


@pytest.mark.parametrize("seed", range(3))
def test_on_another_instance_it_costs_what_jobs_simulated_there_do(seed):
    """Five standard errors: one honest run in two million fails."""
    instance = random_instance(np.random.default_rng(seed), (6, 3, 7, 4))
    procedure = procedure_of(instance, solve_exact(instance), TITLE)
    there = other(instance, seed)
    jobs = simulate(procedure, there, np.random.default_rng(seed), 200_000)
    found = expected_cost(procedure, there)
    assert abs(jobs.mean - found) < 5 * jobs.standard_error
    assert found != pytest.approx(procedure.expected, rel=1e-3)


def test_no_procedure_beats_the_optimum_of_another_instance():
    instance = random_instance(np.random.default_rng(8), (6, 3, 6, 4))
    procedure = procedure_of(instance, solve_exact(instance), TITLE)
    there = other(instance, 1)
    assert expected_cost(procedure, there) >= cost_of(solve_exact(there).policy, there) - 1e-9


def test_an_instance_that_lacks_a_check_is_refused():
    instance = random_instance(np.random.default_rng(1), (6, 4, 6, 4))
    procedure = procedure_of(instance, solve_exact(instance), TITLE)
    renamed = replace(
        instance, checks=tuple(replace(check, name=f"{check.name}-2") for check in instance.checks)
    )
    with pytest.raises(KeyError, match="c"):
        expected_cost(procedure, renamed)
