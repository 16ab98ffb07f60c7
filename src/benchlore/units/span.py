"""Spans: ``4.2 kohm ± 25 %``, ``3.1 to 3.4 V``, ``below 12 ohm``, ``OL``."""

import re
from fractions import Fraction
from math import inf

from benchlore.units.errors import UnitError, remembered
from benchlore.units.numbers import NUMBER, normalise, to_number
from benchlore.units.quantity import apply, format_quantity, parse_quantity, parse_reading, split
from benchlore.units.symbols import UNITS, Scale
from benchlore.units.values import OL, Measure, Span

_EXPECTED = "write a span such as '{0} ± 5 %', '{0} to …', 'below {0}', 'above {0}' or OL"
_AROUND = re.compile(r"(.+?) ?(?:±|\+ ?/? ?-) ?(.+)")
_PERCENT = re.compile(rf"({NUMBER}) ?(?:%|percent|per cent)")
_BELOW = re.compile(r"(?:below|under|less than|at most|up to|<=|<|≤)(?P<of> ?.+)", re.IGNORECASE)
_ABOVE = re.compile(r"(?:above|over|more than|at least|>=|>|≥)(?P<of> ?.+)", re.IGNORECASE)
_BETWEEN = (
    re.compile(r"between (.+) and (.+)", re.IGNORECASE),
    re.compile(r"(?:from )?(.+?) ?(?: to |\.\.\.?|…) ?(.+)", re.IGNORECASE),
    re.compile(r"(.+?) - (.+)"),
    # A minus right behind a digit or a unit's letter is a dash; behind an exponent's e it is a sign.
    re.compile(r"(.*?[0-9A-Za-z°.])(?<![0-9.,][eE]) ?- ?([0-9.,].*)"),
)


def parse_span(text: str, measure: Measure) -> Span:
    """Read the values that a state shows, in SI units.

    Accepts ``4.2 kohm ± 25 %`` (also ``+-`` and ``+/-``), ``3.85 V ± 50 mV``, ``3.1 to 3.4 V``,
    ``3.1–3.4 V``, ``3.1 V..3.4 V``, ``below 12 ohm``, ``< 12 ohm``, ``above 1 Mohm``, ``> 1 Mohm`` and
    ``OL``. A number without a unit takes the other number's.

    Raises
    ------
    UnitError
        If the text is no span of ``measure``, or is empty because its ends stand the wrong way round.

    Examples
    --------
    >>> parse_span("below 12 ohm", Measure.RESISTANCE)
    Span(kind='below', low=-inf, high=12.0, centre=None)
    """
    return _span(text, measure)


@remembered
def _span(text: str, measure: Measure) -> Span:
    plain = normalise(text)
    if around := _AROUND.fullmatch(plain):
        return _around(around[1], around[2], measure, text)
    if below := _BELOW.fullmatch(plain):
        return Span("below", -inf, parse_quantity(below["of"], measure))
    if above := _ABOVE.fullmatch(plain):
        return Span("above", parse_quantity(above["of"], measure), inf)
    for pattern in _BETWEEN:
        if between := pattern.fullmatch(plain):
            return _between(between[1], between[2], measure, text)
    return _single(plain, measure, text)


def _single(plain: str, measure: Measure, text: str) -> Span:
    """Read ``OL``; any other single value says nothing of how far good boards differ."""
    try:
        value = parse_reading(plain, measure)
    except UnitError as error:
        if error.wrong:
            raise
        raise UnitError(text, _EXPECTED.format(UNITS[measure].example.split(" or ")[-1])) from None
    if value == OL:
        return Span("over range", OL, OL)
    raise UnitError(text, _EXPECTED.format(plain), "a single value")


def _between(low: str, high: str, measure: Measure, text: str) -> Span:
    first, second = split(low, measure), split(high, measure)
    scale = second.scale or first.scale or Scale()
    start = apply(first.number, first.scale or scale, text)
    end = apply(second.number, second.scale or scale, text)
    if not start < end:
        raise UnitError(text, "write the lower end first, each with its unit", "an empty span")
    return Span("between", start, end)


def _around(centre: str, spread: str, measure: Measure, text: str) -> Span:
    if percent := _PERCENT.fullmatch(spread):
        middle = parse_quantity(centre, measure)
        half = abs(middle) * to_number(percent[1], text) / 100
        if not 0 < half < abs(middle):
            raise UnitError(
                text, "write more than 0 % and less than 100 %, or both ends", "no such tolerance"
            )
    else:
        first, second = split(centre, measure), split(spread, measure)
        scale = first.scale or second.scale or Scale()
        middle = apply(first.number, scale, text)
        # A difference of temperatures has no zero point.
        half = apply(second.number, (second.scale or scale)._replace(offset=Fraction(0)), text)
        if half <= 0:
            raise UnitError(text, "write a tolerance of more than zero", "no such tolerance")
    return Span("around", middle - half, middle + half, middle)


def format_span(span: Span, measure: Measure) -> str:
    """Write a span as :func:`parse_span` reads it, to twelve digits."""
    if span.kind == "over range":
        return "OL"
    if span.kind == "below":
        return f"below {format_quantity(span.high, measure, 12)}"
    if span.kind == "above":
        return f"above {format_quantity(span.low, measure, 12)}"
    if span.kind == "between":
        return f"{format_quantity(span.low, measure, 12)} to {format_quantity(span.high, measure, 12)}"
    centre = (span.low + span.high) / 2 if span.centre is None else span.centre
    return f"{format_quantity(centre, measure, 12)} ± {_spread(span.high - centre, centre, measure)}"


def _spread(half: float, centre: float, measure: Measure) -> str:
    """Write a tolerance in per cent where that is a round number, otherwise as a quantity."""
    percent = 100 * half / abs(centre) if centre else inf
    rounded = float(f"{percent:.3g}")
    if 0 < rounded < 100 and abs(percent - rounded) <= 1e-9 * percent:
        return f"{rounded:.12g} %"
    return format_quantity(half, measure, 12)
