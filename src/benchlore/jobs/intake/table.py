"""A shop's table: a CSV file or a workbook's sheet, with its header understood and its rows at hand."""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import islice
from pathlib import Path
from typing import Final

from benchlore.jobs.intake.csv_file import CsvFile, open_csv
from benchlore.jobs.intake.mapping import TableMapping
from benchlore.jobs.intake.rows import Row
from benchlore.jobs.intake.trouble import NoTable, WrongKind
from benchlore.jobs.intake.words import fold, squeezed
from benchlore.jobs.intake.xlsx_file import XlsxFile, open_xlsx
from benchlore.notation import FileMissing, FileUnreadable, reason_of

ADDED: Final = ("row", "why")
"""The headers of the two columns that a file of refused rows has at its right."""

_GUESSED_ROWS: Final = 20
_MOST_HEADER_BYTES: Final = 64 * 1024 * 1024
_BY_PLACE: Final = re.compile(r"column ([a-z]{1,3})", re.IGNORECASE)
_KINDS: Final = (
    (b"%PDF", "a PDF document"),
    (b"\x89PNG", "a picture"),
    (b"\xff\xd8\xff", "a picture"),
    (b"{\\rtf", "a text document"),
    (b"\x1f\x8b", "a packed file"),
    (b"Rar!", "a packed file"),
    (b"7z\xbc\xaf", "a packed file"),
    (b"SQLite format 3", "a database"),
)
_OLE: Final = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
_WEB: Final = re.compile(rb"\s*(?:<!--.*?-->\s*)*<(?:!doctype|html|table|\?xml)\b", re.IGNORECASE | re.DOTALL)


@dataclass(frozen=True, slots=True)
class Table:
    """A table whose header is known.

    ``top`` are its rows down to the header, as they stand. ``header`` are the columns' names, each once;
    ``lines`` is about how many rows the file has. ``added`` is the place of the two columns of a file of
    refused rows, if it is one.
    """

    file: CsvFile | XlsxFile
    top: tuple[tuple[str, ...], ...]
    header: tuple[str, ...]
    added: int | None = None
    _exact: dict[str, int] = field(init=False, repr=False, compare=False)
    _folded: dict[str, int | None] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        """Lay the columns' names out for looking up; a folded name of two columns finds neither."""
        folded: dict[str, int | None] = {}
        for place, name in enumerate(self.header):
            folded[fold(name)] = None if fold(name) in folded else place
        object.__setattr__(self, "_exact", {name: place for place, name in enumerate(self.header)})
        object.__setattr__(self, "_folded", folded)

    @property
    def path(self) -> Path:
        """Where the table is."""
        return self.file.path

    @property
    def sheet(self) -> str:
        """The workbook's sheet; empty for a CSV file."""
        return self.file.sheet if isinstance(self.file, XlsxFile) else ""

    @property
    def lines(self) -> int:
        """About how many rows the file has below the header."""
        return max(0, self.file.lines - len(self.top))

    @property
    def separator(self) -> str:
        """What separates columns in a CSV file of this table's rows."""
        if isinstance(self.file, CsvFile):
            return self.file.separator
        return ";" if self.file.decimal == "," else ","

    def place(self, column: str) -> int | None:
        """Return where a column stands, from 0: by its name, whatever case and accents, or ``column F``."""
        plain = squeezed(column)
        if (place := self._exact.get(plain)) is not None:
            return place
        if fold(plain) and (place := self._folded.get(fold(plain))) is not None:
            return place
        match = _BY_PLACE.fullmatch(plain)
        return _number(match[1]) - 1 if match else None

    def name(self, place: int) -> str:
        """Return the name of the column at ``place``."""
        return self.header[place] if place < len(self.header) else self.name_by_place(place)

    def name_by_place(self, place: int) -> str:
        """Return ``column F``, which names a column whatever its header."""
        return f"column {_letters(place + 1)}"

    def rows(self) -> Iterator[Row]:
        """Give the rows below the header that are not empty.

        In a file of refused rows they have the numbers that they had in their table, and its two columns
        are left away.

        Raises
        ------
        TableTrouble
            Where the file turns out to be damaged or too large.
        """
        for row in islice(self.file.rows(), len(self.top), None):
            cells, number = row.cells, row.number
            if self.added is not None:
                number = _row_number(cells[self.added : self.added + 1], number)
                cells = cells[: self.added] + cells[self.added + len(ADDED) :]
            if any(cell and not cell.isspace() for cell in cells):
                yield Row(number, cells, row.troubles)


def read_table(path: Path | str, mapping: TableMapping | None = None) -> Table:
    """Open a CSV or XLSX table as ``mapping`` describes it, or by its looks where there is no mapping yet.

    The file's contents decide what it is, whatever its name ends in.

    Raises
    ------
    FileMissing, FileUnreadable
        If there is no such file or it cannot be read.
    TableTrouble
        If it is no table, damaged, too large, or has no header where one should be.
    """
    path = Path(path)
    try:
        with path.open("rb") as stream:
            head = stream.read(4096)
        file = _file(path, head, mapping)
    except FileNotFoundError:
        raise FileMissing(path) from None
    except (OSError, ValueError) as error:
        raise FileUnreadable(path, reason_of(error)) from error
    return _with_header(file, mapping)


def _file(path: Path, head: bytes, mapping: TableMapping | None) -> CsvFile | XlsxFile:
    if head.startswith(b"PK\x03\x04"):
        decimal = "," if mapping and mapping.decimal == "comma" else "."
        return open_xlsx(path, mapping.sheet if mapping else None, decimal)
    _refuse_other_kinds(path, head)
    return open_csv(path, mapping.encoding if mapping else None, mapping.separator if mapping else None)


def _refuse_other_kinds(path: Path, head: bytes) -> None:
    if not head.strip():
        raise NoTable(path, "the file is empty")
    if head.startswith(_OLE):
        _refuse_compound_file(path)
    if _WEB.match(head):
        raise WrongKind(
            path, "a web page or XML document, whatever its name", "open it and save it as XLSX or CSV"
        )
    for start, what in _KINDS:
        if head.startswith(start):
            raise WrongKind(path, what)


def _refuse_compound_file(path: Path) -> None:
    """Tell a locked workbook from an old one: in both, the file's directory names its streams."""
    with path.open("rb") as stream:
        is_locked = "EncryptedPackage".encode("utf-16-le") in stream.read(_MOST_HEADER_BYTES)
    if is_locked:
        raise WrongKind(path, "locked with a password", "save it without a password")
    raise WrongKind(path, "an old binary workbook (.xls)")


def _with_header(file: CsvFile | XlsxFile, mapping: TableMapping | None) -> Table:
    numbers = mapping.header_rows if mapping else ()
    last = numbers[-1] if numbers else None
    top: list[tuple[str, ...]] = []
    for row in islice(file.rows(), last or (None if mapping else _GUESSED_ROWS)):
        top.append(row.cells)
        if mapping and not last and _says_something(row.cells):
            break
    if not any(map(_says_something, top)):
        raise NoTable(file.path, "there is no row with anything in it")
    if not numbers:
        last = _likely_header(top) if mapping is None else len(top)
        numbers, top = (last,), top[:last]
    if len(top) < numbers[-1] or not _says_something(top[numbers[-1] - 1]):
        raise NoTable(file.path, f"the header should stand in row {numbers[-1]}, and there is nothing there")
    return _table(file, top, numbers)


def _table(file: CsvFile | XlsxFile, top: list[tuple[str, ...]], numbers: tuple[int, ...]) -> Table:
    rows = [tuple(squeezed(cell) for cell in top[number - 1]) for number in numbers]
    lowest = _trimmed(rows[-1])
    added = len(lowest) - len(ADDED) if lowest[-len(ADDED) :] == ADDED and len(lowest) > len(ADDED) else None
    if added is not None:
        rows = [row[:added] for row in rows]
        top = [row[:added] for row in top]
    return Table(file, tuple(top), _unique(_joined(rows)), added)


def _joined(rows: Sequence[tuple[str, ...]]) -> list[str]:
    """Join a header's rows column by column; an upper cell counts for the empty ones at its right."""
    lowest = _trimmed(rows[-1])
    parts: list[list[str]] = [[] for _ in lowest]
    for row in rows[:-1]:
        above = ""
        for place in range(len(lowest)):
            above = (row[place] if place < len(row) else "") or above
            if above:
                parts[place].append(above)
    for place, cell in enumerate(lowest):
        if cell:
            parts[place].append(cell)
    return [" / ".join(each) for each in parts]


def _unique(names: list[str]) -> tuple[str, ...]:
    """Add numbers to names that stand more than once, and name columns without one by their letters."""
    seen: set[str] = set()
    found = []
    for place, name in enumerate(names, 1):
        base, count = name or f"column {_letters(place)}", 1
        unique = base
        while unique in seen:
            count += 1
            unique = f"{base} ({count})"
        seen.add(unique)
        found.append(unique)
    return tuple(found)


def _likely_header(top: list[tuple[str, ...]]) -> int:
    """Return which of the first rows is most like a header: the most texts, the first of several."""
    scores = [sum(1 for cell in row if any(map(str.isalpha, cell))) for row in top]
    return max(range(len(top)), key=lambda place: (scores[place], -place)) + 1


def _trimmed(cells: tuple[str, ...]) -> tuple[str, ...]:
    end = next((place for place in range(len(cells), 0, -1) if cells[place - 1].strip()), 0)
    return cells[:end]


def _says_something(cells: tuple[str, ...]) -> bool:
    return any(cell.strip() for cell in cells)


def _row_number(cell: tuple[str, ...], number: int) -> int:
    text = cell[0].strip() if cell else ""
    return int(text) if text.isascii() and text.isdigit() and len(text) < 10 else number


def _letters(number: int) -> str:
    letters = ""
    while number:
        number, rest = divmod(number - 1, 26)
        letters = chr(ord("A") + rest) + letters
    return letters


def _number(letters: str) -> int:
    number = 0
    for letter in letters.upper():
        number = number * 26 + ord(letter) - ord("A") + 1
    return number
