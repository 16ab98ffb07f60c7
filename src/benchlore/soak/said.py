"""How often it happens, in the customer's words.

A word that counts ("two or three times a day") is taken for a rate that lies, nine times in ten, between half
of the lower and twice the higher number; a vague one ("sometimes") for a wide range. Times are times of use:
a day has as many hours as the device is used. The ranges are our own choice; no source.
"""

import re
from dataclasses import dataclass
from typing import Final

from benchlore.soak.errors import WordsError, hours_of
from benchlore.soak.rate import RateBelief, belief_with
from benchlore.units import format_duration

MINUTES: Final = {"minute": 1.0, "hour": 60.0}
DAYS: Final = {"day": 1.0, "week": 7.0, "month": 30.0, "year": 365.0}
SLACK: Final = 2.0
"""Customers' numbers are taken to be right within this factor, nine times in ten."""
HOURS_A_DAY: Final = 8.0
"""Hours of use a day where nobody says."""

_ONES: Final = [
    "zero",
    "one",
    "two",
    "three",
    "four",
    "five",
    "six",
    "seven",
    "eight",
    "nine",
    "ten",
    "eleven",
    "twelve",
]
NUMBERS: Final = {word: (float(k), float(k)) for k, word in enumerate(_ONES) if k} | {
    "a": (1.0, 1.0),
    "an": (1.0, 1.0),
    "once": (1.0, 1.0),
    "twice": (2.0, 2.0),
    "thrice": (3.0, 3.0),
    "couple": (2.0, 3.0),
    "a couple": (2.0, 3.0),
    "few": (2.0, 5.0),
    "a few": (2.0, 5.0),
    "several": (3.0, 8.0),
    "many": (6.0, 30.0),
    "half a dozen": (5.0, 7.0),
    "a dozen": (10.0, 14.0),
    "dozens": (20.0, 60.0),
    "half an": (0.5, 0.5),
    "half a": (0.5, 0.5),
    "other": (2.0, 2.0),
    "second": (2.0, 2.0),
    "third": (3.0, 3.0),
    "quarter": (0.25, 0.25),
    "quarter of an": (0.25, 0.25),
    "a quarter of an": (0.25, 0.25),
}
"""What number words stand for, from and to."""

VAGUE: Final = {
    "all the time": (2.0, 20.0, "hour"),
    "constantly": (2.0, 20.0, "hour"),
    "continuously": (2.0, 20.0, "hour"),
    "often": (2.0, 20.0, "day"),
    "frequently": (2.0, 20.0, "day"),
    "sometimes": (1 / 7, 2.0, "day"),
    "now and then": (1 / 7, 2.0, "day"),
    "now and again": (1 / 7, 2.0, "day"),
    "from time to time": (1 / 7, 2.0, "day"),
    "once in a while": (1 / 7, 2.0, "day"),
    "occasionally": (1 / 7, 2.0, "day"),
    "every so often": (1 / 7, 2.0, "day"),
    "rarely": (1.0, 4.3, "month"),
    "seldom": (1.0, 4.3, "month"),
    "hardly ever": (0.2, 2.0, "month"),
    "almost never": (0.2, 2.0, "month"),
}
"""What vague words stand for: events in a unit of time, from and to, nine times in ten."""

_LY: Final = {"hourly": "hour", "daily": "day", "weekly": "week", "monthly": "month", "yearly": "year"}
_UNITS: Final = {
    **dict.fromkeys(("s", "sec", "secs", "second", "seconds"), "second"),
    **dict.fromkeys(("min", "mins", "minute", "minutes"), "minute"),
    **dict.fromkeys(("h", "hr", "hrs", "hour", "hours"), "hour"),
    **dict.fromkeys(("d", "day", "days"), "day"),
    **dict.fromkeys(("w", "wk", "week", "weeks"), "week"),
    **dict.fromkeys(("month", "months"), "month"),
    **dict.fromkeys(("year", "years"), "year"),
}
_NUMBER: Final = (
    r"(?:[0-9]+(?:[.,][0-9]+)?|"
    + "|".join(re.escape(word) for word in sorted(NUMBERS, key=len, reverse=True))
    + ")"
)
_RANGE: Final = rf"(?P<from>{_NUMBER})(?: ?(?:-|–|to|or|and|bis) ?(?P<to>{_NUMBER}))?(?: of)?"
_UNIT: Final = "(?P<unit>" + "|".join(sorted(_UNITS, key=len, reverse=True)) + ")"
_TIMES: Final = re.compile(
    rf"{_RANGE} ?(?:times?|x|×)? ?(?:an?|per|/|each|every|in an?|within an?|the) ?"
    rf"(?P<each>{_NUMBER} )?{_UNIT}"
)
_EVERY: Final = re.compile(rf"(?:every|after|each|once every|once in)(?: {_RANGE})? ?{_UNIT}")
_FILLER: Final = re.compile(
    r"\b(?:about|around|approximately|roughly|circa|ca\.?|maybe|perhaps|always|it restarts|it happens|"
    r"restarts|happens|some|at least|up to|or so)\b|~|≈"
)
_EXPECTED: Final = (
    "write it as 'two or three times a day', 'every 20 min', 'once a week', or one of "
    "'all the time', 'often', 'sometimes', 'rarely'"
)


@dataclass(frozen=True, slots=True)
class Said:
    """A rate as somebody said it: events a minute of use, ``low`` to ``high`` nine times in ten.

    ``plain`` says what the words were taken for.
    """

    text: str
    low: float
    high: float
    plain: str

    @property
    def belief(self) -> RateBelief:
        """The rate as a gamma distribution, in minutes of use."""
        return belief_with(self.low, self.high)


def said(text: str, *, hours_a_day: float = HOURS_A_DAY) -> Said:
    """Read how often it happens from a customer's words.

    Parameters
    ----------
    text
        ``two or three times a day``, ``every 20 min``, ``once a week``, ``sometimes``, ...
    hours_a_day
        Hours of use a day.

    Raises
    ------
    WordsError
        If the words say no rate.

    Examples
    --------
    >>> said("every 20 min").belief.every < said("once an hour").belief.every
    True
    """
    hours_of("hours of use a day", hours_a_day)
    plain = _FILLER.sub(" ", " ".join(text.lower().split())[:200])
    plain = " ".join(plain.replace("every day", "once a day").strip(" .!").split())
    low, high, unit, slack = _counted(text, plain)
    minutes = _minutes(unit, hours_a_day)
    often, rare = _spoken(minutes / high), _spoken(minutes / low)
    told = f"one in {often}" + (f" to {rare}" if often != rare else "") + " of use"
    told += f", {hours_a_day:g} h of use a day" if unit in DAYS else ""
    told += f", right within a factor of {slack:g}" if slack > 1 else ""
    return Said(text, low / slack / minutes, high * slack / minutes, told)


def _spoken(minutes: float) -> str:
    """Minutes of use; long ones in hours, since a day of use has not 24."""
    return f"{minutes / 60:,.0f} h" if minutes >= 600 else format_duration(float(f"{minutes:.2g}"))


def _minutes(unit: str, hours_a_day: float) -> float:
    if unit == "second":
        return 1 / 60
    return MINUTES[unit] if unit in MINUTES else DAYS[unit] * hours_a_day * 60


def _counted(text: str, plain: str) -> tuple[float, float, str, float]:
    """Events in a unit of time, from and to, and how far that may be off."""
    if plain in VAGUE:
        return (*VAGUE[plain], 1.0)
    if plain in _LY:
        return 1.0, 1.0, _LY[plain], SLACK
    if found := _TIMES.fullmatch(plain):
        low, high = _numbers(found["from"], found["to"])
        each = _numbers(found["each"].strip(), None) if found["each"] else (1.0, 1.0)
        return _positive(text, low / each[1], high / each[0], _UNITS[found["unit"]])
    if found := _EVERY.fullmatch(plain):
        low, high = _numbers(found["from"], found["to"]) if found["from"] else (1.0, 1.0)
        if low <= 0:
            raise WordsError(text, "write a time above zero")
        return _positive(text, 1 / high, 1 / low, _UNITS[found["unit"]])
    raise WordsError(text, _EXPECTED)


def _positive(text: str, low: float, high: float, unit: str) -> tuple[float, float, str, float]:
    if not 0 < low <= high:
        raise WordsError(text, "write a number above zero; of two, the lower first")
    return low, high, unit, SLACK


def _numbers(first: str, second: str | None) -> tuple[float, float]:
    low, high = _number(first)
    return (low, _number(second)[1]) if second else (low, high)


def _number(word: str) -> tuple[float, float]:
    if word in NUMBERS:
        return NUMBERS[word]
    number = float(word.replace(",", "."))
    return number, number
