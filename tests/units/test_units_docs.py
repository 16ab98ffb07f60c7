"""The manual's page on quantities says what the readers do."""

import re
from itertools import takewhile
from pathlib import Path

import pytest

from benchlore.units import (
    CHANCE_WORDS,
    Measure,
    parse_chance,
    parse_duration,
    parse_quantity,
    parse_span,
    unit_symbol,
)

PAGE = Path(__file__).parents[2] / "docs" / "units.md"


def table(title, which=0):
    """Return the rows of a section's table: the texts in code marks of the first cell, and the other cells."""
    section = PAGE.read_text(encoding="utf-8").split(f"\n## {title}\n")[1].split("\n## ")[0]
    start = [place for place, line in enumerate(section.split("\n")) if line.startswith("| ---")][which]
    lines = takewhile(lambda line: line.startswith("|"), section.split("\n")[start + 1 :])
    rows = [[cell.strip() for cell in line.strip("|").split("|")] for line in lines]
    return [(re.findall("`([^`]+)`", first) or [first], *others) for first, *others in rows]


def pairs(title, which=0):
    return [(text, *others) for texts, *others in table(title, which) for text in texts]


@pytest.mark.parametrize(("text", "measure", "expected"), pairs("Quantities"))
def test_quantities_are_read_as_the_manual_says(text, measure, expected):
    value = parse_quantity(text, Measure(measure))
    assert value == float(expected.split()[0])
    assert expected.split()[1:] == [unit_symbol(Measure(measure))] * (measure != "count")


@pytest.mark.parametrize(("text", "expected"), pairs("What a state shows"))
def test_spans_are_read_as_the_manual_says(text, expected):
    span = parse_span(text, Measure.RESISTANCE)
    number = r"([0-9]+) ohm"
    if expected == "over range":
        assert span.kind == "over range"
    elif match := re.fullmatch(f"{number} to {number}(?:, centre {number})?", expected):
        ends = [None if end is None else float(end) for end in match.groups()]
        assert [span.low, span.high, span.centre] == ends
    elif match := re.fullmatch(f"up to {number}", expected):
        assert (span.kind, span.high) == ("below", float(match[1]))
    else:
        assert (span.kind, f"from {span.low:.0f} ohm") == ("above", expected)


@pytest.mark.parametrize(("text", "expected"), pairs("Times"))
def test_times_are_read_as_the_manual_says(text, expected):
    assert f"{parse_duration(text):g} min" == expected


@pytest.mark.parametrize(("text", "expected"), pairs("Chances"))
def test_chances_are_read_as_the_manual_says(text, expected):
    chance = parse_chance(text)
    boards = f", seen on {chance.of:g} boards" if chance.of else ""
    assert f"{100 * chance.probability:g} %{boards}" == expected


def test_the_manual_lists_every_word_with_its_number():
    assert pairs("Chances", 1) == [(word, f"{100 * chance:.4g} %") for word, chance in CHANCE_WORDS.items()]


@pytest.mark.parametrize("text", ["5 MA", "12 mhz", "1,234"])
def test_what_the_manual_calls_refused_is_refused(text):
    measure = Measure.FREQUENCY if "hz" in text else Measure.CURRENT
    with pytest.raises(ValueError, match=re.escape(text)):
        parse_quantity(text, measure)
