"""The soak as a decision: closed form, brute force over variants, laws, and the menu that a shop gets."""

from dataclasses import replace
from math import exp, log

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from planning_oracles import brute_force, odd_instance
from soaking_boards import one_fault, soaked, with_soaks

from benchlore.model import Evidence
from benchlore.model.make import fix_of, model_of
from benchlore.model.values import Work
from benchlore.procedure import (
    InvalidInstanceError,
    Limits,
    lower_bound,
    next_steps,
    plan,
    solve_anytime,
    solve_exact,
)
from benchlore.procedure.arrays import reduced
from benchlore.procedure.exact import bytes_of
from benchlore.procedure.graph import Title, procedure_of
from benchlore.procedure.policy import RETURN
from benchlore.procedure.pricing import instance_of
from benchlore.procedure.simulate import simulate
from benchlore.procedure.soaks import FRIENDLY, detection, soak_menu
from benchlore.procedure.values import Kind
from benchlore.procedure.walk import cost_of
from benchlore.shop import Shop
from random_instances import random_instance

TITLE = Title("board", "complaint", "shop", "EUR")
SHOP = Shop("Bench", "EUR", hour=60.0, waiting_hour=6.0, worth={"board": 200.0}, comeback=260.0)
SEEDS = st.integers(0, 2**32 - 1)


def chosen_soaks(instance):
    """The soaks of the fix steps of the optimal procedure, in reading order."""
    steps = procedure_of(instance, solve_exact(instance), TITLE).steps
    return [step.soak for step in steps if step.kind is Kind.FIX]


def best_soak(uncured, every, waiting, comeback, after):
    """The soak at which one more minute costs what it saves.

    A soak of ``t`` costs ``w t + u (e^(-t/T) C + (1 - e^(-t/T)) V)``. Its derivative ``w - (u / T) (C - V)
    e^(-t/T)`` is zero at ``t = T ln(u (C - V) / (w T))``; the second one is positive, so that is the least,
    or zero where it is negative. This is the trade-off of burn-in and of when to stop a test (derived here).
    """
    return max(0.0, every * log(uncured * (comeback - after) / (waiting * every)))


@pytest.mark.parametrize(
    ("rho", "every", "waiting"), [(0.9, 25.0, 0.1), (0.5, 25.0, 0.1), (0.8, 240.0, 0.05), (0.95, 90.0, 0.4)]
)
def test_one_fault_is_soaked_as_long_as_the_closed_form_says(rho, every, waiting):
    """After the only fix failed the board is returned, so going on costs the return."""
    best = best_soak(1 - rho, every, waiting, 300.0, 200.0)
    menu = sorted({0.5 * best, 0.9 * best, best, 1.1 * best, 2 * best + 10.0})
    board = one_fault(rho, 20.0, menu, every, waiting)
    unnoticed = exp(-best / every)
    cost = 20.0 + waiting * best + (1 - rho) * (unnoticed * 300.0 + (1 - unnoticed) * 200.0)
    assert chosen_soaks(board) == [best]
    assert solve_exact(board).expected == pytest.approx(cost, abs=1e-9)


def test_of_friendly_soaks_the_better_neighbour_of_the_best_is_taken():
    best = best_soak(0.3, 25.0, 0.1, 300.0, 200.0)  # 62 min
    below = max(soak for soak in FRIENDLY if soak <= best)
    above = min(soak for soak in FRIENDLY if soak > best)
    costs = {soak: solve_exact(one_fault(0.7, 20.0, [soak], 25.0, 0.1)).expected for soak in (below, above)}
    assert chosen_soaks(one_fault(0.7, 20.0, FRIENDLY, 25.0, 0.1)) == [min(costs, key=costs.get)]


@given(seed=SEEDS)
@settings(max_examples=40, deadline=None)
def test_the_sweep_equals_brute_force_over_soaks_of_odd_problems(seed):
    rng = np.random.default_rng(seed)
    board = with_soaks(rng, odd_instance(rng))
    found = solve_exact(board)
    assert found.expected == pytest.approx(brute_force(board), abs=1e-9)
    assert cost_of(found.policy, board) == pytest.approx(found.expected, abs=1e-9)


@given(seed=SEEDS)
@settings(max_examples=10, deadline=None)
def test_the_sweep_equals_brute_force_over_soaks_of_board_like_problems(seed):
    rng = np.random.default_rng(seed)
    board = with_soaks(rng, random_instance(rng, (4, 2, 2, 3), gates=0.3))
    assert solve_exact(board).expected == pytest.approx(brute_force(board), abs=1e-9)


@given(seed=SEEDS)
@settings(max_examples=20, deadline=None)
def test_a_wider_choice_of_soaks_never_costs_more(seed):
    rng = np.random.default_rng(seed)
    board = with_soaks(rng, random_instance(rng, (5, 3, 3, 3), gates=0.2), choices=(3,))
    narrower = replace(board, fixes=tuple(fix for k, fix in enumerate(board.fixes) if k % 3 < 2))
    assert solve_exact(board).expected <= solve_exact(narrower).expected + 1e-9


@given(
    rho=st.floats(0.0, 0.95),
    every=st.floats(5.0, 300.0),
    waiting=st.floats(0.01, 1.0),
    dearer=st.floats(1.0, 5.0),
)
@settings(max_examples=40, deadline=None)
def test_dearer_waiting_never_lengthens_the_soak_of_one_fault(rho, every, waiting, dearer):
    """The cost has increasing differences in soak and price of waiting, so the best soak falls."""
    cheap = chosen_soaks(one_fault(rho, 1.0, FRIENDLY, every, waiting))
    dear = chosen_soaks(one_fault(rho, 1.0, FRIENDLY, every, waiting * dearer))
    assert not dear or dear[0] <= cheap[0]


@given(seed=SEEDS)
@settings(max_examples=20, deadline=None)
def test_no_bound_lies_above_the_optimum_over_soaks(seed):
    rng = np.random.default_rng(seed)
    board = with_soaks(rng, odd_instance(rng) if seed % 2 else random_instance(rng, (5, 3, 4, 4), gates=0.3))
    optimum = solve_exact(board).expected
    assert lower_bound(board).value <= optimum + 1e-9
    assert lower_bound(board, states=64).value <= optimum + 1e-9


@given(seed=SEEDS)
@settings(max_examples=7, deadline=None)
def test_the_look_ahead_prints_what_its_procedure_costs(seed):
    rng = np.random.default_rng(seed)
    board = with_soaks(rng, random_instance(rng, (6, 4, 6, 4), gates=0.2))
    found = solve_anytime(board, limits=Limits(nodes=4_000), leaf_states=0, bounds=iter(()))
    assert cost_of(found.policy, board) == pytest.approx(found.expected, abs=1e-9)
    assert found.expected >= solve_exact(board).expected - 1e-9


def test_the_look_ahead_stays_close_to_the_optimum_over_soaks():
    gaps = []
    for seed in range(8):
        rng = np.random.default_rng(seed)
        board = with_soaks(rng, random_instance(rng, (7, 5, 6, 4)))
        gaps.append(
            solve_anytime(board, limits=Limits(nodes=4_000), leaf_states=0, bounds=iter(())).expected
            / solve_exact(board).expected
            - 1
        )
    assert np.mean(gaps) < 0.01


@given(seed=SEEDS)
@settings(max_examples=10, deadline=None)
def test_simulated_jobs_soak_as_the_procedure_says(seed):
    rng = np.random.default_rng(seed)
    board = with_soaks(rng, random_instance(rng, (5, 3, 3, 3)))
    procedure = procedure_of(board, solve_exact(board), TITLE)
    jobs = simulate(procedure, board, rng, 20_000)
    assert abs(jobs.mean - procedure.expected) < 5 * jobs.standard_error + 1e-9


def test_a_soak_that_only_costs_is_dropped():
    """Twice as long catches at most all: (1 - rho) e^(-t/T) comebacks, here less than the wait."""
    board = one_fault(0.5, 20.0, (0.0, 60.0, 600.0), 10.0, 0.5, comeback=300.0)
    assert reduced(board).fixes == (0, 1)
    assert solve_exact(board).expected == pytest.approx(brute_force(board), abs=1e-9)


def test_of_two_equal_retests_the_cheaper_is_kept():
    fix = one_fault(0.5, 20.0, (30.0,), 10.0, 0.5).fixes[0]
    dear = replace(fix, soak=31.0, cost=replace(fix.cost, parts=1.0))
    board = replace(one_fault(0.5, 20.0, (30.0,), 10.0, 0.5), fixes=(dear, fix))
    assert reduced(board).fixes == (1,)


@given(seed=SEEDS)
@settings(max_examples=25, deadline=None)
def test_soaks_that_are_dropped_do_not_matter(seed):
    """All boards that keep every soak are compared with brute force too; dear waiting drops many."""
    rng = np.random.default_rng(seed)
    board = with_soaks(rng, odd_instance(rng))
    dear = tuple(
        replace(fix, cost=replace(fix.cost, retest=fix.cost.retest + 0.5 * fix.soak)) for fix in board.fixes
    )
    board = replace(board, fixes=dear)
    assert solve_exact(board).expected == pytest.approx(brute_force(board), abs=1e-9)


def intermittent(**changes):
    """Two faults with rhythms of their own and a slow unlisted one; a fix for each of the two."""
    fixes = [fix_of("reflow", [0.9, 0.0, 0.0]), fix_of("swap", [0.0, 0.8, 0.0], work=Work(20.0))]
    every = np.array([25.0, 60.0, 25.0])
    retest = Work(3.0, waits=60.0)
    parts = {
        "retest": retest,
        "every": every,
        "detects": -np.expm1(-(retest.takes + retest.waits) / every),
        **changes,
    }
    return model_of([0.5, 0.4, 0.1], [np.eye(3)], [], fixes, **parts)


def test_a_hard_complaint_has_one_retest():
    model = intermittent(every=0.0, detects=1.0)
    assert soak_menu(model, 0.1, 200.0, 260.0) == (60.0,)
    instance = instance_of(model, SHOP, soaks=(5.0, 10.0))
    assert [fix.soak for fix in instance.fixes] == [60.0, 60.0]
    assert instance.fixes[0].cost.retest == pytest.approx(3.0 + 6.0)


def test_every_fix_of_an_intermittent_complaint_has_a_variant_for_each_soak():
    instance = instance_of(intermittent(), SHOP, soaks=(45.0, 30.0))
    assert [(fix.name, fix.soak) for fix in instance.fixes] == [
        ("reflow", 30.0),
        ("reflow", 45.0),
        ("swap", 30.0),
        ("swap", 45.0),
    ]
    assert instance.fixes[0].cost.retest == pytest.approx(3.0 + 3.0)
    assert instance.fixes[0].detects == pytest.approx(1 - np.exp(-33 / np.array([25.0, 60.0, 25.0])))


def test_the_menu_is_small_and_has_the_books_own_soak():
    menu = soak_menu(intermittent(), 0.1, 200.0, 260.0)
    assert 60.0 in menu
    assert 2 <= len(menu) <= 4
    assert list(menu) == sorted(menu)
    assert set(menu) <= {60.0, *FRIENDLY}


def test_the_menu_follows_what_waiting_costs():
    cheap, dear = (max(soak_menu(intermittent(), cost, 200.0, 260.0)) for cost in (0.001, 0.1))
    assert cheap > dear
    assert min(soak_menu(intermittent(), 100.0, 200.0, 260.0)) == 0.0


def test_free_waiting_ends_when_hardly_a_board_goes_unnoticed():
    """3 + s minutes let e^(-(3 + s) / 60) go unnoticed: 1 in 1,000 after 6.91 T, 412 min; 8 h is next."""
    assert soak_menu(intermittent(), 0.0, 200.0, 260.0) == (60.0, 480.0)


def test_a_fault_without_a_rhythm_is_shown_as_often_as_the_book_says():
    model = intermittent(every=[25.0, 0.0, 25.0], detects=[0.9, 0.7, 0.9])
    assert detection(model, 5.0) == pytest.approx([1 - exp(-8 / 25), 0.7, 1 - exp(-8 / 25)])
    np.testing.assert_array_equal(detection(model, 60.0), [0.9, 0.7, 0.9])


def test_a_soak_that_is_no_time_is_refused():
    with pytest.raises(InvalidInstanceError, match=r"fix 'reflow': .*"):
        instance_of(intermittent(), SHOP, soaks=(-5.0, 10.0))


def test_a_choice_of_soaks_never_costs_more_than_the_books_own():
    own = solve_exact(instance_of(intermittent(), SHOP, soaks=(60.0,)))
    assert solve_exact(instance_of(intermittent(), SHOP)).expected < own.expected


def test_a_shop_where_waiting_is_dear_soaks_less():
    soaks = [
        max(step.soak for step in plan(intermittent(), shop).steps)
        for shop in (
            replace(SHOP, waiting_hour=2.0),
            replace(SHOP, waiting_hour=40.0),
        )
    ]
    assert soaks[0] > soaks[1]


@pytest.mark.parametrize("exact_bytes", [1 << 23, 0])
def test_the_next_step_shows_each_fix_once_with_its_best_soak(exact_bytes):
    model = intermittent()
    advice = next_steps(model, SHOP, Evidence(), exact_bytes=exact_bytes)
    fixes = [option for option in advice.options if option.kind is Kind.FIX]
    assert sorted(option.action for option in fixes) == ["reflow", "swap"]
    for option in fixes:
        menu = [fix for fix in instance_of(model, SHOP).fixes if fix.name == option.action]
        assert option.soak in [fix.soak for fix in menu]
    if exact_bytes:
        whole = instance_of(model, SHOP)
        for option in fixes:
            costs = {
                fix.soak: solve_exact(replace(whole, fixes=(fix, *others(whole, fix.name)))).expected
                for fix in whole.fixes
                if fix.name == option.action
            }
            assert min(costs.values()) <= option.expected + 1e-9


def test_where_the_table_of_all_soaks_is_too_large_one_soak_is_solved_and_then_improved():
    model = intermittent()
    whole = instance_of(model, SHOP)
    room = bytes_of(reduced(whole).arrays) - 1
    procedure = plan(model, SHOP, memory=room)
    assert procedure.method != "exact sweep"
    assert procedure.bound <= solve_exact(whole).expected + 1e-9
    assert procedure.expected == pytest.approx(solve_exact(whole).expected, rel=1e-3)
    told = []
    plan(model, SHOP, memory=room, progress=lambda done, *_: told.append(done))
    assert told == sorted(told)
    assert told[-1] == 1.0


def others(instance, name):
    return tuple(fix for fix in instance.fixes if fix.name != name)


def test_a_fix_that_failed_is_not_proposed_with_another_soak():
    advice = next_steps(intermittent(), SHOP, Evidence(failed=(0,)))
    assert "reflow" not in [option.action for option in advice.options]
    assert advice.held_back == ()


def test_a_skipped_fix_is_held_back_once():
    advice = next_steps(intermittent(), SHOP, Evidence(), skipped=["reflow"])
    assert advice.held_back == (("reflow", "skipped"),)


def test_the_plan_and_the_advice_soak_alike():
    model = intermittent()
    first = plan(model, SHOP).steps[0]
    best = next_steps(model, SHOP, Evidence()).best
    assert (first.action, first.soak) == (best.action, best.soak)
    assert first.expected == pytest.approx(best.expected, abs=1e-9)


def test_variants_do_not_crowd_out_other_fixes():
    """Of three fixes with many soaks each, the look-ahead still looks at all three."""
    rng = np.random.default_rng(1)
    board = random_instance(rng, (5, 3, 3, 3))
    fine = replace(
        board,
        fixes=tuple(
            each
            for fix in board.fixes
            for each in soaked(fix, np.linspace(5, 200, 12).tolist(), np.full(5, 40.0), 0.05)
        ),
    )
    assert (
        solve_anytime(fine, limits=Limits(nodes=4_000), leaf_states=0, bounds=iter(())).expected
        <= 1.01 * solve_exact(fine).expected
    )


def test_nothing_is_tried_where_a_return_is_cheaper_than_any_soak():
    board = one_fault(0.1, 190.0, (0.0, 30.0), 25.0, 0.1)
    assert solve_exact(board).policy.action.tolist() == [RETURN]
