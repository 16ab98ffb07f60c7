from math import inf

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchlore.model import Evidence, Gate, Setup, Work, fix_of, model_of, named_check, posterior
from benchlore.procedure.exact import solve_exact
from benchlore.procedure.next import next_steps
from benchlore.procedure.pricing import instance_of
from benchlore.procedure.values import Kind
from benchlore.shop import Shop

SHOP = Shop(
    "Shop", "EUR", hour=60.0, waiting_hour=6.0, worth_otherwise=100.0, instruments=frozenset({"meter"})
)


def small_model(seed):
    """Four faults, two conditions, three checks (two on one condition), three fixes, a setup, a soak."""
    rng = np.random.default_rng(seed)
    states = [rng.dirichlet([1.0, 0.6], size=4), rng.dirichlet([1.0, 0.5, 0.5], size=4)]
    checks = [
        named_check("c0", 0, rng.dirichlet([1, 1], size=2), work=Work(3.0, setups=(0,))),
        named_check("c1", 1, rng.dirichlet([1, 1, 1], size=3), work=Work(5.0, 4.0)),
        named_check("c2", 1, rng.dirichlet([1, 1], size=3), work=Work(2.0, ruins=0.01)),
    ]
    fixes = [
        fix_of("a0", [0.9, 0.0, 0.3, 0.0], work=Work(10.0, setups=(0,)), parts=4.0),
        fix_of("a1", [0.0, 0.95, 0.0, 0.0], work=Work(14.0)),
        fix_of("a2", [0.0, 0.5, 0.8, 0.0], work=Work(20.0, 30.0)),
    ]
    return model_of(
        rng.dirichlet([2, 2, 2, 0.4]),
        states,
        checks,
        fixes,
        setups=[Setup("open", "open", Work(6.0))],
        retest=Work(2.0, 20.0),
        detects=[1.0, 0.8, 0.9, 1.0],
    )


def option(advice, action):
    return next(each for each in advice.options if each.action == action)


@given(st.integers(0, 10_000))
@settings(max_examples=20, deadline=None)
def test_the_best_first_step_costs_what_the_optimal_procedure_costs(seed):
    model = small_model(seed)
    advice = next_steps(model, SHOP, Evidence())
    assert advice.method == "exact"
    assert advice.best.expected == pytest.approx(solve_exact(instance_of(model, SHOP)).expected, abs=1e-9)


@given(st.integers(0, 10_000))
@settings(max_examples=20, deadline=None)
def test_a_check_costs_itself_and_what_the_best_steps_after_its_results_cost(seed):
    """Bellman's equation across two calls: the advice after each result must agree with the advice before it."""
    model = small_model(seed)
    advice = next_steps(model, SHOP, Evidence())
    for index, check in enumerate(model.checks):
        first = option(advice, check.name)
        after = [next_steps(model, SHOP, Evidence(((index, r),))) for r in range(len(check.results))]
        rest = sum(o.chance * a.best.expected for o, a in zip(first.outlooks, after, strict=True))
        assert first.expected == pytest.approx(first.cost.total + rest, abs=1e-7)
        for outlook, then in zip(first.outlooks, after, strict=True):
            assert outlook.expected == pytest.approx(then.best.expected, abs=1e-7)
            assert dict(outlook.suspects) == pytest.approx(dict(then.suspects), abs=1e-9)


@given(st.integers(0, 10_000))
@settings(max_examples=20, deadline=None)
def test_a_fix_costs_itself_a_slip_and_what_follows_its_failure(seed):
    model = small_model(seed)
    advice = next_steps(model, SHOP, Evidence())
    for index, fix in enumerate(model.fixes):
        first = option(advice, fix.name)
        still, gone = first.outlooks
        after = next_steps(model, SHOP, Evidence(failed=(index,)))
        belief = model.fault_probabilities
        slip = float((belief * (1 - fix.cure_probabilities) * (1 - model.detects)).sum())
        assert first.cost.comeback == pytest.approx(slip * 160.0, abs=1e-9)  # the worth and one hour more
        assert first.expected == pytest.approx(
            first.cost.total + still.chance * after.best.expected, abs=1e-7
        )
        assert still.chance + gone.chance == pytest.approx(1.0)
        assert gone.expected == 0.0


@given(st.integers(0, 10_000), st.permutations([(0, 1), (1, 2), (2, 0)]))
@settings(max_examples=20, deadline=None)
def test_the_order_of_readings_does_not_matter(seed, readings):
    model = small_model(seed)
    straight = next_steps(model, SHOP, Evidence(((0, 1), (1, 2), (2, 0))))
    assert next_steps(model, SHOP, Evidence(tuple(readings))) == straight


@given(st.integers(0, 10_000))
@settings(max_examples=20, deadline=None)
def test_suspects_are_the_posterior_and_results_average_back_to_them(seed):
    model = small_model(seed)
    evidence = Evidence(((2, 1),))
    advice = next_steps(model, SHOP, evidence)
    faults = posterior(model, evidence).faults
    assert dict(advice.suspects) == pytest.approx(dict(zip(model.faults, faults, strict=True)))
    for each in advice.options:
        if each.outlooks:
            mean = dict.fromkeys(model.faults, 0.0)
            for outlook in each.outlooks:
                for fault, chance in outlook.suspects:
                    mean[fault] += outlook.chance * chance
            assert mean == pytest.approx(dict(advice.suspects), abs=1e-9)


def test_look_ahead_ranks_the_same_actions_and_says_so():
    model = small_model(1)
    exact, ahead = next_steps(model, SHOP, Evidence()), next_steps(model, SHOP, Evidence(), exact_bytes=0)
    assert ahead.method == "look-ahead"
    assert {o.action for o in ahead.options} == {o.action for o in exact.options}
    for each in ahead.options:
        rest = sum(outlook.chance * outlook.expected for outlook in each.outlooks)
        assert each.expected == pytest.approx(each.cost.total + rest, abs=1e-9)


def test_what_is_skipped_or_done_is_not_proposed():
    advice = next_steps(small_model(3), SHOP, Evidence(((1, 0),), failed=(1,)), skipped=["c0"])
    assert {o.action for o in advice.options} == {"", "c2", "a0", "a2"}
    assert advice.held_back == (("c0", "skipped"),)


def test_setups_that_stand_cost_nothing_more():
    model = small_model(4)
    before, after = next_steps(model, SHOP, Evidence()), next_steps(model, SHOP, Evidence(), setups_done=[0])
    assert option(before, "c0").setups == ("open",)
    assert option(after, "c0").setups == ()
    assert option(before, "c0").cost.total - option(after, "c0").cost.total == pytest.approx(6.0)
    assert option(next_steps(model, SHOP, Evidence(((0, 0),))), "a0").setups == ()


def gated_model(gates, equipment=()):
    """A resistance-like check ``first`` guards ``second``; only ``a0`` can cure."""
    checks = [
        named_check("first", 0, [[0.9, 0.1], [0.05, 0.95]], results=("high", "low"), work=Work(1.0)),
        named_check(
            "second", 0, [[0.99, 0.01], [0.02, 0.98]], work=Work(1.0, equipment=equipment), gates=gates
        ),
    ]
    fixes = [fix_of("a0", [0.9, 0.0], work=Work(5.0)), fix_of("a1", [0.0, 0.9], work=Work(60.0))]
    return model_of([0.5, 0.5], [[[1, 0], [0, 1]]], checks, fixes, faults=("f0", "f1"))


def test_a_gate_holds_a_check_back_until_the_right_reading_opens_it():
    model = gated_model([Gate(0, (0,))])
    assert next_steps(model, SHOP, Evidence()).held_back == (("second", "only after 'first'"),)
    opened = next_steps(model, SHOP, Evidence(((0, 0),)))
    assert opened.held_back == ()
    assert "second" in {o.action for o in opened.options}
    shut = next_steps(model, SHOP, Evidence(((0, 1),)))
    assert shut.held_back == (("second", "'first' showed what forbids it"),)


def test_missing_equipment_holds_back_and_is_named():
    model = gated_model([], equipment=("meter",))
    assert next_steps(model, SHOP, Evidence()).held_back == ()
    assert next_steps(model, SHOP, Evidence(), without=["meter"]).held_back == (("second", "needs meter"),)


def test_readings_that_no_fault_allows_are_named_and_beliefs_stay():
    model = model_of(
        [0.7, 0.3],
        [[[1, 0], [1, 0]]],
        [named_check("c0", 0, [[1, 0], [0, 1]]), named_check("c1", 0, [[1, 0], [0, 1]])],
        [fix_of("a0", [0.9, 0.9])],
        faults=("f0", "f1"),
    )
    advice = next_steps(model, SHOP, Evidence(((0, 1), (1, 0))))
    assert advice.conflict == ("c0",)
    assert dict(advice.suspects) == pytest.approx({"f0": 0.7, "f1": 0.3})
    assert all(o.expected < inf for o in advice.options)


def test_nothing_left_to_do_leaves_the_return():
    model = model_of([1.0], [[[1.0]]], [], [], faults=("unlisted",))
    advice = next_steps(model, SHOP, Evidence())
    assert [o.kind for o in advice.options] == [Kind.RETURN]
    assert advice.runner_up is None
    assert advice.saving == 0.0


def test_a_fix_that_passed_and_came_back_did_not_cure():
    """0.5 × 0.1 × 0.2 of a cured in vain, 0.3 × 0.2 of the other fault that is overlooked; the third never is."""
    model = model_of(
        [0.5, 0.3, 0.2],
        [],
        fixes=[fix_of("a0", [0.9, 0.0, 0.0]), fix_of("a1", [0.0, 0.9, 0.0])],
        detects=[0.8, 0.8, 1.0],
    )
    advice = next_steps(model, SHOP, Evidence(passed=(0,)))
    weights = {"f0": 0.5 * 0.1 * 0.2, "f1": 0.3 * 0.2}
    total = sum(weights.values())
    assert dict(advice.suspects) == pytest.approx({name: w / total for name, w in weights.items()})
    assert advice.best.action == "a1"
    assert "a0" not in {each.action for each in advice.options}


def test_a_sure_retest_that_passed_all_the_same_only_rules_out_what_was_cured():
    model = model_of([0.6, 0.4], [], fixes=[fix_of("a0", [1.0, 0.0]), fix_of("a1", [0.0, 0.9])])
    advice = next_steps(model, SHOP, Evidence(passed=(0,)))
    assert advice.suspects == (("unlisted", 1.0),)


@pytest.mark.filterwarnings("error")
@pytest.mark.parametrize("exact_bytes", [1 << 23, 1])
def test_zeros_everywhere_give_numbers_everywhere(exact_bytes):
    model = model_of(
        [1.0, 0.0], [[[1.0, 0.0], [0.0, 1.0]]], [named_check("c0", 0, np.eye(2))], [fix_of("a0", [1, 0])]
    )
    for evidence in (
        Evidence(),
        Evidence(((0, 1),)),
        Evidence(failed=(0,)),
        Evidence(((0, 0),), passed=(0,)),
    ):
        advice = next_steps(model, SHOP, evidence, exact_bytes=exact_bytes)
        for each in advice.options:
            assert np.isfinite([each.expected, each.information, each.cost.total]).all()
            assert np.isfinite([outlook.expected for outlook in each.outlooks]).all()


def test_the_look_ahead_names_a_check_for_what_it_opens_and_nothing_that_is_shut():
    model = model_of(
        [0.5, 0.5],
        [np.ones((2, 1)), np.eye(2)],
        [
            named_check("safe", 0, [[0.9, 0.1]], work=Work(1.0)),
            named_check("volts", 1, np.eye(2), work=Work(2.0), gates=[Gate(0, (0,))]),
        ],
        [fix_of("reflow", [1.0, 0.0], work=Work(40.0)), fix_of("replace", [0.0, 1.0], work=Work(45.0))],
        worth=200.0,
    )
    shop = Shop("Shop", "EUR", hour=60.0, waiting_hour=6.0, worth_otherwise=200.0)
    advice = next_steps(model, shop, Evidence(), exact_bytes=1)
    assert advice.method == "look-ahead"
    assert advice.best.action == "safe"
    assert "volts" not in {each.action for each in advice.options}
    assert dict(advice.held_back)["volts"] == "only after 'safe'"
    opened = next_steps(model, shop, Evidence(((0, 0),)), exact_bytes=1)
    assert opened.best.action == "volts"
