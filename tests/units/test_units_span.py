import re
from math import inf

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchlore.units import OL, Measure, Span, UnitError, format_span, parse_span

R, V, DEG = Measure.RESISTANCE, Measure.VOLTAGE, Measure.TEMPERATURE


@pytest.mark.parametrize(
    "text",
    [
        "4.2 kohm ± 25 %",
        "4.2 kohm +- 25 %",
        "4.2 kohm +/- 25 %",
        "4k2±25%",
        "4,2 kΩ + / − 25 %",
        "4k2 +-25 percent",
    ],
)
def test_a_tolerance_in_per_cent_is_of_the_centre(text):
    assert parse_span(text, R) == Span("around", 3150.0, 5250.0, 4200.0)


@pytest.mark.parametrize(
    ("text", "half"),
    [("3.85 V ± 50 mV", 0.05), ("3.85 V ± 0.05", 0.05), ("3.85 ± 0.05 V", 0.05), ("3.85 ± 0.05", 0.05)],
)
def test_a_tolerance_as_a_quantity_shares_the_written_unit(text, half):
    assert parse_span(text, V) == Span("around", pytest.approx(3.85 - half), pytest.approx(3.85 + half), 3.85)


def test_the_tolerance_of_a_temperature_is_a_difference():
    assert parse_span("85 °C ± 5 °C", DEG) == Span("around", 80.0, 90.0, 85.0)
    assert parse_span("85 °C ± 5 K", DEG) == Span("around", 80.0, 90.0, 85.0)
    assert parse_span("185 °F ± 9", DEG) == Span("around", 80.0, 90.0, 85.0)


@pytest.mark.parametrize(
    "text",
    [
        "3.1 to 3.4 V",
        "3.1–3.4 V",
        "3.1 V..3.4 V",
        "3.1 V … 3.4 V",
        "3.1 - 3.4 V",
        "3.1-3.4V",
        "3100 mV to 3,4 V",
        "between 3.1 and 3.4 V",
        "From 3.1 to 3.4 V",
        "3V1-3V4",
        "31e-1-34e-1 V",
    ],
)
def test_a_span_between_two_values(text):
    assert parse_span(text, V) == Span("between", 3.1, 3.4)


@pytest.mark.parametrize("text", ["-5 to -3 V", "-5 - -3 V", "-5 V .. -3 V", "−5 V – −3 V"])
def test_a_span_between_negative_values(text):
    assert parse_span(text, V) == Span("between", -5.0, -3.0)


@pytest.mark.parametrize(
    "text", ["below 12 ohm", "< 12 ohm", "<12R", "≤ 12", "at most 12 ohm", "Under 12 ohm"]
)
def test_a_span_below_a_value(text):
    assert parse_span(text, R) == Span("below", -inf, 12.0)


@pytest.mark.parametrize(
    "text", ["above 1 Mohm", "> 1 Mohm", ">1M", ">= 1M0", "more than 1 Mohm", "at least 1MΩ"]
)
def test_a_span_above_a_value(text):
    assert parse_span(text, R) == Span("above", 1e6, inf)


@pytest.mark.parametrize("text", ["OL", "O.L", "open", "OL Mohm"])
def test_over_range_is_a_span(text):
    assert parse_span(text, R) == Span("over range", OL, OL)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (
            "4.7 kohm",
            "a single value in '4.7 kohm'; write a span such as '4.7 kohm ± 5 %', '4.7 kohm to …', 'below 4.7 kohm', 'above 4.7 kohm' or OL",
        ),
        ("100 to 1 kohm", "an empty span in '100 to 1 kohm'; write the lower end first, each with its unit"),
        ("5 to 5 ohm", "an empty span"),
        ("4.2 kohm ± 0 %", "write more than 0 % and less than 100 %"),
        ("4.2 kohm ± 100 %", "write more than 0 % and less than 100 %"),
        ("0 ohm ± 5 %", "write more than 0 % and less than 100 %"),
        ("4.2 kohm ± 0 ohm", "write a tolerance of more than zero"),
        ("4.2 kohm ± 3 V", "'V' is a unit of voltage, not of resistance"),
        ("below 12 V", "'V' is a unit of voltage, not of resistance"),
        ("below", "write a span such as '470R ± 5 %'"),
        ("normal", "cannot read 'normal'; write a span such as"),
        ("± 5", "write a span such as"),
        ("", "nothing in ''"),
        ("1 ohm to", "unknown unit 'ohm to'"),
        ("OL to OL", "cannot read"),
    ],
)
def test_what_is_no_span_is_refused(text, message):
    with pytest.raises(UnitError, match=re.escape(message)):
        parse_span(text, R)


@pytest.mark.parametrize(
    "text",
    [
        "4.2 kohm ± 25 %",
        "0 ohm ± 200 mohm",
        "4.2 kohm ± 301 ohm",
        "1 kohm to 2.2 kohm",
        "below 12 ohm",
        "OL",
        "above 1 Mohm",
        "3 ohm ± 0.5 %",
    ],
)
def test_a_span_is_written_as_it_was_read(text):
    assert format_span(parse_span(text, R), R) == text


def test_a_round_tolerance_is_written_as_such():
    assert format_span(parse_span("3.85 V ± 50 mV", V), V) == "3.85 V ± 50 mV"
    assert format_span(parse_span("85 °C ± 7 °C", DEG), DEG) == "85 °C ± 7 °C"


ENDS = st.floats(-1e9, 1e9).filter(lambda v: abs(v) > 1e-9)


def spans():
    ordered = st.tuples(ENDS, ENDS).map(sorted).filter(lambda e: e[1] - e[0] > 1e-6 * max(map(abs, e)))
    around = st.tuples(ENDS, st.floats(1e-6, 0.99)).map(
        lambda e: Span("around", e[0] - abs(e[0]) * e[1], e[0] + abs(e[0]) * e[1], e[0])
    )
    return st.one_of(
        ordered.map(lambda e: Span("between", e[0], e[1])),
        ENDS.map(lambda e: Span("below", -inf, e)),
        ENDS.map(lambda e: Span("above", e, inf)),
        around,
        st.just(Span("over range", OL, OL)),
    )


@given(spans(), st.sampled_from(list(Measure)))
def test_reading_what_was_written_gives_the_span(span, measure):
    if span.kind == "over range" and measure is Measure.COUNT:
        return
    back = parse_span(format_span(span, measure), measure)
    assert back.kind == span.kind
    scale = max(abs(v) for v in (span.low, span.high, 1e-12) if abs(v) < inf)
    assert back.low == pytest.approx(span.low, rel=1e-9, abs=1e-9 * scale)
    assert back.high == pytest.approx(span.high, rel=1e-9, abs=1e-9 * scale)


SCRAPS = st.sampled_from(
    [*"0123456789", *".,±+-%<> ekRVm", "to", "..", "–", "below", "above", "ohm", "OL", "and", "between "]
)


@given(st.one_of(st.text(), st.lists(SCRAPS, max_size=14).map("".join)), st.sampled_from(list(Measure)))
def test_no_text_raises_anything_but_a_unit_error(text, measure):
    try:
        span = parse_span(text, measure)
    except UnitError:
        return
    assert span.low < span.high or span.kind == "over range"
