"""CSV files as shops export them: encoding and separator found, rows given one by one."""

import codecs
import csv
import io
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import islice
from pathlib import Path
from typing import Final

from benchlore.jobs.intake.limits import LONGEST_CELL, LONGEST_ROW, MOST_BYTES, MOST_COLUMNS, MOST_ROWS
from benchlore.jobs.intake.rows import Row
from benchlore.jobs.intake.trouble import TableBroken, TableTooLarge, WrongKind
from benchlore.notation import FileUnreadable, reason_of

SEPARATORS: Final = ";,\t|"
_CHUNK: Final = 1024 * 1024
_SAMPLE_ROWS: Final = 100
_SAMPLE_LINES: Final = 400
_BOMS: Final = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF32_LE, "utf-32"),
    (codecs.BOM_UTF32_BE, "utf-32"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)
_CONTROL: Final = bytes(set(range(32)) - {9, 10, 11, 12, 13, 26, 27})
_MOST_CONTROLS: Final = 8
_LEAST_UTF16: Final = 0.35
"""Share of a UTF-16 text's bytes that are NUL if most of its letters are Latin; half is the most."""

_END: Final = "\x00\x00the end\x00\x00"


@dataclass(frozen=True, slots=True)
class CsvFile:
    """A CSV file whose encoding and separator are known; ``lines`` is how many it has."""

    path: Path
    encoding: str
    separator: str
    lines: int

    def rows(self) -> Iterator[Row]:
        """Give every row, empty ones too, numbered from one as a spreadsheet shows them.

        Raises
        ------
        TableTrouble
            At a quotation mark that never closes, or at a row that is larger than is read.
        """
        with self.path.open(encoding=self.encoding, newline="") as stream:
            yield from _rows(self.path, stream, self.separator)


def open_csv(path: Path, encoding: str | None = None, separator: str | None = None) -> CsvFile:
    """Find a CSV file's encoding and separator; what is stated counts, but for a byte order mark and UTF-8.

    Raises
    ------
    TableTrouble, FileUnreadable
        If the file is too large, no text, or cannot be read.
    """
    try:
        found, lines = _decoded(path, encoding)
        return CsvFile(path, found, separator or _separator(path, found), lines)
    except OSError as error:
        raise FileUnreadable(path, reason_of(error)) from error


def _decoded(path: Path, stated: str | None) -> tuple[str, int]:
    """Return the encoding in which the whole file can be read, and its number of lines."""
    with path.open("rb") as stream:
        head = stream.read(4096)
    marked = next((name for mark, name in _BOMS if head.startswith(mark)), None)
    guesses = [marked] if marked else _stated(stated) if stated else _guesses(path, head)
    for guess in guesses:
        lines, bad_line = _try(path, guess)
        if bad_line is None:
            return guess, lines
    reason = f"line {bad_line} is not {' or '.join(guesses)} text; say 'encoding: …' in the mapping"
    raise TableBroken(path, reason)


def _stated(encoding: str) -> list[str]:
    """Try UTF-8 before a stated one of single bytes: a file mended in another editor often is UTF-8 since.

    Text with accents in single bytes is hardly ever UTF-8 by chance.
    """
    return [encoding] if encoding.lower().startswith("utf") else ["utf-8", encoding]


def _guesses(path: Path, head: bytes) -> list[str]:
    """Name the encodings to try on a file without a mark."""
    even, odd = head[::2].count(0), head[1::2].count(0)
    if even + odd:
        if max(even, odd) < _LEAST_UTF16 * len(head) or min(even, odd) * 4 > max(even, odd):
            raise WrongKind(path, "binary data")
        return ["utf-16-be" if even > odd else "utf-16-le"]
    controls = len(head) - len(head.translate(None, _CONTROL))
    if controls > max(_MOST_CONTROLS, len(head) // 20):
        raise WrongKind(path, "binary data")
    return ["utf-8", "windows-1252"]


def _try(path: Path, encoding: str) -> tuple[int, int | None]:
    """Decode the whole file; return its number of lines, and the line that cannot be decoded."""
    decoder = codecs.getincrementaldecoder(encoding)()
    lines = size = 0
    with path.open("rb") as stream:
        while chunk := stream.read(_CHUNK):
            size += len(chunk)
            if size > MOST_BYTES:
                raise TableTooLarge(path, f"is larger than {MOST_BYTES // 1024**2} MB")
            try:
                text = decoder.decode(chunk)
            except UnicodeError as error:
                return lines, lines + 1 + chunk.count(b"\n", 0, getattr(error, "start", 0))
            lines += text.count("\n") or text.count("\r")
        try:
            decoder.decode(b"", final=True)
        except UnicodeError:
            return lines, lines + 1
    return lines, None


def likely_separator(lines: Sequence[str]) -> str:
    """Return the separator that a first line ``sep=`` names, or that cuts the first rows most evenly."""
    if lines and (mark := _stated_separator(lines[0])):
        return mark
    return max(SEPARATORS, key=lambda mark: (_evenness(lines, mark), -SEPARATORS.index(mark)))


def _separator(path: Path, encoding: str) -> str:
    with path.open(encoding=encoding, newline="") as stream:
        return likely_separator([line[:LONGEST_CELL] for line in islice(stream, _SAMPLE_LINES)])


def _stated_separator(line: str) -> str | None:
    text = line.strip("\r\n")
    return text[4] if len(text) == 5 and text[:4].casefold() == "sep=" else None


def _evenness(lines: Sequence[str], separator: str) -> float:
    """Score a separator: the share of rows that have the commonest width, times that width."""
    try:
        rows = list(islice(csv.reader(lines, delimiter=separator), _SAMPLE_ROWS))
    except csv.Error:
        return 0.0
    widths = Counter(len(row) for row in rows if row)
    if not widths:
        return 0.0
    width, count = max(widths.items(), key=lambda each: (each[1] * (each[0] - 1), each[0]))
    return count / sum(widths.values()) * (width - 1)


def _rows(path: Path, stream: io.TextIOBase, separator: str) -> Iterator[Row]:
    held: list[str] = []
    reader = csv.reader(_lines(path, stream, held), delimiter=separator)
    number = 0
    while True:
        try:
            cells = next(reader, None)
        except csv.Error:
            reason = f"a cell has more than {LONGEST_CELL:,} characters; is a quotation mark not closed?"
            raise TableBroken(path, reason, number + 1) from None
        if cells == [_END] or cells is None:
            return
        number += 1
        if cells and _END in cells[-1]:
            raise TableBroken(path, "a quotation mark opens in this row and never closes", number)
        if number > MOST_ROWS:
            raise TableTooLarge(path, f"has more than {MOST_ROWS:,} rows")
        if len(cells) > MOST_COLUMNS and any(cell.strip() for cell in cells[MOST_COLUMNS:]):
            raise TableTooLarge(path, f"has more than {MOST_COLUMNS:,} columns in row {number}")
        yield Row(number, tuple(cells[:MOST_COLUMNS]), _troubles(cells, separator) if len(held) > 1 else ())
        held.clear()


def _lines(path: Path, stream: io.TextIOBase, held: list[str]) -> Iterator[str]:
    """Give the file's lines without ``sep=`` at its top, then a mark; ``held`` are those of one row."""
    size = 0
    for place, line in enumerate(stream):
        if place == 0 and _stated_separator(line):
            continue
        size = len(line) + (size if held else 0)
        if size > LONGEST_ROW:
            raise TableTooLarge(path, f"has a row of more than {LONGEST_ROW:,} characters")
        held.append(line)
        yield line
    yield _END


def _troubles(cells: list[str], separator: str) -> tuple[tuple[int | None, str], ...]:
    """Find a cell of several lines that look like rows: two stray quotation marks have swallowed them."""
    for place, cell in enumerate(cells):
        if len(cells) > 2 and any(line.count(separator) >= len(cells) - 1 for line in cell.splitlines()[1:]):
            lines = cell.count("\n") + 1
            message = f"this cell holds {lines} lines that look like rows; is a quotation mark not closed?"
            return ((place, message),)
    return ()
