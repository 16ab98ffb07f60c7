"""Chances: ``85 %``, ``0.85``, ``17 of 20``, ``usually``."""

import re
from collections.abc import Mapping
from types import MappingProxyType
from typing import Final

from benchlore.units.errors import UnitError, remembered
from benchlore.units.numbers import NUMBER, normalise, to_number
from benchlore.units.values import Chance

CHANCE_WORDS: Final[Mapping[str, float]] = MappingProxyType(
    {
        "always": 0.997,
        "almost always": 0.917,
        "usually": 0.751,
        "often": 0.725,
        "sometimes": 0.25,
        "occasionally": 0.2,
        "seldom": 0.102,
        "rarely": 0.072,
        "almost never": 0.029,
        "never": 0.003,
    }
)
"""What words for chances stand for: the medians of some 230 science writers, who were asked for a number.

F. Mosteller and C. Youtz, "Quantifying Probabilistic Expressions", Statistical Science 5 (1990) 2-34,
table 2; read in public reproductions of the table, not in the paper itself.
"""

_EXPECTED = "write a chance such as 85 %, 0.85, 17 of 20 or usually"
_PERCENT = re.compile(rf"({NUMBER}) ?(?:%|percent|per cent|pct)")
_RATIO = re.compile(
    rf"({NUMBER}) ?(?:/|of|out of|in)(?: (?:my|our|the))?(?: last)? ?({NUMBER})"
    r"(?: (?:boards?|jobs?|devices?))?"
)
_PLAIN = re.compile(NUMBER)


def parse_chance(text: str | float) -> Chance:
    """Read a probability: a share, a percentage, a count of boards, or a word of :data:`CHANCE_WORDS`.

    Raises
    ------
    UnitError
        If it is none of these or lies outside 0 to 1; a bare ``85`` could be either and is refused.

    Examples
    --------
    >>> parse_chance("17 of 20"), parse_chance("85 %")
    (Chance(probability=0.85, of=20.0), Chance(probability=0.85, of=None))
    """
    if isinstance(text, bool):
        raise UnitError(str(text).lower(), _EXPECTED)
    if isinstance(text, str):
        return _chance(text)
    try:
        return _share(float(text), f"{text}")
    except OverflowError:
        raise UnitError("a huge number", "a chance lies between 0 and 100 %") from None


@remembered
def _chance(text: str) -> Chance:
    plain = normalise(text).lower()
    if (word := CHANCE_WORDS.get(plain)) is not None:
        return Chance(word)
    if percent := _PERCENT.fullmatch(plain):
        return _within(to_number(percent[1], text) / 100, text)
    if ratio := _RATIO.fullmatch(plain):
        return _counted(to_number(ratio[1], text), to_number(ratio[2], text), text)
    if _PLAIN.fullmatch(plain):
        return _share(to_number(plain, text), text)
    words = ", ".join(CHANCE_WORDS)
    raise UnitError(text, f"{_EXPECTED} (the words are {words})")


def _share(value: float, text: str) -> Chance:
    """Read a bare number; one between 1 and 100 was surely meant as a percentage, which it has to say."""
    if 1 < value <= 100:
        raise UnitError(text, f"write {value:.12g} %, or {value / 100:.12g}", "a percentage without its sign")
    return _within(value, text)


def _within(probability: float, text: str) -> Chance:
    if not 0 <= probability <= 1:
        raise UnitError(text, "a chance lies between 0 and 100 %", "no such chance")
    return Chance(probability)


def _counted(part: float, whole: float, text: str) -> Chance:
    if not 0 <= part <= whole or whole == 0:
        raise UnitError(
            text, "write the boards that did, of all that were seen, such as 17 of 20", "no such count"
        )
    return Chance(part / whole, whole)
