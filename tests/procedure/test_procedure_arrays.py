from dataclasses import replace

import numpy as np
import pytest
from planning_oracles import brute_force

from benchlore.model import Gate
from benchlore.procedure import CheckOption, Cost, FixOption, Instance, solve_exact
from benchlore.procedure.arrays import reduced

YES_NO = ("yes", "no")


def board(checks, fixes, *, prior=(0.5, 0.3, 0.2), tables=(), detects=(1.0, 1.0, 1.0)):
    return Instance(
        faults=tuple(f"f{k}" for k in range(len(prior))),
        prior=np.array(prior),
        tables=tables,
        checks=checks,
        fixes=tuple(replace(fix, detects=np.array(detects)) for fix in fixes),
        setups=(),
        give_up=100.0,
        comeback=130.0,
    )


def look(name, condition=0, table=((0.9, 0.1), (0.2, 0.8)), cost=2.0, gates=()):
    return CheckOption(name, condition, YES_NO, np.array(table), Cost(hands_on=cost), gates=gates)


def mend(name, cures, cost=10.0, gates=()):
    return FixOption(name, np.array(cures), Cost(hands_on=cost), gates=gates)


TELLING = np.array([[1.0, 0.0], [0.0, 1.0], [0.0, 1.0]])
SILENT = np.array([[0.3, 0.7]] * 3)


def test_a_check_that_no_fault_moves_is_dropped():
    instance = board(
        (look("silent", 0), look("useless", 1, ((0.5, 0.5), (0.5, 0.5))), look("telling", 1)),
        (mend("a", [1.0, 0.0, 0.0]), mend("b", [0.0, 1.0, 0.0])),
        tables=(SILENT, TELLING),
    )
    assert reduced(instance).checks == (2,)


def test_a_check_that_tells_nothing_is_kept_if_something_waits_for_it():
    chain = (
        look("first", 0),
        look("second", 0, gates=(Gate(0, (0,)),)),
        look("third", 1, gates=(Gate(1, (1,)),)),
    )
    instance = board(chain, (mend("a", [1.0, 0.0, 0.0]),), tables=(SILENT, TELLING))
    assert reduced(instance).checks == (0, 1, 2)


def test_two_checks_on_one_condition_may_tell_together_what_neither_tells_alone():
    """Each result is as likely under either fault, but agreeing results point to the sure state."""
    tables = (np.array([[0.5, 0.5, 0.0], [0.0, 0.0, 1.0]]),)
    either = ((1.0, 0.0), (0.0, 1.0), (0.5, 0.5))
    instance = board(
        (look("one", 0, either, 1.0), look("two", 0, either, 1.0)),
        (mend("a", [1.0, 0.0], 40.0), mend("b", [0.0, 1.0], 40.0)),
        prior=(0.5, 0.5),
        tables=tables,
        detects=(1.0, 1.0),
    )
    assert reduced(instance).checks == (0, 1)
    solution = solve_exact(instance)
    assert solution.policy.action[0] in (0, 1)
    assert solution.expected == pytest.approx(brute_force(instance), abs=1e-9)


def test_impossible_faults_are_dropped_and_equal_ones_merged():
    instance = board(
        (look("telling", 0),),
        (mend("a", [1.0, 0.0, 0.0, 0.0]), mend("b", [0.0, 0.9, 0.9, 1.0])),
        prior=(0.5, 0.3, 0.2, 0.0),
        tables=(np.vstack([TELLING, [[0.5, 0.5]]]),),
        detects=(1.0, 1.0, 1.0, 1.0),
    )
    small = reduced(instance)
    assert small.merged == ((0,), (1, 2))
    assert small.arrays.prior == pytest.approx([0.5, 0.5])
    assert solve_exact(instance).expected == pytest.approx(brute_force(instance), abs=1e-9)


@pytest.mark.parametrize("difference", ["cures", "detects", "rows"])
def test_faults_that_something_treats_differently_stay_apart(difference):
    fixes = [mend("b", [0.0, 0.9, 0.9])]
    tables = np.array([[1.0, 0.0], [0.2, 0.8], [0.2, 0.8]])
    detects = [1.0, 1.0, 1.0]
    if difference == "cures":
        fixes = [mend("b", [0.0, 0.9, 0.8])]
    elif difference == "detects":
        detects[2] = 0.9
    else:
        tables[2] = [0.3, 0.7]
    instance = board((look("telling"),), tuple(fixes), tables=(tables,), detects=detects)
    assert len(reduced(instance).merged) == 3


def test_a_fix_that_cures_nothing_is_dropped_only_where_retests_are_sure():
    """Where a retest may overlook a board, the retest after a useless fix is itself a test."""
    fixes = (mend("a", [1.0, 0.0, 0.0]), mend("useless", [0.0, 0.0, 0.0], 0.0))
    sure = board((), fixes)
    assert reduced(sure).fixes == (0,)
    doubtful = board((), fixes, detects=(1.0, 0.5, 1.0))
    assert reduced(doubtful).fixes == (0, 1)


def test_a_useless_fix_can_lower_the_optimum_where_retests_are_unsure():
    """Fault 1 never shows in a retest: a free retest tells it from fault 0 before the dear repair."""
    instance = Instance(
        faults=("shows", "hides"),
        prior=np.array([0.5, 0.5]),
        tables=(),
        checks=(),
        fixes=tuple(
            replace(fix, detects=np.array([1.0, 0.0]))
            for fix in (mend("dear", [1.0, 0.0], 90.0), mend("useless", [0.0, 0.0], 0.0))
        ),
        setups=(),
        give_up=100.0,
        comeback=100.0,
    )
    without = replace(instance, fixes=instance.fixes[:1])
    assert solve_exact(instance).expected == pytest.approx(0.5 * 100 + 0.5 * 90)
    assert solve_exact(without).expected == pytest.approx(100.0)
