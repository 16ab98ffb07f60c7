"""The files of one board: its page, a folder for each complaint, its pictures, its tables."""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from benchlore.library import Library
from benchlore.press.densities import check_shown
from benchlore.press.site.complaint_files import complaint_files
from benchlore.press.site.entries import entry_of
from benchlore.press.site.paths import board_folder, board_page
from benchlore.press.site.set_page import set_page
from benchlore.press.site.sources import BoardSource, board_source
from benchlore.press.site.values import BoardEntry, Frame, Head


@dataclass(frozen=True, slots=True)
class FilesMade:
    """A board's files by path, and what the rest of the site knows of it."""

    files: Mapping[str, bytes]
    entry: BoardEntry


def board_files(
    library: Library, board: str, shop_file: Path | None, frame: Frame, troubles: Mapping[str, str]
) -> FilesMade:
    """Make a board's files; ``troubles`` says of complaints why they have no procedure.

    Raises
    ------
    BookRefusedError
        If the book has errors.
    """
    source = board_source(library, board, shop_file, troubles)
    entry = entry_of(source)
    files = {entry.path: _page(frame, source, entry)}
    for name, picture in source.pictures.items():
        files[f"{board_folder(board)}/pictures/{name}"] = picture.content
    sizes = {name: picture.size for name, picture in source.pictures.items()}
    for complaint in source.complaints:
        files |= complaint_files(frame, complaint, sizes)
    return FilesMade(files, entry)


def _page(frame: Frame, source: BoardSource, entry: BoardEntry) -> bytes:
    book = source.book
    head = Head(
        path=board_page(book.board.name),
        title=book.board.title,
        description=f"What is known of faults on {book.board.title} ({book.board.device}).",
        licence=book.licence,
        credits=entry.people,
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
    )
