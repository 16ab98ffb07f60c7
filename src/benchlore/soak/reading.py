"""Reading a restart record from lines: a log, a list of times, or a table with a line of names.

Lines stream past; what is kept is bounded. ``docs/soak.md`` says what may be written.
"""

from collections.abc import Callable, Iterable, Iterator
from datetime import datetime
from itertools import chain, islice
from typing import Final, TypeAlias

from benchlore.soak.errors import RecordError
from benchlore.soak.readers import LogLook, LogReader, Reader
from benchlore.soak.record import RestartRecord
from benchlore.soak.stamps import Form, form_of
from benchlore.soak.tables import table_reader
from benchlore.units import counted

HEAD: Final = 200
"""Lines from which the form of the times is found."""
LONGEST: Final = 4_000
"""Characters of a line that are looked at."""
TOLD_EVERY: Final = 1 << 16
"""Lines between calls of ``progress``."""
Progress: TypeAlias = Callable[[int], None]
"""Told how many lines were read."""


def read_record(
    lines: Iterable[str],
    look: LogLook | None = None,
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
    look = look or LogLook()
    counted_lines = _told(lines, progress)
    head = list(islice(_filled(counted_lines), HEAD))
    if not head:
        raise RecordError(None, "it is empty", "give a line for each restart")
    rest = chain(head, _filled(counted_lines))
    reader = table_reader(head, rest, look, now) or _log_reader(head, rest, look, now)
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


def _log_reader(
    head: list[tuple[int, str]], rows: Iterator[tuple[int, str]], look: LogLook, now: datetime | None
) -> Reader:
    texts = [text for _, text in head]
    form = Form.NUMBER if look.tick is not None or look.bits is not None else form_of(texts)
    if form is None:
        raise RecordError(
            head[0][0],
            f"no time is found in most of the first {counted(len(head), 'line')}",
            "begin each line with a time such as 2026-11-26 19:54:20, 1:02:30 or seconds",
        )
    return LogReader(form, rows, look, now)
