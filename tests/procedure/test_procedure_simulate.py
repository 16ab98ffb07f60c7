import numpy as np
import pytest

from benchlore.procedure import Limits, simulate, solve_anytime, solve_exact
from benchlore.procedure.graph import Title, procedure_of
from benchlore.procedure.values import Kind
from random_instances import random_instance

TITLE = Title("board", "complaint", "shop", "EUR")


def drawn(seed, size=(6, 4, 6, 4), gates=0.0):
    instance = random_instance(np.random.default_rng(seed), size, gates=gates)
    return instance, procedure_of(instance, solve_exact(instance), TITLE)


@pytest.mark.parametrize(("seed", "gates"), [(0, 0.0), (1, 0.0), (2, 0.3), (3, 0.3)])
def test_simulated_jobs_cost_on_average_what_the_procedure_promises(seed, gates):
    """Five standard errors: one honest run in two million fails."""
    instance, procedure = drawn(seed, gates=gates)
    jobs = simulate(procedure, instance, np.random.default_rng(seed), 200_000)
    assert abs(jobs.mean - procedure.expected) < 5 * jobs.standard_error
    assert jobs.standard_error < 0.01 * procedure.expected


def test_a_look_aheads_procedure_keeps_its_promise_too():
    instance = random_instance(np.random.default_rng(9), (15, 10, 20, 12))
    procedure = procedure_of(instance, solve_anytime(instance, limits=Limits(nodes=2_000)), TITLE)
    jobs = simulate(procedure, instance, np.random.default_rng(0), 200_000)
    assert abs(jobs.mean - procedure.expected) < 5 * jobs.standard_error


def test_jobs_reach_each_step_as_often_as_it_says():
    instance, procedure = drawn(4)
    jobs = simulate(procedure, instance, np.random.default_rng(1), 200_000)
    returns = [step for step in procedure.steps if step.kind is Kind.RETURN]
    for step in returns:
        share = ((jobs.last == step.number) & ~jobs.released).mean()
        error = np.sqrt(step.reach * (1 - step.reach) / 200_000)
        assert abs(share - step.reach) < 5 * error + 1e-9
    assert (~jobs.released).mean() == pytest.approx(sum(s.reach for s in returns), abs=0.01)


def test_what_went_home_uncured_cost_a_comeback():
    instance, procedure = drawn(5)
    jobs = simulate(procedure, instance, np.random.default_rng(2), 50_000)
    slipped = jobs.released & ~jobs.cured
    assert slipped.any()
    assert (jobs.cost[slipped] >= instance.comeback).all()
    assert not (jobs.cured & ~jobs.released).any()


def test_equal_seeds_draw_equal_jobs():
    instance, procedure = drawn(6)
    first, second = (simulate(procedure, instance, np.random.default_rng(3), 1000) for _ in range(2))
    np.testing.assert_array_equal(first.cost, second.cost)
