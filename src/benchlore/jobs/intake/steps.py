"""What the rows of a long table's job say was measured and tried."""

from collections.abc import Sequence
from dataclasses import replace
from typing import Final, NamedTuple

from benchlore.book import Book
from benchlore.jobs.intake.booknames import check_names, fix_names
from benchlore.jobs.intake.cells import (
    BLANK,
    Cell,
    Column,
    State,
    check_or_else,
    left_out,
    number,
    one_line,
    one_of,
    unless_check,
)
from benchlore.jobs.intake.mapping import FixColumn, ReadingColumns, Unreadable
from benchlore.jobs.intake.readers import FixReader, Readers
from benchlore.jobs.values import Attempt, Reading

_MOST_UNITS: Final = 1_000


class RowSteps(NamedTuple):
    """A row's readings and attempts, its refused and doubtful cells, and the next row's first step."""

    readings: tuple[Reading, ...]
    attempts: tuple[Attempt, ...]
    remarks: tuple[Cell, ...]
    next_step: int


class StepReader:
    """Reads the check, value, unit, fix and retest of each row."""

    def __init__(self, readers: Readers) -> None:
        mapping = readers.mapping
        self._readers = readers
        self._mapping = mapping
        self._order = readers.of(mapping.step, number) if mapping.step else None
        self._boards: dict[str, tuple[_Readings | None, FixReader | None]] = {}
        retest = mapping.fix.retest if mapping.fix else None
        self.is_from_outcome = retest is not None and retest.source is None

    def order(self, cells: Sequence[str]) -> Cell:
        """Return the row's number among its job's rows, if the table has one."""
        return self._order.read(cells) if self._order else BLANK

    def read(self, book: Book, cells: Sequence[str], step: int) -> RowSteps:
        """Read a row, whose first reading or attempt is number ``step`` of its job.

        What cannot be read counts as one step, so that the others keep theirs when it is mended.
        """
        if book.board.name not in self._boards:
            self._boards[book.board.name] = self._for_board(book)
        readings, fixes = self._boards[book.board.name]
        found = readings.read(cells) if readings else ()
        taken = tuple(cell.value for cell in found if isinstance(cell.value, Reading))
        at_step = tuple(Reading(each.check, step, each.result, each.value, each.text) for each in taken)
        step += any(isinstance(cell.value, Reading) or cell.state is not State.CLEAR for cell in found)
        attempts, doubtful = fixes.read(cells, step) if fixes else ((), ())
        step += len(attempts) or any(cell.state is State.REFUSED for cell in doubtful)
        return RowSteps(at_step, attempts, (*(cell for cell in found if cell.reason), *doubtful), step)

    def _for_board(self, book: Book) -> tuple["_Readings | None", FixReader | None]:
        columns, fix = self._mapping.reading, self._mapping.fix
        if columns and fix and columns.check.columns == fix.source.columns:
            return self._shared(book, columns, fix)
        fixes = self._readers.fix(fix, book) if fix else None
        if columns is None:
            return None, fixes
        names = check_names(book, columns.check.names)
        return _Readings(
            self._readers, columns, book, self._readers.of(columns.check, one_of(names), names)
        ), fixes

    def _shared(self, book: Book, columns: ReadingColumns, fix: FixColumn) -> tuple["_Readings", FixReader]:
        """Make the readers of a column that names checks and fixes; words of either place serve for both."""
        words = {**fix.source.names, **columns.check.names}
        checks = check_names(book, {word: name for word, name in words.items() if name in book.checks})
        fixes = fix_names(book, {word: name for word, name in words.items() if name in book.fixes})
        check = self._readers.of(columns.check, check_or_else(checks, fixes, fix.split), checks)
        reader = self._readers.fix(fix, book)
        column = self._readers.of(fix.source, unless_check(checks, fixes, fix.split), fixes)
        return _Readings(self._readers, columns, book, check), replace(reader, fixes=column)


class _Readings:
    """Reads a row's check and value, for one board."""

    def __init__(self, readers: Readers, columns: ReadingColumns, book: Book, check: Column) -> None:
        self._readers = readers
        self._columns = columns
        self._book = book
        self._check = check
        self._values: dict[tuple[str, str | None], Column] = {}
        self._value = readers.of(columns.value, one_line)
        self._unit = readers.of(columns.unit, one_line) if columns.unit else None

    def read(self, cells: Sequence[str]) -> tuple[Cell, ...]:
        """Return the cells of a reading; the last one's value is the reading, if there is one."""
        check = self._check.read(cells)
        if check.value:
            unit = self._unit.read(cells) if self._unit else BLANK
            value = self._value_column(check.value, unit.value).read(cells)
            leaves_out = self._readers.mapping.unreadable is Unreadable.LEAVE_OUT
            return check, unit, left_out(value) if leaves_out else value
        text = self._value.text(cells)
        if check == BLANK and not self._value.is_blank(cells):
            return (
                self._value.refused(
                    text, f"the value '{text.strip()[:60]}' belongs to no check", "name the check"
                ),
            )
        return (check,)

    def _value_column(self, check: str, unit: str | None) -> Column:
        """Return the reader of one check's values in one unit."""
        key = (check, unit)
        if key not in self._values:
            if len(self._values) >= _MOST_UNITS:
                self._values.clear()
            unit = unit or self._columns.units.get(check)
            parse, names = self._readers.reading(
                self._book, check, self._columns.results.get(check, {}), unit
            )
            self._values[key] = self._readers.of(self._columns.value, parse, names)
        return self._values[key]
