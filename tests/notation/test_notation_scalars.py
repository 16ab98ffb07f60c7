"""Field types that read one scalar's text."""

import contextlib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchlore.notation.scalars import (
    Money,
    as_chance,
    as_currency,
    as_filled_text,
    as_list,
    as_minutes,
    as_money,
    as_name,
    as_number,
    as_positive,
    as_text,
    one_of,
)


@pytest.mark.parametrize(
    ("text", "money"),
    [
        ("48", Money(48)),
        ("48.50", Money(48.5)),
        ("48,50", Money(48.5)),
        ("48 EUR", Money(48, "EUR")),
        ("gbp 12", Money(12, "GBP")),
        ("0", Money(0)),
    ],
)
def test_money_may_name_its_currency(text, money):
    assert as_money(text) == money


@pytest.mark.parametrize("text", ["EUR", "4 8", "48 EUR 2", "", "-5", "48 Euro", "1e99", "nan", "inf", "48€"])
def test_what_is_no_money_is_refused(text):
    with pytest.raises(ValueError, match=r"no amount|no number|out of range|no currency|is expected"):
        as_money(text)


def test_numbers_are_zero_or_more():
    assert (as_number("1e3"), as_number("2,5"), as_number("0")) == (1000, 2.5, 0)
    with pytest.raises(ValueError, match="'-1' is out of range; write a number of zero or more"):
        as_number("-1")
    with pytest.raises(ValueError, match="a number above zero is expected"):
        as_positive("0")


def test_a_names_mistake_is_mended_where_it_can_be():
    assert as_name("vsys-ohms") == "vsys-ohms"
    with pytest.raises(ValueError, match=r"'VSYS Ohms' is no name; .*did you mean 'vsys-ohms'"):
        as_name("VSYS Ohms")
    with pytest.raises(
        ValueError, match=r"'€' is no name; use lower-case letters, digits and single hyphens$"
    ):
        as_name("€")


def test_texts_are_no_lists_and_no_groups():
    assert (as_text(None), as_text(" a ")) == ("", "a")
    with pytest.raises(ValueError, match="a text is expected, not a list"):
        as_text(["a"])
    with pytest.raises(ValueError, match=r"not '\{a: b, c\}'; put it in quotes"):
        as_text({"a": "b", "c": None})
    with pytest.raises(ValueError, match="a text is expected here, and there is none"):
        as_filled_text("  ")


def test_one_item_stands_for_a_list_of_one():
    assert (as_list("a"), as_list(["a", "b"]), as_list({"a": "b"})) == (["a"], ["a", "b"], [{"a": "b"}])


def test_durations_and_chances_are_those_of_units():
    assert as_minutes("1 h 30 min") == 90
    assert as_chance("17 of 20").chance.of == 20


def test_currencies_are_three_letters():
    assert as_currency("eur") == "EUR"
    with pytest.raises(ValueError, match="'€' is no currency; write its three-letter code, such as EUR"):
        as_currency("€")


def test_one_of_forgives_case_and_hyphens_and_lists_the_others():
    read = one_of(["hot air", "mains"], "caution")
    assert read("Hot-Air") == "hot air"
    with pytest.raises(ValueError, match="no caution 'hot aire'; did you mean 'hot air'"):
        read("hot aire")
    with pytest.raises(ValueError, match="no caution 'zzz'; there are 'hot air' and 'mains'"):
        read("zzz")


@given(st.text(max_size=20))
@pytest.mark.parametrize(
    "read", [as_money, as_number, as_name, as_minutes, as_chance, as_currency, as_positive]
)
def test_no_text_raises_anything_but_a_value_error(read, text):
    with contextlib.suppress(ValueError):
        read(text)
