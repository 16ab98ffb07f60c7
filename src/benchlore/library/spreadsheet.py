"""A sheet on its way into the store, as a screen shows it: its columns, and what becomes of its rows."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from itertools import islice
from pathlib import Path
from typing import Final

from benchlore.book import Book
from benchlore.jobs import UNLISTED, Outcome, Retest
from benchlore.jobs.intake import (
    Preview,
    RowVerdict,
    Table,
    TableMapping,
    Verdict,
    meanings_of,
    mended_text,
    read_mapping,
    read_table,
    rejects_text,
)
from benchlore.jobs.intake.pointing import CHECK, EXTRA, FIELDS, LONG_ONLY, WIDE_ONLY, is_long
from benchlore.jobs.intake.words import NOTHING
from benchlore.library.errors import MappingRefusedError
from benchlore.library.folder import Library, sound_book_of
from benchlore.notation import write_atomic

FIRST_CELLS: Final = 4
LOOKED_AT: Final = 60
"""Rows in which the first cells that say something are looked for."""

MOST_COLUMNS: Final = 300
"""Columns that can be pointed at; the text can name any."""

MOST_REFUSED, MOST_DOUBTFUL, MOST_TAKEN = 2_000, 100, 20
"""Rows of each kind that are kept for a screen; more refused ones follow when the first are mended."""

_LABELS: Final = {
    "job": "job number",
    "opened": "day it was opened",
    "board": "board or device",
    "complaint": "complaint",
    "technician": "technician",
    "hands on": "minutes hands-on",
    "waiting": "minutes waiting",
    "outcome": "outcome",
    "fault": "confirmed fault",
    "comeback": "came back",
    "notes": "notes",
    "fix": "fix tried",
    "retest": "complaint after the fix",
    "soaked": "minutes it ran after the fix",
    "step": "order of the row in its job",
    "reading check": "name of the check",
    "reading value": "what it read",
    "reading unit": "unit of what it read",
    EXTRA: "keep as it stands",
}


@dataclass(frozen=True, slots=True)
class SheetColumn:
    """A column: its place and name, the first cells that say something, what the mapping takes it for."""

    place: int
    name: str
    cells: tuple[str, ...]
    means: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Spreadsheet:
    """A table's columns and about how many rows it has; ``beyond`` columns are not listed."""

    columns: tuple[SheetColumn, ...]
    sheet: str
    lines: int
    beyond: int = 0


@dataclass(frozen=True, slots=True)
class ShownRow:
    """A row with its verdict and reasons; ``cells`` are those to mend, as place, column name and text.

    ``about`` is the place of the column that each reason speaks of, ``None`` for the whole row.
    """

    row: int
    job: str
    reasons: tuple[str, ...]
    cells: tuple[tuple[int, str, str], ...] = ()
    about: tuple[int | None, ...] = ()

    def told_of(self, place: int) -> tuple[int, ...]:
        """Number the reasons that speak of a cell, the first 1."""
        return tuple(number for number, at in enumerate(self.about, 1) if at in {None, place})


@dataclass(frozen=True, slots=True)
class ShownPreview:
    """What a preview says, in the size of a screen; ``refused_text`` is the file of refused rows."""

    counts: Mapping[Verdict, int]
    jobs: int
    rows: int
    refused: tuple[ShownRow, ...] = ()
    doubtful: tuple[ShownRow, ...] = ()
    taken: tuple[ShownRow, ...] = ()
    problems: tuple[str, ...] = ()
    unused: tuple[str, ...] = ()
    refused_text: str = ""


def look_at_sheet(table_file: Path, text: str) -> Spreadsheet:
    """Read a table's header and first rows, as its mapping's text describes it if that can be used.

    Raises
    ------
    FileTrouble
        If the file is no table, damaged, or too large.
    """
    table = read_table(table_file, read_mapping(text, "").mapping)
    means = meanings_of(text, table)
    rows = [row.cells for row in islice(table.rows(), LOOKED_AT)]
    columns = tuple(
        SheetColumn(place, name, _first_cells(rows, place), means[place])
        for place, name in enumerate(table.header[:MOST_COLUMNS])
    )
    return Spreadsheet(columns, table.sheet, table.lines, max(0, len(table.header) - MOST_COLUMNS))


def meanings_for(book: Book, text: str) -> Iterator[tuple[str, tuple[tuple[str, str], ...]]]:
    """Give what a column may mean, in groups: each meaning as the mapping has it, and in words."""
    kind = LONG_ONLY if is_long(text) else WIDE_ONLY
    yield "The job", tuple((name, _LABELS[name]) for name in FIELDS)
    yield "What was done", tuple((name, _LABELS[name]) for name in kind)
    yield "Anything else", ((EXTRA, _LABELS[EXTRA]),)
    if not is_long(text):
        yield "A check", tuple((f"{CHECK}{name}", check.title) for name, check in book.checks.items())


def names_for(book: Book, meaning: str) -> tuple[str, ...]:
    """Return the names that cells of a column with this meaning may hold; none where any text will do."""
    if meaning.startswith(CHECK):
        check = book.checks.get(meaning.removeprefix(CHECK))
        return check.results if check else ()
    kinds: Mapping[str, Iterable[str]] = {
        "complaint": book.complaints,
        "fault": (*book.faults, UNLISTED),
        "fix": book.fixes,
        "reading check": book.checks,
        "outcome": map(str, Outcome),
        "retest": map(str, Retest),
        "board": (book.board.name,),
        "comeback": ("yes", "no"),
    }
    return tuple(kinds.get(meaning, ()))


def label_of(meaning: str) -> str:
    """Say a meaning in words, where no book gives it a title."""
    return _LABELS.get(meaning, meaning)


def shown_of(previewed: Preview) -> ShownPreview:
    """Keep of a preview what a screen shows; a large table's jobs are not kept in memory for it."""
    counts = previewed.counts()
    table, mapping = previewed.table, previewed.mapping

    def rows(verdict: Verdict, most: int) -> tuple[ShownRow, ...]:
        found = (row for row in previewed.rows if row.verdict is verdict)
        return tuple(_shown_row(row, table, mapping) for row in islice(found, most))

    return ShownPreview(
        counts,
        len(previewed.jobs),
        len(previewed.rows),
        refused=rows(Verdict.REFUSED, MOST_REFUSED),
        doubtful=rows(Verdict.DOUBTFUL, MOST_DOUBTFUL),
        taken=rows(Verdict.TAKEN, MOST_TAKEN),
        problems=tuple(map(str, previewed.problems)),
        unused=previewed.unused,
        refused_text=rejects_text(previewed) if counts[Verdict.REFUSED] else "",
    )


def mend_rows(table_file: Path, mapping_file: Path, text: str, cells: Mapping[tuple[int, int], str]) -> None:
    """Write mended cells, by row number and place, into a file of refused rows.

    Raises
    ------
    MappingRefusedError
        If the mapping has errors.
    FileTrouble
        If the file cannot be read as a table, or not written.
    """
    read = read_mapping(text, mapping_file.name)
    if read.mapping is None:
        raise MappingRefusedError(read.problems)
    mended = mended_text(read_table(table_file, read.mapping), read.mapping, cells)
    write_atomic(table_file, mended.encode("utf-8-sig"))


def book_of(library: Library, board: str) -> Book:
    """Return a board's book, which has no errors (``NoBookError``, ``BookRefusedError``)."""
    book = sound_book_of(library, board).book
    assert book is not None
    return book


def _first_cells(rows: list[tuple[str, ...]], place: int) -> tuple[str, ...]:
    texts = (row[place].strip() for row in rows if place < len(row))
    telling = (text[:60] for text in texts if text.casefold() not in NOTHING)
    return tuple(islice(dict.fromkeys(telling), FIRST_CELLS))


def _shown_row(row: RowVerdict, table: Table, mapping: TableMapping) -> ShownRow:
    about = tuple(table.place(reason.column) if reason.column else None for reason in row.reasons)
    cells = tuple(_cells(row, table, mapping))
    return ShownRow(row.row, row.job, tuple(map(str, row.reasons)), cells, about)


def _cells(row: RowVerdict, table: Table, mapping: TableMapping) -> Iterator[tuple[int, str, str]]:
    """Give the cells that the reasons speak of; all that say something, where one speaks of the whole row."""
    texts = {place: text for place, text in enumerate(row.cells) if text.strip()}
    named = {table.place(reason.column) for reason in row.reasons if reason.column}
    if not all(reason.column for reason in row.reasons):
        named |= {table.place(column) for column, _ in mapping.columns()} & texts.keys()
    for place in sorted(place for place in named if place is not None and row.cells):
        yield place, table.name(place), texts.get(place, "")
