import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from planning_oracles import fixes_in_order

from benchlore.procedure import (
    CheckOption,
    Cost,
    Title,
    fixes_alone,
    most_telling,
    procedure_of,
    solve_exact,
    told,
)
from benchlore.procedure.state import problem_of
from benchlore.procedure.told import none_tried, told_costs
from benchlore.procedure.walk import whole
from random_instances import random_instance


@settings(max_examples=10, deadline=None)
@given(st.integers(0, 10_000), st.sampled_from([0.0, 0.3]))
def test_no_habit_is_cheaper_than_the_optimum_and_checks_never_cost_more_than_they_save(seed, gates):
    instance = random_instance(np.random.default_rng(seed), (5, 4, 5, 4), gates=gates)
    optimum = solve_exact(instance).expected
    alone, telling = fixes_alone(instance).expected, most_telling(instance).expected
    assert optimum - 1e-9 <= telling <= alone + 1e-9
    assert alone <= instance.give_up + 1e-9


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 10_000))
def test_whoever_is_told_the_fault_never_pays_more_than_the_optimum(seed):
    instance = random_instance(np.random.default_rng(seed), (5, 4, 5, 4), gates=0.3)
    costs = np.array([told(instance, f).expected for f in range(5)])
    assert instance.prior @ costs <= solve_exact(instance).expected + 1e-9


def test_told_costs_agree_with_the_bounds_own():
    instance = random_instance(np.random.default_rng(3), (6, 4, 5, 5))
    problem = problem_of(whole(instance))
    expected = told_costs(problem, 0, none_tried(problem))
    assert [told(instance, f).expected for f in range(6)] == pytest.approx(expected.tolist())


def test_fixes_alone_come_in_the_order_of_cure_over_cost():
    """Kadane & Simon 1977: chances 0.2, 0.5, 0.3 at costs 1, 5, 2 come in the order of 0.2, 0.15, 0.1."""
    instance = fixes_in_order([0.2, 0.5, 0.3], [1.0, 5.0, 2.0])
    procedure = procedure_of(instance, fixes_alone(instance), Title("b", "c", "s", "EUR"))
    order = [step.action for step in procedure.steps if step.action]
    assert order == [instance.fixes[a].name for a in (0, 2, 1)]


def test_a_check_that_is_never_reached_by_enough_jobs_is_not_made():
    instance = random_instance(np.random.default_rng(1), (5, 4, 5, 4))
    assert most_telling(instance, rare=2.0).expected == fixes_alone(instance).expected


def test_a_check_that_tells_nothing_is_not_made():
    instance = random_instance(np.random.default_rng(1), (5, 4, 5, 4))
    blank = CheckOption("blank", 0, ("a", "b"), np.full((instance.tables[0].shape[1], 2), 0.5), Cost())
    with_blank = instance.__class__(
        **{name: getattr(instance, name) for name in instance.__dataclass_fields__}
        | {"checks": (blank, *instance.checks[1:])}
    )
    procedure = procedure_of(with_blank, most_telling(with_blank), Title("b", "c", "s", "EUR"))
    assert all(step.action != "blank" for step in procedure.steps)
