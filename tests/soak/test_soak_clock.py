"""Complaints by a clock: against scipy's beta-binomial law, renewal theory's first interval, and simulation."""

import numpy as np
import pytest
from scipy import stats

from benchlore.soak import (
    ClockBelief,
    Pattern,
    belief_in,
    cheapest_soak,
    find_kind,
    record_of,
    soak_for,
    verdict,
)

CLOCK = ClockBelief(period=3.0, spread=0.05, hits=11, beats=11)


@pytest.mark.parametrize(("hits", "beats"), [(11, 11), (8, 12), (3, 3)])
def test_beats_without_an_event_are_beta_binomial(hits, beats):
    clock = ClockBelief(3.0, 0.05, hits, beats)
    law = [stats.betabinom.pmf(0, m, hits + 0.5, beats - hits + 0.5) for m in range(1, 6)]
    assert [clock.missed(m) for m in range(1, 6)] == pytest.approx(law)


def test_a_beat_that_never_fails_is_the_first_interval():
    # Renewal theory: before the first renewal, the chance of none by t is the interval's own survival.
    clock = ClockBelief(3.0, 0.2, 10**7, 10**7)
    for t in (2.5, 2.9, 3.0, 3.1, 3.5):
        assert clock.quiet(t) == pytest.approx(stats.norm.sf(t, 3.0, 0.2), abs=1e-6)


def test_the_chance_of_quiet_is_that_of_simulated_clocks():
    clock = ClockBelief(3.0, 0.3, 8, 12)
    rng = np.random.default_rng(5)
    beats = np.cumsum(rng.normal(3.0, 0.3, (40_000, 40)), axis=1)
    hit = rng.random((40_000, 40)) < rng.beta(8.5, 4.5, (40_000, 1))
    first = np.where(hit, beats, np.inf).min(axis=1)
    for t in (2.9, 3.4, 6.2, 12.0):
        assert clock.quiet(t) == pytest.approx(float((first > t).mean()), abs=0.008)


def test_what_follows_a_quiet_time_is_conditional():
    later = CLOCK.after(0, 4.0)
    assert later.quiet(2.5) == pytest.approx(CLOCK.quiet(6.5) / CLOCK.quiet(4.0))
    assert later.shown(2.5) == pytest.approx(1 - later.quiet(2.5))


def test_a_few_beats_are_nearly_proof_where_chance_needs_three_times_as_long():
    times = [3.0 * k + 0.03 * (-1) ** k for k in range(1, 13)]
    record = record_of([60 * time for time in times])
    finding = find_kind(record)
    assert finding.pattern is Pattern.FIXED
    belief, how = belief_in(record, finding)
    assert isinstance(belief, ClockBelief)
    assert "in 11 of 11 beats" in how
    assert 3.0 < soak_for(belief, 0.95) < 3.4
    assert 6.0 < soak_for(belief, 0.99) < 6.6
    assert verdict(belief, 0.8, 6.5, hours_a_day=8).clean.cured > 0.998


def test_beats_that_were_left_out_make_the_soak_longer():
    sure, seldom = ClockBelief(3.0, 0.05, 11, 11), ClockBelief(3.0, 0.05, 6, 24)
    assert soak_for(seldom, 0.95) > 3 * soak_for(sure, 0.95)


@pytest.fixture(scope="module")
def quiet():
    """How likely the clock stays quiet for so long, on a fine grid of times."""
    grid = np.linspace(0, 40, 8001)
    return grid, np.array([CLOCK.quiet(t) for t in grid.tolist()])


@pytest.mark.parametrize("saved", [1.0, 20.0, 200.0, 5000.0])
def test_the_cheapest_soak_ends_behind_a_beat(quiet, saved):
    best = cheapest_soak(CLOCK, 0.3, 0.2, saved)
    costs = 0.2 * quiet[0] + 0.3 * saved * quiet[1]
    assert 0.2 * best + 0.3 * saved * CLOCK.quiet(best) <= costs.min() * 1.01 + 1e-9
    assert best == 0 or 0 <= best % 3.0 < 0.9


def test_a_clock_without_spread_and_one_interval_from_to():
    exact = ClockBelief(3.0, 0.0, 5, 5)
    assert (exact.quiet(2.9), exact.between()) == (pytest.approx(1.0), (3.0, 3.0))
    assert exact.quiet(3.1) < 0.1
