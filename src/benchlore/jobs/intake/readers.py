"""The readers of every column that a mapping uses, made once for a table and its books."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from benchlore.book import Book
from benchlore.book.review.times import MOST_WORK
from benchlore.jobs.intake.booknames import (
    board_names,
    comeback_names,
    complaint_names,
    fault_names,
    fix_names,
    outcome_names,
    result_names,
    retest_names,
)
from benchlore.jobs.intake.cells import (
    BLANK,
    Cell,
    CellError,
    Column,
    Meaning,
    Parse,
    State,
    day,
    duration,
    durations,
    fault,
    free_text,
    one_line,
    one_of,
    person,
    reading,
    several,
    yes_or_no,
)
from benchlore.jobs.intake.mapping import FixColumn, RetestSource, Source, TableMapping
from benchlore.jobs.intake.names import Names
from benchlore.jobs.intake.table import Table
from benchlore.jobs.intake.words import NOTHING, clean, squeezed
from benchlore.jobs.intake.xlsx_file import XlsxFile
from benchlore.jobs.values import Attempt, Job, Outcome, Reading, Retest


@dataclass(frozen=True, slots=True)
class FixReader:
    """Reads one column of fixes, what their retests showed and how long they ran.

    ``None`` where no column says it.
    """

    fixes: Column
    retests: Column | None
    soaks: Column | None = None

    def read(self, cells: Sequence[str], first_step: int) -> tuple[tuple[Attempt, ...], tuple[Cell, ...]]:
        """Return the row's attempts, and the cells that were refused or doubtful."""
        found = self.fixes.read(cells)
        if not found.value:
            return (), (found,) if found.reason else ()
        fixes = len(found.value)
        shown, retests = _for_each(self.retests, cells, fixes, "retests")
        soaked, soaks = _for_each(self.soaks, cells, fixes, "times")
        attempts = tuple(
            Attempt(fix, first_step + place, Retest(retest or Retest.UNKNOWN), soak)
            for place, (fix, retest, soak) in enumerate(zip(found.value, retests, soaks, strict=True))
        )
        return attempts, tuple(cell for cell in (found, shown, soaked) if cell.reason)


def _for_each(
    column: Column | None, cells: Sequence[str], fixes: int, what: str
) -> tuple[Cell, tuple[Any, ...]]:
    """Return a cell and what it says of each of a row's fixes; a single value counts for the last one."""
    cell = column.read(cells) if column else BLANK
    told = cell.value or ()
    if column and len(told) not in {0, 1, fixes}:
        message = f"{len(told)} {what} for {fixes} fixes"
        cell, told = column.refused(column.text(cells), message, "give one, or one for each fix"), ()
    return cell, (*(None,) * (fixes - len(told)), *told)


@dataclass(frozen=True, slots=True)
class BoardReaders:
    """Reads what depends on the board alone."""

    book: Book
    complaint: Column
    fault: Column | None


class Readers:
    """Makes and keeps the readers of one table, whose columns the mapping must name rightly."""

    def __init__(
        self, table: Table, mapping: TableMapping, books: Mapping[str, Book], today: date | None = None
    ) -> None:
        self.table = table
        self.today = today
        self.mapping = mapping
        self.books = books
        self.blank = NOTHING | {squeezed(word).casefold() for word in mapping.blank}
        self.job = [self.at(column, one_line) for column in mapping.job.columns]
        boards = board_names(books, mapping.board.names)
        self.board = self.of(mapping.board, one_of(boards, mapping.board.otherwise), boards)
        self.fields = dict(self._fields())
        self.extra = tuple((squeezed(column), self.at(column, free_text)) for column in mapping.extra)
        self._boards: dict[str, BoardReaders] = {}

    def number(self, cells: Sequence[str]) -> Cell:
        """Return a row's job number; where several columns make it up, each must say something."""
        if len(self.job) == 1:
            return self.job[0].read(cells)
        found = [column.read(cells) for column in self.job]
        wrong = next((cell for cell in found if cell.state is State.REFUSED), None)
        if wrong is not None:
            return wrong
        if all(cell.value is None for cell in found):
            return BLANK
        for column, cell in zip(self.job, found, strict=True):
            if cell.value is None:
                return column.refused("", "this part of the job number is missing", "write it")
        return Cell(" ".join(cell.value for cell in found))

    def for_board(self, board: str) -> BoardReaders:
        """Return the readers that depend on the board."""
        if board not in self._boards:
            self._boards[board] = self._board_readers(self.books[board])
        return self._boards[board]

    def of(self, source: Source, parse: Parse, names: Names | None = None) -> Column:
        """Make the reader of a source of one column, or of the same for every row."""
        if source.always is not None:
            return Column("", 0, parse, always=source.always)
        return self.at(source.columns[0], parse, names)

    def at(self, column: str, parse: Parse, names: Names | None = None) -> Column:
        """Make the reader of a column; words that ``names`` knows count even where they look blank."""
        place = self.table.place(column)
        assert place is not None, column
        counts: Callable[[str], bool] | None = names.says if names else None
        return Column(self.table.name(place), place, parse, blank=self.blank, counts=counts)

    def fix(self, source: FixColumn, book: Book) -> FixReader:
        """Make the reader of a column of fixes."""
        names = fix_names(book, source.source.names)
        fixes = self.of(source.source, several(names, source.split), names)
        soaked = source.soaked
        soaks = self.of(soaked, durations(soaked.unit, source.split)) if soaked else None
        return FixReader(fixes, self._retest(source.retest, source.split), soaks)

    def _retest(self, retest: RetestSource | None, split: str | None) -> Column | None:
        if retest is None or retest.source is None:
            return None
        names = retest_names(retest.source.names)
        return self.of(retest.source, several(names, split), names)

    def _fields(self) -> Iterator[tuple[str, Column]]:
        """Make the readers of the job's fields that need no book, by the names that a job has for them."""
        mapping = self.mapping
        from_1904 = self.table.file.from_1904 if isinstance(self.table.file, XlsxFile) else None
        outcomes = outcome_names(mapping.outcome.names if mapping.outcome else None)
        comebacks = comeback_names(mapping.comeback.names if mapping.comeback else None)
        people = mapping.technician.names if mapping.technician else {}
        soaked, worked = mapping.waiting, mapping.hands_on
        each: tuple[tuple[str, Source | None, Parse, Names | None], ...] = (
            ("opened", mapping.opened, day(mapping.dates, from_1904=from_1904, today=self.today), None),
            ("technician", mapping.technician, person(people), None),
            ("hands_on", worked, duration(worked.unit if worked else None, usual=MOST_WORK), None),
            ("waiting", soaked, duration(soaked.unit if soaked else None), None),
            ("outcome", mapping.outcome, one_of(outcomes), outcomes),
            ("comeback", mapping.comeback, yes_or_no(comebacks), comebacks),
            ("notes", mapping.notes, free_text, None),
        )
        return ((name, self.of(source, parse, names)) for name, source, parse, names in each if source)

    def _board_readers(self, book: Book) -> BoardReaders:
        mapping = self.mapping
        complaints = complaint_names(book, mapping.complaint.names)
        complaint = self.of(mapping.complaint, one_of(complaints, mapping.complaint.otherwise), complaints)
        if mapping.fault is None:
            return BoardReaders(book, complaint, None)
        faults = fault_names(book, mapping.fault.names)
        return BoardReaders(
            book, complaint, self.of(mapping.fault, fault(faults, mapping.fault.otherwise), faults)
        )

    def reading(
        self, book: Book, name: str, words: Mapping[str, str], unit: str | None, step: int = 0
    ) -> tuple[Parse, Names]:
        """Make the parser of one check's readings at one step, and the words that it knows."""
        check = book.checks.get(name)
        if check is None:
            return _no_such_check(name, book.board.name), Names("", {})
        names = result_names(check, words)
        return _as_reading(name, step, reading(check, names, unit, self.mapping.decimal)), names


def judge_by_outcome(attempts: Sequence[Attempt], outcome: Outcome) -> tuple[Attempt, ...]:
    """Fill in unknown retests: only the last attempt can have ended the complaint, as the outcome says."""
    last = {Outcome.REPAIRED: Retest.GONE, Outcome.RETURNED: Retest.STILL_THERE}.get(outcome, Retest.UNKNOWN)
    shown = (*(Retest.STILL_THERE,) * (len(attempts) - 1), last)
    return tuple(
        replace(attempt, retest=retest) if attempt.retest is Retest.UNKNOWN else attempt
        for attempt, retest in zip(attempts, shown, strict=False)
    )


def make_job(shop: str, fields: Mapping[str, Any]) -> Job:
    """Make a job of the fields that its rows gave; ``fault`` comes with its text."""
    values = dict(fields)
    values["fault"], values["fault_text"] = values.get("fault") or (None, "")
    values["outcome"] = Outcome(values.get("outcome") or Outcome.OPEN)
    return Job(shop, **values)


def _as_reading(check: str, step: int, parse: Parse) -> Parse:
    def parse_reading(text: str) -> Meaning[Reading]:
        understood = parse(text)
        result, value = understood.value or (None, None)
        return Meaning(Reading(check, step, result, value, squeezed(clean(text))), understood.doubt)

    return parse_reading


def _no_such_check(name: str, board: str) -> Parse:
    def parse(_: str) -> Meaning[Reading]:
        raise CellError(
            f"the book of {board} has no check '{name}'", "leave the cell empty, or add the check"
        )

    return parse
