"""Times as logs write them, each form found by its look and turned into seconds."""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime
from enum import StrEnum
from typing import Final, Literal, TypeAlias

from benchlore.soak.errors import RecordError

DateOrder: TypeAlias = Literal["day first", "month first"]
Moments: TypeAlias = tuple[float | None, float | None]
REACH: Final = 200
"""Characters of a line in which its time is looked for."""
EPOCH: Final = datetime(1970, 1, 1, tzinfo=UTC)
_MONTHS: Final = {
    name: k
    for k, name in enumerate(
        ["jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec"], start=1
    )
}
_CLOCK: Final = r"([0-9]{1,2}):([0-5][0-9])(?::([0-5][0-9](?:[.,][0-9]+)?))?(?: ?([AaPp])\.?[Mm]\.?)?"


class Form(StrEnum):
    """How a log writes time; the order is the one in which they are looked for."""

    ISO = "date and time (2026-11-26 19:54:20)"
    DATE = "date and time (26.11.2026 19:54)"
    MONTH = "month, day and time (Nov 26 19:54:20)"
    EPOCH_MS = "milliseconds since 1970"
    EPOCH_S = "seconds since 1970"
    BOOT = "seconds since boot ([  123.456789])"
    CLOCK = "time since the start (1:02:30)"
    NUMBER = "a count"


LOOKS: Final = {
    Form.ISO: re.compile(
        r"(?<![0-9])([0-9]{4}-[0-9]{2}-[0-9]{2})[T ]([0-9]{2}:[0-9]{2}(?::[0-9]{2}(?:[.,][0-9]+)?)?)"
        r" ?(Z|[+-][0-9]{2}:?[0-9]{2}(?![0-9]))?"
    ),
    Form.DATE: re.compile(
        rf"(?<![0-9])([0-9]{{1,2}})([./-])([0-9]{{1,2}})\2([0-9]{{4}}|[0-9]{{2}}),?[T ]+{_CLOCK}(?![0-9:])"
    ),
    Form.MONTH: re.compile(
        r"(?<![A-Za-z])(Jan|Feb|Mar|Apr|May|Jun|Jul|Aug|Sep|Oct|Nov|Dec)[a-z]* +([0-9]{1,2}) "
        r"+([0-9]{2}):([0-9]{2}):([0-9]{2}(?:\.[0-9]+)?)"
    ),
    Form.EPOCH_MS: re.compile(r"(?<![0-9.])(1[0-9]{12})(?![0-9])"),
    Form.EPOCH_S: re.compile(r"(?<![0-9.])(1[0-9]{9}(?:[.,][0-9]+)?)(?![0-9])"),
    Form.BOOT: re.compile(r"\[ *([0-9]+\.[0-9]+)\]"),
    Form.CLOCK: re.compile(r"(?<![0-9:])([0-9]{1,5}):([0-5][0-9]):([0-5][0-9](?:[.,][0-9]+)?)(?![0-9:])"),
    Form.NUMBER: re.compile(r"^\s*\"?([0-9]+(?:[.,][0-9]+)?)(?=$|[\s;,\"])"),
}
ON_THE_CALENDAR: Final = frozenset({Form.ISO, Form.DATE, Form.MONTH, Form.EPOCH_MS, Form.EPOCH_S})


def form_of(texts: Iterable[str]) -> Form | None:
    """Name the first form that stands in at least half of the texts; ``None`` where none does."""
    texts = list(texts)
    for form, look in LOOKS.items():
        found = sum(look.search(text, 0, REACH) is not None for text in texts)
        if texts and 2 * found >= len(texts):
            return form
    return None


@dataclass(slots=True)
class Stamper:
    """Finds the time of a line and turns it into seconds: two, where a date can be read in two ways.

    On the calendar, seconds count from 1970 in UTC, or as if the clock on the wall were UTC where no zone is
    written. ``zoned`` says whether the record's times have zones, once the first was read.
    """

    form: Form
    order: DateOrder | None = None
    now: datetime | None = None
    zoned: bool | None = None
    _year: int | None = None
    _month: int = 0

    def find(self, text: str, line: int) -> tuple[Moments, int] | None:
        """The time of a line in seconds and where what follows it begins; ``None`` where it has none.

        The time is given as it is read day first and month first; they differ only where dates leave it open.

        Raises
        ------
        RecordError
            If the time is in no calendar, or has a zone where others have none.
        """
        found = LOOKS[self.form].search(text, 0, REACH)
        if found is None:
            return None
        match self.form:
            case Form.ISO:
                seconds = self._iso(found, line)
            case Form.DATE:
                return self._date(found, line), found.end()
            case Form.MONTH:
                seconds = self._of_month(found, line)
            case Form.EPOCH_MS:
                seconds = float(found[1]) / 1000
            case Form.CLOCK:
                seconds = int(found[1]) * 3600 + int(found[2]) * 60 + _decimal(found[3])
            case _:
                seconds = _decimal(found[1])
        return (seconds, seconds), found.end()

    def _iso(self, found: re.Match[str], line: int) -> float:
        is_zoned = found[3] is not None
        if self.zoned is not None and is_zoned != self.zoned:
            wrong = f"'{found[0].strip()}' has {'a' if is_zoned else 'no'} zone, and those above have "
            raise RecordError(
                line, wrong + ("none" if is_zoned else "one"), "write every time with a zone, or none"
            )
        self.zoned = is_zoned
        zone = found[3] if is_zoned else "Z"
        try:
            moment = datetime.fromisoformat(f"{found[1]}T{found[2]}{zone}")
        except ValueError:
            raise _no_moment(found[0], line) from None
        return (moment - EPOCH).total_seconds()

    def _date(self, found: re.Match[str], line: int) -> Moments:
        year = int(found[4]) + (2000 if len(found[4]) == 2 else 0)
        clock = _of_clock(found, 5, line)
        one = _day(year, int(found[3]), int(found[1]))
        other = _day(year, int(found[1]), int(found[3]))
        # Dates with points are day first, the custom wherever points are written.
        order = self.order or ("day first" if found[2] == "." else None)
        if order is not None:
            one = other = one if order == "day first" else other
        if one is None and other is None:
            raise _no_moment(found[0], line)
        return None if one is None else one + clock, None if other is None else other + clock

    def _of_month(self, found: re.Match[str], line: int) -> float:
        """Supply the year, which this form leaves out: the last that is not yet to come, then counted on."""
        month, day = _MONTHS[found[1].lower()], int(found[2])
        clock = _of_clock(found, 3, line)
        if self._year is None:
            now = self.now or datetime.now(UTC)
            this = _day(now.year, month, day)
            is_ahead = this is None or this > now.timestamp() + 86_400
            self._year = now.year - 1 if is_ahead else now.year
        elif self._month - month > 6:
            self._year += 1
        self._month = month
        date = _day(self._year, month, day)
        if date is None:
            raise _no_moment(found[0], line)
        return date + clock


def _decimal(text: str) -> float:
    return float(text.replace(",", "."))


def _day(year: int, month: int, day: int) -> float | None:
    """Seconds from 1970 to a day; ``None`` where there is no such day."""
    try:
        return (datetime(year, month, day, tzinfo=UTC) - EPOCH).total_seconds()
    except ValueError:
        return None


def _of_clock(found: re.Match[str], at: int, line: int) -> float:
    """Seconds from midnight of groups ``at`` (hours), minutes, seconds and, where there is one, a or p."""
    hours = int(found[at])
    half = found[at + 3] if found.re.groups > at + 2 else None
    if half is not None:
        hours = hours % 12 + (12 if half.lower() == "p" else 0)
    minutes, seconds = int(found[at + 1]), _decimal(found[at + 2] or "0")
    if hours > 23 or minutes > 59 or seconds >= 61:
        raise _no_moment(found[0], line)
    return hours * 3600 + minutes * 60 + seconds


def _no_moment(text: str, line: int) -> RecordError:
    return RecordError(line, f"'{text.strip()}' is no date and time of the calendar", "correct the line")
