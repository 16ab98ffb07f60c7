"""Quantities and readings: ``4k7``, ``0R33``, ``3.3 V``, ``470 mA``, ``OL``."""

import re
from decimal import Decimal as Exact
from math import isfinite, isnan
from typing import NamedTuple

from benchlore.units.errors import UnitError, remembered
from benchlore.units.numbers import NUMBER, Decimal, normalise, to_number
from benchlore.units.symbols import PREFIXES, UNITS, Scale, code_power, scale_of
from benchlore.units.values import OL, Measure

_CODE = re.compile(r"([+-]?)([0-9]*)([A-Za-z]|ohm)([0-9]+) ?([A-Za-z]*)")
_PLAIN = re.compile(rf"({NUMBER})(.*)")
_OVER_RANGE = re.compile(r"\+?(?:[o0]l|overload|overrange|overrng|outofrange|∞|infinite|infinity)(.*)")
_OPEN = re.compile(r"open(?:circuit)?(.*)")
_SHORT = re.compile(r"short(?:ed|circuit)?(.*)")


class Written(NamedTuple):
    """A text split into its number (``power`` from a letter at the decimal point) and its unit."""

    number: float
    scale: Scale | None
    unit: str


def split(text: str, measure: Measure, decimal: Decimal = "either") -> Written:
    """Split ``text`` into a number and its unit; ``scale`` is ``None`` where no unit was written."""
    plain = normalise(text)
    if (code := _CODE.fullmatch(plain)) and (power := code_power(code[3], measure)) is not None:
        if code[5] and scale_of(code[5], measure, text) != Scale():
            raise UnitError(text, f"write {code[2]}{code[3]}{code[4]} alone", f"a second prefix {code[5]!r}")
        return Written(float(f"{code[1]}{code[2] or '0'}.{code[4]}"), Scale(power), code[3])
    match = _PLAIN.fullmatch(plain)
    if match is None:
        raise UnitError(text, f"write {measure} as {UNITS[measure].example}")
    number, unit = to_number(match[1], text, decimal), match[2].strip()
    return Written(number, scale_of(unit, measure, text) if unit else None, unit)


def apply(number: float, scale: Scale, text: str) -> float:
    """Return the SI value of ``number``, scaled in decimal so that ``4.7 kohm`` is exactly 4700.0."""
    value = float(f"{number!r}e{scale.power}") if "e" not in repr(number) else number * 10.0**scale.power
    value = value * scale.factor + scale.offset
    if not isfinite(value):
        raise UnitError(text, "write a number that fits the bench", "too large a number")
    return value


@remembered
def _quantity(text: str, measure: Measure, unit: str | None, decimal: Decimal) -> float:
    written = split(text, measure, decimal)
    scale = written.scale or (scale_of(unit, measure, unit) if unit else Scale())
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
    word = re.sub(r"[ .]", "", normalise(text)).lower()
    for pattern, value, measures in (
        (_OVER_RANGE, OL, set(Measure) - {Measure.COUNT}),
        (_OPEN, OL, {Measure.RESISTANCE, Measure.DIODE_DROP}),
        (_SHORT, 0.0, {Measure.RESISTANCE}),
    ):
        if match := pattern.fullmatch(word):
            if measure not in measures:
                raise UnitError(text, f"write {measure} as {UNITS[measure].example}", f"no {measure}")
            if match[1]:
                scale_of(normalise(text)[-len(match[1]) :], measure, text)
            return value
    return _quantity(text, measure, unit, decimal)


def parse_reading(
    text: str, measure: Measure, *, unit: str | None = None, decimal: Decimal = "either"
) -> float:
    """Read what a meter showed: a quantity, or ``OL`` (also ``O.L``, ``0L``, ``overload``) as :data:`OL`.

    ``open`` is :data:`OL` for a resistance or diode drop, ``short`` is 0 for a resistance. Parameters and
    errors are those of :func:`parse_quantity`; the result is never NaN.
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
    if isnan(value) or not isfinite(value):
        raise ValueError(f"cannot write {value!r} as a {measure}; expected a number or OL")
    if measure is Measure.COUNT and value.is_integer():
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
