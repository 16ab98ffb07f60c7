"""Rivals and drawn models."""

import numpy as np
import pytest
from sensitive_boards import SHOP, one_fix, random_board

from benchlore.model import sample
from benchlore.procedure import Effort, expected_cost, plan, solve_exact
from benchlore.procedure.costing import policy_of
from benchlore.procedure.policy import RETURN
from benchlore.procedure.pool import followed
from benchlore.proof.drawn import drawn_of, now_followed
from benchlore.proof.rivals import FIRST_STEPS, compared, pricing_of
from benchlore.proof.work import in_turn, seeds


def drawn_under(model, draws=12, rivals=3):
    procedure = plan(model, SHOP)
    pricing = pricing_of(model, SHOP, procedure)
    both = compared(model, procedure, pricing, seeds(0, 0, rivals), effort=Effort.QUICK, run=in_turn)
    return procedure, pricing, both, drawn_of(model, pricing, both, seeds(0, 1, draws), in_turn)


@pytest.mark.parametrize("seed", range(3))
def test_under_each_draw_the_procedure_costs_what_walking_it_there_says(seed):
    model = random_board(seed)
    procedure, pricing, _, drawn = drawn_under(model)
    for k, own in enumerate(seeds(0, 1, 12)):
        there = pricing.instance(sample(model, np.random.default_rng(own)))
        assert drawn.own[k] == pytest.approx(expected_cost(procedure, there), rel=1e-9)


@pytest.mark.parametrize("seed", range(3))
def test_the_best_of_what_is_compared_lies_between_the_optimum_and_the_procedure(seed):
    model = random_board(seed, weight=4.0)
    _, pricing, _, drawn = drawn_under(model)
    for k, own in enumerate(seeds(0, 1, 12)):
        there = pricing.instance(sample(model, np.random.default_rng(own)))
        assert solve_exact(there).expected <= drawn.best[k] + 1e-9
    assert (drawn.best <= drawn.own + 1e-9).all()
    assert (drawn.best <= drawn.now + 1e-9).all()
    assert (drawn.best < drawn.own - 1e-3).any()


def test_what_is_compared_holds_the_procedure_whole():
    model = random_board(0)
    procedure, pricing, both, _ = drawn_under(model)
    policy = policy_of(procedure, pricing.instance(model))
    assert sorted(both.pool.action[followed(both.pool, both.pool.taken)]) == sorted(policy.action)


def test_the_procedures_first_step_is_the_first_of_those_compared_and_each_comes_once():
    model = random_board(0)
    procedure, pricing, both, drawn = drawn_under(model)
    actions = both.beginnings.action[list(both.beginnings.beginnings)].tolist()
    assert actions[0] == policy_of(procedure, pricing.instance(model)).action[0]
    assert len(set(actions)) == len(actions) <= FIRST_STEPS
    assert drawn.beginnings.shape == (12, len(actions))


def test_each_first_step_is_planned_on_to_its_optimum_where_the_problem_is_small():
    model = random_board(0)
    _, pricing, both, _ = drawn_under(model)
    here = now_followed(both.beginnings, pricing.instance(model))
    assert both.beginnings.action[here[0]] == solve_exact(pricing.instance(model)).policy.action[0]


def test_any_first_step_costs_at_most_its_own_cost_more_than_the_procedure():
    """It may be followed by the procedure; a reading more does no harm, its price and its setups do."""
    model = random_board(1)
    _, pricing, both, drawn = drawn_under(model)
    instance = pricing.instance(model)
    prices = [option.cost.total for option in (*instance.checks, *instance.fixes)]
    actions = both.beginnings.action[list(both.beginnings.beginnings)].tolist()
    looked = 0
    for j, action in enumerate(actions):
        if 0 <= action < len(instance.checks):
            assert (drawn.beginnings[:, j] <= drawn.own + prices[action] + 1e-9).all()
            looked += 1
    assert looked > 1


def test_a_board_with_one_thing_to_do_is_compared_with_the_return():
    _, _, both, _ = drawn_under(one_fix(3, 3))
    assert sorted(both.beginnings.action[list(both.beginnings.beginnings)]) == [RETURN, 0]
