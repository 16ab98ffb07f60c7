"""A file of the rows that were refused, to be mended and taken in again."""

import csv
import io
from collections.abc import Iterator
from itertools import islice
from pathlib import Path

from benchlore.jobs.intake.csv_file import likely_separator
from benchlore.jobs.intake.preview import Preview
from benchlore.jobs.intake.table import ADDED
from benchlore.jobs.intake.verdicts import RowVerdict, Verdict
from benchlore.notation import write_atomic


def write_rejects(preview: Preview, path: Path | str) -> int:
    """Write the refused rows as CSV, as they stand and with two columns more; return how many there are.

    In a long table the other rows of the same jobs come along. The same mapping reads the file. Nothing is
    written if no row was refused.

    Raises
    ------
    FileNotWritten
        If the file cannot be written; what was there before still stands.
    """
    refused = sum(1 for row in preview.rows if row.verdict is Verdict.REFUSED)
    if refused:
        write_atomic(path, rejects_text(preview).encode("utf-8-sig"))
    return refused


def rejects_text(preview: Preview) -> str:
    """Return the file of refused rows as text."""
    separator = preview.mapping.separator or preview.table.separator
    stream = io.StringIO()
    writer = csv.writer(stream, delimiter=separator, lineterminator="\r\n")
    writer.writerows(_lines(preview))
    text = stream.getvalue()
    if preview.mapping.separator or _finds(text, separator):
        return text
    return f"sep={separator}\r\n{text}"


def _lines(preview: Preview) -> Iterator[tuple[str, ...]]:
    """Give the rows above the header, the header, and the rows that are needed."""
    rows = [row for row in preview.rows if row.cells]
    *above, header = preview.table.top
    width = max((len(header), *(len(row.cells) for row in rows)))
    yield from above
    yield (*_padded(header, width), *ADDED)
    for row in rows:
        yield (*_padded(row.cells, width), str(row.row), _why(row))


def _why(row: RowVerdict) -> str:
    return " | ".join(map(str, row.reasons)) if row.verdict is Verdict.REFUSED else ""


def _padded(cells: tuple[str, ...], width: int) -> tuple[str, ...]:
    return cells + ("",) * (width - len(cells))


def _finds(text: str, separator: str) -> bool:
    return likely_separator(list(islice(io.StringIO(text, newline=""), 400))) == separator
