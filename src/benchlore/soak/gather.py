"""What is read of a record while its lines stream past: bounded, whatever the number of lines."""

from array import array
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from math import isnan
from typing import Final

import numpy as np

from benchlore.model import FloatArray
from benchlore.soak.errors import RecordError
from benchlore.soak.record import Covariate, Remark, RestartRecord
from benchlore.units import counted

MOST_EVENTS: Final = 1_000_000
MOST_SAMPLES: Final = 100_000
MOST_SPANS: Final = 100_000
MOST_WORDS: Final = 24
WRAPS: Final = (8, 16, 24, 32, 48, 64)
"""Bits that counters have."""


@dataclass(slots=True)
class Samples:
    """Values of one covariate; when there are too many, every other one is dropped, and from then on."""

    name: str
    times: "array[float]" = field(default_factory=lambda: array("d"))
    values: "array[float]" = field(default_factory=lambda: array("d"))
    words: dict[str, int] = field(default_factory=dict)
    is_number: bool | None = None
    refused: str = ""
    _stride: int = 1
    _seen: int = 0

    def add(self, time: float, text: str) -> None:
        """Take a value; an empty one says nothing."""
        if not text or self.refused:
            return
        number = number_of(text)
        if self.is_number is None:
            self.is_number = number is not None
        if self.is_number and number is None:
            self.refused = f"'{self.name}' has numbers and words ('{text[:30]}'), and is left out"
            return
        value = number if self.is_number else self._word(text)
        self._seen += 1
        if value is None or self._seen % self._stride:
            return
        self.times.append(time)
        self.values.append(value)
        if len(self.times) >= MOST_SAMPLES:
            self.times, self.values = self.times[::2], self.values[::2]
            self._stride *= 2

    def _word(self, text: str) -> float | None:
        place = self.words.setdefault(text.lower(), len(self.words))
        if place >= MOST_WORDS:
            self.refused = f"'{self.name}' has more than {MOST_WORDS} different words, and is left out"
            return None
        return float(place)


def number_of(text: str) -> float | None:
    """Read a plain number, with a point or a comma; ``None`` where it is none."""
    try:
        number = float(text.replace(",", "."))
    except ValueError:
        return None
    return None if isnan(number) or abs(number) > 1e300 else number


@dataclass(slots=True)
class Gathered:
    """Times of events, of marks, and of everything that shows that somebody watched."""

    events: "array[float]" = field(default_factory=lambda: array("d"))
    lines: "array[int]" = field(default_factory=lambda: array("q"))
    marks: list[tuple[float, bool]] = field(default_factory=list)
    samples: Mapping[str, Samples] = field(default_factory=dict)
    first: float = float("inf")
    last: float = float("-inf")
    """Of lines that are no events."""
    is_wrong: bool = False
    """Whether a date made no sense in this reading."""

    def event(self, time: float, line: int) -> None:
        """Take an event."""
        self.events.append(time)
        self.lines.append(line)
        if len(self.events) > MOST_EVENTS:
            wrong = f"more than {MOST_EVENTS:,} lines count as restarts"
            raise RecordError(line, wrong, "say by --match which lines are restarts")

    def mark(self, time: float, is_on: bool, line: int) -> None:
        """Take a mark: watching begins, or ends."""
        self.marks.append((time, is_on))
        if len(self.marks) > 2 * MOST_SPANS:
            raise RecordError(line, f"more than {MOST_SPANS:,} times on and off", "give a shorter record")

    def seen(self, time: float) -> None:
        """Take a line that is no event, and shows that somebody watched."""
        self.first, self.last = min(self.first, time), max(self.last, time)

    def same_as(self, other: "Gathered") -> bool:
        """Whether two readings give the same times."""
        mine = (self.events, self.marks, self.first, self.last)
        return mine == (other.events, other.marks, other.first, other.last)

    @property
    def is_in_order(self) -> bool:
        """Whether events stand in the order of time."""
        return bool((np.diff(np.array(self.events)) >= 0).all())


def unwrapped(counts: FloatArray, bits: int | None) -> tuple[FloatArray, int | None]:
    """Count on where a counter began again at 0; return also the bits that it was taken to have.

    Without ``bits``, they are the fewest of a counter that holds every count.
    """
    falls = np.concatenate([[0], np.cumsum(np.diff(counts) < 0)])
    if not falls[-1]:
        return counts, bits
    if bits is None:
        bits = next(each for each in WRAPS if counts.max() < 2.0**each or each == WRAPS[-1])
    return counts + falls * 2.0**bits, bits


def record_from(
    gathered: Gathered, *, on_calendar: bool, now: float | None, remarks: list[Remark]
) -> RestartRecord:
    """Make a record of what was gathered; what is odd about its times becomes a remark.

    Raises
    ------
    RecordError
        If there is no event and nobody wrote that anybody watched.
    """
    events = _in_order(gathered, remarks)
    if on_calendar and now is not None:
        _remark_future(events, gathered, now, remarks)
    spans, from_event, to_event = _spans(gathered, events)
    if from_event:
        events = events[1:]
    inside = np.zeros(len(events), dtype=np.bool_)
    for start, end in spans:
        inside |= (events >= start) & (events <= end)
    if not inside.all():
        many = int((~inside).sum())
        remarks.append(Remark(None, f"{counted(many, 'event')} while nobody watched: left out"))
        events = events[inside]
    start = spans[0][0]
    covariates = tuple(_covariates(gathered, start, remarks))
    return RestartRecord(
        events - start,
        tuple((a - start, b - start) for a, b in spans),
        covariates,
        from_event=from_event,
        to_event=to_event and len(events) > 0,
        remarks=tuple(remarks),
    )


def _in_order(gathered: Gathered, remarks: list[Remark]) -> FloatArray:
    """Sort events, and keep one of those at the same time."""
    events = np.array(gathered.events)
    back = np.flatnonzero(np.diff(events) < 0)
    if len(back):
        line = gathered.lines[int(back[0]) + 1]
        many = counted(len(back), "time stands", "times stand")
        remarks.append(Remark(line, f"{many} before the one above; sorted (was the clock set back?)"))
    order = np.argsort(events, kind="stable")
    events = events[order]
    same = np.flatnonzero(np.diff(events) == 0)
    if len(same):
        line = gathered.lines[int(order[int(same[0]) + 1])]
        remarks.append(
            Remark(line, f"{counted(len(same), 'event')} at the very time of another; counted once")
        )
    return np.unique(events)


def _remark_future(events: FloatArray, gathered: Gathered, now: float, remarks: list[Remark]) -> None:
    ahead = int((events > now + 86_400).sum())
    if ahead:
        place = int(np.argmax(np.array(gathered.events) > now + 86_400))
        text = f"{counted(ahead, 'event lies', 'events lie')} in the future; is the device's clock right?"
        remarks.append(Remark(gathered.lines[place], text))


def _spans(gathered: Gathered, events: FloatArray) -> tuple[list[tuple[float, float]], bool, bool]:
    """The times watched, and whether they begin and end with an event for want of anything better."""
    marks = sorted(gathered.marks)
    ends = [time for time, _ in marks] + [gathered.last] * (gathered.last > float("-inf"))
    last_event = float(events[-1]) if len(events) else float("-inf")
    to_event = not ends or last_event > max(ends)
    last = max([last_event, *ends])
    first = min([gathered.first, *(float(event) for event in events[:1])])
    from_event = not marks and len(events) > 0 and first == events[0] and gathered.first > first
    spans: list[tuple[float, float]] = []
    since = None if marks and marks[0][1] else first
    if marks and not marks[0][1] and first > marks[0][0]:
        since = None
    elif marks and not marks[0][1]:
        from_event = len(events) > 0 and first == events[0]
    for time, is_on in marks:
        if is_on and since is None:
            since = time
        elif not is_on and since is not None:
            spans.append((since, time))
            since = None
    if since is not None:
        spans.append((since, max(since, last)))
    else:
        to_event = False
    spans = [(a, b) for a, b in spans if b > a]
    if not spans:
        raise RecordError(
            None,
            "it has no restart" if not len(events) else "it has one time only",
            "two restarts are needed, or lines 'on' and 'off' that say when the device was watched",
        )
    return spans, from_event, to_event


def _covariates(gathered: Gathered, start: float, remarks: list[Remark]) -> Iterator[Covariate]:
    for each in gathered.samples.values():
        if each.refused:
            remarks.append(Remark(None, each.refused))
        elif len(each.times) > 1:
            yield Covariate(each.name, np.array(each.times) - start, np.array(each.values), tuple(each.words))
