"""Readers of tables with a line of names: restarts with covariates, and the log of a bench supply."""

import csv
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import Final

from benchlore.soak.errors import RecordError
from benchlore.soak.gather import Samples, number_of
from benchlore.soak.readers import OFF, ON, LogLook, Reader
from benchlore.soak.record import RestartRecord
from benchlore.soak.stamps import LOOKS, REACH, Form, Moments, form_of
from benchlore.soak.supply import SupplyGatherer, restarts_of

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
AMPS_NAMES: Final = ("current", "amps", "amperes", "a", "i", "ma", "strom", "current (a)", "current (ma)")
WHAT_NAMES: Final = frozenset({"what", "event", "kind", "restart", "ereignis"})
DELIMITERS: Final = (";", "\t", ",")


@dataclass(frozen=True, slots=True)
class Columns:
    """Places of a table's columns."""

    times: tuple[int, ...]
    what: int | None
    others: dict[str, int]

    def time_of(self, cells: list[str]) -> str:
        """What stands in the columns of the time."""
        return " ".join(cells[k].strip() for k in self.times if k < len(cells))

    def what_of(self, cells: list[str]) -> str | None:
        """What a row is, in lower case; ``None`` where no column says that."""
        if self.what is None:
            return None
        return cells[self.what].strip().lower() if self.what < len(cells) else ""

    def others_of(self, cells: list[str]) -> Iterator[tuple[str, str]]:
        """The covariates of a row."""
        return ((name, cells[k].strip()) for name, k in self.others.items() if k < len(cells))


class TableReader(Reader):
    """Reads a table with a line of names."""

    def __init__(
        self,
        form: Form,
        rows: Iterator[tuple[int, list[str]]],
        columns: "Columns",
        look: LogLook,
        now: datetime | None,
    ) -> None:
        super().__init__(form, look, now)
        self.rows = rows
        self.columns = columns
        for gathered in self.readings:
            gathered.samples = {name: Samples(name) for name in columns.others}

    def read(self) -> RestartRecord:
        """Read all rows."""
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


class SupplyReader(Reader):
    """Reads a bench supply's log: a table with a time and a current."""

    def __init__(
        self, form: Form, rows: Iterator[tuple[int, list[str]]], columns: "Columns", amps: int
    ) -> None:
        super().__init__(form, LogLook(dates="day first"), None)
        self.rows = rows
        self.columns = columns
        self.amps = amps

    def read(self) -> RestartRecord:
        """Read all rows."""
        gatherer = SupplyGatherer()
        for line, cells in self.rows:
            found = self.stamp(self.columns.time_of(cells), line)
            amps = number_of(cells[self.amps]) if self.amps < len(cells) else None
            if found is not None and amps is not None and found[0][0] is not None:
                gatherer.add(found[0][0], amps)
        log, remarks = gatherer.log()
        return restarts_of(log, remarks)


def table_reader(
    head: list[tuple[int, str]], rows: Iterator[tuple[int, str]], look: LogLook, now: datetime | None
) -> Reader | None:
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
    amps = next((columns.others[name] for name in AMPS_NAMES if name in columns.others), None)
    if columns.what is None and look.match is None and amps is not None:
        return SupplyReader(form, _cells(rows, delimiter), columns, amps)
    return TableReader(form, _cells(rows, delimiter), columns, look, now)


def _cells(rows: Iterator[tuple[int, str]], delimiter: str) -> Iterator[tuple[int, list[str]]]:
    """Split rows; quotes do not span lines here."""
    for line, text in rows:
        if '"' in text:
            yield line, next(csv.reader([text], delimiter=delimiter), [])
        else:
            yield line, text.split(delimiter)


def _columns_of(names: list[str]) -> Columns | None:
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
    return Columns(times, what, others)
