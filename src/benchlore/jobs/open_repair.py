"""Repair events elsewhere, read from files in the Open Repair Data Standard 0.3 (CSV).

The standard and the published data are by the Open Repair Alliance, CC BY-SA 4.0. Files are hostile until
parsed: texts stay plain text, and whatever stands in a file ends as a record or as a problem.
"""

import csv
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import BinaryIO, Final, TypeAlias

from benchlore.jobs.demand import DemandRecord
from benchlore.jobs.open_repair_row import record_of, swallows_rows
from benchlore.notation import (
    FileMissing,
    FileUnreadable,
    Position,
    Problem,
    Severity,
    listed,
    quoted,
    reason_of,
)

Progress: TypeAlias = Callable[[int, int], None]
"""Is told the bytes done and the bytes in all."""

REQUIRED: Final = (
    "id",
    "data_provider",
    "repair_status",
    "country",
    "partner_product_category",
    "event_date",
    "problem",
)
"""Columns that the standard requires; nothing can be read without the first three."""

OF_A_FILE: Final = frozenset({"no-files", "unreadable-file", "not-repair-records", "not-text"})
"""Rules of problems that say of a whole file, not of a row, that it was not read."""

_VITAL: Final = REQUIRED[:3]
_LONGEST_LINE: Final = 4 * 1024**2
_REPORTED: Final = 256 * 1024
_SEPARATORS: Final = ",;\t"

_OTHER_FILES: Final = (
    ({"product_category_id", "product_category"}, "the list of product categories"),
    ({"data_provider", "product_category", "repair_status", "total"}, "a table of counts"),
)
"""Files that are published beside the records: the columns that tell them, and what they are."""


def read_open_repair(path: Path, *, progress: Progress | None = None) -> Iterator[DemandRecord | Problem]:
    """Read a file of repair records, or every CSV file of a folder in order of their names.

    Gives a record for each row that identifies itself, in the file's order and one at a time, and a problem
    for each refused row (error), for each cell that had to be left out (warning) and for each file that
    holds no repair records (note, or error where it should have). A row that repeats an earlier row's
    provider and id is refused. ``progress`` is called about every 256 KiB and at the end.

    Raises
    ------
    FileMissing, FileUnreadable
        If there is no such file or folder, or the folder cannot be listed.
    """
    paths = _csv_files(path)
    if not paths:
        yield Problem(str(path), None, "no-files", "there is no CSV file in this folder")
    total = sum(_size(each) for each in paths)
    meter = _Meter(total, progress)
    seen: set[tuple[str, str]] = set()
    for each in paths:
        try:
            with each.open("rb") as stream:
                yield from _File(str(each), _Lines(stream, meter), seen).read()
        except OSError as error:
            yield Problem(str(each), None, "unreadable-file", f"this file cannot be read: {reason_of(error)}")
    meter.finish()


def _csv_files(path: Path) -> list[Path]:
    try:
        if path.is_dir():
            return sorted(each for each in path.iterdir() if each.suffix.lower() == ".csv" and each.is_file())
        if path.exists():
            return [path]
    except (OSError, ValueError) as error:
        raise FileUnreadable(path, reason_of(error)) from error
    raise FileMissing(path)


def _size(path: Path) -> int:
    try:
        return path.stat().st_size
    except OSError:
        return 0


@dataclass(slots=True)
class _Meter:
    """Counts bytes over all files and tells ``progress`` now and then."""

    total: int
    progress: Progress | None
    done: int = 0
    told: int = -1

    def add(self, size: int) -> None:
        self.done += size
        if self.done - self.told >= _REPORTED:
            self._tell(min(self.done, self.total))

    def finish(self) -> None:
        """Tell the end once, even if files shrank while they were read."""
        if self.told != self.total:
            self._tell(self.total)

    def _tell(self, done: int) -> None:
        self.told = done
        if self.progress is not None:
            self.progress(done, self.total)


class _NoTextError(Exception):
    """What a file goes on with is no text that could hold rows."""


@dataclass(slots=True)
class _Lines:
    """The lines of a file as text; one that is not UTF-8 is read as Windows-1252 and noted in ``mended``."""

    stream: BinaryIO
    meter: _Meter
    number: int = 0
    mended: list[int] = field(default_factory=list)

    def __iter__(self) -> Iterator[str]:
        return self

    def __next__(self) -> str:
        raw = self.stream.readline(_LONGEST_LINE + 1)
        if not raw:
            raise StopIteration
        self.number += 1
        self.meter.add(len(raw))
        if len(raw) > _LONGEST_LINE:
            raise _NoTextError(
                f"this line has more than {_LONGEST_LINE:,} bytes; the file was read no further"
            )
        if self.number == 1 and b"\0" in raw:
            raise _NoTextError("this is not UTF-8 text, perhaps a workbook; save it as CSV in UTF-8")
        try:
            text = raw.decode("utf-8-sig" if self.number == 1 else "utf-8")
        except UnicodeDecodeError:
            self.mended.append(self.number)
            text = raw.decode("windows-1252", "replace")
        return text.replace("\0", "")


@dataclass(slots=True)
class _File:
    """One file on its way to records; ``seen`` are the provider and id of all records so far."""

    file: str
    lines: _Lines
    seen: set[tuple[str, str]]
    separator: str = ","
    columns: list[str] = field(default_factory=list)

    def read(self) -> Iterator[DemandRecord | Problem]:
        try:
            problem = self._read_head()
            if problem is not None:
                yield problem
            if self.columns:
                yield from self._read_rows()
        except _NoTextError as error:
            yield self._problem("not-text", str(error), self.lines.number)

    def _read_head(self) -> Problem | None:
        """Read the head, the first line that is not empty; leave ``columns`` empty if rows cannot follow."""
        head = next((line for line in self.lines if line.strip(' \t\r\n,;"')), "")
        if head.lower().startswith("sep=") and len(head.strip()) == len("sep=,"):
            head = next(self.lines, "")
        self.separator = max(_SEPARATORS, key=head.count)
        try:
            cells = next(csv.reader([head], delimiter=self.separator), [])
        except csv.Error:
            cells = []
        columns = [cell.strip().lower().replace(" ", "_") for cell in cells]
        missing = [name for name in REQUIRED if name not in columns]
        if not set(_VITAL) & set(missing):
            self.columns = columns
            if missing:
                message = f"the required columns {listed(missing)} are missing; what they hold stays empty"
                return self._problem("missing-column", message, self.lines.number, Severity.WARNING)
            return None
        return self._other(columns, [name for name in _VITAL if name in missing])

    def _other(self, columns: list[str], missing: list[str]) -> Problem:
        """Say what a file without repair records is."""
        for marks, name in _OTHER_FILES:
            if marks <= set(columns):
                message = f"this is {name}, not repair records; it was skipped"
                return self._problem("not-repair-records", message, None, Severity.NOTE)
        if not any(columns):
            return self._problem("not-repair-records", "this file is empty; export it again", None)
        what = f"this is not a file of repair records: it has no column {listed(missing, 'or')}"
        return self._problem(
            "not-repair-records", f"{what}; its first columns are {listed(columns[:5])}", None
        )

    def _read_rows(self) -> Iterator[DemandRecord | Problem]:
        reader = csv.reader(self.lines, delimiter=self.separator)
        while True:
            line = self.lines.number + 1
            try:
                cells = next(reader)
            except StopIteration:
                return
            except csv.Error:
                message = f"lines {line} to {self.lines.number} are no row; is a quotation mark not closed?"
                yield self._problem("broken-row", message, line)
                continue
            if any(cells):
                yield from self._row(cells, line)
            self.lines.mended.clear()

    def _row(self, cells: list[str], line: int) -> Iterator[DemandRecord | Problem]:
        refusal = self._refusal(cells)
        if refusal is not None:
            yield self._problem("broken-row", refusal, line)
            return
        named = {name: cell.strip() for name, cell in zip(self.columns, cells, strict=False)}
        for name in ("id", "data_provider"):
            if not named[name]:
                yield self._problem("missing-id", f"{name} is empty; fill it in to have this row read", line)
                return
        record, doubts = record_of(named)
        if (record.provider, record.id) in self.seen:
            message = (
                f"{quoted(record.id)} of {quoted(record.provider)} was read before; this row was refused"
            )
            yield self._problem("repeated-id", message, line)
            return
        self.seen.add((record.provider, record.id))
        yield record
        for column, message in doubts:
            yield self._problem("unreadable-value", message, line, Severity.WARNING, column)
        if self.lines.mended:
            message = "this row is not UTF-8 text and was read as Windows-1252; check its letters"
            yield self._problem("encoding", message, line, Severity.WARNING)

    def _refusal(self, cells: list[str]) -> str | None:
        """Say why a row does not fit the head, if so."""
        width, status_place = len(self.columns), self.columns.index("repair_status")
        for place, cell in enumerate(cells):
            if "\n" in cell and swallows_rows(cell, self.separator, status_place):
                return f"cell {place + 1} holds more rows; is a quotation mark not closed?"
        if len(cells) < width or any(cell.strip() for cell in cells[width:]):
            return f"this row has {len(cells)} cells where the head has {width}; check its quotation marks"
        return None

    def _problem(
        self, rule: str, message: str, line: int | None, severity: Severity = Severity.ERROR, column: str = ""
    ) -> Problem:
        position = Position(line, 1) if line is not None else None
        return Problem(self.file, position, rule, message, severity, (column,) if column else ())
