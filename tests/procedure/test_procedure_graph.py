import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchlore.procedure import Limits, solve_anytime, solve_exact
from benchlore.procedure.graph import Title, procedure_of
from random_instances import random_instance

seeds = st.integers(0, 2**32 - 1)
TITLE = Title("board", "complaint", "shop", "EUR")


def drawn(seed, size, gates=0.0):
    return random_instance(np.random.default_rng(seed), size, gates=gates)


@given(seeds, st.sampled_from([0.0, 0.3]))
@settings(max_examples=7, deadline=None)
def test_a_procedure_costs_what_its_steps_cost_as_often_as_they_are_reached(seed, gates):
    instance = drawn(seed, (5, 3, 5, 3), gates)
    for solution in (solve_exact(instance), solve_anytime(instance, limits=Limits(nodes=2_000))):
        procedure = procedure_of(instance, solution, TITLE)
        assert procedure.expected == pytest.approx(solution.expected, rel=1e-9)
        own = sum(step.reach * step.cost.total for step in procedure.steps)
        assert own == pytest.approx(procedure.expected, rel=1e-9)


@given(seeds, st.sampled_from([0.0, 0.3]))
@settings(max_examples=15, deadline=None)
def test_flows_and_costs_fit_together_at_every_step(seed, gates):
    instance = drawn(seed, (5, 3, 5, 3), gates)
    procedure = procedure_of(instance, solve_exact(instance), TITLE)
    reach = np.zeros(len(procedure.steps))
    reach[0] = 1.0
    for step in procedure.steps:
        assert step.reach == pytest.approx(reach[step.number], abs=1e-9)
        flows = {result: step.reach * step.chances[result] for result in step.branches}
        for result, target in step.branches.items():
            if target >= 0:
                assert target > step.number
                reach[target] += flows[result]
        if step.branches:
            assert sum(step.chances.values()) == pytest.approx(1.0, abs=1e-9)
        # Where no other step leads to what follows, Bellman's equation holds between the printed numbers.
        followers = {target: procedure.steps[target] for target in step.branches.values() if target >= 0}
        flow_to = {t: sum(flows[r] for r, to in step.branches.items() if to == t) for t in followers}
        if all(follower.reach == pytest.approx(flow_to[t]) for t, follower in followers.items()):
            after = sum(flow_to[t] * follower.expected for t, follower in followers.items()) / step.reach
            assert step.expected == pytest.approx(step.cost.total + after, abs=1e-7)
