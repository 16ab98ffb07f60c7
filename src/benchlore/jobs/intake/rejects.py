"""A file of the rows that were refused, to be mended and taken in again."""

import csv
import io
from collections.abc import Iterator, Mapping, Sequence
from itertools import islice
from pathlib import Path
from typing import TypeAlias

from benchlore.jobs.intake.csv_file import likely_separator
from benchlore.jobs.intake.mapping import TableMapping
from benchlore.jobs.intake.preview import Preview
from benchlore.jobs.intake.table import ADDED, Table
from benchlore.jobs.intake.verdicts import RowVerdict, Verdict
from benchlore.notation import write_atomic

Refused: TypeAlias = tuple[int, tuple[str, ...], str]
"""A row's number, its cells, and why it was refused."""


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
    rows = [(row.row, row.cells, _why(row)) for row in preview.rows if row.cells]
    return _text(preview.table, preview.mapping, rows)


def mended_text(table: Table, mapping: TableMapping, cells: Mapping[tuple[int, int], str]) -> str:
    """Return a table as a file of refused rows with some cells mended: ``cells`` by row number and place.

    All its rows stay, so that none is lost; why they were refused is left away.

    Raises
    ------
    TableTrouble
        If the table turns out to be damaged on the way.
    """
    rows = [
        (row.number, tuple(cells.get((row.number, place), cell) for place, cell in enumerate(padded)), "")
        for row in table.rows()
        for padded in [_padded(row.cells, len(table.header))]
    ]
    return _text(table, mapping, rows)


def _text(table: Table, mapping: TableMapping, rows: Sequence[Refused]) -> str:
    separator = mapping.separator or table.separator
    stream = io.StringIO()
    writer = csv.writer(stream, delimiter=separator, lineterminator="\r\n")
    writer.writerows(_lines(table, rows))
    text = stream.getvalue()
    if mapping.separator or _finds(text, separator):
        return text
    return f"sep={separator}\r\n{text}"


def _lines(table: Table, rows: Sequence[Refused]) -> Iterator[tuple[str, ...]]:
    """Give the rows above the header, the header, and the rows."""
    *above, header = table.top
    width = max((len(header), *(len(cells) for _, cells, _ in rows)))
    yield from above
    yield (*_padded(header, width), *ADDED)
    for number, cells, why in rows:
        yield (*_padded(cells, width), str(number), why)


def _why(row: RowVerdict) -> str:
    return " | ".join(map(str, row.reasons)) if row.verdict is Verdict.REFUSED else ""


def _padded(cells: tuple[str, ...], width: int) -> tuple[str, ...]:
    return cells + ("",) * (width - len(cells))


def _finds(text: str, separator: str) -> bool:
    return likely_separator(list(islice(io.StringIO(text, newline=""), 400))) == separator
