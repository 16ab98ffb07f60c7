"""A restart record: what it shows, and what it answers in a book."""

from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import IO, Final

from benchlore.book import OTHERS, Book
from benchlore.library.errors import RecordRefusedError
from benchlore.library.progress import Report, silent
from benchlore.notation import FileMissing, FileUnreadable, reason_of
from benchlore.soak import (
    Finding,
    LogLook,
    MeanBetween,
    NumberError,
    Pattern,
    PowerLaw,
    RecordError,
    RestartRecord,
    SoakError,
    find_kind,
    mean_between,
    power_law,
    read_record,
)

BATCH: Final = 1 << 16


@dataclass(frozen=True, eq=False)
class RecordRead:
    """A restart record and what it shows; ``every`` and ``trend`` are in minutes."""

    file: str
    record: RestartRecord
    finding: Finding
    every: MeanBetween
    trend: PowerLaw | None


@dataclass(frozen=True, slots=True)
class RecordReading:
    """What a record says in a check of the book: its name, title and result."""

    check: str
    title: str
    result: str


def read_restarts(
    path: Path, look: LogLook | None = None, *, now: datetime, report: Report = silent
) -> RecordRead:
    """Read a restart record from a file of any length, and say what it shows.

    Raises
    ------
    FileMissing, FileUnreadable
        If the file cannot be read.
    RecordRefusedError
        If it is no record; names the line.
    """
    with _opened(path, report) as lines:
        return restarts_in(lines, path, look, now=now)


def restarts_in(
    lines: Iterable[str], name: Path, look: LogLook | None = None, *, now: datetime
) -> RecordRead:
    """Read a restart record from its lines; ``name`` is what it is called where it is refused.

    Raises
    ------
    RecordRefusedError
        If it is no record; names the line.
    """
    try:
        record = read_record(lines, look, now=now)
    except RecordError as error:
        raise RecordRefusedError(name, error) from None
    finding = find_kind(record)
    minutes = record.watched / 60
    every = mean_between(record.count, minutes, to_event=record.to_event and record.count > 0)
    return RecordRead(str(name), record, finding, every, _trend(record))


@contextmanager
def _opened(path: Path, report: Report) -> Iterator[Iterator[str]]:
    """Give the lines of a file; what is no text in it is replaced, since logs hold all sorts of bytes."""
    try:
        total = path.stat().st_size
        with path.open("rb") as stream:
            yield _lines(stream, total, report)
    except FileNotFoundError:
        raise FileMissing(path) from None
    except (OSError, ValueError) as error:
        if isinstance(error, SoakError):
            raise
        raise FileUnreadable(path, reason_of(error)) from None


def _lines(stream: IO[bytes], total: int, report: Report) -> Iterator[str]:
    done = 0
    for number, line in enumerate(iter(lambda: stream.readline(BATCH), b"")):
        done += len(line)
        if not number % BATCH:
            report("Reading the record", done, total)
        yield line.decode("utf-8", errors="replace")
    report("Reading the record", total, total)


def _trend(record: RestartRecord) -> PowerLaw | None:
    try:
        return power_law(record.times / 60, None if record.to_event else record.watched / 60)
    except NumberError:
        return None


def reading_of(book: Book, finding: Finding, *, but_not: Sequence[str] = ()) -> RecordReading | None:
    """What a record says in the book's first check that can be read from one; ``None`` for nothing."""
    if finding.pattern is Pattern.TOO_FEW:
        return None
    for check in book.checks.values():
        result = check.from_record.get(finding.pattern, check.from_record.get(OTHERS))
        if result is not None and check.name not in but_not:
            return RecordReading(check.name, check.title, result)
    return None
