"""The next step from any place: against a second solver, with all that a bench may say, and on a plan's path."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from plan_ways import indexed, ways
from planning_oracles import recursion_of

from benchlore.model import (
    Evidence,
    Gate,
    Setup,
    Work,
    exact_densities,
    fix_of,
    model_of,
    named_check,
    numeric_check,
    posterior,
)
from benchlore.procedure import (
    RELEASE,
    Adviser,
    Kind,
    Situation,
    instance_of,
    next_steps,
    plan,
    step_at,
)
from benchlore.shop import Shop
from benchlore.units import Measure

SHOP = Shop(
    "Shop",
    "EUR",
    hour=60.0,
    waiting_hour=6.0,
    worth_otherwise=150.0,
    instruments=frozenset({"meter", "scope", "iron"}),
)
TOOLS = ("meter", "scope", "iron")


def random_model(seed):
    """Five faults, two conditions, four checks (one behind a gate), four fixes (one behind a gate), two setups."""
    rng = np.random.default_rng(seed)

    def work(least, most):
        tool = (str(rng.choice(TOOLS)),) if rng.random() < 0.4 else ()
        return Work(
            float(rng.uniform(least, most)), setups=((), (0,), (0, 1))[rng.integers(3)], equipment=tool
        )

    checks = [
        named_check(f"c{c}", c % 2, rng.dirichlet(np.ones(2 + c % 2), size=2 + c % 2), work=work(1, 6))
        for c in range(3)
    ]
    checks.append(
        named_check("c3", 1, rng.dirichlet(np.ones(2), size=3), work=work(1, 4), gates=[Gate(0, (1,))])
    )
    cures = np.where(rng.random((4, 5)) < 0.5, rng.uniform(0.5, 1, (4, 5)), 0.0)
    cures[:, -1] = 0.0
    gates = ([], [], [], [Gate(2, (0,))])
    return model_of(
        rng.dirichlet([2, 2, 2, 2, 0.4]),
        [rng.dirichlet(np.full(2, 0.6), size=5), rng.dirichlet(np.full(3, 0.6), size=5)],
        checks,
        [fix_of(f"a{a}", cures[a], work=work(8, 30), gates=gates[a]) for a in range(4)],
        setups=[Setup("open", "open", Work(6.0)), Setup("bare", "bare", Work(9.0, setups=(0,)))],
        retest=Work(2.0, 20.0),
        detects=np.where(rng.random(5) < 0.4, 0.8, 1.0),
    )


def random_situation(seed, model):
    """Draw readings in any order, fixes that failed, checks skipped or unclear, an instrument missing."""
    rng = np.random.default_rng(seed + 1)
    order = rng.permutation(len(model.checks)).tolist()
    read = order[: int(rng.integers(4))]
    return Situation(
        Evidence(
            tuple((c, int(rng.integers(len(model.checks[c].results)))) for c in read),
            failed=tuple(rng.permutation(len(model.fixes))[: int(rng.integers(3))].tolist()),
        ),
        unclear=tuple(order[3:][: int(rng.integers(2))]),
        skipped=tuple(f"a{a}" for a in rng.integers(4, size=int(rng.integers(2)))),
        without=tuple(str(tool) for tool in rng.choice(TOOLS, size=int(rng.integers(2)))),
    )


def limited(model, situation):
    """The instance with all that may not be done excluded by hand, setups of unclear checks made."""
    shop = replace(SHOP, instruments=SHOP.instruments - set(situation.without))
    whole = instance_of(model, shop)
    unclear = {model.checks[c].name for c in situation.unclear}
    standing = 0
    for c in situation.unclear:
        standing |= whole.checks[c].setups
    banned = unclear | set(situation.skipped)
    return replace(
        whole,
        checks=tuple(replace(o, excluded="no") if o.name in banned else o for o in whole.checks),
        fixes=tuple(replace(o, excluded="no") if o.name in banned else o for o in whole.fixes),
        standing=standing,
    )


@given(st.integers(0, 100_000))
@settings(max_examples=60, deadline=None)
def test_the_best_option_costs_what_a_second_solver_says_from_anywhere(seed):
    model = random_model(seed)
    situation = random_situation(seed, model)
    evidence = situation.evidence
    advice = Adviser(model, SHOP).advise(situation)
    assert advice.method == "exact"
    history = frozenset(evidence.readings), frozenset(evidence.failed)
    expected = recursion_of(limited(model, situation)).value(*history)
    if sum(recursion_of(limited(model, situation)).belief(*history)) > 0:
        assert advice.best.expected == pytest.approx(expected, abs=1e-7)
        assert dict(advice.suspects) == pytest.approx(
            {
                name: p
                for name, p in zip(model.faults, posterior(model, evidence).faults, strict=True)
                if p > 0
            },
            abs=1e-12,
        )


def test_a_check_that_only_foretells_whether_a_gate_will_open_is_proposed():
    """One fault; the fix waits for a dear check, and a cheap one on its condition tells what that will show."""
    model = model_of(
        [1.0],
        [[[0.5, 0.5]]],
        [
            named_check("dear", 0, np.eye(2), work=Work(40.0)),
            named_check("cheap", 0, np.eye(2), work=Work(1.0)),
        ],
        [fix_of("fix", [1.0], work=Work(9.0), gates=[Gate(0, (1,))])],
    )
    advice = next_steps(model, SHOP, Evidence())
    assert advice.method == "exact"
    assert advice.best.action == "cheap"
    assert advice.best.expected == pytest.approx(1 + 0.5 * (40 + 10) + 0.5 * 150)
    assert plan(model, SHOP).expected == pytest.approx(advice.best.expected)


@given(st.integers(0, 100_000), st.sampled_from([1, 1 << 20]))
@settings(max_examples=40, deadline=None)
def test_a_prepared_board_answers_as_the_plain_function_does_whatever_was_asked_before(seed, exact_bytes):
    model = random_model(seed)
    adviser = Adviser(model, SHOP, exact_bytes=exact_bytes)
    for k in range(3):
        situation = random_situation(seed + k, model)
        plain = next_steps(
            model,
            SHOP,
            situation.evidence,
            unclear=situation.unclear,
            skipped=situation.skipped,
            without=situation.without,
            exact_bytes=exact_bytes,
        )
        assert adviser.advise(situation) == plain


@given(st.integers(0, 100_000), st.randoms(use_true_random=False))
@settings(max_examples=25, deadline=None)
def test_the_order_in_which_things_are_said_does_not_matter(seed, random):
    model = random_model(seed)
    said = random_situation(seed, model)

    def shuffled(pieces):
        return tuple(random.sample(pieces, len(pieces)))

    other = Situation(
        Evidence(shuffled(said.evidence.readings), failed=shuffled(said.evidence.failed)),
        unclear=shuffled(said.unclear),
        skipped=shuffled(said.skipped),
        without=said.without,
    )
    adviser = Adviser(model, SHOP)
    one, two = adviser.advise(said), adviser.advise(other)
    assert [o.action for o in one.options] == [o.action for o in two.options]
    assert [o.expected for o in one.options] == pytest.approx([o.expected for o in two.options], abs=1e-9)


def gated():
    """``ohms`` guards ``volts``; both read one condition."""
    checks = [
        named_check("ohms", 0, [[0.9, 0.1], [0.1, 0.9]], results=("high", "low"), work=Work(2.0)),
        named_check("volts", 0, [[0.95, 0.05], [0.05, 0.95]], work=Work(1.0), gates=[Gate(0, (0,))]),
    ]
    fixes = [fix_of("a0", [0.9, 0.0], work=Work(25.0)), fix_of("a1", [0.0, 0.9], work=Work(45.0))]
    return model_of([0.5, 0.5], [np.eye(2)], checks, fixes, faults=("f0", "f1"))


def test_an_unclear_reading_tells_nothing_is_not_proposed_again_and_opens_nothing():
    advice = next_steps(gated(), SHOP, Evidence(), unclear=[0])
    assert dict(advice.suspects) == pytest.approx({"f0": 0.5, "f1": 0.5})
    assert {o.action for o in advice.options} == {"", "a0", "a1"}
    assert dict(advice.held_back) == {
        "ohms": "its reading was unclear",
        "volts": "only after 'ohms', whose reading was unclear",
    }


def test_setups_of_an_unclear_check_stand():
    model = replace(gated(), setups=(Setup("open", "open", Work(6.0)),))
    opened = replace(model.checks[0], work=Work(2.0, setups=(0,)))
    model = replace(model, checks=(opened, replace(model.checks[1], work=Work(1.0, setups=(0,)), gates=())))
    volts = next(o for o in next_steps(model, SHOP, Evidence(), unclear=[0]).options if o.action == "volts")
    assert volts.setups == ()


def test_a_skipped_check_shuts_what_waits_for_it():
    held = dict(next_steps(gated(), SHOP, Evidence(), skipped=["ohms"]).held_back)
    assert held == {"ohms": "skipped", "volts": "only after 'ohms', which cannot be done"}


def test_what_costs_more_than_is_left_is_held_back_and_the_return_stays():
    """a0 spends 25 and its retest 1, a1 45 and 1; a third of the worth and no risk."""
    advice = next_steps(gated(), SHOP, Evidence(), budget=26.0)
    assert dict(advice.held_back)["a1"] == "would spend 46.00 EUR, more than is left"
    assert {"a0", "ohms", ""} <= {o.action for o in advice.options}
    assert "a1" not in {o.action for o in advice.options}
    broke = next_steps(gated(), SHOP, Evidence(), budget=0.0)
    assert [o.kind for o in broke.options] == [Kind.RETURN]
    unlimited = next_steps(gated(), SHOP, Evidence(), budget=1e9)
    assert unlimited == next_steps(gated(), SHOP, Evidence())


def test_a_budget_counts_the_setups_that_do_not_stand_yet_and_no_risk():
    model = model_of(
        [1.0],
        [],
        fixes=[fix_of("a0", [0.9], work=Work(10.0, ruins=0.1, setups=(0,)))],
        setups=[Setup("open", "open", Work(6.0, ruins=0.1))],
        faults=("f0",),
    )
    assert next_steps(model, SHOP, Evidence(), budget=17.0).held_back == ()
    assert next_steps(model, SHOP, Evidence(), budget=16.9).held_back != ()
    assert next_steps(model, SHOP, Evidence(), budget=11.0, setups_done=[0]).held_back == ()


def test_of_readings_that_clash_the_fewest_are_set_aside_and_the_rest_counts():
    table = [[1.0, 0.0], [0.0, 1.0]]
    model = model_of(
        [0.7, 0.3],
        [np.eye(2)],
        [named_check(f"c{k}", 0, table) for k in range(3)]
        + [named_check("after", 0, [[0.9, 0.1], [0.1, 0.9]], gates=[Gate(0, (0,))])],
        [fix_of("a0", [0.9, 0.9], work=Work(5.0))],
        faults=("f0", "f1"),
    )
    advice = next_steps(model, SHOP, Evidence(((0, 0), (1, 1), (2, 1))))
    assert advice.set_aside == ("c0",)
    assert set(advice.conflict) > {"c0"}
    assert dict(advice.suspects) == pytest.approx({"f1": 1.0})
    assert dict(advice.held_back)["after"] == "only after 'c0', whose reading does not go with the others"


def test_a_fix_that_would_have_cured_all_that_is_left_and_came_back_is_set_aside():
    model = model_of([1.0], [], fixes=[fix_of("a0", [1.0]), fix_of("a1", [0.5])], faults=("f0",))
    advice = next_steps(model, SHOP, Evidence(passed=(0,)))
    assert advice.set_aside == advice.conflict == ("a0",)
    assert advice.suspects == (("f0", 1.0),)


OHMS = exact_densities(Measure.RESISTANCE, [8.3, 3.0, 0.5], [0.3, 0.5, 1.0], log_normal=True)


def planned_model(seed):
    """The random model, its first check read as a number."""
    model = random_model(seed)
    ohms = numeric_check("ohms", 1, OHMS, work=Work(2.0))
    return replace(model, checks=(*model.checks[:2], ohms, model.checks[3]), fixes=model.fixes[:3])


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("exact_bytes", [1, 1 << 20])
def test_on_every_way_through_a_plan_its_steps_and_costs_are_quoted(seed, exact_bytes):
    model = planned_model(seed)
    procedure = plan(model, SHOP)
    adviser = Adviser(model, SHOP, plan=procedure, exact_bytes=exact_bytes)
    for readings, failed, step in ways(procedure):
        best = adviser.advise(Situation(indexed(model, readings, failed)), reasons=False).best
        assert (best.kind, best.action, best.method) == (step.kind, step.action, "plan")
        assert best.expected == pytest.approx(step.expected, rel=1e-12)
        assert best.setups == step.setups
        for outlook in best.outlooks:
            target = step.branches[outlook.result]
            assert outlook.expected == (0.0 if target == RELEASE else procedure.steps[target].expected)
        assert step_at(procedure, dict(readings), failed) is step


def way_with(predicate):
    for seed in range(40):
        model = planned_model(seed)
        procedure = plan(model, SHOP)
        for readings, failed, step in ways(procedure):
            if step.kind is not Kind.RETURN and predicate(readings, failed):
                return model, procedure, readings, failed, step
    raise AssertionError("no such way")


def test_a_number_counts_by_its_band_on_the_path():
    model, procedure, readings, failed, step = way_with(lambda r, _: any(c == "ohms" for c, _ in r))
    edges = [0.01, *model.checks[2].edges, 1e6]
    named = indexed(model, readings, failed)
    band = dict(named.readings)[2]
    number = float(np.sqrt(edges[band] * edges[band + 1]))
    evidence = Evidence(
        tuple(pair for pair in named.readings if pair[0] != 2), ((2, number),), failed=named.failed
    )
    best = Adviser(model, SHOP, plan=procedure).advise(Situation(evidence)).best
    assert (best.action, best.method, best.expected) == (step.action, "plan", step.expected)


def test_whoever_left_the_plan_is_not_sent_back_to_it():
    model, procedure, readings, failed, step = way_with(lambda r, f: len(r) == 1 and not f)
    evidence = indexed(model, readings, failed)
    adviser = Adviser(model, SHOP, plan=procedure)
    assert adviser.advise(Situation(evidence)).best.method == "plan"
    name = step.action
    off = [
        Situation(evidence, skipped=(name,)),
        Situation(evidence, without=("iron",)),
        Situation(evidence, budget=1000.0),
        Situation(replace(evidence, passed=(0,))),
        Situation(evidence, setups=(1,)),
        Situation(Evidence(tuple((c, 0) for c in range(3) if model.checks[c].name not in dict(readings)))),
    ]
    for situation in off:
        assert adviser.advise(situation).best.method != "plan"


def test_the_ranking_stays_beside_the_plans_step():
    model = planned_model(3)
    procedure = plan(model, SHOP)
    alone = Adviser(model, SHOP, exact_bytes=1).advise(Situation())
    quoted = Adviser(model, SHOP, exact_bytes=1, plan=procedure).advise(Situation())
    assert quoted.best.expected == procedure.expected
    rest = [o for o in alone.options if o.action != quoted.best.action]
    assert [o.action for o in quoted.options[1:]] == [o.action for o in rest]
    same = next(o for o in alone.options if o.action == quoted.best.action)
    assert quoted.best.ranked == same.expected
    assert quoted.saving == pytest.approx(quoted.runner_up.expected - same.expected)


def test_readings_that_clash_have_left_the_plan():
    model = model_of(
        [0.7, 0.3],
        [[[1, 0], [1, 0]]],
        [named_check("c0", 0, [[0.5, 0.5], [0, 1]]), named_check("c1", 0, [[1, 0], [0, 1]])],
        [fix_of("a0", [0.9, 0.0], work=Work(5.0)), fix_of("a1", [0.0, 0.9], work=Work(5.0))],
        faults=("f0", "f1"),
    )
    procedure = plan(model, SHOP)
    advice = Adviser(model, SHOP, plan=procedure).advise(Situation(Evidence(((1, 1),))))
    assert advice.set_aside == ("c1",)
    assert advice.best.method != "plan"


@given(st.integers(0, 1000), st.floats(0.5, 20_000.0))
@settings(max_examples=25, deadline=None)
def test_after_a_number_the_advice_agrees_with_that_after_one_more_reading(seed, ohms):
    """Bellman's equation across two calls, with a raw number on the condition that the next checks read."""
    model = planned_model(seed)
    adviser = Adviser(model, SHOP)
    here = Evidence(values=((2, ohms),))
    advice = adviser.advise(Situation(here))
    assert advice.method == "exact"
    assert dict(advice.suspects) == pytest.approx(
        dict(zip(model.faults, posterior(model, here).faults, strict=True)), abs=1e-12
    )
    first = next((o for o in advice.options if o.kind is Kind.CHECK), None)
    if first is None:
        return
    place = [check.name for check in model.checks].index(first.action)
    total = first.cost.total
    for r, outlook in enumerate(first.outlooks):
        after = replace(here, readings=((place, r),))
        then = adviser.advise(Situation(after))
        belief = dict(zip(model.faults, posterior(model, after).faults, strict=True))
        assert all(abs(belief[fault] - chance) < 1e-9 for fault, chance in outlook.suspects)
        total += outlook.chance * then.best.expected
    assert first.expected == pytest.approx(total, abs=1e-7)


def test_a_number_itself_opens_and_shuts_gates():
    gate = Gate(0, (), state=2, negated=True)
    volts = named_check("volts", 0, [[0.9, 0.1], [0.5, 0.5], [0.1, 0.9]], work=Work(1.0), gates=[gate])
    model = model_of(
        [0.4, 0.3, 0.3],
        [np.eye(3)],
        [numeric_check("ohms", 0, OHMS, work=Work(2.0)), volts],
        [fix_of(f"a{k}", np.eye(3)[k] * 0.9, work=Work(20.0)) for k in range(2)],
    )
    adviser = Adviser(model, SHOP)
    assert adviser.advise(Situation(Evidence(values=((0, 4000.0),)))).held_back == ()
    shut = dict(adviser.advise(Situation(Evidence(values=((0, 1.6),)))).held_back)
    assert shut == {"volts": "'ohms' showed what forbids it"}


def test_only_the_first_options_carry_their_outlooks():
    fixes = [fix_of(f"a{a:02}", np.eye(13)[a] * 0.9, work=Work(5.0 + a)) for a in range(12)]
    advice = next_steps(model_of(np.full(13, 1 / 13), [], fixes=fixes), SHOP, Evidence(), exact_bytes=1)
    assert [bool(option.outlooks) for option in advice.options if option.kind is Kind.FIX][:8] == [True] * 8
    assert advice.options[-1].outlooks == ()
    assert all(option.information > 0 for option in advice.options if option.kind is Kind.FIX)
