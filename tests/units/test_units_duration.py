import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchlore.units import UnitError, format_duration, format_roughly, parse_duration


@pytest.mark.parametrize(
    ("text", "minutes"),
    [
        ("25 min", 25.0),
        ("25min", 25.0),
        ("25 Minutes", 25.0),
        ("1h30", 90.0),
        ("1h30m", 90.0),
        ("1 h 30 min", 90.0),
        ("1 hour and 30 minutes", 90.0),
        ("1:30", 90.0),
        ("0:45", 45.0),
        ("1:30 h", 90.0),
        ("1:00:30", 60.5),
        ("90 s", 1.5),
        ("2 d", 2880.0),
        ("2 d 4 h", 3120.0),
        ("1,5 h", 90.0),
        ("1.5 h", 90.0),
        ("0,5", 0.5),
        ("20", 20.0),
        ("0", 0.0),
        ("1 min 30", 1.5),
        ("2 w", 20160.0),
    ],
)
def test_a_duration_is_read_in_minutes(text, minutes):
    assert parse_duration(text) == minutes


@pytest.mark.parametrize(
    ("text", "minutes"),
    [
        # ISO 8601-1:2019, 5.5.2 durations (from memory); PT36H and P1DT12H are the same length.
        ("PT15M", 15.0),
        ("PT1H30M", 90.0),
        ("PT36H", 2160.0),
        ("P1DT12H", 2160.0),
        ("P2W", 20160.0),
        ("PT0,5H", 30.0),
        ("PT0.5H", 30.0),
        ("PT90S", 1.5),
        ("pt15m", 15.0),
    ],
)
def test_an_iso_8601_duration_is_read(text, minutes):
    assert parse_duration(text) == minutes


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "nothing in ''"),
        ("overnight", "cannot read 'overnight'; write a duration such as 25 min"),
        ("-5 min", "cannot read '-5 min'; a duration cannot be negative"),
        ("36526 d", "too long a duration in '36526 d'; write at most 36525 d"),
        ("999999999999 h", "too long a duration"),
        ("1:75", "cannot read '1:75'"),
        ("1:30 min", "cannot read '1:30 min'"),
        ("30 min 1 h", "'h' after 'min'"),
        ("1 h 1 h", "'h' after 'h'"),
        ("2 d 3", "a number without a unit"),
        ("5 5", "stray"),
        ("30 s 5", "a number without a unit"),
        ("5 parsec", "unknown unit 'parsec'"),
        ("P", "ISO 8601"),
        ("PT", "ISO 8601"),
        ("P1Y", "ISO 8601 duration of days, hours, minutes, seconds"),
        ("P1M", "ISO 8601"),
        ("1e400 min", "too large"),
        ("1,234 min", "unclear comma"),
        ("1e307 d", "too long a duration in '1e307 d'; write at most 36525 d"),
    ],
)
def test_what_is_no_duration_is_refused(text, message):
    with pytest.raises(UnitError, match=message):
        parse_duration(text)


@pytest.mark.parametrize(
    ("minutes", "text"),
    [
        (90, "1 h 30 min"),
        (25, "25 min"),
        (0.75, "45 s"),
        (0, "0 min"),
        (1.5, "1 min 30 s"),
        (3600, "2 d 12 h"),
        (0.001, "0.06 s"),
        (59.9999, "1 h"),
        (0.9999, "1 min"),
        (1e-12, "6e-11 s"),
    ],
)
def test_a_duration_is_written_in_the_largest_units_that_fit(minutes, text):
    assert format_duration(minutes) == text


@pytest.mark.parametrize("minutes", [-1, math.nan, math.inf])
def test_what_is_no_duration_is_not_written(minutes):
    with pytest.raises(ValueError, match="expected a number of zero or more"):
        format_duration(minutes)


@given(st.floats(0, 1e7))
def test_reading_what_was_written_gives_the_minutes_to_the_second(minutes):
    assert parse_duration(format_duration(minutes)) == pytest.approx(minutes, rel=0.005, abs=0.5001 / 60)


@given(st.integers(0, 10**7))
def test_whole_seconds_come_back_exactly(seconds):
    assert parse_duration(format_duration(seconds / 60)) * 60 == pytest.approx(seconds, rel=1e-12, abs=0)


SCRAPS = st.sampled_from([*"0123456789", *".,:-+PTHMSDhmsd ", "min", "and", "e9"])


@given(st.one_of(st.text(), st.lists(SCRAPS, max_size=14).map("".join)))
def test_no_text_raises_anything_but_a_unit_error(text):
    try:
        minutes = parse_duration(text)
    except UnitError:
        return
    assert 0 <= minutes < math.inf


@pytest.mark.parametrize(
    ("minutes", "text"),
    [
        (0.0, "0 min"),
        (0.1234, "7.38 s"),
        (9.9, "9 min 54 s"),
        (18.3, "18 min"),
        (78.7, "1 h 19 min"),
        (599.9, "10 h"),
        (604.0, "10 h"),
        (1234.0, "20 h 30 min"),
    ],
)
def test_long_waits_are_told_in_whole_minutes(minutes, text):
    assert format_roughly(minutes) == text
