from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchlore.model import Gate
from benchlore.procedure import (
    CheckOption,
    Cost,
    FixOption,
    Instance,
    Mode,
    SetupOption,
    solve_exact,
    trimmed,
)
from benchlore.procedure.graph import Title, procedure_of
from benchlore.procedure.policy import FINISHED, RETURN, PolicyBuilder
from benchlore.procedure.walk import cost_of, walked
from random_instances import random_instance

TITLE = Title("board", "complaint", "shop", "EUR")
CHECK, FIX = 0, 1

BOARD = Instance(
    faults=("joint", "via"),
    prior=np.array([0.6, 0.4]),
    tables=(np.array([[0.9, 0.1], [0.2, 0.8]]),),
    checks=(CheckOption("volts", 0, ("low", "high"), np.eye(2), Cost(hands_on=3.0)),),
    fixes=(
        FixOption(
            "reflow",
            np.array([0.9, 0.0]),
            Cost(hands_on=10.0, retest=2.0),
            1,
            detects=np.array([1.0, 0.5]),
        ),
    ),
    setups=(SetupOption("open", Cost(setups=6.0, risk=1.0), 1),),
    give_up=100.0,
    comeback=120.0,
)


def check_then_fix_if_low():
    """By hand: volts; low: reflow, then return; high: return."""
    builder = PolicyBuilder()
    volts = builder.add(CHECK, 2)
    reflow = builder.add(FIX, 2)
    builder.link(volts, 0, reflow)
    builder.link(reflow, 0, builder.add(RETURN))
    builder.link(volts, 1, builder.add(RETURN))
    return builder.build()


def test_a_policy_is_priced_by_hand():
    low = 0.6 * 0.9, 0.4 * 0.2
    still = low[0] * 0.1 + low[1] * 0.5
    slipped = low[1] * 0.5
    cost = 3 + sum(low) * (6 + 1 + 12) + slipped * 120 + (still + 1 - sum(low)) * 100
    assert cost_of(check_then_fix_if_low(), BOARD) == pytest.approx(cost, abs=1e-12)


def test_each_node_knows_its_probability_setups_and_slips():
    walk = walked(check_then_fix_if_low(), BOARD)
    assert walk.reach.tolist() == pytest.approx([1.0, 0.62, 0.094, 0.38])
    assert walk.missing.tolist() == [0, 1, 0, 0]
    assert walk.slips.tolist() == pytest.approx([0.0, 0.04, 0.0, 0.0])


def test_a_setup_that_stands_already_is_not_made():
    assert walked(check_then_fix_if_low(), replace(BOARD, standing=1)).missing.tolist() == [0, 0, 0, 0]


def test_a_policy_that_passes_a_shut_gate_is_refused():
    high_only = replace(BOARD, fixes=(replace(BOARD.fixes[0], gates=(Gate(0, (1,)),)),))
    with pytest.raises(AssertionError, match="a gate was passed unopened"):
        walked(check_then_fix_if_low(), high_only)


def test_a_policy_that_does_a_check_twice_is_refused():
    builder = PolicyBuilder()
    first, second = builder.add(CHECK, 2), builder.add(CHECK, 2)
    builder.link(first, 0, second)
    for node, result in ((second, 0), (second, 1), (first, 1)):
        builder.link(node, result, builder.add(RETURN))
    with pytest.raises(AssertionError, match="a gate was passed unopened"):
        walked(builder.build(), BOARD)


def test_a_procedure_says_what_each_step_is():
    solution = replace(solve_exact(BOARD), policy=check_then_fix_if_low())
    volts, reflow, back = procedure_of(BOARD, solution, TITLE).steps
    assert volts.branches == {"low": 1, "high": 2}
    assert volts.chances == pytest.approx({"low": 0.62, "high": 0.38})
    assert volts.suspects == (("joint", 0.6), ("via", 0.4))
    assert reflow.setups == ("open",)
    assert reflow.branches == {"still there": 2, "gone": -1}
    assert reflow.cost == Cost(
        hands_on=10, setups=6, retest=2, risk=1, comeback=pytest.approx(120 * 0.04 / 0.62)
    )
    assert reflow.suspects[0] == ("joint", pytest.approx(0.54 / 0.62))
    assert back.reach == pytest.approx(0.474)
    assert back.cost == Cost(lost_worth=100.0)
    assert back.suspects[0] == ("via", pytest.approx((0.32 + 0.04) / 0.474))


def test_results_that_cannot_occur_lead_to_the_return_without_changing_its_reach():
    sure = replace(BOARD, tables=(np.array([[1.0, 0.0], [1.0, 0.0]]),), standing=1)
    builder = PolicyBuilder()
    volts = builder.add(CHECK, 2)
    reflow = builder.add(FIX, 2)
    builder.link(volts, 0, reflow)
    builder.link(reflow, 0, builder.add(RETURN))
    builder.link(volts, 1, builder.add(RETURN))
    solution = replace(solve_exact(sure), policy=builder.build())
    steps = procedure_of(sure, solution, TITLE).steps
    assert steps[0].chances == pytest.approx({"low": 1.0, "high": 0.0})
    assert [step.reach for step in steps] == pytest.approx([1.0, 1.0, 0.06 + 0.2])


def test_an_identification_ends_without_a_loss():
    instance = replace(BOARD, tables=(np.eye(2),), fixes=(), mode=Mode.IDENTIFY)
    procedure = procedure_of(instance, solve_exact(instance), TITLE)
    assert procedure.expected == 3.0
    assert [step.cost.total for step in procedure.steps] == [3.0, 0.0]
    assert solve_exact(instance).policy.action.tolist() == [CHECK, FINISHED, FINISHED]


@given(st.integers(0, 10_000), st.sampled_from([0.0, 0.01, 0.1, 0.5]))
@settings(max_examples=30, deadline=None)
def test_an_excerpt_keeps_whole_ways_and_counts_what_leaves_them(seed, cut):
    instance = random_instance(np.random.default_rng(seed), (7, 5, 7, 5))
    procedure = procedure_of(instance, solve_exact(instance), TITLE)
    excerpt = trimmed(procedure, cut)
    kept = {step.number for step in excerpt.steps}
    assert 0 in kept
    assert not kept & excerpt.cut
    onwards = {to for step in excerpt.steps for to in step.branches.values() if to >= 0}
    assert onwards | {0} == kept | excerpt.cut
    assert all(step.reach >= cut for step in excerpt.steps[1:])
    ended = sum(
        step.reach * (1 if not step.branches else step.chances.get("gone", 0.0)) for step in excerpt.steps
    )
    assert ended + excerpt.beyond >= 1 - 1e-9
    if cut == 0.0:
        assert excerpt.steps == procedure.steps
        assert excerpt.beyond == 0.0


def test_a_step_that_just_enough_jobs_reach_is_printed():
    instance = random_instance(np.random.default_rng(8), (7, 5, 7, 5))
    procedure = procedure_of(instance, solve_exact(instance), TITLE)
    reached = max((step for step in procedure.steps[1:]), key=lambda step: step.reach)
    assert reached.number in {step.number for step in trimmed(procedure, reached.reach).steps}
    assert len(trimmed(procedure, 1.1).steps) == 1


@pytest.mark.parametrize("seed", range(6))
def test_the_most_probable_result_is_read_on_the_next_line(seed):
    """Unless what follows it is shared with another step and has to come later."""
    instance = random_instance(np.random.default_rng(seed), (7, 5, 7, 5))
    steps = procedure_of(instance, solve_exact(instance), TITLE).steps
    ways_in = [to for step in steps for to in step.branches.values()]
    for step in steps:
        onwards = {result: to for result, to in step.branches.items() if to >= 0}
        if onwards:
            likeliest = onwards[max(onwards, key=lambda result: step.chances[result])]
            assert likeliest == step.number + 1 or ways_in.count(likeliest) > 1
