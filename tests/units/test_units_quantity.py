import contextlib
import math
import re

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchlore.units import (
    OL,
    Measure,
    UnitError,
    format_quantity,
    parse_quantity,
    parse_reading,
    unit_symbol,
)
from benchlore.units.symbols import PREFIXES, UNITS

R, V, A, C, L = (
    Measure.RESISTANCE,
    Measure.VOLTAGE,
    Measure.CURRENT,
    Measure.CAPACITANCE,
    Measure.INDUCTANCE,
)
HZ, S, DEG, N, DIODE = (
    Measure.FREQUENCY,
    Measure.TIME,
    Measure.TEMPERATURE,
    Measure.COUNT,
    Measure.DIODE_DROP,
)

PINT = pint.UnitRegistry()
PINT_NAMES = {
    "ohm": "ohm",
    "ohms": "ohm",
    "R": "ohm",
    "V": "volt",
    "VDC": "volt",
    "VAC": "volt",
    "A": "ampere",
    "ADC": "ampere",
    "AAC": "ampere",
    "F": "farad",
    "H": "henry",
    "Hz": "hertz",
    "s": "second",
}


@pytest.mark.parametrize(
    ("text", "ohms"),
    [
        # IEC 60062:2016, marking code for resistors: the standard's own examples.
        ("R47", 0.47),
        ("4R7", 4.7),
        ("470R", 470.0),
        ("4K7", 4.7e3),
        ("47K", 47e3),
        ("47K3", 47.3e3),
        ("470K", 470e3),
        ("4M7", 4.7e6),
        # Common practice, no source.
        ("4k7", 4700.0),
        ("0R33", 0.33),
        ("0r33", 0.33),
        ("2M2", 2.2e6),
        ("4Ω7", 4.7),
        ("4k7 ohm", 4700.0),
        ("4K7Ω", 4700.0),
        ("-4k7", -4700.0),
    ],
)
def test_a_letter_stands_at_the_decimal_point(text, ohms):
    assert parse_quantity(text, R) == ohms


@pytest.mark.parametrize(
    ("text", "measure", "value"),
    [
        ("100n", C, 100e-9),
        ("2u2", C, 2.2e-6),
        ("2µ2", C, 2.2e-6),
        ("2μ2", C, 2.2e-6),
        ("4p7", C, 4.7e-12),
        ("3V3", V, 3.3),
        ("1A5", A, 1.5),
        ("32k768", HZ, 32768.0),
        ("4u7", L, 4.7e-6),
    ],
)
def test_a_letter_stands_at_the_decimal_point_of_other_measures(text, measure, value):
    assert parse_quantity(text, measure) == value


@pytest.mark.parametrize(
    ("text", "measure", "value"),
    [
        ("470 mA", A, 0.47),
        ("3,3 V", V, 3.3),
        ("1.2e-3 ohm", R, 1.2e-3),
        ("1.2E-03", R, 1.2e-3),
        ("0.412", DIODE, 0.412),
        ("4.7 kΩ", R, 4700.0),
        ("4.7 k\u2126", R, 4700.0),
        ("4.7kohm", R, 4700.0),
        ("4.7 k ohm", R, 4700.0),
        ("4.7 KOhms", R, 4700.0),
        ("4.7 kilohm", R, 4700.0),
        ("1 megohm", R, 1e6),
        ("100 µA", A, 100e-6),
        ("100 μA", A, 100e-6),
        ("100 microamps", A, 100e-6),
        ("5 V DC", V, 5.0),
        ("5VDC", V, 5.0),
        ("470m", V, 0.47),
        ("\u22125 V", V, -5.0),
        ("– 5 V", V, -5.0),
        ("+5 V", V, 5.0),
        ("5.", V, 5.0),
        (".5 V", V, 0.5),
        ("\ufeff3.3\u00a0V", V, 3.3),
        ("12 MHz", HZ, 12e6),
        ("20 ms", S, 0.02),
        ("25 min", S, 1500.0),
        ("25 Minutes", S, 1500.0),
        ("1 h 30 min", S, 5400.0),
        ("PT15M", S, 900.0),
        ("85 °C", DEG, 85.0),
        ("85°", DEG, 85.0),
        ("300 K", DEG, 26.85),
        ("212 °F", DEG, 100.0),
        ("-40 F", DEG, -40.0),
        ("7 pcs", N, 7.0),
    ],
)
def test_what_technicians_write_is_read(text, measure, value):
    assert parse_quantity(text, measure) == value


@pytest.mark.parametrize(
    ("text", "value"),
    [("100 NF", 100e-9), ("10 UF", 10e-6), ("10 uf", 10e-6), ("22 PF", 22e-12), ("22 pf", 22e-12)],
)
def test_letter_case_is_forgiven_where_one_prefix_can_be_meant(text, value):
    assert parse_quantity(text, C) == value


@pytest.mark.parametrize(
    ("text", "measure", "advice"),
    [
        ("5 MA", A, "unknown unit 'MA' in '5 MA'; m is milli and M is mega: did you mean 'mA'?"),
        ("5 Ma", A, "did you mean 'mA'"),
        ("5 MV", V, "did you mean 'mV'"),
        ("5 MF", C, "did you mean 'mF'"),
        ("12 mhz", HZ, "did you mean 'mHz' or 'MHz'"),
        ("12 m", HZ, "write MHz for megahertz or mHz for millihertz"),
        ("5 m", S, "write min for minutes or ms for milliseconds"),
        ("4M7", C, "'M' cannot stand at the decimal point of a capacitance"),
        ("4m7", HZ, "'m' cannot stand at the decimal point of a frequency"),
    ],
)
def test_milli_and_mega_are_never_taken_for_each_other(text, measure, advice):
    with pytest.raises(UnitError, match=re.escape(advice)):
        parse_quantity(text, measure)


def test_milliohm_and_megohm_keep_apart():
    texts = ("2 mohm", "2 mOhm", "2 mΩ", "2m", "2m0")
    assert [parse_quantity(text, R) for text in texts] == [0.002] * 5
    texts = ("2 Mohm", "2 MOHM", "2 MOhms", "2 MOHMS", "2M", "2M0")
    assert [parse_quantity(text, R) for text in texts] == [2e6] * 6


@given(
    st.sampled_from(list(Measure)),
    st.sampled_from([u.symbol for u in UNITS.values() if u.prefixes]),
    st.data(),
)
def test_no_letter_case_turns_milli_into_mega(measure, symbol, data):
    written = "".join(data.draw(st.sampled_from([c.lower(), c.upper()])) for c in "m" + symbol)
    try:
        value = parse_quantity(f"1 {written}", measure)
    except UnitError:
        return
    assert value == {"m": 1e-3, "M": 1e6}[written[0]]


@pytest.mark.parametrize(
    ("text", "decimal", "value"),
    [
        ("1 234", "either", 1234.0),
        ("1 234 567,8", "either", 1234567.8),
        ("1\u202f234", "either", 1234.0),
        ("1'234.5", "either", 1234.5),
        ("1.234,5", "either", 1234.5),
        ("1,234.5", "either", 1234.5),
        ("1.234.567", "either", 1234567.0),
        ("1,234,567", "either", 1234567.0),
        ("0,412", "either", 0.412),
        ("1.234", "either", 1.234),
        ("1,234", "comma", 1.234),
        ("1,234", "point", 1234.0),
        ("1.234", "comma", 1234.0),
        ("1.234", "point", 1.234),
        ("0.412", "comma", 0.412),
        ("3,3", "point", 3.3),
        ("12,3456", "either", 12.3456),
        ("1234,567", "either", 1234.567),
    ],
)
def test_the_decimal_mark_settles_only_what_the_text_leaves_open(text, decimal, value):
    assert parse_quantity(text, V, decimal=decimal) == value


def test_an_unclear_comma_is_refused_with_both_readings():
    with pytest.raises(UnitError, match=r"'1,234'.*write 1\.234 or 1234, or say which decimal mark"):
        parse_quantity("1,234 V", V)


@pytest.mark.parametrize(
    "text",
    ["1 23", "12 34", "1.23.4", "1,2,3", "1.2,3.4", "01 234", "1 234 5", "1..2", "0,123,456", "1,23 456"],
)
def test_digits_in_odd_groups_are_refused(text):
    with pytest.raises(UnitError, match=r"marks|threes|cannot read"):
        parse_quantity(text, V)


@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [
        ("5", "mV", 0.005),
        ("5 V", "mV", 5.0),
        ("5 µV", "mV", 5e-6),
        ("-3,3", "kV", -3300.0),
        ("5", " µV ", 5e-6),
        ("5", "", 5.0),
        ("5", None, 5.0),
    ],
)
def test_a_columns_unit_is_for_bare_numbers(text, unit, value):
    assert parse_quantity(text, V, unit=unit) == value


def test_a_code_says_its_own_unit_in_any_column():
    assert parse_quantity("4k7", R, unit="Mohm") == 4700.0
    assert parse_quantity("R47", R, unit="kohm") == 0.47
    assert parse_quantity("212", DEG, unit="°F") == 100.0


def test_a_columns_unit_may_be_written_as_in_any_cell():
    assert [parse_quantity("4.7", R, unit=unit) for unit in ("kΩ", "k\u2126", "kOhm", "K")] == [4700.0] * 4


def test_an_unknown_column_unit_is_refused():
    with pytest.raises(UnitError, match="unknown unit 'parsec'"):
        parse_quantity("5", V, unit="parsec")


@pytest.mark.parametrize(
    ("text", "measure", "message"),
    [
        ("4.2 kOhmz", R, "unknown unit 'kOhmz' in '4.2 kOhmz'; did you mean 'kohm'?"),
        (
            "3.3 V",
            R,
            "'V' is a unit of voltage, not of resistance, in '3.3 V'; write resistance as 4.7 kohm, 4k7 or 470R",
        ),
        ("5 parsec", V, "unknown unit 'parsec' in '5 parsec'; write voltage as 3.3 V or 50 mV"),
        ("", R, "nothing in ''; write a value"),
        ("about five", R, "cannot read 'about five'; write resistance as 4.7 kohm, 4k7 or 470R"),
        ("4k7 kohm", R, "a second prefix 'kohm' in '4k7 kohm'; write 4k7 alone"),
        ("1e999 V", V, "too large a number in '1e999 V'; write a number that fits the bench"),
        ("1e308 kV", V, "too large a number in '1e308 kV'; write a number that fits the bench"),
        ("5k", N, "unknown unit 'k' in '5k'; write count as a plain number"),
    ],
)
def test_a_refusal_quotes_the_text_and_says_what_would_be_right(text, measure, message):
    with pytest.raises(UnitError) as caught:
        parse_quantity(text, measure)
    assert str(caught.value) == message
    assert caught.value.text == text
    assert caught.value.expected in message


def test_a_long_text_is_refused_and_cut_in_the_message():
    with pytest.raises(UnitError, match="at most 200 characters") as caught:
        parse_quantity("9" * 100_000, R)
    assert len(str(caught.value)) < 150


@pytest.mark.parametrize("text", ["nan", "NaN ohm", "inf", "-inf", "infinity", "OL", "-OL"])
def test_a_quantity_is_always_a_finite_number(text):
    with pytest.raises(UnitError, match="cannot read"):
        parse_quantity(text, R)


@pytest.mark.parametrize(
    "text",
    [
        "OL",
        "ol",
        "O.L",
        "O.L.",
        ".OL",
        "0L",
        "0.L",
        "OL.",
        "+OL",
        "overload",
        "Over range",
        "∞",
        "OL kohm",
        "OL MΩ",
        "OL k ohm",
        "0L Mohm",
        "O.L ohms",
        "open",
        "Open circuit",
    ],
)
def test_over_range_is_a_reading(text):
    assert parse_reading(text, R) == OL


def test_over_range_shows_on_every_range_but_a_count():
    assert all(parse_reading("OL", measure) == OL for measure in Measure if measure is not N)
    with pytest.raises(UnitError, match="no count in 'OL'"):
        parse_reading("OL", N)


def test_the_unit_behind_over_range_must_fit():
    with pytest.raises(UnitError, match="'V' is a unit of voltage, not of resistance"):
        parse_reading("OL V", R)


def test_open_and_short_belong_to_the_measures_that_can_show_them():
    assert parse_reading("open", DIODE) == OL
    assert [parse_reading(text, R) for text in ("short", "Shorted", "short circuit")] == [0.0] * 3
    with pytest.raises(UnitError, match="no voltage in 'open'"):
        parse_reading("open", V)
    with pytest.raises(UnitError, match="no diode drop in 'short'"):
        parse_reading("short", DIODE)


def test_a_reading_is_else_a_quantity():
    assert parse_reading("4k7", R) == 4700.0
    assert parse_reading("412", DIODE, unit="mV") == 0.412
    assert parse_reading("1,234", V, decimal="comma") == 1.234


@pytest.mark.parametrize(
    ("value", "measure", "text"),
    [
        (4200, R, "4.2 kohm"),
        (0.47, A, "470 mA"),
        (OL, R, "OL"),
        (0, R, "0 ohm"),
        (-0.0, V, "0 V"),
        (-3.3, V, "-3.3 V"),
        (999.96, R, "1 kohm"),
        (2.2e-6, C, "2.2 µF"),
        (32768, HZ, "32.8 kHz"),
        (5400, S, "5400 s"),
        (25.36, DEG, "25.4 °C"),
        (1234567, N, "1234567"),
        (2.5, N, "2.5"),
        (1e-20, R, "1e-20 ohm"),
        (4.7e15, R, "4700 Tohm"),
    ],
)
def test_a_value_is_written_with_an_engineering_prefix(value, measure, text):
    assert format_quantity(value, measure) == text


def test_digits_are_significant_digits():
    assert [format_quantity(12345.678, R, digits) for digits in (1, 2, 4, 7)] == [
        "10 kohm",
        "12 kohm",
        "12.35 kohm",
        "12.34568 kohm",
    ]


def test_over_range_comes_back_from_its_text():
    assert parse_reading(format_quantity(OL, R), R) == OL


@pytest.mark.parametrize("value", [math.nan, -math.inf])
def test_what_no_meter_shows_is_not_written(value):
    with pytest.raises(ValueError, match="expected a number or OL"):
        format_quantity(value, R)


@given(
    st.floats(-1e15, 1e15, allow_nan=False).filter(lambda v: v == 0 or abs(v) > 1e-18),
    st.sampled_from(list(Measure)),
    st.integers(1, 15),
)
def test_reading_what_was_written_gives_the_value_to_its_digits(value, measure, digits):
    back = parse_quantity(format_quantity(value, measure, digits), measure)
    exact = measure is N and value.is_integer()
    assert back == pytest.approx(value, rel=0 if exact else 0.5001 * 10.0 ** (1 - digits), abs=0)


@given(st.sampled_from([m for m in Measure if UNITS[m].prefixes]), st.data())
def test_prefixes_and_units_agree_with_pint(measure, data):
    unit = UNITS[measure]
    symbol = data.draw(st.sampled_from(unit.symbols))
    prefix = data.draw(st.sampled_from(["", *unit.prefixes]))
    number = data.draw(st.floats(0.001, 1000))
    quantity = PINT.Quantity(number, PINT.Unit(prefix + "meter") / PINT.meter * PINT.Unit(PINT_NAMES[symbol]))
    expected = (
        quantity.to_base_units().magnitude / PINT.Quantity(1, PINT_NAMES[symbol]).to_base_units().magnitude
    )
    assert parse_quantity(f"{number!r} {prefix}{symbol}", measure) == pytest.approx(expected, rel=1e-12)


@given(st.floats(-200, 2000), st.sampled_from([("K", "kelvin"), ("°F", "degF"), ("°C", "degC")]))
def test_temperatures_agree_with_pint(number, names):
    expected = PINT.Quantity(number, names[1]).to("degC").magnitude
    assert parse_quantity(f"{number!r} {names[0]}", DEG) == pytest.approx(expected, rel=1e-12, abs=1e-10)


@given(st.floats(0, 1e4), st.sampled_from(["s", "min", "h", "d"]))
def test_times_agree_with_pint(number, unit):
    expected = PINT.Quantity(number, {"d": "day"}.get(unit, unit)).to("second").magnitude
    assert parse_quantity(f"{number!r} {unit}", S) == pytest.approx(expected, rel=1e-12)


def test_prefixes_are_those_of_the_si():
    # BIPM, SI Brochure, 9th edition 2019, table 7; from memory, and pint agrees above.
    si = {"f": -15, "p": -12, "n": -9, "u": -6, "m": -3, "k": 3, "M": 6, "G": 9, "T": 12}
    assert dict(PREFIXES) == si


def test_each_measure_has_its_si_unit():
    assert [unit_symbol(m) for m in (R, V, A, DIODE, C, L, HZ, S, DEG, N)] == [
        *("ohm", "V", "A", "V", "F", "H", "Hz", "s", "°C", "")
    ]


@pytest.mark.parametrize(
    ("text", "measure", "message"),
    [
        ("-4k7", R, "a resistance below zero in '-4k7'; a meter shows that while the board has voltage"),
        ("-100 nF", C, "too low a value in '-100 nF'; write 0 F or more"),
        ("-1 uH", L, "write 0 H or more"),
        ("-1 Hz", HZ, "write 0 Hz or more"),
        ("-5", S, "write 0 s or more"),
        ("-3", N, "write 0 or more"),
        ("-300", DEG, "write -273 °C or more"),
        ("1e16", R, "too large a number in '1e16'"),
        ("-1e16", V, "too large a number in '-1e16'"),
    ],
)
def test_a_reading_that_cannot_be_is_refused(text, measure, message):
    """Absolute zero: BIPM, SI Brochure, 9th edition 2019, 2.3.1; the rest is what the quantities are."""
    with pytest.raises(UnitError, match=message):
        parse_reading(text, measure)


def test_a_reading_at_the_edge_of_what_can_be_is_read():
    assert [parse_reading(text, R) for text in ("0", "-0", "1e15")] == [0.0, 0.0, 1e15]
    assert parse_reading("-273.15", DEG) == -273.15
    assert parse_reading("0 K", DEG) == -273.15
    assert parse_reading("-12 V", V) == -12.0
    assert parse_reading("-0.5 A", A) == -0.5


SCRAPS = st.sampled_from(
    [*"0123456789", *".,' +-±eEmMkKuµnpRVAFHΩ°%", "ohm", "OL", "open", "min", " ", "\u00a0", "−", "10", "e9"]
)


@given(st.one_of(st.text(), st.lists(SCRAPS, max_size=14).map("".join)), st.sampled_from(list(Measure)))
def test_no_text_raises_anything_but_a_unit_error(text, measure):
    with contextlib.suppress(UnitError):
        parse_quantity("5", measure, unit=text)
    try:
        value = parse_reading(text, measure)
    except UnitError:
        return
    assert not math.isnan(value)
    assert value > -math.inf


def test_a_refusal_is_remembered_but_raised_afresh():
    errors = []
    for _ in range(2):
        with pytest.raises(UnitError, match="cannot read") as caught:
            parse_quantity("about five", R)
        errors.append(caught.value)
    assert errors[0] is not errors[1]
    assert str(errors[0]) == str(errors[1])
