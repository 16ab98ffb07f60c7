"""Reviewing what a library holds: its books and its shop file."""

from dataclasses import dataclass

from benchlore.book import review
from benchlore.library.folder import Library, read_book_of, read_shop_of
from benchlore.notation import FileMissing, Problem, Severity


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
    """Review one book, its pictures included."""
    path = library.book_file(board)
    return Reviewed(board, library.shown(path), review(read_book_of(library, board), folder=path.parent))


def review_library(library: Library) -> tuple[Reviewed, ...]:
    """Review the shop file and every book."""
    return (_review_shop(library), *(review_book(library, board) for board in library.boards()))


def _review_shop(library: Library) -> Reviewed:
    file = library.shown(library.shop_file)
    books = (read_book_of(library, board).book for board in library.boards())
    described = {name for book in books if book for name in book.equipment}
    try:
        return Reviewed("shop", file, read_shop_of(library, described=described).problems)
    except FileMissing as error:
        return Reviewed("shop", file, (Problem(file, None, "no-shop", str(error)),))
