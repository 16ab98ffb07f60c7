"""Readers of a record's lines: what all share, and the reader of logs."""

from abc import ABC, abstractmethod
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Final

import numpy as np

from benchlore.soak.errors import DateOrderError, RecordError
from benchlore.soak.gather import Gathered, record_from, unwrapped
from benchlore.soak.record import Remark, RestartRecord
from benchlore.soak.stamps import EPOCH, ON_THE_CALENDAR, DateOrder, Form, Moments, Stamper, form_of
from benchlore.units import counted

ON: Final = frozenset({"on", "start", "started", "watching", "an", "ein"})
OFF: Final = frozenset({"off", "stop", "stopped", "end", "ended", "aus", "ende"})
UNMISTAKABLE: Final = ON_THE_CALENDAR | {Form.BOOT}


@dataclass(frozen=True, slots=True)
class LogLook:
    """What the reader is told about a record; what is left out is found.

    ``match`` is a text that lines must hold to count as a restart. ``dates`` says how ambiguous dates are
    read. ``tick`` is what one count of a counter is worth in seconds, ``bits`` how many it has before it
    begins again at 0.
    """

    match: str | None = None
    dates: DateOrder | None = None
    tick: float | None = None
    bits: int | None = None


class Reader(ABC):
    """Reads lines of one form into what is gathered; of dates that leave it open, into two readings."""

    def __init__(self, form: Form, look: LogLook, now: datetime | None) -> None:
        self.look = look
        self.now = now
        self.stamper = Stamper(form, look.dates, now)
        ways = 2 if form is Form.DATE and look.dates is None else 1
        self.readings = [Gathered() for _ in range(ways)]
        self.remarks: list[Remark] = []
        self.untimed = 0
        self.untimed_line: int | None = None
        self.ambiguous = ""

    @abstractmethod
    def read(self) -> RestartRecord:
        """Read all lines."""

    def stamp(self, text: str, line: int) -> tuple[Moments, int] | None:
        """Find the time of a line; what has none is counted, what has one of another form is refused."""
        found = self.stamper.find(text, line)
        if found is None:
            other = form_of([text])
            if other is not None and other in UNMISTAKABLE:
                raise RecordError(
                    line,
                    f"its time is written as {other}, those above as {self.stamper.form}",
                    "write all in one way",
                )
            self.untimed += 1
            self.untimed_line = self.untimed_line or line
        return found

    def each(self, times: Moments, line: int) -> Iterator[tuple[Gathered, float]]:
        """Give each reading that still holds, with the time as it is read there."""
        for gathered, time in zip(self.readings, times, strict=False):
            if time is None:
                gathered.is_wrong = True
            elif not gathered.is_wrong:
                yield gathered, time
        if all(gathered.is_wrong for gathered in self.readings):
            wrong = "its date is right only day first, and another only month first, or the other way round"
            raise RecordError(line, wrong, "write all dates in one way")

    def chosen(self) -> Gathered:
        """The reading that holds, of two.

        Raises
        ------
        DateOrderError
            If both do, and differ.
        """
        open_ways = [gathered for gathered in self.readings if not gathered.is_wrong]
        if len(open_ways) == 1 or open_ways[0].same_as(open_ways[1]):
            return open_ways[0]
        in_order = [gathered.is_in_order for gathered in open_ways]
        if in_order[0] != in_order[1]:
            which = "day first" if in_order[0] else "month first"
            self.remarks.append(Remark(None, f"dates read {which}: only so they are in order"))
            return open_ways[0 if in_order[0] else 1]
        line = open_ways[0].lines[0] if open_ways[0].lines else 1
        raise DateOrderError(line, self.ambiguous)

    def record(self) -> RestartRecord:
        """Make the record."""
        if self.untimed:
            text = f"{counted(self.untimed, 'line has', 'lines have')} no time; passed over"
            self.remarks.append(Remark(self.untimed_line, text))
        gathered = self.chosen()
        form = self.stamper.form
        if form is Form.NUMBER:
            self._count_on(gathered)
        on_calendar = form in ON_THE_CALENDAR
        now = None if self.now is None else (self.now - EPOCH).total_seconds()
        began = _began(gathered) if on_calendar else None
        record = record_from(gathered, on_calendar=on_calendar, now=now, remarks=self.remarks)
        return record if began is None else replace(record, began=EPOCH + timedelta(seconds=began))

    def _count_on(self, gathered: Gathered) -> None:
        """Turn counts into seconds."""
        look, tick = self.look, self.look.tick or 1.0
        if look.tick is None and look.bits is None:
            return
        if gathered.marks or gathered.samples:
            raise RecordError(None, "a counter has lines besides its restarts", "give the restarts alone")
        counts, bits = unwrapped(np.array(gathered.events), look.bits)
        if bits is not None and look.bits is None:
            self.remarks.append(Remark(None, f"the counter was taken to begin again at 2^{bits}"))
        gathered.events = type(gathered.events)("d", (counts * tick).tolist())
        gathered.first, gathered.last = gathered.first * tick, gathered.last * tick


def _began(gathered: Gathered) -> float | None:
    times = [time for time, is_on in gathered.marks if is_on]
    times += [min(gathered.events)] if len(gathered.events) and not times else []
    first = min([*times, gathered.first])
    return first if first < 1e12 else None


class LogReader(Reader):
    """Reads a log: a line is a restart, a mark, or, with a text to match, something else."""

    def __init__(
        self, form: Form, rows: Iterator[tuple[int, str]], look: LogLook, now: datetime | None
    ) -> None:
        super().__init__(form, look, now)
        self.rows = rows

    def read(self) -> RestartRecord:
        """Read all lines."""
        if self.stamper.form is Form.BOOT:
            return self._read_boots()
        match = self.look.match
        other: tuple[int, str] | None = None
        for line, text in self.rows:
            if match is not None and match not in text:
                if other is None:
                    self._seen(text, line)
                other = line, text
                continue
            found = self.stamp(text, line)
            if found is not None:
                self._take(found[0], text, found[1], line)
        if other is not None:
            self._seen(other[1], other[0])
        return self.record()

    def _seen(self, text: str, line: int) -> None:
        found = self.stamper.find(text, line)
        if found is not None:
            for gathered, time in self.each(found[0], line):
                gathered.seen(time)

    def _take(self, times: Moments, text: str, end: int, line: int) -> None:
        said = text[end:].strip(' \t:,;-"]') if len(text) - end < 40 else text
        word = said.lower()
        self.ambiguous = self.ambiguous or text[:end].strip()
        for gathered, time in self.each(times, line):
            if word in ON or word in OFF:
                gathered.mark(time, word in ON, line)
            else:
                gathered.event(time, line)

    def _read_boots(self) -> RestartRecord:
        """Seconds since boot: where they fall, the device has restarted; time off is not known."""
        before, offset, match = 0.0, 0.0, self.look.match
        gathered = self.readings[0]
        for line, text in self.rows:
            found = self.stamper.find(text, line)
            if found is None:
                self.untimed += 1
                self.untimed_line = self.untimed_line or line
                continue
            since = found[0][0] or 0.0
            fell = since < before
            offset += before if fell else 0.0
            before = since
            gathered.seen(offset + since)
            if fell if match is None else match in text:
                gathered.event(offset if match is None else offset + since, line)
        if gathered.events and match is None:
            self.remarks.append(
                Remark(None, "time between the last line of a boot and the next is not known")
            )
        return self.record()
