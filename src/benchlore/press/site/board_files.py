"""The files of one board: its page, a folder for each complaint, its pictures, its tables."""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from benchlore.library import Library
from benchlore.press.densities import check_shown
from benchlore.press.site.complaint_files import complaint_files
from benchlore.press.site.entries import entry_of
from benchlore.press.site.paths import picture_path
from benchlore.press.site.set_page import set_page
from benchlore.press.site.sources import BoardSource, board_source
from benchlore.press.site.structured import dataset
from benchlore.press.site.tables import table_files
from benchlore.press.site.values import BoardEntry, Frame, Head, Link
from benchlore.press.text import person_line
from benchlore.shop import Shop

TABLES_TOLD: Final = {
    "faults.csv": "How frequent each fault is (CSV)",
    "checks.csv": "What can be checked (CSV)",
    "jobs.csv": "How many jobs are recorded (CSV)",
    "datapackage.json": "What the columns mean (Data Package)",
}


@dataclass(frozen=True, slots=True)
class FilesMade:
    """A board's files by path, and what the rest of the site knows of it."""

    files: Mapping[str, bytes]
    entry: BoardEntry


def board_files(
    library: Library,
    board: str,
    shop: Shop,
    shop_file: Path | None,
    frame: Frame,
    troubles: Mapping[str, str],
) -> FilesMade:
    """Make a board's files; ``troubles`` says of complaints why they have no procedure.

    Raises
    ------
    BookRefusedError
        If the book has errors.
    """
    source = board_source(library, board, shop, shop_file, troubles)
    entry = entry_of(source)
    tables = table_files(source)
    links = tuple(Link(path, TABLES_TOLD[path.rpartition("/")[2]]) for path in tables)
    files = {**tables, entry.path: _page(frame, source, entry, links)}
    for name, picture in source.pictures.items():
        files[picture_path(board, name, picture.content)] = picture.content
    for complaint in source.complaints:
        files |= complaint_files(frame, complaint, source.pictures)
    return FilesMade(files, entry)


def _page(frame: Frame, source: BoardSource, entry: BoardEntry, tables: tuple[Link, ...]) -> bytes:
    book = source.book
    head = Head(
        path=entry.path,
        title=book.board.title,
        description=f"What is known of faults on {book.board.title} ({book.board.device}).",
        structured=(dataset(frame, source, entry.path, tables),),
        licence=book.licence,
        credits=tuple(map(person_line, book.people.values())),
    )
    return set_page(
        frame,
        head,
        "board.html",
        book=book,
        stands=source.stands,
        known=source.known,
        entry=entry,
        checks=tuple(map(check_shown, source.known.checks)),
        tables=tables,
    )
