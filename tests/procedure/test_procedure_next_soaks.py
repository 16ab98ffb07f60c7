"""The next step where a complaint comes and goes: each fix once, with its best soak, from anywhere."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from plan_ways import indexed, ways
from planning_oracles import recursion_of

from benchlore.model import Evidence, Setup, Work, fix_of, model_of, named_check, posterior
from benchlore.procedure import (
    Adviser,
    Kind,
    Situation,
    instance_of,
    next_steps,
    plan,
    solve_exact,
    step_at,
)
from benchlore.shop import Shop

SHOP = Shop(
    "Shop",
    "EUR",
    hour=60.0,
    waiting_hour=6.0,
    worth_otherwise=150.0,
    instruments=frozenset({"meter", "iron"}),
)
SOAK = 40.0


def random_model(seed, *, fixes=3):
    """Four faults with rhythms of their own, three checks on two conditions, a setup; the book soaks 40 min."""
    rng = np.random.default_rng(seed)
    every = rng.uniform(10, 90, 4)
    retest = Work(3.0, waits=SOAK)
    checks = [
        named_check("c0", 0, rng.dirichlet([1, 1], size=2), work=Work(3.0, setups=(0,))),
        named_check("c1", 1, rng.dirichlet([1, 1, 1], size=3), work=Work(5.0, equipment=("meter",))),
        named_check("c2", 1, rng.dirichlet([1, 1], size=3), work=Work(2.0)),
    ]
    cures = np.where(rng.random((fixes, 4)) < 0.5, rng.uniform(0.5, 1, (fixes, 4)), 0.0)
    cures[:, -1] = 0.0
    tools = [("iron",) if rng.random() < 0.5 else () for _ in range(fixes)]
    return model_of(
        rng.dirichlet([2, 2, 2, 0.4]),
        [rng.dirichlet([1.0, 0.6], size=4), rng.dirichlet([1.0, 0.5, 0.5], size=4)],
        checks,
        [
            fix_of(f"a{a}", cures[a], work=Work(float(rng.uniform(5, 25)), equipment=tools[a]))
            for a in range(fixes)
        ],
        setups=[Setup("open", "open", Work(6.0))],
        retest=retest,
        every=every,
        detects=-np.expm1(-(retest.takes + retest.waits) / every),
    )


def random_situation(seed, model):
    """Draw readings, fixes that failed, and a fix that is skipped or an instrument that is missing."""
    rng = np.random.default_rng(seed + 1)
    read = rng.permutation(len(model.checks))[: int(rng.integers(3))].tolist()
    return Situation(
        Evidence(
            tuple((c, int(rng.integers(len(model.checks[c].results)))) for c in read),
            failed=tuple(rng.permutation(len(model.fixes))[: int(rng.integers(3))].tolist()),
        ),
        skipped=tuple(f"a{a}" for a in rng.integers(3, size=int(rng.integers(2)))),
        without=("iron",) if rng.random() < 0.3 else (),
    )


def fixes_of(advice):
    return [option for option in advice.options if option.kind is Kind.FIX]


@given(st.integers(0, 100_000), st.sampled_from([1, 1 << 20]))
@settings(max_examples=30, deadline=None)
def test_a_prepared_board_answers_as_the_plain_function_does_and_shows_each_fix_once(seed, exact_bytes):
    model = random_model(seed)
    adviser = Adviser(model, SHOP, exact_bytes=exact_bytes)
    menu = {fix.soak for fix in instance_of(model, SHOP).fixes}
    for k in range(2):
        situation = random_situation(seed + k, model)
        advice = adviser.advise(situation)
        assert advice == next_steps(
            model,
            SHOP,
            situation.evidence,
            skipped=situation.skipped,
            without=situation.without,
            exact_bytes=exact_bytes,
        )
        fixes = fixes_of(advice)
        assert len({option.action for option in fixes}) == len(fixes)
        assert {option.soak for option in fixes} <= menu
        assert all(option.soak == 0 for option in advice.options if option.kind is not Kind.FIX)
        tried = {f"a{a}" for a in situation.evidence.failed}
        assert tried.isdisjoint({option.action for option in fixes})


@given(st.integers(0, 100_000))
@settings(max_examples=20, deadline=None)
def test_at_the_start_the_advice_is_the_exact_planners_first_step_with_its_soak(seed):
    model = random_model(seed)
    advice = next_steps(model, SHOP, Evidence())
    assert advice.method == "exact"
    instance = instance_of(model, SHOP)
    solution = solve_exact(instance)
    assert advice.best.expected == pytest.approx(solution.expected, abs=1e-9)
    first = plan(model, SHOP).steps[0]
    assert (advice.best.kind, advice.best.action, advice.best.soak) == (first.kind, first.action, first.soak)
    for option in fixes_of(advice):
        others = tuple(fix for fix in instance.fixes if fix.name != option.action)
        mine = tuple(fix for fix in instance.fixes if fix.name == option.action)
        only = next(fix for fix in mine if fix.soak == option.soak)
        assert solve_exact(replace(instance, fixes=(only, *others))).expected <= option.expected + 1e-9


@given(st.integers(0, 100_000))
@settings(max_examples=20, deadline=None)
def test_the_best_option_costs_what_a_second_solver_says_from_anywhere(seed):
    """A fix that failed is taken to have had the book's own soak, which is one of the variants."""
    model = random_model(seed)
    situation = random_situation(seed, model)
    shop = replace(SHOP, instruments=SHOP.instruments - set(situation.without))
    whole = instance_of(model, shop)
    skipped = set(situation.skipped)
    left = replace(
        whole,
        fixes=tuple(replace(fix, excluded="no") if fix.name in skipped else fix for fix in whole.fixes),
    )
    failed = {model.fixes[a].name for a in situation.evidence.failed}
    places = [a for a, fix in enumerate(whole.fixes) if fix.name in failed and fix.soak == SOAK]
    assert len(places) == len(failed)
    second = recursion_of(left)
    history = frozenset(situation.evidence.readings), frozenset(places)
    assume(sum(second.belief(*history)) > 0)
    advice = Adviser(model, SHOP).advise(situation)
    assert advice.method == "exact"
    assert advice.best.expected == pytest.approx(second.value(*history), abs=1e-7)


@given(st.integers(0, 100_000))
@settings(max_examples=20, deadline=None)
def test_what_a_fix_costs_and_shows_goes_with_its_soak(seed):
    model = random_model(seed)
    belief = model.fault_probabilities
    for option in fixes_of(next_steps(model, SHOP, Evidence())):
        fix = next(f for f in model.fixes if f.name == option.action)
        uncured = belief * (1 - fix.cure_probabilities)
        shown = -np.expm1(-(3.0 + option.soak) / model.every)
        still, gone = option.outlooks
        assert still.chance == pytest.approx(float((uncured * shown).sum()))
        assert gone.chance == pytest.approx(1 - still.chance)
        assert option.cost.retest == pytest.approx(3.0 + option.soak * 0.1)
        assert option.cost.comeback == pytest.approx(float((uncured * (1 - shown)).sum()) * 210.0)


def one_fix(cure=0.5, takes=10.0):
    """One fault that shows every half hour, and its fix."""
    every = np.array([30.0])
    return model_of(
        [1.0],
        [],
        fixes=[fix_of("mend", [cure], work=Work(takes))],
        faults=("f0",),
        retest=Work(3.0, waits=SOAK),
        every=every,
        detects=-np.expm1(-(3.0 + SOAK) / every),
    )


@pytest.mark.parametrize("exact_bytes", [0, 1 << 20])
def test_of_a_fix_whose_long_soaks_would_spend_too_much_the_short_ones_stay(exact_bytes):
    """The fix spends 10, its retest 3 and a tenth for each minute of soak."""
    model = one_fix()
    menu = sorted({fix.soak for fix in instance_of(model, SHOP).fixes})
    free = fixes_of(next_steps(model, SHOP, Evidence(), exact_bytes=exact_bytes))[0]
    assert free.soak > menu[0]
    budget = 13.0 + menu[0] / 10
    advice = next_steps(model, SHOP, Evidence(), budget=budget, exact_bytes=exact_bytes)
    assert [(o.action, o.soak) for o in fixes_of(advice)] == [("mend", menu[0])]
    assert advice.held_back == ()
    assert fixes_of(advice)[0].expected > free.expected
    none = next_steps(model, SHOP, Evidence(), budget=budget - 0.1, exact_bytes=exact_bytes)
    assert none.held_back == (("mend", f"would spend {budget:.2f} EUR, more than is left"),)
    assert fixes_of(none) == []


def test_the_break_even_worth_of_an_intermittent_board_holds_with_the_soaks_of_that_worth():
    """At 20 the shop would choose other soaks than where the fix begins to pay."""
    model = one_fix(cure=0.6, takes=50.0)
    poor = replace(SHOP, worth_otherwise=20.0)
    worth = next_steps(model, poor, Evidence()).go_on.worth

    def at(amount):
        return replace(SHOP, worth_otherwise=amount)

    menus = [{fix.soak for fix in instance_of(model, at(amount)).fixes} for amount in (20.0, worth)]
    assert menus[0] != menus[1]
    assert next_steps(model, at(worth * 1.0002), Evidence()).best.kind is Kind.FIX
    assert next_steps(model, at(worth * 0.999), Evidence()).best.kind is Kind.RETURN


def test_a_surer_suspect_counts_with_the_soak_that_suits_its_fix():
    every = np.array([30.0, 30.0])
    model = model_of(
        [0.1, 0.9],
        [],
        fixes=[fix_of("mend", [0.95, 0.0], work=Work(50.0))],
        retest=Work(3.0, waits=SOAK),
        every=every,
        detects=-np.expm1(-(3.0 + SOAK) / every),
    )
    surer = next_steps(model, SHOP, Evidence()).go_on.surer
    for more, kind in ((1e-3, Kind.FIX), (-1e-3, Kind.RETURN)):
        chance = surer.needed + more
        there = replace(model, prior=np.array([chance, 1 - chance]))
        assert next_steps(there, SHOP, Evidence()).best.kind is kind


def test_a_board_that_came_back_is_believed_to_have_soaked_as_the_book_says():
    model = random_model(3)
    advice = next_steps(model, SHOP, Evidence(passed=(1,)))
    slipped = model.fault_probabilities * (1 - model.fixes[1].cure_probabilities) * (1 - model.detects)
    told = dict(zip(model.faults, slipped / slipped.sum(), strict=True))
    assert dict(advice.suspects) == pytest.approx({name: p for name, p in told.items() if p > 0})
    assert "a1" not in {option.action for option in advice.options}


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("exact_bytes", [1, 1 << 20])
def test_on_every_way_through_a_plan_its_soaks_are_quoted(seed, exact_bytes):
    model = random_model(seed)
    procedure = plan(model, SHOP)
    adviser = Adviser(model, SHOP, plan=procedure, exact_bytes=exact_bytes)
    soaks = set()
    for readings, failed, step in ways(procedure):
        evidence = indexed(model, readings, failed)
        advice = adviser.advise(Situation(evidence), reasons=False)
        best = advice.best
        assert (best.kind, best.action, best.soak, best.method) == (step.kind, step.action, step.soak, "plan")
        assert best.expected == pytest.approx(step.expected, rel=1e-12)
        assert step_at(procedure, dict(readings), failed) is step
        shown = [option.action for option in fixes_of(advice)]
        assert len(shown) == len(set(shown))
        assert dict(advice.suspects) == pytest.approx(
            {
                name: p
                for name, p in zip(model.faults, posterior(model, evidence).faults, strict=True)
                if p > 0
            }
        )
        soaks |= {step.soak} if step.kind is Kind.FIX else set()
    assert soaks
