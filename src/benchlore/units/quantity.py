"""Quantities and readings: ``4k7``, ``0R33``, ``3.3 V``, ``470 mA``, ``OL``."""

import re
from decimal import Decimal as Exact
from fractions import Fraction
from math import isfinite
from typing import Final, NamedTuple

from benchlore.units.duration import parse_duration
from benchlore.units.errors import UnitError, remembered
from benchlore.units.numbers import NUMBER, Decimal, normalise, to_number
from benchlore.units.symbols import MOST_READ, PREFIXES, UNITS, Scale, code_scale, scale_of
from benchlore.units.values import OL, Measure

_CODE = re.compile(r"([+-]?)([0-9]*)([A-Za-z]|ohm)([0-9]+) ?([A-Za-z]*)")
_PLAIN = re.compile(rf"({NUMBER})(.*)")
_COMPOUND = re.compile(
    r"[0-9.,]+ ?(?:d|day|days|h|hr|hrs|hours?|min|mins|minutes?) ?(?:and )?[0-9].*|PT?[0-9].*"
)
_OVER_RANGE = re.compile(r"\+?(?:[o0]l|overload|overrange|outofrange|∞|infinite|infinity)(.*)", re.IGNORECASE)
_OPEN = re.compile(r"open(?:circuit)?(.*)", re.IGNORECASE)
CHARGED: Final = "a meter shows that while the board has voltage; with nulled leads, write 0"
"""Why a resistance below zero is none; common practice, no source."""

_SHORT = re.compile(r"short(?:ed|circuit)?(.*)", re.IGNORECASE)


class Written(NamedTuple):
    """A text split into its number and what its unit is worth, ``None`` where it has none."""

    number: float
    scale: Scale | None


def split(text: str, measure: Measure, decimal: Decimal = "either") -> Written:
    """Split ``text`` into a number and its unit."""
    plain = normalise(text)
    if measure is Measure.TIME and _COMPOUND.fullmatch(plain):
        return Written(parse_duration(plain), Scale(Fraction(60)))
    if (code := _CODE.fullmatch(plain)) and code[3] not in {"e", "E"}:
        return _coded(code, measure, text)
    match = _PLAIN.fullmatch(plain)
    if match is None:
        raise UnitError(text, f"write {measure} as {UNITS[measure].example}")
    number, unit = to_number(match[1], text, decimal), match[2].strip()
    return Written(number, scale_of(unit, measure, text) if unit else None)


def _coded(code: re.Match[str], measure: Measure, text: str) -> Written:
    """Read a number whose decimal point is a letter, as IEC 60062 marks resistors and capacitors."""
    sign, whole, letter, fraction, unit = code.groups()
    scale = code_scale(letter, measure)
    if scale is None:
        advice = f"write {measure} as {UNITS[measure].example}"
        raise UnitError(text, advice, f"{letter!r} cannot stand at the decimal point of a {measure},")
    if unit and scale_of(unit, measure, text) != Scale():
        raise UnitError(text, f"write {whole}{letter}{fraction} alone", f"a second prefix {unit!r}")
    return Written(float(f"{sign}{whole or '0'}.{fraction}"), scale)


def apply(number: float, scale: Scale, text: str) -> float:
    """Return the SI value of ``number``, computed from its decimal digits."""
    try:
        return float(Fraction(repr(number)) * scale.factor + scale.offset)
    except OverflowError:
        raise UnitError(text, "write a number that fits the bench", "too large a number") from None


@remembered
def _quantity(text: str, measure: Measure, unit: str | None, decimal: Decimal) -> float:
    written = split(text, measure, decimal)
    scale = written.scale or (scale_of(normalise(unit), measure, unit) if unit else Scale())
    return apply(written.number, scale, text)


def parse_quantity(
    text: str, measure: Measure, *, unit: str | None = None, decimal: Decimal = "either"
) -> float:
    """Read a quantity as a technician writes it and return it in SI units (°C for a temperature).

    A letter may stand at the decimal point, as in the marking code of resistors and capacitors (IEC
    60062:2016): ``4k7``, ``R47``, ``2u2``; also ``3V3``. Letter case is forgiven where only one prefix can
    be meant; ``m`` and ``M`` are never taken for each other.

    Parameters
    ----------
    text
        What was written.
    measure
        What it measures; a unit of anything else is refused.
    unit
        The unit of a bare number, such as the unit at a column's head; without it, the SI unit.
    decimal
        The decimal mark of the source. It settles only what the text leaves open: ``1,234`` is refused
        under ``"either"``, 1.234 under ``"comma"`` and 1234 under ``"point"``.

    Raises
    ------
    UnitError
        If the text is not such a quantity; the result is always finite.

    Examples
    --------
    >>> parse_quantity("4k7", Measure.RESISTANCE), parse_quantity("3,3", Measure.VOLTAGE, unit="mV")
    (4700.0, 0.0033)
    """
    return _quantity(text, measure, unit, decimal)


@remembered
def _reading(text: str, measure: Measure, unit: str | None, decimal: Decimal) -> float:
    word = re.sub(r"[ .]", "", normalise(text))
    for pattern, value, measures in (
        (_OVER_RANGE, OL, set(Measure) - {Measure.COUNT}),
        (_OPEN, OL, {Measure.RESISTANCE, Measure.DIODE_DROP}),
        (_SHORT, 0.0, {Measure.RESISTANCE}),
    ):
        if match := pattern.fullmatch(word):
            if measure not in measures:
                raise UnitError(text, f"write {measure} as {UNITS[measure].example}", f"no {measure}")
            if match[1]:
                scale_of(match[1], measure, text)
            return value
    return _possible(_quantity(text, measure, unit, decimal), measure, text)


def _possible(value: float, measure: Measure, text: str) -> float:
    """Refuse what no meter can have measured."""
    if abs(value) > MOST_READ:
        raise UnitError(text, "write a number that fits the bench", "too large a number")
    if value >= UNITS[measure].lowest:
        return value
    if measure is Measure.RESISTANCE:
        raise UnitError(text, CHARGED, "a resistance below zero")
    least = format_quantity(UNITS[measure].lowest, measure)
    raise UnitError(text, f"write {least} or more", "too low a value")


def parse_reading(
    text: str, measure: Measure, *, unit: str | None = None, decimal: Decimal = "either"
) -> float:
    """Read what a meter showed: a quantity, or ``OL`` (also ``O.L``, ``0L``, ``overload``) as :data:`OL`.

    ``open`` is :data:`OL` for a resistance or diode drop, ``short`` is 0 for a resistance. Parameters and
    errors are those of :func:`parse_quantity`; what cannot be is refused too, such as a resistance below
    zero. The result is never NaN.
    """
    return _reading(text, measure, unit, decimal)


def format_quantity(value: float, measure: Measure, digits: int = 3) -> str:
    """Write an SI value with an engineering prefix, to ``digits`` significant digits: ``4.2 kohm``, ``OL``.

    Raises
    ------
    ValueError
        If the value is NaN or negative infinity, which no meter shows.
    """
    if value == OL:
        return "OL"
    if not isfinite(value):
        raise ValueError(f"cannot write {value!r} as a {measure}; expected a number or OL")
    if measure is Measure.COUNT and float(value).is_integer():
        return f"{value:.0f}"
    return _prefixed(Exact(f"{value:.{digits - 1}e}"), measure)


def _prefixed(value: Exact, measure: Measure) -> str:
    """Write a rounded value with the prefix that leaves one to three digits before the point."""
    unit = UNITS[measure]
    prefixes = {0: ""} | {PREFIXES[prefix]: prefix for prefix in unit.prefixes}
    wanted = value.adjusted() // 3 * 3 if value else 0
    power = min(max(wanted, min(prefixes)), max(prefixes))
    if not -3 <= wanted - power <= 3:
        return f"{value.normalize():e} {unit.symbol}".rstrip()
    number = f"{value.scaleb(-power).normalize() + 0:f}"
    return f"{number} {prefixes[power].replace('u', 'µ')}{unit.symbol}".rstrip()
