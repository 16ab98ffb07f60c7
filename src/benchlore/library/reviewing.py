"""Reviewing what a library holds: its books and its shop file."""

from contextlib import suppress
from dataclasses import dataclass

from benchlore.book import ReadBook, read_book, review
from benchlore.library.folder import Library, read_book_of, read_shop_of
from benchlore.library.skills import skill_names, skill_of
from benchlore.notation import FileTrouble, Position, Problem, Severity, read_text


@dataclass(frozen=True, slots=True)
class Reviewed:
    """Findings about one file; ``what`` is a board's name, ``shop``, or ``skills/`` and a page's name."""

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
    return review_read(library, board)[0]


def review_read(library: Library, board: str) -> tuple[Reviewed, ReadBook | None]:
    """Review one book, and return it as it was read; ``None`` where its file cannot be read."""
    path = library.book_file(board)
    try:
        return review_text(library, board, read_text(path))
    except FileTrouble as trouble:
        file = library.shown(path)
        return Reviewed(board, file, (_unreadable(file, trouble),)), None


def review_text(library: Library, board: str, text: str) -> tuple[Reviewed, ReadBook]:
    """Review a text as if it were a board's book, beside the pictures that the book has."""
    path = library.book_file(board)
    file = library.shown(path)
    read = read_book(text, file=file, name=board)
    return Reviewed(board, file, review(read, folder=path.parent)), read


def review_library(library: Library) -> tuple[Reviewed, ...]:
    """Review the shop file, every book and every skills page."""
    return (
        _review_shop(library),
        *(review_book(library, board) for board in library.boards()),
        *(_review_skill(library, name) for name in skill_names(library)),
    )


def _review_skill(library: Library, name: str) -> Reviewed:
    file = library.shown(library.skills / f"{name}.md")
    return Reviewed(f"skills/{name}", file, skill_of(library, name).problems)


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
    place = None if trouble.line is None else Position(trouble.line, 1)
    return Problem(file, place, "unreadable", trouble.said)
