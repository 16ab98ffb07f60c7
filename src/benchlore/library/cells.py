"""Cells of small tables that users write by hand, and what is wrong with them."""

import re
from collections.abc import Iterator, Mapping, Sequence
from typing import Final

from benchlore.jobs.intake import Table
from benchlore.notation import Position, Problem

YES: Final = {"yes", "y", "true", "1", "x", "must"}
AMBIGUOUS: Final = re.compile(r"[1-9]\d{0,2},\d{3}")
"""A comma before three digits: thousands to some, decimals to others."""
NO: Final = {"", "no", "n", "false", "0"}


def limit_said(most: float) -> str:
    """Write the most that a number may be, in digits.

    >>> limit_said(0.5), limit_said(1e12)
    ('0.5', '1,000,000,000,000')
    """
    return f"{most:g}" if most < 1e6 else f"{most:,.0f}"


def cells_of(table: Table, columns: Sequence[str]) -> Iterator[tuple[int, Mapping[str, str]]]:
    """Yield each row's line and its cells by column, ``""`` where the table has no such cell."""
    places = {name: table.place(name) for name in columns}
    for row in table.rows():
        yield (
            row.number,
            {
                name: row.cells[place].strip() if place is not None and place < len(row.cells) else ""
                for name, place in places.items()
            },
        )


class CellReader:
    """Reads the cells of a line, and collects what is wrong with them."""

    def __init__(self, file: str, line: int, cells: Mapping[str, str]) -> None:
        self.line, self.cells = line, cells
        self.problems: list[Problem] = []
        self._file = file

    def wrong(self, rule: str, message: str) -> None:
        """Note a mistake."""
        self.problems.append(Problem(self._file, Position(self.line, 1), rule, message))

    def text(self, column: str) -> str:
        """A cell that must not be empty."""
        if not self.cells[column]:
            self.wrong("empty", f"'{column}' is empty")
        return self.cells[column]

    def number(self, column: str, *, most: float = 1e12) -> float | None:
        """A number of zero or more; a per cent sign divides by a hundred."""
        text = self.cells[column].replace("\u00a0", "").replace(" ", "")
        if not text:
            return None
        percent = text.endswith("%")
        plain = text.rstrip("%")
        if AMBIGUOUS.fullmatch(plain):
            whole, decimal = plain.replace(",", ""), plain.replace(",", ".")
            self.wrong("number", f"'{column}': {text} may be {whole} or {decimal}; write one")
            return 0.0
        plain = (
            plain.replace(",", ".") if plain.count(",") == 1 and "." not in plain else plain.replace(",", "")
        )
        try:
            found = float(plain) / (100 if percent else 1)
        except ValueError:
            self.wrong("number", f"'{column}': '{self.cells[column]}' is no number")
            return 0.0
        if not 0 <= found <= most:
            self.wrong(
                "number", f"'{column}': {text} is out of range; write a number from 0 to {limit_said(most)}"
            )
            return 0.0
        return found

    def yes(self, column: str) -> bool:
        """A cell that says yes or no."""
        if (text := self.cells[column].casefold()) not in YES | NO:
            self.wrong("yes-or-no", f"'{column}': '{self.cells[column]}' is neither yes nor no")
        return text in YES
