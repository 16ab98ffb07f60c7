"""How long to soak: closed forms, brute force, MIL-HDBK-781A, and simulated soaks."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import optimize, stats

from benchlore.soak import (
    NumberError,
    RateBelief,
    RateMixture,
    SequentialTest,
    cheapest_soak,
    on_the_bench,
    side_by_side,
    soak_cost,
    soak_for,
    soak_for_cure,
    verdict,
)

BELIEF = RateBelief(3.0, 90.0)


def test_a_known_rate_needs_t_times_minus_log():
    # Rule of three: nothing in 3 T makes an old rate of 1/T incredible at 95 % (-ln 0.05 = 2.9957).
    assert soak_for(RateBelief.known(20.0), 0.95) == pytest.approx(20 * 2.995732, rel=1e-6)


def test_an_uncertain_rate_needs_longer():
    times = [soak_for(RateBelief(shape, shape * 30), 0.95) for shape in (1, 3, 10, 100)]
    assert times == sorted(times, reverse=True)
    assert times[-1] > soak_for(RateBelief.known(30), 0.95)


@given(st.floats(0.3, 100), st.floats(1, 1e4), st.floats(0.01, 0.99))
def test_the_old_rate_would_have_shown_with_the_confidence_asked(shape, time, confidence):
    belief = RateBelief(shape, time)
    assert belief.shown(soak_for(belief, confidence)) == pytest.approx(confidence, rel=1e-9)


def test_the_promise_holds_for_boards_drawn_from_the_belief():
    rng = np.random.default_rng(7)
    rates = rng.gamma(BELIEF.shape, 1 / BELIEF.time, 200_000)
    shown = rng.exponential(1 / rates) <= soak_for(BELIEF, 0.9)
    assert shown.mean() == pytest.approx(0.9, abs=0.003)


@given(st.floats(0.3, 30), st.floats(1, 1e3), st.floats(0.05, 0.95), st.floats(0.05, 0.99))
def test_the_soak_for_a_cure_gives_it(shape, time, before, wanted):
    belief = RateBelief(shape, time)
    soak = soak_for_cure(belief, before, wanted)
    if wanted <= before:
        assert soak == 0
    elif np.isfinite(soak) and soak < 1e12:
        assert verdict(belief, before, soak, hours_a_day=8).clean.cured == pytest.approx(wanted, rel=1e-6)


@pytest.mark.parametrize(
    ("uncured", "minute", "saved"), [(0.3, 0.1, 160.0), (0.03, 0.4, 60.0), (0.9, 0.01, 500.0)]
)
def test_the_cheapest_soak_of_a_known_rate_is_the_closed_form(uncured, minute, saved):
    every = 25.0
    closed = max(0.0, every * np.log(uncured * saved / (minute * every)))
    assert cheapest_soak(RateBelief.known(every), uncured, minute, saved) == pytest.approx(closed, rel=1e-6)


@given(st.floats(0.5, 30), st.floats(5, 500), st.floats(0.01, 0.9), st.floats(0.01, 1), st.floats(1, 500))
def test_no_other_soak_costs_less(shape, time, uncured, minute, saved):
    belief = RateBelief(shape, time)
    best = cheapest_soak(belief, uncured, minute, saved)
    cost = soak_cost(belief, uncured, minute, saved, best)
    found = optimize.minimize_scalar(
        lambda t: soak_cost(belief, uncured, minute, saved, t),
        bounds=(0, uncured * saved / minute),
        method="bounded",
    )
    assert cost <= found.fun * (1 + 1e-9)
    assert cost <= soak_cost(belief, uncured, minute, saved, 0.0) * (1 + 1e-12)


def test_stress_and_company_shorten_the_clock_and_nothing_else():
    assert on_the_bench(300.0, 3.0) == 100.0
    assert side_by_side(300.0, 5) == 60.0


def test_the_lines_of_mil_hdbk_781a():
    # MIL-HDBK-781A, 5.9.5: theta0 = 200 h, theta1 = 100 h, alpha = beta = 0.1.
    test = SequentialTest(200, 100)
    assert test.accept_at_start == pytest.approx(-3.169925, abs=1e-6)
    assert test.reject_at_start == pytest.approx(2.754888, abs=1e-6)
    assert test.slope == pytest.approx(0.00721348, abs=1e-8)
    assert (test.most_events, test.most_time) == (15, pytest.approx(2059.923, abs=1e-3))
    assert SequentialTest(200, 100, corrected=False).reject_at_start == pytest.approx(3.169925, abs=1e-6)


@pytest.mark.parametrize(
    ("ratio", "duration", "allowed", "producer", "consumer"),
    [
        (1.5, 21.5, 17, 0.1974, 0.1965),
        (2.0, 18.8, 13, 0.0958, 0.1062),
        (3.0, 9.3, 5, 0.0943, 0.0986),
        (3.0, 4.3, 2, 0.1746, 0.1974),
        (2.0, 3.7, 2, 0.2828, 0.2854),
    ],
)
def test_fixed_length_plans_of_mil_hdbk_781a(ratio, duration, allowed, producer, consumer):
    # XI-D, XII-D, XV-D, XVII-D and XX-D; a known rate is a belief that the plan's risks follow from.
    assert 1 - stats.poisson.cdf(allowed, duration / ratio) == pytest.approx(producer, abs=5e-4)
    assert stats.poisson.cdf(allowed, duration) == pytest.approx(consumer, abs=5e-4)
    # The same risks by the chi-square form that test lengths use.
    assert stats.chi2.cdf(2 * duration / ratio, 2 * allowed + 2) == pytest.approx(producer, abs=5e-4)


@pytest.mark.parametrize("test", [SequentialTest(200, 100), SequentialTest(1000, 100, 0.05, 0.05)])
@pytest.mark.parametrize("every", [60.0, 100.0, 150.0, 200.0, 1000.0])
def test_the_exact_performance_is_what_simulated_soaks_show(test, every):
    rng = np.random.default_rng(int(every))
    accepted, time, draws = 0, 0.0, 1500
    for _ in range(draws):
        standing, at = test.standing(np.cumsum(rng.exponential(every, 40)), 1e9)
        assert standing != "go on"
        accepted += standing == "accept"
        time += at
    exact = test.performance(every)
    spread = 3.5 * np.sqrt(max(exact.accepted * (1 - exact.accepted), 1e-4) / draws)
    assert accepted / draws == pytest.approx(exact.accepted, abs=spread)
    assert time / draws == pytest.approx(exact.time, rel=0.08)


def test_the_risks_stay_near_what_was_asked():
    # The correction and the truncation keep them so; the plain test of Wald stays within alpha / (1 - beta).
    for test in (
        SequentialTest(200, 100),
        SequentialTest(1000, 100, 0.05, 0.05),
        SequentialTest(300, 100, 0.2, 0.1),
    ):
        assert 1 - test.performance(test.good).accepted <= test.alpha * 1.35
        assert test.performance(test.bad).accepted <= test.beta * 1.2


def test_a_soak_stands_where_its_lines_say():
    test = SequentialTest(1000, 100, 0.05, 0.05)
    nothing = np.array([])
    first = test.accept_time(0)
    assert test.standing(nothing, first - 1)[0] == "go on"
    assert test.standing(nothing, first + 1) == ("accept", first)
    assert test.standing(np.array([1.0, 2.0, 3.0]), 10.0)[0] == "reject"
    # What came after the decision does not undo it.
    assert test.standing(np.array([first + 5, first + 6, first + 7]), 1e9) == ("accept", first)
    rows = test.chart()
    assert rows[0] == (0.0, test.accept_at_start, test.reject_at_start)
    assert rows[-1][0] == test.most_time


def test_a_clean_soak_proves_what_it_proves_and_no_more():
    found = verdict(RateBelief(2, 200), 0.8, 300, hours_a_day=8)
    assert found.clean.cured == pytest.approx(0.8 / (0.8 + 0.2 * (200 / 500) ** 2))
    month, quarter = found.comebacks
    assert (month.days, quarter.days) == (30, 90)
    assert 0 < month.chance <= quarter.chance < 1 - found.clean.cured


def test_comebacks_are_as_many_as_the_verdict_says():
    rng = np.random.default_rng(12)
    belief, soak, use = RateBelief(1.5, 400.0), 240.0, 2 * 60 * 30
    rates = np.where(rng.random(400_000) < 0.7, 0.0, rng.gamma(belief.shape, 1 / belief.time, 400_000))
    with np.errstate(divide="ignore"):
        first = rng.exponential(1.0, 400_000) / rates
    clean = first > soak
    found = verdict(belief, 0.7, soak, hours_a_day=2)
    assert found.clean.clean == pytest.approx(clean.mean(), abs=0.003)
    assert found.clean.cured == pytest.approx((rates[clean] == 0).mean(), abs=0.003)
    assert found.comebacks[0].chance == pytest.approx((first[clean] <= soak + use).mean(), abs=0.003)


@given(st.floats(0.01, 0.99), st.floats(0, 1e4), st.floats(1, 1e4))
def test_a_longer_soak_never_proves_less(cured, soak, more):
    shorter, longer = (verdict(BELIEF, cured, t, hours_a_day=8) for t in (soak, soak + more))
    assert longer.clean.cured * (1 + 1e-12) >= shorter.clean.cured >= cured * (1 - 1e-12)
    assert longer.comebacks[1].chance <= shorter.comebacks[1].chance + 1e-12


@pytest.mark.parametrize(
    "call",
    [
        lambda: SequentialTest(100, 200),
        lambda: SequentialTest(200, 100, alpha=0.6),
        lambda: SequentialTest(100.001, 100, 0.001, 0.001).most_events,
        lambda: soak_for(BELIEF, 95),
        lambda: cheapest_soak(BELIEF, 0.3, 0.0, 100.0),
        lambda: on_the_bench(300.0, 0.0),
        lambda: side_by_side(300.0, 0),
        lambda: verdict(BELIEF, 1.2, 3.0, hours_a_day=8),
        lambda: verdict(BELIEF, 0.5, 3.0, hours_a_day=25),
        lambda: verdict(BELIEF, 0.5, -3.0, hours_a_day=8),
    ],
)
def test_numbers_that_make_no_sense_are_refused(call):
    with pytest.raises(NumberError, match="is expected"):
        call()


MIXTURE = RateMixture(
    ((0.6, RateBelief.known(3.0)), (0.3, RateBelief(2.0, 60.0)), (0.1, RateBelief.known(400.0)))
)


def test_a_mixture_is_quiet_as_its_parts_are():
    for t in (0.0, 5.0, 300.0):
        assert MIXTURE.quiet(t) == pytest.approx(sum(c * part.quiet(t) for c, part in MIXTURE.parts))
        assert MIXTURE.shown(t) == pytest.approx(1 - MIXTURE.quiet(t), abs=1e-12)
        slope = (MIXTURE.quiet(t) - MIXTURE.quiet(t + 1e-5)) / 1e-5
        assert MIXTURE.falling(t) == pytest.approx(slope, rel=1e-4)


def test_a_mixture_of_one_plans_as_that_one():
    one = RateMixture(((1.0, BELIEF),))
    assert soak_for(one, 0.9) == pytest.approx(soak_for(BELIEF, 0.9))
    assert cheapest_soak(one, 0.3, 0.1, 160) == pytest.approx(cheapest_soak(BELIEF, 0.3, 0.1, 160))
    assert verdict(one, 0.7, 50.0, hours_a_day=8).clean == verdict(BELIEF, 0.7, 50.0, hours_a_day=8).clean


def test_no_other_soak_of_a_mixture_costs_less():
    best = cheapest_soak(MIXTURE, 0.3, 0.1, 160.0)
    costs = [soak_cost(MIXTURE, 0.3, 0.1, 160.0, t) for t in np.linspace(0, 500, 20_001)]
    assert soak_cost(MIXTURE, 0.3, 0.1, 160.0, best) <= min(costs) + 1e-9
    assert cheapest_soak(MIXTURE, 0.3, 100.0, 160.0) == 0
    assert cheapest_soak(MIXTURE, 0.0, 0.1, 160.0) == 0


def test_quiet_makes_the_rare_part_likelier():
    later = MIXTURE.after(0, 30.0)
    assert later.parts[2][0] > MIXTURE.parts[2][0]
    assert later.quiet(10.0) == pytest.approx(MIXTURE.quiet(40.0) / MIXTURE.quiet(30.0))
    assert MIXTURE.between() == (3.0, pytest.approx(400.0))


@pytest.mark.parametrize(
    "call", [lambda: RateMixture(()), lambda: RateMixture(((0.4, BELIEF),)), lambda: MIXTURE.after(1, 3.0)]
)
def test_what_is_no_mixture_is_refused(call):
    with pytest.raises(NumberError, match="is expected"):
        call()
