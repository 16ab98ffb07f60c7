"""Soaks chosen anew for a complete policy."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from soaking_boards import one_fault, with_soaks

from benchlore.procedure import Limits, solve_anytime, solve_exact
from benchlore.procedure.policy import RETURN, PolicyBuilder
from benchlore.procedure.resoak import resoaked
from benchlore.procedure.walk import cost_of
from random_instances import random_instance

SEEDS = st.integers(0, 2**32 - 1)


def shuffled_soaks(rng, policy, instance):
    """Take any soak at each fix step."""
    action = policy.action.copy()
    checks = len(instance.checks)
    for n in np.flatnonzero(action >= checks):
        name = instance.fixes[action[n] - checks].name
        action[n] = checks + rng.choice([k for k, fix in enumerate(instance.fixes) if fix.name == name])
    return replace(policy, action=action)


@given(seed=SEEDS)
@settings(max_examples=15, deadline=None)
def test_the_best_soaks_of_a_policy_are_found_again(seed):
    """From any soaks it gets no dearer, and no single step would be cheaper with another soak."""
    rng = np.random.default_rng(seed)
    board = with_soaks(rng, random_instance(rng, (5, 3, 4, 3), gates=0.2))
    optimum = solve_exact(board)
    other = shuffled_soaks(rng, optimum.policy, board)
    better = resoaked(other, board)
    cost = cost_of(better, board)
    assert optimum.expected - 1e-9 <= cost <= cost_of(other, board) + 1e-9
    checks = len(board.checks)
    for n in np.flatnonzero(better.action >= checks):
        fix = board.fixes[better.action[n] - checks]
        for k, variant in enumerate(board.fixes):
            if variant.name == fix.name:
                action = better.action.copy()
                action[n] = checks + k
                assert cost_of(replace(better, action=action), board) >= cost - 1e-9


def test_one_fix_gets_the_soak_that_costs_least():
    """60 min of waiting at 0.1 save 0.5 (e^-0 - e^-2) 100 = 43; 600 min would save little more."""
    board = one_fault(0.5, 20.0, (0.0, 60.0, 600.0), 30.0, 0.1)
    builder = PolicyBuilder()
    builder.link(builder.add(0, 2), 0, builder.add(RETURN))
    better = resoaked(builder.build(), board)
    assert better.action.tolist() == [1, RETURN]
    assert cost_of(better, board) == pytest.approx(20 + 6 + 0.5 * (200 + 100 * np.exp(-2)))


def test_an_optimum_and_a_board_without_a_choice_stay_as_they_are():
    rng = np.random.default_rng(3)
    plain = random_instance(rng, (5, 3, 4, 3))
    policy = solve_exact(plain).policy
    assert resoaked(policy, plain) is policy
    board = with_soaks(rng, plain)
    policy = solve_exact(board).policy
    np.testing.assert_array_equal(resoaked(policy, board).action, policy.action)


def test_a_soak_that_cannot_be_done_is_not_taken():
    board = one_fault(0.5, 20.0, (0.0, 60.0), 30.0, 0.1)
    board = replace(board, fixes=(board.fixes[0], replace(board.fixes[1], excluded="needs a rig")))
    builder = PolicyBuilder()
    builder.link(builder.add(0, 2), 0, builder.add(RETURN))
    assert resoaked(builder.build(), board).action.tolist() == [0, RETURN]


def test_the_look_ahead_leaves_no_step_with_a_dearer_soak():
    rng = np.random.default_rng(8)
    board = with_soaks(rng, random_instance(rng, (8, 6, 8, 6)))
    policy = solve_anytime(board, limits=Limits(nodes=4_000), leaf_states=0, bounds=iter(())).policy
    assert cost_of(resoaked(policy, board), board) == pytest.approx(cost_of(policy, board), abs=1e-6)
