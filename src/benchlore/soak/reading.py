"""Reading a restart record from lines: a log, a list of times, or a table with a line of names.

Lines stream past; what is kept is bounded. ``docs/soak.md`` says what may be written.
"""

import csv
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from itertools import chain, islice
from typing import Final

import numpy as np

from benchlore.soak.errors import DateOrderError, RecordError
from benchlore.soak.gather import Gathered, Samples, record_from, unwrapped
from benchlore.soak.record import Remark, RestartRecord
from benchlore.soak.stamps import (
    EPOCH,
    LOOKS,
    ON_THE_CALENDAR,
    REACH,
    DateOrder,
    Form,
    Moments,
    Stamper,
    form_of,
)
from benchlore.units import counted

HEAD: Final = 200
"""Lines from which the form of the times is found."""
LONGEST: Final = 4_000
"""Characters of a line that are looked at."""
TOLD_EVERY: Final = 1 << 16
"""Lines between calls of ``progress``."""
ON: Final = frozenset({"on", "start", "started", "watching", "an", "ein"})
OFF: Final = frozenset({"off", "stop", "stopped", "end", "ended", "aus", "ende"})
SAMPLE: Final = frozenset({"", "-", "ok", "sample", "0", "no", "running"})
RESTART: Final = frozenset(
    {"restart", "restarts", "reboot", "boot", "reset", "event", "x", "1", "yes", "neustart"}
)
TIME_NAMES: Final = (
    "time",
    "timestamp",
    "datetime",
    "when",
    "moment",
    "zeit",
    "zeitpunkt",
    "seconds",
    "t",
    "date",
)
WHAT_NAMES: Final = frozenset({"what", "event", "kind", "restart", "ereignis"})
UNMISTAKABLE: Final = ON_THE_CALENDAR | {Form.BOOT}
DELIMITERS: Final = (";", "\t", ",")
Progress = Callable[[int], None]
"""Told how many lines were read."""


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


def read_record(
    lines: Iterable[str],
    look: LogLook = LogLook(),
    *,
    now: datetime | None = None,
    progress: Progress | None = None,
) -> RestartRecord:
    """Read a restart record from its lines.

    Each line with a time is a restart, or with ``look.match`` each that holds that text. A line that says
    only ``on`` or ``off`` beside its time begins or ends a span in which the device was watched. A table has
    a line of names: ``time`` (or ``date`` and ``time``), ``what``, and any others, which are covariates; a
    row that is no restart samples them. Lines with seconds since boot are restarts where that count falls.

    Parameters
    ----------
    lines
        The text, line by line.
    look
        What is known of it.
    now
        The present, with its zone: times beyond it get a remark, and it supplies years that a log leaves out.
    progress
        Told now and then how many lines were read.

    Raises
    ------
    RecordError
        With the line: no time is found, ways of writing it are mixed, times with a zone and without, a date
        that is not in the calendar, too many events; or dates are ambiguous (``DateOrderError``).
    """
    counted_lines = _told(lines, progress)
    head = list(islice(_filled(counted_lines), HEAD))
    if not head:
        raise RecordError(None, "it is empty", "give a line for each restart")
    rest = chain(head, _filled(counted_lines))
    reader = _table_reader(head, rest, look, now) or _log_reader(head, rest, look, now)
    return reader.read()


def _told(lines: Iterable[str], progress: Progress | None) -> Iterator[tuple[int, str]]:
    number = 0
    for number, line in enumerate(lines, start=1):
        if progress is not None and not number % TOLD_EVERY:
            progress(number)
        yield number, line
    if progress is not None:
        progress(number)


def _filled(lines: Iterable[tuple[int, str]]) -> Iterator[tuple[int, str]]:
    """Leave out empty lines, and remarks that begin with ``#``."""
    return (
        (number, line[:LONGEST].rstrip("\r\n"))
        for number, line in lines
        if not line.isspace() and line and not line.startswith("#")
    )


class _Reader:
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

    def read(self) -> RestartRecord:
        """Read all lines."""
        raise NotImplementedError

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


class _LogReader(_Reader):
    """Reads a log: a line is a restart, a mark, or, with a text to match, something else."""

    def __init__(
        self, form: Form, rows: Iterator[tuple[int, str]], look: LogLook, now: datetime | None
    ) -> None:
        super().__init__(form, look, now)
        self.rows = rows

    def read(self) -> RestartRecord:
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


class _TableReader(_Reader):
    """Reads a table with a line of names."""

    def __init__(
        self,
        form: Form,
        rows: Iterator[tuple[int, list[str]]],
        columns: "_Columns",
        look: LogLook,
        now: datetime | None,
    ) -> None:
        super().__init__(form, look, now)
        self.rows = rows
        self.columns = columns
        for gathered in self.readings:
            gathered.samples = {name: Samples(name) for name in columns.others}

    def read(self) -> RestartRecord:
        for line, cells in self.rows:
            text = self.columns.time_of(cells)
            found = self.stamp(text, line)
            if found is not None:
                self._take(found[0], cells, line, text)
        return self.record()

    def _take(self, times: Moments, cells: list[str], line: int, text: str) -> None:
        word, match = self.columns.what_of(cells), self.look.match
        is_event = word is None or word in RESTART if match is None else any(match in cell for cell in cells)
        is_mark = not is_event and (word in ON or word in OFF)
        if not (is_event or is_mark or match is not None or word in SAMPLE):
            wrong = f"'{(word or '')[:40]}' is no kind of line"
            raise RecordError(line, wrong, "write restart, on, off, or leave it empty")
        self.ambiguous = self.ambiguous or text
        values = tuple(self.columns.others_of(cells))
        for gathered, time in self.each(times, line):
            if is_event:
                gathered.event(time, line)
            elif is_mark:
                gathered.mark(time, word in ON, line)
            else:
                gathered.seen(time)
            for name, value in values:
                gathered.samples[name].add(time, value)


@dataclass(frozen=True, slots=True)
class _Columns:
    """Places of a table's columns."""

    times: tuple[int, ...]
    what: int | None
    others: dict[str, int]

    def time_of(self, cells: list[str]) -> str:
        return " ".join(cells[k].strip() for k in self.times if k < len(cells))

    def what_of(self, cells: list[str]) -> str | None:
        if self.what is None:
            return None
        return cells[self.what].strip().lower() if self.what < len(cells) else ""

    def others_of(self, cells: list[str]) -> Iterator[tuple[str, str]]:
        return ((name, cells[k].strip()) for name, k in self.others.items() if k < len(cells))


def _log_reader(
    head: list[tuple[int, str]], rows: Iterator[tuple[int, str]], look: LogLook, now: datetime | None
) -> _Reader:
    texts = [text for _, text in head]
    form = Form.NUMBER if look.tick is not None or look.bits is not None else form_of(texts)
    if form is None:
        raise RecordError(
            head[0][0],
            f"no time is found in most of the first {counted(len(head), 'line')}",
            "begin each line with a time such as 2026-11-26 19:54:20, 1:02:30 or seconds",
        )
    return _LogReader(form, rows, look, now)


def _table_reader(
    head: list[tuple[int, str]], rows: Iterator[tuple[int, str]], look: LogLook, now: datetime | None
) -> _Reader | None:
    """A reader of a table, where the first line is one of names; ``None`` where it is not."""
    title = head[0][1].lstrip("\ufeff")
    delimiter = next((each for each in DELIMITERS if each in title), None)
    names = [name.strip().strip('"').lower() for name in (title.split(delimiter) if delimiter else [title])]
    columns = _columns_of(names)
    if columns is None:
        return None
    delimiter = delimiter or ";"
    body = [next(csv.reader([text], delimiter=delimiter), []) for _, text in head[1:]]
    form = form_of(columns.time_of(cells) for cells in body)
    if look.tick is not None or look.bits is not None:
        form = Form.NUMBER
    if form is None:
        raise RecordError(
            head[1][0] if len(head) > 1 else head[0][0],
            f"the column '{names[columns.times[-1]]}' holds no times",
            "write times such as 2026-11-26 19:54:20, 1:02:30 or seconds",
        )
    next(rows)
    return _TableReader(form, _cells(rows, delimiter), columns, look, now)


def _cells(rows: Iterator[tuple[int, str]], delimiter: str) -> Iterator[tuple[int, list[str]]]:
    """Split rows; quotes do not span lines here."""
    for line, text in rows:
        if '"' in text:
            yield line, next(csv.reader([text], delimiter=delimiter), [])
        else:
            yield line, text.split(delimiter)


def _columns_of(names: list[str]) -> _Columns | None:
    if any(LOOKS[form].search(name, 0, REACH) for name in names for form in Form if form is not Form.NUMBER):
        return None
    time = next((names.index(name) for name in TIME_NAMES if name in names), None)
    if time is None:
        return None
    times: tuple[int, ...] = (time,)
    if "date" in names and names[time] != "date":
        times = (names.index("date"), time)
    what = next((k for k, name in enumerate(names) if name in WHAT_NAMES), None)
    others = {name: k for k, name in enumerate(names) if k not in {*times, what} and name}
    return _Columns(times, what, others)
