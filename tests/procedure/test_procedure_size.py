from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from planning_oracles import cheapest_by_size, identification, odd_instance

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
@settings(max_examples=40, deadline=None)
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
@settings(max_examples=15, deadline=None)
def test_look_ahead_policies_are_pruned_and_never_cost_more_than_their_pruning(seed, steps):
    instance = random_instance(np.random.default_rng(seed), (8, 6, 10, 6), gates=0.2)
    free = solve_anytime(instance, limits=Limits(nodes=1_000), leaf_states=0)
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
    assert told[-1][1] == solution.expected
