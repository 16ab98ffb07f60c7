"""Pictures that a book names and its folder does not hold: the only rule that looks at files."""

from collections.abc import Iterator
from pathlib import Path

from benchlore.book.values import Book
from benchlore.notation import Positions, Problem, Severity, did_you_mean, quoted


def missing_pictures(book: Book, positions: Positions, folder: Path) -> Iterator[Problem]:
    """Doubt pictures that are not in the book's folder."""
    for section, parts in (("checks", book.checks), ("fixes", book.fixes)):
        for name, part in parts.items():
            if part.picture is not None and not (folder / part.picture.file).is_file():
                hint = did_you_mean(part.picture.file, _pictures_in(folder)) or "; put it beside the book"
                message = f"the picture {quoted(part.picture.file)} is not in the book's folder{hint}"
                key = (section, name, "picture")
                yield positions.problem(key, "picture-missing", message, Severity.WARNING)


def _pictures_in(folder: Path) -> list[str]:
    try:
        return sorted(path.name for path in folder.iterdir() if path.is_file() and path.suffix != ".yaml")
    except OSError:
        return []
