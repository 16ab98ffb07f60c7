"""Rates against the NIST/SEMATECH e-Handbook of Statistical Methods and scipy, and their laws."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from benchlore.soak import (
    NumberError,
    RateBelief,
    belief_of_record,
    belief_with,
    mean_between,
)

HANDBOOK_FACTORS = {
    0: (0.693, 0.916, 1.386, 1.609, 2.303, 2.996),
    1: (1.678, 2.022, 2.693, 2.994, 3.890, 4.744),
    2: (2.674, 3.105, 3.920, 4.279, 5.322, 6.296),
    3: (3.672, 4.175, 5.109, 5.515, 6.681, 7.754),
    4: (4.671, 5.237, 6.274, 6.721, 7.994, 9.154),
    5: (5.670, 6.292, 7.423, 7.906, 9.275, 10.513),
}
"""Section 8.3.1.1: test time over the mean time to be shown, at 50, 60, 75, 80, 90 and 95 %."""


def test_the_handbooks_interval_for_two_failures_in_800_hours():
    # Section 8.4.5.1: 90 % two-sided.
    found = mean_between(2, 800)
    assert found.mean == 400
    assert (found.low, found.high) == pytest.approx((127.0690, 2251.229), abs=1e-3)


@pytest.mark.parametrize(
    ("confidence", "factor"), [(0.6, 1.0914), (0.8, 0.6213), (0.9, 0.4343), (0.95, 0.3338)]
)
def test_without_a_failure_the_lower_bound_is_the_handbooks(confidence, factor):
    # Section 8.4.5.1, one-sided: T / -ln(1 - confidence).
    two_sided = 1 - 2 * (1 - confidence)
    assert mean_between(0, 1.0, confidence=two_sided).low == pytest.approx(factor, abs=5e-5)
    assert mean_between(0, 1.0).high == np.inf


@pytest.mark.parametrize("failures", HANDBOOK_FACTORS)
def test_a_test_as_long_as_the_handbooks_shows_the_mean(failures):
    for confidence, factor in zip((0.6, 0.75, 0.8, 0.9, 0.95), HANDBOOK_FACTORS[failures][1:], strict=True):
        shown = mean_between(failures, factor, confidence=2 * confidence - 1)
        assert shown.low == pytest.approx(1.0, abs=6e-4)


def test_the_50_95_method_gives_the_handbooks_prior():
    # Section 8.2.5: median 600 h, 95 % sure that it is above 250 h.
    found = belief_with(1 / 600, 1 / 250, below_low=0.5)
    assert (found.shape, found.time) == pytest.approx((2.863055, 1522.506), rel=1e-5)
    assert stats.gamma.cdf(1 / 250, found.shape, scale=1 / found.time) == pytest.approx(0.95)


def test_the_chance_of_quiet_is_lomaxs():
    belief = RateBelief(2.5, 300.0)
    for t in (0.0, 10.0, 1000.0):
        assert belief.quiet(t) == pytest.approx(stats.lomax.sf(t, 2.5, scale=300.0), rel=1e-12)
        assert belief.shown(t) == pytest.approx(1 - belief.quiet(t))


def test_a_known_rate_is_exponential():
    belief = RateBelief.known(25.0)
    assert belief.quiet(60.0) == pytest.approx(np.exp(-60 / 25), rel=1e-9)
    assert belief.between() == (25.0, 25.0)
    assert belief.typical == pytest.approx(25.0)


@given(st.floats(0.5, 50), st.floats(0.1, 1e5), st.floats(0.001, 0.999))
def test_the_time_of_a_chance_of_quiet_gives_that_chance(shape, time, chance):
    belief = RateBelief(shape, time)
    assert belief.quiet(belief.quiet_until(chance)) == pytest.approx(chance, rel=1e-9)


@given(st.floats(0.5, 50), st.floats(0.1, 1e5), st.integers(0, 30), st.floats(0, 1e5), st.floats(0, 1e5))
def test_watching_twice_teaches_what_watching_once_does(shape, time, events, first, second):
    belief = RateBelief(shape, time)
    twice = belief.after(events, first).after(0, second)
    once = belief.after(events, first + second)
    assert (twice.shape, twice.time) == pytest.approx((once.shape, once.time))
    # What is quiet for the whole is quiet for its parts, one after the other.
    quiet = belief.quiet(first) * belief.after(0, first).quiet(second)
    assert belief.quiet(first + second) == pytest.approx(quiet, rel=1e-9)


def test_a_record_moves_what_the_customer_said():
    said = belief_with(1 / 60, 1 / 20)
    more = belief_of_record(12, 120.0, said)
    assert said.every > more.every > 10.0
    assert belief_of_record(12, 120.0).every == pytest.approx(9.6)


@pytest.mark.parametrize("to_event", [False, True])
def test_intervals_hold_the_truth_as_often_as_they_say(to_event):
    rng = np.random.default_rng(3)
    held = 0
    for _ in range(1000):
        times = np.cumsum(rng.exponential(1.0, 40))
        if to_event:
            found = mean_between(6, float(times[5]), to_event=True)
        else:
            found = mean_between(int((times < 6).sum()), 6.0)
        held += found.low <= 1.0 <= found.high
    # Exact with an event at the end, and never less with a given time.
    assert 0.88 <= held / 1000 <= (0.92 if to_event else 0.97)


@pytest.mark.parametrize(
    "call",
    [
        lambda: mean_between(1, 0.0),
        lambda: mean_between(-1, 1.0),
        lambda: mean_between(0, 1.0, to_event=True),
        lambda: mean_between(1, 1.0, confidence=90),
        lambda: RateBelief(0.0, 1.0),
        lambda: RateBelief(1.0, float("nan")),
        lambda: belief_with(2.0, 1.0),
        lambda: belief_with(1.0, 1.0 + 1e-12),
        lambda: belief_of_record(0, 0.0),
    ],
)
def test_numbers_that_make_no_sense_are_refused(call):
    with pytest.raises(NumberError, match="is expected"):
        call()
