"""What is wrong with a row, or makes it no job at all, before anybody asks what its cells mean."""

import re
from typing import Final

from benchlore.jobs.intake.cells import Reason
from benchlore.jobs.intake.csv_file import CsvFile
from benchlore.jobs.intake.mapping import Source
from benchlore.jobs.intake.readers import Readers
from benchlore.jobs.intake.rows import Row
from benchlore.jobs.intake.verdicts import Remarks, RowVerdict, Verdict
from benchlore.jobs.intake.words import TOTALS, fold
from benchlore.notation import quoted

_WORD: Final = re.compile(r"[^\W\d_]+")


class Sieve:
    """Knows the table's width and the columns that matter."""

    def __init__(self, readers: Readers) -> None:
        table, mapping = readers.table, readers.mapping
        self._table = table
        self._used = {place for column, _ in mapping.columns() if (place := table.place(column)) is not None}
        self._width = max((len(table.header), *(place + 1 for place in self._used)))
        self._is_csv = isinstance(table.file, CsvFile)
        sources = (mapping.board, mapping.complaint, mapping.opened, mapping.outcome)
        self._telling = {place for source in sources if source for place in self._places(source)}

    def troubles(self, row: Row, remarks: Remarks) -> None:
        """Note what refuses a row: formulas that were never computed, cells beyond the last column."""
        for place, message in row.troubles:
            if self._is_csv or place is None or place in self._used:
                remarks.refuse("" if place is None else self._table.name(place), "", message)
        stray = next((cell for cell in row.cells[self._width :] if cell and not cell.isspace()), None)
        if self._is_csv and stray is not None:
            message = (
                f"{len(row.cells)} cells, where the header has {self._width}; {quoted(stray)} is too many"
            )
            remarks.refuse("", stray, message, "put a text that holds the separator in quotation marks")

    def totals(self, row: Row) -> RowVerdict | None:
        """Leave a row of totals out: it begins with such a word and says nothing that only a job has."""
        place, cell = next(
            (place, cell) for place, cell in enumerate(row.cells) if cell and not cell.isspace()
        )
        word = _WORD.search(cell)
        if word is None or fold(word[0]) not in TOTALS:
            return None
        if any(
            row.cells[other].strip() for other in self._telling if other != place and other < len(row.cells)
        ):
            return None
        reason = Reason(self._table.name(place), cell, "this looks like a row of totals")
        return RowVerdict(row.number, "", Verdict.LEFT_OUT, (reason,))

    def _places(self, source: Source) -> list[int]:
        places = (self._table.place(column) for column in source.columns)
        return [place for place in places if place is not None]
