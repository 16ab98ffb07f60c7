"""Reviewing what a library holds: its books and its shop file."""

from contextlib import suppress
from dataclasses import dataclass

from benchlore.book import review
from benchlore.library.folder import Library, read_book_of, read_shop_of
from benchlore.notation import FileTrouble, Problem, Severity


@dataclass(frozen=True, slots=True)
class Reviewed:
    """Findings about one file; ``what`` is a board's name, or ``shop``."""

    what: str
    file: str
    problems: tuple[Problem, ...]

    def count(self, severity: Severity) -> int:
        """Count the findings of one severity."""
        return sum(problem.severity is severity for problem in self.problems)

    @property
    def is_sound(self) -> bool:
        """Whether nothing in the file refuses it."""
        return self.count(Severity.ERROR) == 0


def review_book(library: Library, board: str) -> Reviewed:
    """Review one book, its pictures included; a file that cannot be read is a finding like others."""
    path = library.book_file(board)
    file = library.shown(path)
    try:
        return Reviewed(board, file, review(read_book_of(library, board), folder=path.parent))
    except FileTrouble as trouble:
        return Reviewed(board, file, (_unreadable(file, trouble),))


def review_library(library: Library) -> tuple[Reviewed, ...]:
    """Review the shop file and every book."""
    return (_review_shop(library), *(review_book(library, board) for board in library.boards()))


def _review_shop(library: Library) -> Reviewed:
    file = library.shown(library.shop_file)
    try:
        return Reviewed("shop", file, read_shop_of(library, described=_described(library)).problems)
    except FileTrouble as trouble:
        return Reviewed("shop", file, (_unreadable(file, trouble),))


def _described(library: Library) -> set[str]:
    """Equipment that the library's books describe: a shop may own it too."""
    found: set[str] = set()
    for board in library.boards():
        with suppress(FileTrouble):
            book = read_book_of(library, board).book
            found |= set(book.equipment) if book else set()
    return found


def _unreadable(file: str, trouble: FileTrouble) -> Problem:
    return Problem(file, None, "unreadable", str(trouble))
