"""Durations in minutes: ``25 min``, ``1 h 30 min``, ``1:30``, ``PT15M``."""

import re
from math import isfinite
from typing import Final

from benchlore.units.errors import UnitError, remembered
from benchlore.units.numbers import NUMBER, normalise, to_number

LONGEST: Final = 36_525 * 24 * 60.0
"""Minutes of a hundred years: nothing at a bench takes longer, and nothing between two restarts."""

_EXPECTED = "write a duration such as 25 min, 1 h 30 min, 1:30, 90 s or 2 d"
_MINUTES = {"w": 10_080.0, "d": 1_440.0, "h": 60.0, "min": 1.0, "s": 1 / 60}
_NAMES = {
    "w": ("w", "week", "weeks"),
    "d": ("d", "day", "days"),
    "h": ("h", "hr", "hrs", "hour", "hours"),
    "min": ("min", "mins", "minute", "minutes", "m"),
    "s": ("s", "sec", "secs", "second", "seconds"),
}
_UNITS = {name: unit for unit, names in _NAMES.items() for name in names}
_ORDER = list(_MINUTES)

_PART = re.compile(rf" ?(?:and )?({NUMBER}) ?([a-z]*)\.?")
_CLOCK = re.compile(r"([0-9]{1,5}):([0-5][0-9])(?::([0-5][0-9](?:[.,][0-9]+)?))? ?h?")
_ISO_NUMBER = r"([0-9]+(?:[.,][0-9]+)?)"
_ISO = re.compile(
    rf"P(?:{_ISO_NUMBER}W)?(?:{_ISO_NUMBER}D)?"
    rf"(?:T(?=[0-9])(?:{_ISO_NUMBER}H)?(?:{_ISO_NUMBER}M)?(?:{_ISO_NUMBER}S)?)?",
    re.IGNORECASE,
)


def parse_duration(text: str) -> float:
    """Read a duration and return it in minutes; a bare number is minutes.

    Accepts ``25 min``, ``1h30``, ``1 h 30 min``, ``1:30`` (hours and minutes), ``90 s``, ``2 d``, decimal
    commas, and ISO 8601 durations of weeks, days, hours, minutes and seconds (``PT15M``).

    Raises
    ------
    UnitError
        If the text is no duration, or a negative one.

    Examples
    --------
    >>> parse_duration("1h30"), parse_duration("PT15M")
    (90.0, 15.0)
    """
    return _duration(text)


@remembered
def _duration(text: str) -> float:
    plain = normalise(text)
    if plain[0] in "pP":
        minutes = _iso(plain, text)
    elif clock := _CLOCK.fullmatch(plain.lower()):
        seconds = float((clock[3] or "0").replace(",", "."))
        minutes = float(clock[1]) * 60 + float(clock[2]) + seconds / 60
    else:
        minutes = _parts(plain.lower(), text)
    if minutes < 0:
        raise UnitError(text, "a duration cannot be negative")
    if not minutes <= LONGEST:
        raise UnitError(text, "write at most 36525 d, a hundred years", "too long a duration")
    return minutes


def _iso(plain: str, text: str) -> float:
    """Read an ISO 8601 duration. Years and months have no fixed length and are refused."""
    match = _ISO.fullmatch(plain)
    if match is None or not any(match.groups()):
        raise UnitError(text, "write an ISO 8601 duration of days, hours, minutes, seconds, such as PT1H30M")
    given = zip(match.groups(), _MINUTES, strict=True)
    return sum(_minutes(float(number.replace(",", ".")), unit) for number, unit in given if number)


def _minutes(number: float, unit: str) -> float:
    """Convert; dividing by 60 is exact where multiplying by 1/60 is not."""
    return number / 60 if unit == "s" else number * _MINUTES[unit]


def _parts(plain: str, text: str) -> float:
    """Read ``1 h 30 min``: units from large to small, the last one may be left out."""
    total, place, last = 0.0, 0, -1
    while place < len(plain):
        part = _PART.match(plain, place)
        if part is None:
            raise UnitError(text, _EXPECTED)
        order = _order(part[2], last, text)
        if order <= last:
            raise UnitError(text, _EXPECTED, f"{_ORDER[order]!r} after {_ORDER[last]!r}")
        total += _minutes(to_number(part[1], text), _ORDER[order])
        place, last = part.end(), order
    return total


def _order(unit: str, last: int, text: str) -> int:
    """Return the place of ``unit`` in the order; one left out is the next smaller (minutes at first)."""
    if not unit:
        order = last + 1 if last >= 0 else _ORDER.index("min")
        if order >= len(_ORDER) or (0 <= last < _ORDER.index("h")):
            raise UnitError(text, _EXPECTED, "a number without a unit")
        return order
    if unit not in _UNITS:
        raise UnitError(text, _EXPECTED, f"unknown unit {unit!r}")
    return _ORDER.index(_UNITS[unit])


def format_roughly(minutes: float) -> str:
    """Write minutes as somebody says them who waits: to three digits, whole from ten minutes on.

    >>> format_roughly(9.912), format_roughly(78.7), format_roughly(6003)
    ('9 min 55 s', '1 h 19 min', '4 d 4 h')
    """
    if minutes < 10:
        return format_duration(float(f"{minutes:.3g}"))
    return format_duration(round(minutes) if minutes < 600 else 10 * round(minutes / 10))


def format_duration(minutes: float) -> str:
    """Write minutes as ``1 h 30 min``, ``25 min`` or ``45 s``, to the second (shorter ones to 3 digits).

    Raises
    ------
    ValueError
        If ``minutes`` is negative, infinite or NaN.
    """
    if not (isfinite(minutes) and minutes >= 0):
        raise ValueError(f"cannot write {minutes!r} minutes; expected a number of zero or more")
    seconds = round(minutes * 60)
    if minutes * 60 < 59.95 and minutes > 0:
        return f"{float(f'{minutes * 60:.3g}'):.15g} s"
    parts = []
    for name, size in (("d", 86_400), ("h", 3_600), ("min", 60), ("s", 1)):
        count, seconds = divmod(seconds, size)
        if count:
            parts.append(f"{count} {name}")
    return " ".join(parts) or "0 min"
