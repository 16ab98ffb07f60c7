import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from planning_oracles import brute_force, odd_instance

from benchlore.procedure import CheckOption, Cost, FixOption, Instance, TableTooLargeError, solve_exact
from benchlore.procedure.arrays import reduced
from benchlore.procedure.exact import bytes_of, states_of, swept
from benchlore.procedure.policy import RETURN
from benchlore.procedure.walk import cost_of
from random_instances import random_instance

seeds = st.integers(0, 1_000_000)


@given(seeds)
@settings(max_examples=60, deadline=None)
def test_two_solvers_agree_on_boards(seed):
    rng = np.random.default_rng(seed)
    size = (
        int(rng.integers(2, 6)),
        int(rng.integers(1, 4)),
        int(rng.integers(0, 5)),
        int(rng.integers(0, 4)),
    )
    instance = random_instance(rng, size, gates=0.4)
    assert solve_exact(instance).expected == pytest.approx(brute_force(instance), abs=1e-9)


@given(seeds)
@example(6399)  # a free check foretells whether another one will open the only fix
@settings(max_examples=150, deadline=None)
def test_two_solvers_agree_on_odd_problems(seed):
    instance = odd_instance(np.random.default_rng(seed))
    assert solve_exact(instance).expected == pytest.approx(brute_force(instance), abs=1e-9)


@given(seeds)
@settings(max_examples=40, deadline=None)
def test_the_policy_costs_what_the_table_promises(seed):
    rng = np.random.default_rng(seed)
    instance = random_instance(rng, (6, 4, 6, 4), gates=0.3)
    solution = solve_exact(instance)
    assert cost_of(solution.policy, instance) == pytest.approx(solution.expected, abs=1e-9)
    assert solution.bound == solution.expected
    assert solution.proof == "optimal"


@given(seeds)
@settings(max_examples=20, deadline=None)
def test_the_order_of_checks_and_fixes_is_irrelevant(seed):
    rng = np.random.default_rng(seed)
    board = random_instance(rng, (5, 3, 5, 3))
    turned = Instance(
        board.faults,
        board.prior,
        board.tables,
        board.checks[::-1],
        board.fixes[::-1],
        board.setups,
        board.give_up,
        board.comeback,
    )
    assert solve_exact(turned).expected == pytest.approx(solve_exact(board).expected, abs=1e-9)


def test_first_action_costs_contain_the_optimum_and_nothing_below():
    board = random_instance(np.random.default_rng(4), (6, 4, 6, 4))
    table = swept(reduced(board).arrays)
    assert min(*table.action_costs(), board.give_up) == pytest.approx(table.expected, abs=1e-12)


def test_a_table_that_does_not_fit_is_refused_with_its_size():
    board = random_instance(np.random.default_rng(1), (6, 4, 6, 4))
    arrays = reduced(board).arrays
    needed = bytes_of(arrays)
    assert needed >= 8 * states_of(arrays)
    with pytest.raises(TableTooLargeError, match=f"needs {needed:,} bytes and 1,000 are allowed"):
        solve_exact(board, memory=1000)


def test_progress_rises_to_one():
    board = random_instance(np.random.default_rng(2), (7, 6, 8, 7))
    told = []
    solve_exact(board, progress=told.append)
    assert told == sorted(told)
    assert told[-1] == 1.0


def lone_fault(checks=(), fixes=(), tables=()):
    return Instance(("f",), np.ones(1), tables, checks, fixes, (), give_up=80.0, comeback=90.0)


def test_nothing_to_do_means_return():
    solution = solve_exact(lone_fault())
    assert solution.expected == 80.0
    assert solution.policy.action.tolist() == [RETURN]


def test_a_free_useless_check_is_not_done():
    check = CheckOption("look", 0, ("yes", "no"), np.eye(2), Cost())
    board = lone_fault((check,), tables=(np.full((1, 2), 0.5),))
    assert solve_exact(board).policy.action.tolist() == [RETURN]


def test_of_two_equally_good_actions_the_simpler_is_taken():
    """Return before fix: a sure cure at the price of a return. Fix before check: a free check changes nothing."""
    dear = FixOption("dear", np.ones(1), Cost(hands_on=80.0))
    assert solve_exact(lone_fault(fixes=(dear,))).policy.action.tolist() == [RETURN]
    check = CheckOption("look", 0, ("yes", "no"), np.eye(2), Cost())
    two = Instance(
        ("f", "g"),
        np.array([0.5, 0.5]),
        (np.eye(2),),
        (check,),
        (FixOption("both", np.ones(2), Cost(hands_on=10.0)),),
        (),
        give_up=80.0,
        comeback=90.0,
    )
    assert solve_exact(two).policy.action[0] == 1
