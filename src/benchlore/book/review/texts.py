"""Texts that leave the technician alone, or drown them."""

import re
from collections.abc import Iterator
from typing import Final

from benchlore.book.values import Book
from benchlore.notation import Key, Positions, Problem, Severity
from benchlore.units import Measure

_PROBED: Final = frozenset(
    {
        Measure.RESISTANCE,
        Measure.VOLTAGE,
        Measure.CURRENT,
        Measure.DIODE_DROP,
        Measure.CAPACITANCE,
        Measure.INDUCTANCE,
        Measure.FREQUENCY,
    }
)
_DESIGNATOR: Final = re.compile(r"\b(?:TP|[A-Z]{1,4})_?\d{1,5}[A-Z]?\b")
_PLACE: Final = re.compile(
    r"\b(?:pads?|pins?|test ?points?|connectors?|vias?|terminals?|header|socket|plug|jack|port|fuse|inductor"
    r"|coil|capacitor|resistor|diode|transistor|mosfet|gate|drain|source|anode|cathode|emitter|collector"
    r"|base|lead of|leads of|input|output|tab|contact|bench supply|usb meter|motor|relay|crystal)\b",
    re.IGNORECASE,
)

LONGEST: Final = {"title": 80, "at": 160, "how": 1500, "notes": 2000}
"""Characters that a text may have before it is too long to be read at a bench (our own choice)."""


def no_place_to_probe(book: Book, positions: Positions) -> Iterator[Problem]:
    """Doubt measurements that do not say where the probe goes."""
    for name, check in book.checks.items():
        at = book.conditions[check.reads].at
        text = f"{check.how} {at}"
        if check.measures in _PROBED and not _DESIGNATOR.search(text) and not _PLACE.search(text):
            message = (
                f"check '{name}' measures {check.measures} and does not say where; name a test point, pad, "
                "pin or part, such as 'red lead on TP12'"
            )
            yield positions.problem(("checks", name, "how"), "no-place-to-probe", message, Severity.WARNING)


def very_long_text(book: Book, positions: Positions) -> Iterator[Problem]:
    """Note texts that nobody reads at a bench."""
    for key, field, text in _texts(book):
        if len(text) > LONGEST[field]:
            message = (
                f"this is {len(text):,} characters long; a bench takes in {LONGEST[field]:,} at most: "
                f"{'make it several steps' if field == 'how' else 'shorten it'}"
            )
            yield positions.problem((*key, field), "long-text", message, Severity.NOTE)


def _texts(book: Book) -> Iterator[tuple[Key, str, str]]:
    for name, condition in book.conditions.items():
        yield ("conditions", name), "at", condition.at
    for section in ("setups", "conditions", "checks", "faults", "fixes", "complaints"):
        for name, part in getattr(book, section).items():
            for field in ("title", "how", "notes"):
                yield (section, name), field, getattr(part, field, "")
