"""The names that cells of each kind may hold: a library's boards, a book's things, the words of a job."""

from collections.abc import Mapping

from benchlore.book import Book, Check
from benchlore.jobs.intake.names import Names, names_of
from benchlore.jobs.values import UNLISTED, Outcome, Retest


def board_names(books: Mapping[str, Book], words: Mapping[str, str] | None = None) -> Names:
    """Lay out the boards that a cell may name: by identifier, title and device."""
    boards = ((name, book.board.title, (book.board.device,)) for name, book in books.items())
    return Names("board of this library", names_of(boards), words)


def complaint_names(book: Book, words: Mapping[str, str] | None = None) -> Names:
    """Lay out a book's complaints."""
    each = ((name, one.title, one.also) for name, one in book.complaints.items())
    return Names(f"complaint of {book.board.name}", names_of(each), words)


def fault_names(book: Book, words: Mapping[str, str] | None = None) -> Names:
    """Lay out a book's faults, and ``unlisted``."""
    each = ((name, one.title, one.also) for name, one in book.faults.items())
    return Names(f"fault of {book.board.name}", names_of((*each, (UNLISTED, "", ()))), words)


def check_names(book: Book, words: Mapping[str, str] | None = None) -> Names:
    """Lay out a book's checks."""
    each = ((name, one.title, one.also) for name, one in book.checks.items())
    return Names(f"check of {book.board.name}", names_of(each), words)


def fix_names(book: Book, words: Mapping[str, str] | None = None) -> Names:
    """Lay out a book's fixes."""
    each = ((name, one.title, one.also) for name, one in book.fixes.items())
    return Names(f"fix of {book.board.name}", names_of(each), words)


def result_names(check: Check, words: Mapping[str, str] | None = None) -> Names:
    """Lay out a check's results; a measured check has only the mapping's words."""
    return Names(f"result of {check.name}", dict.fromkeys(check.results, ()), words)


def outcome_names(words: Mapping[str, str] | None = None) -> Names:
    """Lay out how a job may end."""
    return Names("outcome of a job", dict.fromkeys(map(str, Outcome), ()), words)


def retest_names(words: Mapping[str, str] | None = None) -> Names:
    """Lay out what a retest may show."""
    return Names("outcome of a retest", dict.fromkeys(map(str, Retest), ()), words)


def comeback_names(words: Mapping[str, str] | None = None) -> Names:
    """Lay out yes and no."""
    return Names("yes-or-no answer", {"yes": (), "no": ()}, words)
