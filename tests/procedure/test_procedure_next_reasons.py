"""The reasons beside a next step: the value of knowing, what would make going on pay, suspects that are alike."""

from dataclasses import replace
from itertools import product
from math import inf

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from planning_oracles import recursion_of

from benchlore.model import Evidence, Gate, Setup, Work, counts_of, fix_of, model_of, named_check
from benchlore.procedure import Adviser, ComebackTooCheapError, Kind, Situation, instance_of, next_steps
from benchlore.shop import Shop

SHOP = Shop(
    "Shop", "EUR", hour=60.0, waiting_hour=6.0, worth_otherwise=100.0, instruments=frozenset({"meter"})
)


def random_model(seed, *, take=1.0):
    """Four faults, three checks on two conditions, three fixes, one setup; every second check needs a scope."""
    rng = np.random.default_rng(seed)
    tools = [("scope",) if rng.random() < 0.5 else () for _ in range(6)]
    checks = [
        named_check("c0", 0, rng.dirichlet([1, 1], size=2), work=Work(3.0 * take, setups=(0,))),
        named_check("c1", 1, rng.dirichlet([1, 1, 1], size=3), work=Work(5.0 * take, equipment=tools[0])),
        named_check("c2", 1, rng.dirichlet([1, 1], size=3), work=Work(2.0 * take, ruins=0.01)),
    ]
    fixes = [
        fix_of("a0", [0.9, 0.0, 0.3, 0.0], work=Work(10.0 * take, setups=(0,)), parts=4.0),
        fix_of("a1", [0.0, 0.95, 0.0, 0.0], work=Work(14.0 * take, ruins=0.02, equipment=tools[1])),
        fix_of("a2", [0.0, 0.5, 0.8, 0.0], work=Work(20.0 * take, 30.0, equipment=tools[2])),
    ]
    return model_of(
        rng.dirichlet([2, 2, 2, 0.4]),
        [rng.dirichlet([1.0, 0.6], size=4), rng.dirichlet([1.0, 0.5, 0.5], size=4)],
        checks,
        fixes,
        setups=[Setup("open", "open", Work(6.0))],
        retest=Work(2.0, 20.0),
        detects=[1.0, 0.8, 0.9, 1.0],
    )


def without_check(instance, place):
    checks = list(instance.checks)
    checks[place] = replace(checks[place], excluded="never")
    return replace(instance, checks=tuple(checks))


@given(st.integers(0, 10_000))
@settings(max_examples=25, deadline=None)
def test_the_value_of_knowing_is_what_a_second_solver_says_and_never_negative(seed):
    model = random_model(seed)
    advice = next_steps(model, SHOP, Evidence(), without=())
    if advice.best.kind is not Kind.CHECK:
        assert advice.knowing is None
        return
    place = [check.name for check in model.checks].index(advice.best.action)
    never = recursion_of(without_check(instance_of(model, SHOP), place)).value(frozenset(), frozenset())
    with_it = recursion_of(instance_of(model, SHOP)).value(frozenset(), frozenset())
    assert advice.knowing == pytest.approx(never - (with_it - advice.best.cost.total), abs=1e-9)
    assert advice.knowing >= advice.best.cost.total - 1e-9
    assert advice.knowing >= 0


def test_the_oil_wildcatters_test_is_worth_what_the_books_say():
    """Raiffa, "Decision Analysis", 1968; Shenoy, Operations Research 40, 1992: 12.5 before its price of 10.

    Costs are what the payoff falls short of 200: drilling is a fix after which nothing is ever seen, a dry well
    "comes back" for 270 and a wet one in 5 of 9 cases.
    """
    seismic = [[0.6, 0.3, 0.1], [0.3, 0.4, 0.3], [0.1, 0.4, 0.5]]
    model = model_of(
        [0.5, 0.3, 0.2],
        [np.eye(3)],
        [named_check("seismic", 0, seismic, work=Work(10.0))],
        [fix_of("drill", [0.0, 4 / 9, 1.0], work=Work(0.0))],
        faults=("dry", "wet", "soaking"),
        detects=0.0,
        retest=Work(0.0),
    )
    shop = Shop("Oil", "EUR", hour=60.0, waiting_hour=0.0, worth_otherwise=200.0, comeback=270.0)
    advice = next_steps(model, shop, Evidence())
    assert advice.best.action == "seismic"
    assert advice.best.expected == pytest.approx(200 - 22.5, abs=1e-9)
    assert advice.knowing == pytest.approx(12.5, abs=1e-9)


def test_a_check_that_opens_the_only_fix_is_worth_all_that_the_fix_saves():
    """Without it: the return, 100. With it: 5 for the fix, after the check's own 1."""
    model = model_of(
        [1.0],
        [np.ones((1, 1))],
        [named_check("safe", 0, [[1.0]], work=Work(1.0))],
        [fix_of("a0", [1.0], work=Work(4.0), gates=[Gate(0, (0,))])],
        faults=("f0",),
    )
    for exact_bytes in (1, 1 << 20):
        advice = next_steps(model, SHOP, Evidence(), exact_bytes=exact_bytes)
        assert advice.best.action == "safe"
        assert advice.knowing == pytest.approx(100 - 5, abs=1e-6)


@given(st.integers(0, 10_000), st.sampled_from([1, 1 << 20]))
@settings(max_examples=40, deadline=None)
def test_going_on_pays_above_the_break_even_worth_and_not_below(seed, exact_bytes):
    model = random_model(seed, take=2.0)
    poor = replace(SHOP, worth_otherwise=30.0, diagnostic_fee=5.0)
    advice = Adviser(model, poor, exact_bytes=exact_bytes).advise(Situation())
    if advice.best.kind is not Kind.RETURN:
        assert advice.go_on is None
        return
    assert advice.go_on.worth_now == 30.0
    worth = advice.go_on.worth

    def best_at(amount):
        shop = replace(poor, worth_otherwise=amount)
        return Adviser(model, shop, exact_bytes=exact_bytes).advise(Situation(), reasons=False).best.kind

    if worth is None:
        assert best_at(20_000.0) is Kind.RETURN
    else:
        assert best_at(worth * 1.0001) is not Kind.RETURN
        assert best_at(worth * 0.999) is Kind.RETURN


def test_a_shops_own_price_of_a_comeback_ends_the_search_for_a_worth():
    model = model_of([0.01, 0.99], [], fixes=[fix_of("a0", [0.9, 0.0], work=Work(50.0))])
    shop = replace(SHOP, worth_otherwise=30.0, comeback=40.0)
    assert next_steps(model, shop, Evidence()).go_on.worth is None
    with pytest.raises(ComebackTooCheapError):
        next_steps(model, replace(shop, worth_otherwise=41.0), Evidence())


def test_the_fix_of_a_suspect_pays_from_the_chance_that_is_named():
    model = model_of(
        [0.2, 0.1, 0.7],
        [],
        fixes=[
            fix_of("a0", [0.9, 0.0, 0.0], work=Work(50.0)),
            fix_of("a1", [0.0, 0.9, 0.0], work=Work(70.0)),
        ],
        detects=[0.9, 1.0, 0.8],
    )
    surer = next_steps(model, SHOP, Evidence()).go_on.surer
    assert (surer.fault, surer.fix) == ("f0", "a0")
    assert surer.chance == pytest.approx(0.2)
    for chance, kind in ((surer.needed + 1e-3, Kind.FIX), (surer.needed - 1e-3, Kind.RETURN)):
        others = np.array([0.0, 0.1, 0.7]) * (1 - chance) / 0.8
        there = replace(model, prior=counts_of([chance, *others[1:]]))
        assert next_steps(there, SHOP, Evidence()).best.kind is kind


def test_missing_equipment_that_makes_going_on_pay_is_named_and_does():
    checks = [named_check("scope-it", 0, np.eye(2), work=Work(1.0, equipment=("scope",)))]
    fixes = [
        fix_of("a0", [1.0, 0.0], work=Work(60.0)),
        fix_of("a1", [0.0, 1.0], work=Work(60.0, equipment=("oven", "lens"))),
    ]
    model = model_of([0.5, 0.5], [np.eye(2)], checks, fixes)
    go_on = next_steps(model, SHOP, Evidence()).go_on
    assert [(each.equipment, each.action) for each in go_on.equipment] == [(("scope",), "scope-it")]
    shop = replace(SHOP, instruments=frozenset({"meter", "scope"}))
    there = next_steps(model, shop, Evidence()).best
    assert there.action == "scope-it"
    assert there.expected == pytest.approx(go_on.equipment[0].expected)
    assert next_steps(model, shop, Evidence(), without=["scope"]).go_on.equipment == go_on.equipment


def test_where_no_single_piece_is_enough_the_fewest_are_named():
    fixes = [fix_of("a0", [0.95, 0.0], work=Work(20.0, equipment=("iron", "lens")))]
    go_on = next_steps(model_of([0.9, 0.1], [], fixes=fixes), SHOP, Evidence()).go_on
    assert [each.equipment for each in go_on.equipment] == [("iron", "lens")]


def test_nothing_helps_where_nothing_can_be_done():
    go_on = next_steps(model_of([1.0], [[[1.0]]], faults=("unlisted",)), SHOP, Evidence()).go_on
    assert (go_on.worth, go_on.surer, go_on.equipment) == (None, None, ())


def alike(advice, reason):
    return [set(group.faults) for group in advice.alike if group.reason == reason]


def test_suspects_with_the_same_fix_are_not_told_apart():
    model = model_of(
        [0.4, 0.3, 0.3],
        [np.eye(3)],
        [named_check("c0", 0, np.eye(3), work=Work(1.0))],
        [fix_of("a0", [0.9, 0.95, 0.0], work=Work(5.0)), fix_of("a1", [0.0, 0.0, 0.9], work=Work(30.0))],
    )
    advice = next_steps(model, SHOP, Evidence())
    assert alike(advice, "same fix") == [{"f0", "f1"}]
    assert advice.alike[0].fix == "a0"
    assert alike(next_steps(model, SHOP, Evidence(failed=(0,))), "no fix") == [{"f0", "f1"}]


def test_an_excluded_check_that_would_separate_two_suspects_is_named():
    checks = [
        named_check("near", 0, [[0.9, 0.1], [0.2, 0.8]]),
        named_check("far", 1, np.eye(2), work=Work(1.0, equipment=("scope",))),
    ]
    states = [[[1, 0], [1, 0], [0, 1]], [[1, 0], [0, 1], [1, 0]]]
    fixes = [fix_of(f"a{k}", np.eye(3)[k] * 0.9, work=Work(5.0 + k)) for k in range(3)]
    model = model_of([0.4, 0.3, 0.3], states, checks, fixes)
    (group,) = next_steps(model, SHOP, Evidence()).alike
    assert (group.faults, group.reason) == (("f0", "f1"), "no check")
    assert group.checks == (("far", "needs scope"),)
    equipped = replace(SHOP, instruments=frozenset({"scope"}))
    assert next_steps(model, equipped, Evidence()).alike == ()
    assert next_steps(model, equipped, Evidence(), skipped=["far"]).alike[0].checks == (("far", "skipped"),)


def test_two_checks_that_tell_only_together_do_separate():
    """Each alone shows the same for both suspects: the first state or the third against the second, half each."""
    table = [[1.0, 0.0], [0.5, 0.5], [0.0, 1.0]]
    model = model_of(
        [0.5, 0.5],
        [[[0.5, 0.0, 0.5], [0.0, 1.0, 0.0]]],
        [named_check("c0", 0, table), named_check("c1", 0, table)],
        [fix_of("a0", [0.9, 0.0], work=Work(5.0)), fix_of("a1", [0.0, 0.9], work=Work(5.0))],
    )
    assert next_steps(model, SHOP, Evidence()).alike == ()
    assert alike(next_steps(model, SHOP, Evidence(), skipped=["c1"]), "no check") == [{"f0", "unlisted"}]


def joint_results(model, open_checks, fault):
    """``P(all results | fault)`` by going through every combination, from the definition."""
    table = {}
    states = [rows[fault] for rows in model.state_probabilities]
    for results in product(*(range(len(model.checks[c].results)) for c in open_checks)):
        total = 1.0
        for g, row in enumerate(states):
            here = [
                (c, r) for c, r in zip(open_checks, results, strict=True) if model.checks[c].condition == g
            ]
            total *= sum(
                p * np.prod([model.checks[c].probabilities[s, r] for c, r in here]) for s, p in enumerate(row)
            )
        table[results] = total
    return table


@given(st.integers(0, 10_000))
@settings(max_examples=30, deadline=None)
def test_no_check_separates_exactly_those_whose_every_combination_of_results_is_as_likely(seed):
    rng = np.random.default_rng(seed)
    kinds = rng.dirichlet([1, 1], size=(2, 2))
    pick = rng.integers(2, size=(2, 4))
    model = model_of(
        [0.25, 0.25, 0.25, 0.25],
        [kinds[g][pick[g]] for g in range(2)],
        [named_check(f"c{c}", c % 2, [[0.9, 0.1], [0.1, 0.9]]) for c in range(3)],
        [fix_of(f"a{k}", np.eye(4)[k] * 0.9, work=Work(3.0)) for k in range(4)],
    )
    told = alike(next_steps(model, SHOP, Evidence()), "no check")
    tables = [joint_results(model, range(3), f) for f in range(4)]
    for one in range(4):
        for other in range(one):
            gap = sum(abs(tables[one][key] - tables[other][key]) for key in tables[one]) / 2
            together = any({model.faults[one], model.faults[other]} <= group for group in told)
            if gap > 0.02 or gap < 1e-6:
                assert together == (gap < 1e-6)


def test_suspects_that_hardly_count_are_not_compared():
    model = model_of([0.985, 0.015], [], fixes=[fix_of("a0", [0.9, 0.9], work=Work(5.0))])
    assert next_steps(model, SHOP, Evidence()).alike == ()


def test_advice_without_reasons_is_the_same_but_for_them():
    advisers = Adviser(random_model(5), SHOP)
    bare, full = advisers.advise(Situation(), reasons=False), advisers.advise(Situation())
    assert bare == replace(full, knowing=None, alike=(), go_on=None)
    assert all(option.expected < inf for option in bare.options)
