"""What customers say of how often it happens."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from benchlore.soak import NumberError, WordsError, said

DAY = 8 * 60


@pytest.mark.parametrize(
    ("text", "low", "high"),
    [
        ("every 20 min", 20, 20),
        ("about every 20 minutes", 20, 20),
        ("after about three minutes", 3, 3),
        ("every 20 to 30 minutes", 20, 30),
        ("every few minutes", 2, 5),
        ("every half an hour", 30, 30),
        ("once in 10 min", 10, 10),
        ("once an hour", 60, 60),
        ("5 times an hour", 12, 12),
        ("hourly", 60, 60),
        ("two or three times a day", DAY / 3, DAY / 2),
        ("2-3x/day", DAY / 3, DAY / 2),
        ("Twice a day.", DAY / 2, DAY / 2),
        ("daily", DAY, DAY),
        ("every day", DAY, DAY),
        ("every other day", 2 * DAY, 2 * DAY),
        ("once a week", 7 * DAY, 7 * DAY),
        ("a couple of times per week", 7 * DAY / 3, 7 * DAY / 2),
        ("3 times every 2 days", 2 * DAY / 3, 2 * DAY / 3),
        ("1,5 times a day", DAY / 1.5, DAY / 1.5),
    ],
)
def test_words_that_count_are_right_within_a_factor_of_two(text, low, high):
    found = said(text)
    assert (1 / found.high, 1 / found.low) == pytest.approx((low / 2, high * 2))


def test_hours_of_use_make_a_day():
    assert said("once a day", hours_a_day=24).belief.every == pytest.approx(
        3 * said("once a day").belief.every
    )
    assert said("every 20 min", hours_a_day=24).low == said("every 20 min").low


def test_vague_words_are_wide_and_in_order():
    ranges = [said(word) for word in ("all the time", "often", "sometimes", "rarely")]
    assert [each.low for each in ranges] == sorted((each.low for each in ranges), reverse=True)
    assert all(each.high / each.low >= 4 for each in ranges)
    assert said("Sometimes").plain == "one in 4 h to 56 h of use, 8 h of use a day"


@pytest.mark.parametrize("text", ["every 20 min", "two or three times a day", "sometimes"])
def test_the_belief_holds_nine_tenths_in_the_range(text):
    found = said(text)
    belief = found.belief
    inside = stats.gamma.cdf([found.low, found.high], belief.shape, scale=1 / belief.time)
    assert inside == pytest.approx([0.05, 0.95], abs=1e-6)


@pytest.mark.parametrize(
    "text", ["", "blue", "every", "0 times a day", "every 0 min", "3 to 2 times a day", "-1 a day"]
)
def test_words_that_say_no_rate_are_refused(text):
    with pytest.raises(WordsError, match="says no rate; write"):
        said(text)


def test_a_day_has_at_most_24_hours():
    with pytest.raises(NumberError, match="up to 24"):
        said("daily", hours_a_day=30)


@given(st.integers(1, 50), st.integers(1, 600), st.sampled_from(["min", "h", "d"]))
def test_times_and_intervals_say_the_same(times, length, unit):
    often, every = said(f"{times} times every {length} {unit}"), said(f"every {length / times} {unit}")
    assert (often.low, often.high) == pytest.approx((every.low, every.high))


@given(st.text(max_size=60))
def test_nonsense_is_understood_or_refused(text):
    try:
        found = said(text)
    except WordsError:
        return
    assert 0 < found.low < found.high
