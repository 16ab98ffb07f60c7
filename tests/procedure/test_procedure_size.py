from dataclasses import replace
from importlib import import_module
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from planning_oracles import cheapest_by_size, identification, odd_instance
from soaking_boards import soaked, with_soaks

from benchlore.procedure import (
    MEMORY,
    CheckOption,
    Cost,
    FixOption,
    Instance,
    Kind,
    Limits,
    at_most,
    solve_anytime,
    solve_exact,
)
from benchlore.procedure.arrays import reduced
from benchlore.procedure.bounds import lower_bounds
from benchlore.procedure.exact import swept
from benchlore.procedure.graph import Title, procedure_of
from benchlore.procedure.prune import prunable
from benchlore.procedure.share import shrinking, sized
from benchlore.procedure.walk import cost_of
from random_instances import random_instance

seeds = st.integers(0, 1_000_000)
TITLE = Title("board", "complaint", "shop", "EUR")


def limited(instance, solution, steps):
    return at_most(instance, solution, steps, memory=MEMORY)


def steps_of(solution, instance):
    return len(procedure_of(instance, solution, TITLE).steps)


@given(seeds, st.integers(1, 30))
@settings(max_examples=16, deadline=None)
def test_a_limited_procedure_fits_and_its_cost_is_exact_and_never_below_the_optimum(seed, steps):
    instance = random_instance(np.random.default_rng(seed), (5, 3, 5, 3), gates=0.3)
    free = solve_exact(instance)
    solution = limited(instance, free, steps)
    procedure = procedure_of(instance, solution, TITLE)
    assert len(procedure.steps) <= steps
    assert procedure.expected == pytest.approx(solution.expected, abs=1e-9)
    assert (procedure.limit, procedure.unlimited) == (steps, pytest.approx(free.expected, abs=1e-9))
    assert procedure.bound == pytest.approx(free.expected, abs=1e-9)
    assert free.expected - 1e-9 <= solution.expected <= instance.give_up + 1e-9


@given(seeds, st.integers(1, 12))
@settings(max_examples=80, deadline=None)
def test_odd_problems_fit_too(seed, steps):
    instance = odd_instance(np.random.default_rng(seed))
    free = solve_exact(instance)
    solution = limited(instance, free, steps)
    assert steps_of(solution, instance) <= steps
    assert cost_of(solution.policy, instance) == pytest.approx(solution.expected, abs=1e-9)
    assert solution.expected >= free.expected - 1e-9


@given(seeds)
@settings(max_examples=20, deadline=None)
def test_a_limit_that_does_not_bind_changes_nothing(seed):
    instance = random_instance(np.random.default_rng(seed), (5, 3, 5, 3))
    free = solve_exact(instance)
    same = limited(instance, free, steps_of(free, instance))
    assert same.policy is free.policy
    assert (same.proof, same.expected, same.method) == ("optimal", free.expected, free.method)
    assert limited(instance, free, 10**9).policy is free.policy


@given(seeds, st.floats(0.001, 40))
@settings(max_examples=40, deadline=None)
def test_the_priced_recursion_weighs_all_policies_of_every_size(seed, price):
    """At a price for each node the optimum over policies is the optimum over sizes, each found by brute force."""
    rng = np.random.default_rng(seed)
    instance = random_instance(rng, (4, 2, 3, 2), gates=0.3) if seed % 2 else odd_instance(rng)
    table = swept(reduced(instance).arrays, step_price=price)
    most = 40
    sizes = cheapest_by_size(instance, most)
    assert table.values[0] == pytest.approx(
        min(cost + price * (k + 1) for k, cost in enumerate(sizes) if np.isfinite(cost)), abs=1e-9
    )


@given(seeds)
@settings(max_examples=25, deadline=None)
def test_no_tree_of_a_size_that_a_price_can_reach_costs_less(seed):
    """Brute force over all policies: sizes on the lower convex hull, reached by a range of prices."""
    instance = random_instance(np.random.default_rng(seed), (4, 2, 3, 2), gates=0.2)
    costs = cheapest_by_size(instance, 16)
    free = solve_exact(instance)
    for size in hull(costs):
        assert limited(instance, free, size).expected <= costs[size - 1] + 1e-9


def hull(costs):
    """Sizes that are cheapest at some price."""
    sizes = np.arange(1, len(costs) + 1)
    return {int((costs + price * sizes).argmin()) + 1 for price in np.geomspace(1e-6, 150, 3000)}


@pytest.mark.parametrize("seed", [0, 1, 2, 3, 16])
def test_more_steps_never_cost_more_while_the_limit_binds_on_what_a_search_found(seed):
    """A short search may find something dearer than what its own steps can be put together to."""
    instance = random_instance(np.random.default_rng(seed), (6, 4, 6, 4))
    free = solve_anytime(instance, limits=Limits(nodes=50), leaf_states=0, bounds=iter(()))
    costs = [limited(instance, free, steps).expected for steps in range(1, steps_of(free, instance))]
    assert all(more <= fewer + 1e-9 for fewer, more in pairwise(costs))


@pytest.mark.parametrize("seed", range(6))
def test_more_steps_never_cost_more(seed):
    instance = random_instance(np.random.default_rng(seed), (6, 4, 6, 4))
    free = solve_exact(instance)
    costs = [limited(instance, free, steps).expected for steps in range(1, steps_of(free, instance) + 1)]
    assert all(more <= fewer + 1e-9 for fewer, more in pairwise(costs))
    assert costs[0] == pytest.approx(instance.give_up, abs=1e-9)
    assert costs[-1] == pytest.approx(free.expected, abs=1e-9)


def test_sheets_of_40_steps_cost_less_than_a_tenth_of_a_per_mille():
    """Problems whose optimum has 52, 43 and 48 steps: for them the limit binds."""
    loss = []
    for seed in (500, 502, 503):
        instance = random_instance(np.random.default_rng(seed), (8, 6, 8, 5))
        free = solve_exact(instance)
        assert steps_of(free, instance) > 40
        solution = limited(instance, free, 40)
        assert steps_of(solution, instance) <= 40
        loss.append(solution.expected / free.expected - 1)
    assert max(loss) < 1e-4


@given(seeds, st.integers(1, 60))
@settings(max_examples=7, deadline=None)
def test_look_ahead_policies_are_pruned_and_never_cost_more_than_their_pruning(seed, steps):
    instance = random_instance(np.random.default_rng(seed), (8, 6, 10, 6), gates=0.2)
    free = solve_anytime(instance, limits=Limits(nodes=300), leaf_states=0, bounds=lower_bounds(instance))
    solution = limited(instance, free, steps)
    assert steps_of(solution, instance) <= steps
    assert cost_of(solution.policy, instance) == pytest.approx(solution.expected, abs=1e-9)
    assert solution.bound == min(free.bound, solution.expected)
    if solution.limit and solution.policy is not free.policy:
        pruned = [
            sized(prunable(free.policy, instance).at(price), instance) for price in (1e-3, 1e-2, 0.1, 1)
        ]
        fitting = [each.cost for each in pruned if each.steps <= steps]
        assert solution.expected <= min(fitting, default=np.inf) * 1.01


@given(seeds)
@settings(max_examples=20, deadline=None)
def test_pruning_at_no_price_costs_no_more_and_at_a_high_one_only_returns(seed):
    instance = random_instance(np.random.default_rng(seed), (6, 4, 6, 4), gates=0.3)
    free = solve_exact(instance)
    pruning = prunable(free.policy, instance)
    assert cost_of(pruning.at(0.0), instance) == pytest.approx(free.expected, abs=1e-9)
    assert pruning.at(1e4).action.tolist() == [-1]
    sizes = [pruning.at(price).size for price in (0.0, 0.01, 0.1, 1.0, 10.0)]
    assert sizes == sorted(sizes, reverse=True)


def two_colours():
    """A free look at a colour that says nothing of the fault, then the same check and fixes on either."""
    read = CheckOption("read", 1, ("low", "high"), np.eye(2), Cost(hands_on=1.0))
    return Instance(
        faults=("f0", "f1"),
        prior=np.array([0.5, 0.5]),
        tables=(np.array([[0.7, 0.3], [0.3, 0.7]]), np.eye(2)),
        checks=(CheckOption("look", 0, ("red", "green"), np.eye(2), Cost()), read),
        fixes=(
            FixOption("a0", np.array([1.0, 0.0]), Cost(hands_on=20.0)),
            FixOption("a1", np.array([0.0, 1.0]), Cost(hands_on=20.0)),
        ),
        setups=(),
        give_up=100.0,
        comeback=120.0,
    )


def test_the_last_steps_saved_are_those_that_cost_least():
    instance = two_colours()
    free = solve_exact(instance)
    assert free.expected == pytest.approx(21.0)
    four = limited(instance, free, 4)
    assert steps_of(four, instance) == 4
    assert four.expected == pytest.approx(21.0)
    three = procedure_of(instance, limited(instance, free, 3), TITLE)
    assert three.expected == pytest.approx(20 + 0.5 * 20)
    assert [step.kind for step in three.steps] == [Kind.FIX, Kind.FIX, Kind.RETURN]
    two = procedure_of(instance, limited(instance, free, 2), TITLE)
    assert two.expected == pytest.approx(20 + 0.5 * 100)
    one = procedure_of(instance, limited(instance, free, 1), TITLE)
    assert [step.kind for step in one.steps] == [Kind.RETURN]
    assert one.expected == 100.0


def test_steps_are_saved_one_by_one_without_a_price():
    instance = random_instance(np.random.default_rng(4), (6, 4, 6, 4))
    whole = sized(solve_exact(instance).policy, instance)
    smaller = list(shrinking(whole, instance))
    sizes = [each.steps for each in smaller]
    assert max(sizes) < whole.steps
    assert min(sizes) <= whole.steps // 2
    for each in smaller:
        assert each.cost == pytest.approx(cost_of(each.policy, instance), abs=1e-9)
        assert each.cost >= whole.cost - 1e-9


def test_an_identification_is_cut_short_by_saying_cannot_tell():
    instance = identification([0.4, 0.3, 0.2, 0.1], [(0, 1, 1, 1), (0, 0, 1, 1), (0, 0, 0, 1)])
    free = solve_exact(instance)
    for steps in (1, 2, 3):
        assert steps_of(limited(instance, free, steps), instance) <= steps


@given(seeds, st.floats(0.001, 40))
@settings(max_examples=25, deadline=None)
def test_the_priced_recursion_chooses_soaks_too(seed, price):
    rng = np.random.default_rng(seed)
    instance = with_soaks(rng, random_instance(rng, (3, 2, 2, 2), gates=0.3), choices=(2,))
    table = swept(reduced(instance).arrays, step_price=price)
    sizes = cheapest_by_size(instance, 30)
    assert table.values[0] == pytest.approx(
        min(cost + price * (k + 1) for k, cost in enumerate(sizes) if np.isfinite(cost)), abs=1e-9
    )


@given(seeds, st.integers(1, 14), st.booleans())
@settings(max_examples=30, deadline=None)
def test_with_soaks_a_limited_procedure_fits_and_its_cost_is_exact(seed, steps, looked):
    rng = np.random.default_rng(seed)
    instance = with_soaks(rng, random_instance(rng, (5, 3, 4, 3), gates=0.3))
    exact = solve_exact(instance)
    free = exact
    if looked:
        free = solve_anytime(instance, limits=Limits(nodes=200), leaf_states=0, bounds=iter(()))
    solution = limited(instance, free, steps)
    procedure = procedure_of(instance, solution, TITLE)
    assert len(procedure.steps) <= steps
    assert procedure.expected == pytest.approx(solution.expected, abs=1e-9)
    assert cost_of(solution.policy, instance) == pytest.approx(solution.expected, abs=1e-9)
    assert exact.expected - 1e-9 <= solution.expected <= instance.give_up + 1e-9
    menu = {(fix.name, fix.soak) for fix in instance.fixes}
    assert {(step.action, step.soak) for step in procedure.steps if step.kind is Kind.FIX} <= menu


def two_soaks():
    """A sign that says how sure the fault is; the sure case needs no soak, the guess a long one."""
    fix = FixOption("mend", np.array([1.0, 0.0]), Cost(hands_on=10.0))
    sign = np.array([[0.8, 0.2], [0.3, 0.7]])
    return Instance(
        faults=("f0", "f1"),
        prior=np.array([0.7, 0.3]),
        tables=(sign,),
        checks=(CheckOption("look", 0, ("clear", "vague"), np.eye(2), Cost(hands_on=0.5)),),
        fixes=soaked(fix, (5.0, 60.0), np.array([20.0, 20.0]), 0.25),
        setups=(),
        give_up=100.0,
        comeback=200.0,
    )


def test_steps_that_differ_only_in_soak_are_two_and_become_one_where_the_limit_binds():
    instance = two_soaks()
    free = solve_exact(instance)
    procedure = procedure_of(instance, free, TITLE)
    assert sorted(step.soak for step in procedure.steps if step.kind is Kind.FIX) == [5.0, 60.0]
    assert len(procedure.steps) == 4
    three = procedure_of(instance, limited(instance, free, 3), TITLE)
    assert len(three.steps) <= 3
    assert free.expected < three.expected
    alone = [solve_exact(replace(instance, fixes=(fix,), checks=())).expected for fix in instance.fixes]
    assert three.expected == pytest.approx(min(alone))


def test_a_policy_whose_soaks_the_reductions_leave_out_is_pruned_too():
    """Both soaks catch everything, so the dearer one is left out, but a policy may have it."""
    board = two_soaks()
    sure = replace(board, fixes=tuple(replace(fix, detects=np.ones(2)) for fix in board.fixes))
    longer = replace(sure, fixes=sure.fixes[1:])
    assert len(reduced(sure).fixes) == 1
    found = solve_exact(longer)
    moved = np.where(found.policy.action == 1, 2, found.policy.action)
    assert 2 in moved
    free = replace(found, policy=replace(found.policy, action=moved), proof="bounded")
    assert limited(sure, free, 2).expected == pytest.approx(found.expected)
    assert limited(sure, free, 1).expected == pytest.approx(sure.give_up)


@pytest.mark.parametrize("calls", [0, 1, 5, 20, 40, 60, 80])
def test_once_it_shall_stop_the_best_found_so_far_is_kept(calls):
    """However far it has got: among the prunings, or in the middle of a sweep."""
    instance = random_instance(np.random.default_rng(4), (6, 4, 6, 4))
    free, asked = solve_exact(instance), []

    def stopped():
        asked.append(1)
        return "interrupted" if len(asked) > calls else ""

    solution = at_most(instance, free, 8, memory=MEMORY, stopped=stopped)
    assert steps_of(solution, instance) <= 8
    assert cost_of(solution.policy, instance) == pytest.approx(solution.expected, abs=1e-9)
    assert limited(instance, free, 8).expected - 1e-9 <= solution.expected < instance.give_up
    assert solution.method == "exact sweep, at most 8 steps, interrupted"
    assert len(asked) <= max(calls, 12) + 2


def test_where_this_machine_lacks_the_memory_allowed_the_prunings_have_to_do(monkeypatch):
    def refuse(*_, **__):
        raise MemoryError

    instance = random_instance(np.random.default_rng(4), (6, 4, 6, 4))
    free = solve_exact(instance)
    monkeypatch.setattr(import_module("benchlore.procedure.size"), "swept", refuse)
    solution = limited(instance, free, 8)
    assert steps_of(solution, instance) <= 8
    assert free.expected < solution.expected < instance.give_up
    assert solution.method == "exact sweep, at most 8 steps, memory used up"


def test_progress_rises_and_tells_the_cost_so_far():
    instance = random_instance(np.random.default_rng(3), (6, 4, 6, 4))
    told = []
    solution = at_most(
        instance,
        solve_exact(instance),
        8,
        memory=MEMORY,
        progress=lambda share, cost, bound: told.append((share, cost, bound)),
    )
    assert told
    assert all(0 <= share <= 1 for share, _, _ in told)
    assert [share for share, _, _ in told] == sorted(share for share, _, _ in told)
    assert {bound for _, _, bound in told} == {solution.bound}
    assert told[-1][0] == 1.0
    assert told[-1][1] == solution.expected
