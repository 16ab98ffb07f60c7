import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchlore.press.text import (
    amount,
    cut,
    digits_for,
    on_one_line,
    printable,
    quantity,
    width_of,
    with_interval,
    wrapped,
)
from benchlore.proof import Estimate
from benchlore.units import Measure

LINES = st.text(st.characters(exclude_categories=["Cs", "Cc"]), max_size=80)


@given(LINES, st.floats(30, 400))
def test_wrapped_lines_are_no_wider_than_asked(text, width):
    assert all(width_of(line) <= width for line in wrapped(text, width))


@given(LINES, st.floats(30, 400))
def test_wrapping_loses_no_letter(text, width):
    assert "".join(wrapped(text, width)).replace(" ", "") == "".join(printable(text).split())


@given(LINES, st.floats(30, 400), st.integers(1, 4))
def test_limited_lines_are_no_more_and_no_wider(text, width, lines):
    found = wrapped(text, width, lines=lines)
    assert len(found) <= lines
    assert all(width_of(line) <= width for line in found)


def test_what_is_cut_off_shows():
    assert wrapped("Cracked joint under inductor L1204", 160, lines=1) == ("Cracked joint under…",)
    assert cut("Cracked joint", 60) == "Cracked…"
    assert cut("Joint", 60) == "Joint"


def test_wide_letters_count_as_wide():
    assert width_of("接触不良") == 4 * 13
    assert wrapped("接触不良接触不良", 60) == ("接触不良", "接触不良")


def test_an_empty_name_is_an_empty_line():
    assert wrapped("", 100) == ("",)


def test_characters_that_no_document_may_hold_are_replaced():
    """XML 1.0, fifth edition, production 2: Char."""
    assert printable("a\x00\x0b\x1f\ud800\ufffe\uffffz") == "a" + "\ufffd" * 6 + "z"
    assert (
        printable("\t\n\r \ud7ff\ue000\ufffd\U00010000\U0010ffff")
        == "\t\n\r \ud7ff\ue000\ufffd\U00010000\U0010ffff"
    )


def test_one_line_has_single_spaces():
    assert on_one_line(" a\n b\t\tc ") == "a b c"


@pytest.mark.parametrize(
    ("value", "digits", "text"),
    [(1234.5, 2, "1,234.50"), (-3.14159, 1, "−3.1"), (-0.001, 2, "0.00"), (0.0, 0, "0"), (-0.0, 0, "0")],
)
def test_amounts_have_a_true_minus_and_no_minus_zero(value, digits, text):
    assert amount(value, digits) == text


def test_a_figure_prints_with_its_interval():
    assert with_interval(Estimate(-1.0, -2.5, 0.5), 1) == "−1.0 (−2.5 to 0.5)"


@pytest.mark.parametrize(
    ("values", "digits"),
    [((), 2), ((0.0,), 2), ((0.1, 9999.0), 2), ((3.0, -10_000.0), 0), ((0.004,), 4), ((1e-300,), 9)],
)
def test_amounts_have_decimals_for_their_size(values, digits):
    assert digits_for(*values) == digits


def test_a_reading_below_zero_has_a_true_minus():
    assert quantity(-0.099, Measure.VOLTAGE, 2) == "−99 mV"
    assert quantity(1e-7, Measure.CAPACITANCE) == "100 nF"
