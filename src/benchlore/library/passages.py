"""What an answer is told in, the same on every surface: passages of a heading, sentences and a table."""

import csv
import io
from collections.abc import Sequence
from dataclasses import dataclass

from benchlore.jobs.export_cells import text_cell
from benchlore.proof import Table


@dataclass(frozen=True, slots=True)
class Passage:
    """A heading, sentences, and perhaps a table."""

    heading: str
    sentences: tuple[str, ...] = ()
    table: Table | None = None


def table_of(head: Sequence[str], rows: Sequence[Sequence[str]], align: str) -> Table:
    """Make a table; ``align`` has ``<`` or ``>`` for each column."""
    return Table(tuple(head), tuple(tuple(row) for row in rows), align)


def passages_csv(passages: Sequence[Passage]) -> str:
    """The tables of passages as CSV, each under its heading; what a spreadsheet would run is guarded."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    for passage in passages:
        if passage.table is not None:
            writer.writerow([text_cell(passage.heading)])
            writer.writerow([text_cell(cell) for cell in passage.table.head])
            writer.writerows([text_cell(cell) for cell in row] for row in passage.table.rows)
            writer.writerow([])
    return out.getvalue()
