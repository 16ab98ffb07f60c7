"""A book's text, changed in place: never over another's change, never half, never with errors unawares."""

import fcntl
import os
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from difflib import unified_diff
from hashlib import sha256
from pathlib import Path
from typing import Literal

from benchlore.library.errors import LibraryError
from benchlore.library.folder import Library, errors_in
from benchlore.library.reviewing import Reviewed, review_text
from benchlore.notation import FileMissing, FileTooLarge, FileUnreadable, read_text, reason_of, write_atomic
from benchlore.notation.files import LARGEST


class BookChangedError(LibraryError):
    """Somebody changed the book since its text was opened; ``now`` is what it says."""

    def __init__(self, board: str, now: "BookText") -> None:
        self.board, self.now = board, now
        super().__init__(
            f"the book '{board}' was changed since you opened it, so nothing was saved; look at both "
            f"versions and choose"
        )


class BookUnsoundError(LibraryError):
    """The text to save has errors, and nobody confirmed that it shall be saved all the same."""

    def __init__(self, board: str, reviewed: Reviewed) -> None:
        self.board, self.reviewed = board, reviewed
        errors = len(errors_in(reviewed.problems))
        super().__init__(
            f"the book '{board}' would have {errors} error{'' if errors == 1 else 's'}, and a book with "
            f"errors cannot be planned from; nothing was saved; mend it, or confirm that it shall be saved so"
        )


@dataclass(frozen=True, slots=True)
class BookText:
    """A book's text, with line feeds alone, and its fingerprint: what a later save says that it saw."""

    text: str
    sha256: str


@dataclass(frozen=True, slots=True)
class DiffLine:
    """A line of a comparison: what became of it, and its text; a ``place`` says where the next ones stand."""

    kind: Literal["place", "same", "removed", "added"]
    text: str


@dataclass(frozen=True, slots=True)
class Saved:
    """A book that was saved: what it said before, what it says now, and its review."""

    before: BookText
    now: BookText
    reviewed: Reviewed

    @property
    def diff(self) -> tuple[DiffLine, ...]:
        """The lines that changed, with three around them."""
        return diff_of(self.before.text, self.now.text)


def book_text(library: Library, board: str) -> BookText:
    """Read a book's text to be changed; raises ``NoBookError`` or ``FileTrouble``."""
    return _text(read_text(library.book_file(board)))


def save_book(library: Library, board: str, text: str, *, seen: str, unsound: bool = False) -> Saved:
    """Save a book's text, whole or not at all.

    Parameters
    ----------
    text
        The new text; its line ends become line feeds.
    seen
        The fingerprint of the text that was changed.
    unsound
        Whether a text with errors shall be saved too.

    Raises
    ------
    NoBookError
        If there is no such book.
    BookChangedError
        If the book says something else than what was seen.
    BookUnsoundError
        If the text has errors and ``unsound`` is not said.
    FileTrouble
        If the text is too large, or the file cannot be read or written.
    """
    path = library.book_file(board)
    new = clean_text(path, text)
    reviewed, _ = review_text(library, board, new.text)
    with alone(path):
        before = _text(read_text(path))
        if before.sha256 != seen:
            raise BookChangedError(board, before)
        if not unsound and not reviewed.is_sound:
            raise BookUnsoundError(board, reviewed)
        if new != before:
            write_atomic(path, new.text)
    return Saved(before, new, reviewed)


def clean_text(path: Path, text: str) -> BookText:
    """Make line ends line feeds and refuse what is larger than a book may be (``FileTooLarge``)."""
    new = _text(text.replace("\r\n", "\n").replace("\r", "\n"))
    if len(text.encode("utf-8", "replace")) > LARGEST:
        raise FileTooLarge(path, LARGEST)
    return new


def diff_of(before: str, now: str) -> tuple[DiffLine, ...]:
    """Compare two texts line by line; none where they are equal."""
    kinds: dict[str, Literal["same", "removed", "added"]] = {" ": "same", "-": "removed", "+": "added"}
    lines = unified_diff(before.splitlines(), now.splitlines(), lineterm="", n=3)
    found = []
    for number, line in enumerate(lines):
        if number < 2:
            continue  # the names of the two files, which are one
        found.append(DiffLine("place", line) if line.startswith("@@") else DiffLine(kinds[line[0]], line[1:]))
    return tuple(found)


def _text(text: str) -> BookText:
    return BookText(text, sha256(text.encode("utf-8", "replace")).hexdigest())


@contextmanager
def alone(path: Path) -> Iterator[None]:
    """Let nobody else save between the look at a file and its writing, in this program or another."""
    try:
        handle = os.open(path.parent, os.O_RDONLY)
    except FileNotFoundError:
        raise FileMissing(path) from None
    except OSError as error:
        raise FileUnreadable(path, reason_of(error)) from error
    try:
        fcntl.flock(handle, fcntl.LOCK_EX)
        yield
    finally:
        os.close(handle)
