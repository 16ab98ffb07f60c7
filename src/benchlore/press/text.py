"""Text that fits: wrapped to a width in pixels, cut where it must be, without unprintable characters."""

import math
import re
import unicodedata
from typing import Final

from benchlore.book import Person
from benchlore.press.theme import FONT_SIZE
from benchlore.proof import Estimate
from benchlore.units import Measure, format_duration, format_quantity

EM_OF_A_LETTER: Final = 0.55
"""A letter's mean width in ems: the usual sans-serif faces stand at 0.5 to 0.58, margins hold the rest."""
NOT_XML: Final = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
"""What may not stand in a document (XML 1.0, fifth edition, production 2), nor reach the drawing library,
which ends the whole process on it."""
WORD_PIECES: Final = re.compile(r"\S+")


def printable(text: str) -> str:
    """Put the replacement character where a character may not stand in a document."""
    return NOT_XML.sub("\ufffd", text)


def on_one_line(text: str) -> str:
    """Make a text printable and its white space single spaces."""
    return " ".join(printable(text).split())


def width_of(text: str) -> float:
    """Estimate the width of a line in pixels, without asking for a font that the reader may not have."""
    ems = sum(1.0 if unicodedata.east_asian_width(letter) in "WF" else EM_OF_A_LETTER for letter in text)
    return ems * FONT_SIZE


def cut(text: str, width: float) -> str:
    """Shorten a line to a width; what is cut off shows as an ellipsis."""
    if width_of(text) <= width:
        return text
    kept = len(text)
    while kept and width_of(text[:kept].rstrip() + "…") > width:
        kept -= 1
    return text[:kept].rstrip() + "…"


def broken(word: str, width: float) -> list[str]:
    """Break a word that is wider than a line into pieces that are not."""
    pieces = [""]
    for letter in word:
        if pieces[-1] and width_of(pieces[-1] + letter) > width:
            pieces.append("")
        pieces[-1] += letter
    return pieces


def wrapped(text: str, width: float, *, lines: int | None = None) -> tuple[str, ...]:
    """Wrap a text to a width in pixels; of more than ``lines`` the last is cut.

    >>> wrapped("Cracked joint under inductor L1204", 160)
    ('Cracked joint under', 'inductor L1204')
    """
    found = [""]
    for word in WORD_PIECES.findall(printable(text)):
        for piece in broken(word, width):
            if found[-1] and width_of(f"{found[-1]} {piece}") > width:
                found.append(piece)
            else:
                found[-1] = f"{found[-1]} {piece}".lstrip()
    if lines is not None and len(found) > lines:
        found = [*found[: lines - 1], cut(f"{found[lines - 1]}…", width)]
    return tuple(found)


def amount(value: float, digits: int = 2) -> str:
    """Print a number as the project does: ``1,234.50``, with a true minus sign."""
    text = f"{value:,.{digits}f}"
    return "0" + text[2:] if not text.strip("-0.,") and text.startswith("-") else text.replace("-", "−")


def quantity(value: float, measure: Measure, digits: int = 3) -> str:
    """Write an SI value as pages do: with a prefix, and a true minus sign.

    >>> quantity(-0.099, Measure.VOLTAGE), quantity(4700.0, Measure.RESISTANCE)
    ('−99 mV', '4.7 kohm')
    """
    text = format_quantity(value, measure, digits)
    return f"−{text[1:]}" if text.startswith("-") else text


def digits_for(*values: float) -> int:
    """How many decimals amounts of this size have: two, none from ten thousand on, more below 0.1.

    >>> digits_for(0.4, 61.4), digits_for(61.4, 18_500_000), digits_for(0.004, -0.02)
    (2, 0, 3)
    """
    largest = max(map(abs, values), default=0.0)
    if largest >= 10_000:
        return 0
    return 2 if largest == 0 else min(9, max(2, 1 - math.floor(math.log10(largest))))


def with_interval(estimate: Estimate, digits: int = 2) -> str:
    """Print a figure and its interval: ``48.20 (44.10 to 52.60)``."""
    low, high = amount(estimate.low, digits), amount(estimate.high, digits)
    return f"{amount(estimate.value, digits)} ({low} to {high})"


def whole_minutes(minutes: float) -> str:
    """Print a duration to the minute: seconds of an average tell nothing."""
    return format_duration(round(minutes))


def person_line(person: Person) -> str:
    """Name a person and what they did: ``Ines Okafor (investigation, writing)``."""
    return f"{person.title} ({', '.join(person.roles)})" if person.roles else person.title
