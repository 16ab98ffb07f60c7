"""XLSX workbooks: one sheet's cells as text. Macros are not run, formulas not computed."""

import re
import warnings
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from itertools import islice, zip_longest
from pathlib import Path
from typing import IO, Any, Final

from openpyxl import Workbook, load_workbook
from openpyxl.utils.datetime import CALENDAR_MAC_1904

from benchlore.jobs.intake.limits import (
    MOST_BYTES,
    MOST_CELLS,
    MOST_COLUMNS,
    MOST_PART_BYTES,
    MOST_PARTS,
    MOST_ROWS,
    MOST_TAGS,
    MOST_UNPACKED,
)
from benchlore.jobs.intake.rows import Row
from benchlore.jobs.intake.trouble import NoSuchSheet, TableBroken, TableTooLarge, TableTrouble, WrongKind

_CHUNK: Final = 1024 * 1024
_BATCH: Final = 1_000
_MB: Final = 1024**2
_LARGE_PART: Final = re.compile(r"/?xl/(worksheets/[^/]+\.xml|sharedStrings\.xml)", re.IGNORECASE)
_PIECE_END: Final = re.compile(rb"</(?:\w+:)?(?:row|si)>")
_FORMULA: Final = re.compile(rb"<(?:\w+:)?f[ />]")
_BROKEN: Final = "the workbook is damaged; open it in a spreadsheet program and save it again"
_UNSAVED: Final = "the formula {} has no saved value; open the file in a spreadsheet program and save it"


@dataclass(frozen=True, slots=True)
class XlsxFile:
    """One sheet of a workbook; ``decimal`` is the mark in numbers' text, ``lines`` its rows as it claims."""

    path: Path
    sheet: str
    decimal: str
    lines: int
    from_1904: bool
    has_formulas: bool

    def rows(self) -> Iterator[Row]:
        """Give every row, empty ones too.

        Raises
        ------
        TableTrouble
            If the sheet is damaged or larger than is read.
        """
        cells = 0
        for number, values in enumerate(_batched(self._values()), 1):
            cells += len(values)
            if number > MOST_ROWS or cells > MOST_CELLS:
                raise TableTooLarge(self.path, f"has more than {MOST_ROWS:,} rows or {MOST_CELLS:,} cells")
            if len(values) > MOST_COLUMNS and any(value is not None for value in values[MOST_COLUMNS:]):
                raise TableTooLarge(self.path, f"has more than {MOST_COLUMNS:,} columns in row {number}")
            yield _row(number, values[:MOST_COLUMNS], self.decimal)

    def _values(self) -> Iterator[tuple[Any, ...]]:
        """Give the sheet's values, with formulas that have no saved value as :class:`_Unsaved`."""
        try:
            with self.path.open("rb") as saved, self.path.open("rb") as written:
                rows = _sheet_rows(saved, self.sheet, data_only=True)
                if not self.has_formulas:
                    yield from rows
                    return
                formulas = _sheet_rows(written, self.sheet, data_only=False)
                for values, texts in zip_longest(rows, formulas, fillvalue=()):
                    yield tuple(map(_marked, values, texts))
        except TableTrouble:
            raise
        except Exception as error:
            raise TableBroken(self.path, _BROKEN) from error


def open_xlsx(path: Path, sheet: str | None = None, decimal: str = ".") -> XlsxFile:
    """Open a workbook's ``sheet`` (the first, if none is named); ``decimal`` is the mark in numbers' text.

    Raises
    ------
    TableTrouble
        If the file is damaged, locked, too large, or lacks the sheet.
    """
    has_formulas = _inspect(path)
    try:
        with path.open("rb") as stream, warnings.catch_warnings():
            warnings.simplefilter("ignore")
            book = _open(stream, data_only=True)
            names = [each.title for each in book.worksheets]
            title = _named(path, sheet, names)
            lines = int(book[title].max_row or 0)
            return XlsxFile(path, title, decimal, lines, book.epoch == CALENDAR_MAC_1904, has_formulas)
    except TableTrouble:
        raise
    except Exception as error:
        raise TableBroken(path, _BROKEN) from error


def text_of(value: Any, decimal: str = ".") -> str:  # noqa: PLR0911  a case for each kind of cell
    """Return a cell's text: numbers with the ``decimal`` mark, dates as ISO, times as ``1:30``."""
    if value is None:
        return ""
    if isinstance(value, str):
        return value
    if isinstance(value, bool):
        return "TRUE" if value else "FALSE"
    if isinstance(value, int | float):
        is_whole = isinstance(value, float) and value.is_integer() and abs(value) < 1e15
        return repr(int(value) if is_whole else value).replace(".", decimal)
    if isinstance(value, datetime):
        return value.date().isoformat() if value.time() == time.min else value.isoformat(" ", "seconds")
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, time):
        return _clock(timedelta(hours=value.hour, minutes=value.minute, seconds=value.second))
    return _clock(value) if isinstance(value, timedelta) else str(value)


@dataclass(frozen=True, slots=True)
class _Unsaved:
    """A formula that was never computed."""

    formula: str


def _clock(span: timedelta) -> str:
    if span < timedelta():
        return f"-{_clock(-span)}"
    whole, seconds = divmod(round(span.total_seconds()), 60)
    hours, minutes = divmod(whole, 60)
    return f"{hours}:{minutes:02}" + (f":{seconds:02}" if seconds else "")


def _row(number: int, values: tuple[Any, ...], decimal: str) -> Row:
    troubles = tuple(
        (place, _UNSAVED.format(value.formula))
        for place, value in enumerate(values)
        if isinstance(value, _Unsaved)
    )
    texts = (value.formula if isinstance(value, _Unsaved) else text_of(value, decimal) for value in values)
    return Row(number, tuple(texts), troubles)


def _marked(value: Any, formula: Any) -> Any:
    """Return the saved value, or the formula where there is none (an object, for several cells)."""
    text = getattr(formula, "text", formula)
    is_unsaved = value is None and isinstance(text, str) and text.startswith("=")
    return _Unsaved(text) if is_unsaved else value


def _open(stream: IO[bytes], *, data_only: bool) -> Workbook:
    return load_workbook(stream, read_only=True, data_only=data_only, keep_links=False)


def _sheet_rows(stream: IO[bytes], title: str, *, data_only: bool) -> Iterator[tuple[Any, ...]]:
    sheet = _open(stream, data_only=data_only)[title]
    sheet.reset_dimensions()  # what a file claims of its size is often wrong
    yield from sheet.iter_rows(values_only=True)


def _batched(rows: Iterator[tuple[Any, ...]]) -> Iterator[tuple[Any, ...]]:
    """Draw rows in batches, with openpyxl's remarks about things that no table needs switched off."""
    while True:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            batch = list(islice(rows, _BATCH))
        if not batch:
            return
        yield from batch


def _named(path: Path, sheet: str | None, names: list[str]) -> str:
    if not names:
        raise TableBroken(path, "the workbook has no sheet with cells")
    if sheet is None or sheet in names:
        return sheet or names[0]
    folded = [name for name in names if name.casefold().split() == sheet.casefold().split()]
    if len(folded) == 1:
        return folded[0]
    raise NoSuchSheet(path, sheet, names)


def _inspect(path: Path) -> bool:
    """Refuse what would fill the memory or is no workbook; say whether there are formulas."""
    if path.stat().st_size > MOST_BYTES:
        raise TableTooLarge(path, f"is larger than {MOST_BYTES // _MB} MB")
    try:
        with zipfile.ZipFile(path) as archive:
            parts = archive.infolist()
            _check_kind(path, {part.filename for part in parts})
            _check_sizes(path, parts)
            found = [_scan(path, archive, part) for part in parts if _LARGE_PART.fullmatch(part.filename)]
            return any(found)
    except TableTrouble:
        raise
    except Exception as error:  # zipfile and zlib fail in many ways on a hostile file
        raise TableBroken(path, _BROKEN) from error


def _check_kind(path: Path, names: set[str]) -> None:
    if "xl/workbook.bin" in names:
        raise WrongKind(path, "a binary workbook (.xlsb)")
    if "content.xml" in names and "mimetype" in names:
        raise WrongKind(path, "an OpenDocument file")
    if "[Content_Types].xml" not in names or not any(name.casefold().startswith("xl/") for name in names):
        raise WrongKind(path, "a ZIP archive without a workbook in it", "unpack it and name the table in it")


def _check_sizes(path: Path, parts: list[zipfile.ZipInfo]) -> None:
    if len(parts) > MOST_PARTS or sum(part.file_size for part in parts) > MOST_UNPACKED:
        raise TableTooLarge(path, f"unpacks to more than {MOST_UNPACKED // _MB} MB or {MOST_PARTS:,} parts")
    for part in parts:
        most = MOST_BYTES if _LARGE_PART.fullmatch(part.filename) else MOST_PART_BYTES
        if part.file_size > most:
            raise TableTooLarge(path, f"holds a part that unpacks to more than {most // _MB} MB")


def _scan(path: Path, archive: zipfile.ZipFile, part: zipfile.ZipInfo) -> bool:
    """Read a sheet as bytes: refuse a row of too many tags, and say whether there are formulas."""
    has_formulas = False
    tags = 0
    tail = b""
    with archive.open(part) as stream:
        while chunk := stream.read(_CHUNK):
            for place, piece in enumerate(_PIECE_END.split(chunk)):
                tags = piece.count(b"<") + (0 if place else tags)
                if tags > MOST_TAGS:
                    raise TableTooLarge(path, f"has a row of more than {MOST_TAGS:,} cells or marks")
            has_formulas = has_formulas or _FORMULA.search(tail + chunk) is not None
            tail = chunk[-20:]
    return has_formulas
