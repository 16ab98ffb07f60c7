from dataclasses import replace
from importlib import import_module

import numpy as np
import pytest

from benchlore.model import Setup, Work, fix_of, model_of, named_check
from benchlore.procedure import Effort, Kind, Limits, NoWorthError, plan, solve_exact
from benchlore.procedure.costing import policy_of
from benchlore.procedure.pricing import instance_of
from benchlore.procedure.walk import cost_of
from benchlore.shop import Shop

SHOP = Shop(
    "Werkbank", "EUR", hour=60.0, waiting_hour=6.0, worth_otherwise=150.0, instruments=frozenset({"meter"})
)


def board(seed=0, faults=6, checks=6, fixes=5):
    rng = np.random.default_rng(seed)
    states = [np.where(rng.random((faults, 1)) < 0.4, [[0.15, 0.85]], [[0.95, 0.05]]) for _ in range(checks)]
    return model_of(
        rng.dirichlet(np.ones(faults)),
        states,
        [
            named_check(
                f"c{c}",
                c,
                [[0.95, 0.05], [0.1, 0.9]],
                results=("good", "bad"),
                work=Work(float(rng.uniform(2, 9)), setups=(0,) if c % 2 else (), equipment=("meter",)),
            )
            for c in range(checks)
        ],
        [
            fix_of(f"a{a}", 0.9 * np.eye(faults)[a], work=Work(float(rng.uniform(10, 40)), setups=(0,)))
            for a in range(fixes)
        ],
        setups=[Setup("open", "open", Work(6.0))],
        retest=Work(3.0, 20.0),
        detects=[1.0, 0.9] * (faults // 2),
        complaint="restarts",
    )


def test_a_plan_says_for_whom_it_is_and_that_it_is_optimal():
    procedure = plan(board(), SHOP)
    assert (procedure.board, procedure.complaint, procedure.shop, procedure.currency) == (
        "board",
        "restarts",
        "Werkbank",
        "EUR",
    )
    assert (procedure.proof, procedure.method, procedure.bound_method) == (
        "optimal",
        "exact sweep",
        "exact sweep",
    )
    assert procedure.expected == pytest.approx(solve_exact(instance_of(board(), SHOP)).expected, abs=1e-9)
    assert procedure.gap == 0.0


def test_without_memory_for_the_table_the_search_answers_and_says_so():
    exact, looked = plan(board(), SHOP), plan(board(), SHOP, memory=1000)
    assert looked.method.startswith(("look-ahead", "search from both sides"))
    assert looked.bound <= exact.expected + 1e-9 <= looked.expected + 2e-9
    assert looked.proof == "bounded" or looked.expected == pytest.approx(exact.expected, rel=2e-9)


def test_where_no_machine_could_hold_the_table_the_look_ahead_answers():
    beyond = board(faults=30, checks=28, fixes=16)  # 3^28 2^16 values
    procedure = plan(beyond, SHOP, memory=1 << 70, effort=Effort.QUICK)
    assert procedure.proof == "bounded"
    assert procedure.bound < procedure.expected < 150.0


def test_without_a_bound_none_is_claimed_and_the_cost_is_still_true():
    beyond = board(faults=30, checks=28, fixes=16)
    procedure = plan(beyond, SHOP, effort=Effort.QUICK, bounded=False)
    assert (procedure.bound, procedure.proof) == (0.0, "bounded")
    assert procedure.method.startswith("look-ahead, 4,000 states")
    assert plan(beyond, SHOP, effort=Effort.QUICK).bound < procedure.expected
    instance = instance_of(beyond, SHOP)
    assert cost_of(policy_of(procedure, instance), instance) == pytest.approx(procedure.expected)


def test_where_the_table_fits_the_optimum_is_proven_whether_a_bound_is_wanted_or_not():
    assert plan(board(), SHOP, bounded=False) == plan(board(), SHOP)


def test_where_this_machine_lacks_the_memory_allowed_the_look_ahead_answers(monkeypatch):
    def refuse(*_, **__):
        raise MemoryError

    monkeypatch.setattr(import_module("benchlore.procedure.plan"), "solve_exact", refuse)
    assert plan(board(), SHOP).method.startswith("look-ahead")


@pytest.mark.parametrize("memory", [1 << 30, 1000])
def test_equal_inputs_give_equal_procedures(memory):
    assert plan(board(3), SHOP, memory=memory) == plan(board(3), SHOP, memory=memory)


@pytest.mark.parametrize("memory", [1 << 30, 1000])
def test_progress_reaches_one(memory):
    told = []
    plan(board(), SHOP, memory=memory, effort=Effort.QUICK, progress=lambda done, *_: told.append(done))
    assert told[-1] == 1.0


@pytest.mark.parametrize("memory", [1 << 30, 1000])
@pytest.mark.parametrize("steps", [5, 1000])
def test_with_a_size_limit_progress_rises_to_one_too(memory, steps):
    told = []
    plan(board(), SHOP, memory=memory, steps=steps, progress=lambda done, *_: told.append(done))
    assert told == sorted(told)
    assert told[-1] == 1.0


QUICKLY = {"memory": 1000, "limits": Limits(nodes=50)}


def test_a_sampled_bound_is_named_as_one_beside_the_proven():
    large = board(faults=10, checks=13, fixes=8)
    proven, sampled = plan(large, SHOP, **QUICKLY), plan(large, SHOP, sample=30, **QUICKLY)
    assert proven.bound < sampled.bound < sampled.expected
    assert (proven.is_sampled, sampled.is_sampled) == (False, True)
    assert sampled.bound_method.startswith("sampled: 99 % sure, from ")
    assert sampled.bound_method.endswith(f"; proven: {proven.bound:.2f}, {proven.bound_method}")
    assert replace(sampled, bound=proven.bound, bound_method=proven.bound_method) == proven


def test_where_the_optimum_is_proven_or_the_sample_is_stopped_nothing_is_sampled():
    assert plan(board(), SHOP, sample=100) == plan(board(), SHOP)
    stopped = plan(board(), SHOP, sample=100, interrupted=lambda: True, **QUICKLY)
    assert not stopped.is_sampled


@pytest.mark.parametrize("memory", [1 << 30, 1000])
@pytest.mark.parametrize("steps", [5, None])
def test_with_a_sample_progress_rises_to_one_too(memory, steps):
    told = []
    plan(
        board(),
        SHOP,
        memory=memory,
        limits=Limits(nodes=50),
        steps=steps,
        sample=30,
        progress=lambda *each: told.append(each),
    )
    shares = [share for share, _, _ in told]
    assert shares == sorted(shares)
    assert shares[-1] == 1.0
    assert all(cost is None or bound <= cost for _, cost, bound in told)


@pytest.mark.parametrize("memory", [1 << 30, 1000])
def test_an_interrupted_search_still_keeps_the_size_limit(memory):
    procedure = plan(board(), SHOP, memory=memory, steps=5, interrupted=lambda: True)
    assert len(procedure.steps) <= 5
    assert "interrupted" in procedure.method
    assert procedure.method.count("interrupted") == 1
    assert plan(board(), SHOP).expected <= procedure.expected < 150.0


def test_a_size_limit_takes_no_longer_than_the_seconds_allowed_and_three_more():
    """A clock that goes on by a second whenever it is looked at: so it is seldom looked at once time is up."""
    now = [0.0]

    def clock():
        now[0] += 1.0
        return now[0]

    procedure = plan(board(), SHOP, steps=5, limits=Limits(seconds=30.0), clock=clock)
    assert len(procedure.steps) <= 5
    assert now[0] <= 30.0 + 3.0 + 12.0 + 2.0  # twelve policies are tried in any case
    assert procedure.method.endswith("stopped by the clock")


def test_a_shop_that_owns_nothing_still_gets_a_procedure():
    procedure = plan(board(), replace(SHOP, instruments=frozenset()))
    assert Kind.CHECK not in {step.kind for step in procedure.steps}
    assert procedure.expected <= 150.0


@pytest.mark.parametrize("memory", [1 << 30, 1])
def test_a_board_without_fixes_goes_back(memory):
    procedure = plan(board(fixes=0), SHOP, memory=memory)
    assert [step.kind for step in procedure.steps] == [Kind.RETURN]
    assert procedure.expected == pytest.approx(150.0)
    assert procedure.steps[0].cost.lost_worth == 150.0


def test_a_repair_that_is_worth_nothing_is_not_tried():
    procedure = plan(board(), replace(SHOP, worth_otherwise=0.0))
    assert procedure.expected == 0.0
    assert procedure.gap == 0.0


def test_work_that_costs_nothing_is_planned_too():
    free = replace(SHOP, hour=0.0, waiting_hour=0.0)
    procedure = plan(board(), free)
    assert 0.0 <= procedure.expected < 150.0


def test_setups_are_named_where_they_are_made_and_only_once_on_a_way():
    procedure = plan(board(), SHOP)
    makers = [step for step in procedure.steps if step.setups]
    assert makers
    assert all(step.setups == ("open",) and step.cost.setups == 6.0 for step in makers)


def test_an_instrument_never_makes_the_proven_procedure_dearer():
    poor = plan(board(5), replace(SHOP, instruments=frozenset()))
    assert plan(board(5), SHOP).expected <= poor.expected + 1e-9


def test_what_cannot_be_priced_is_not_planned():
    with pytest.raises(NoWorthError, match="nobody says what a finished repair"):
        plan(board(), replace(SHOP, worth_otherwise=None))
