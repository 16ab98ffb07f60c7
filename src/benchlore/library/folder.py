"""The library folder: where everything is kept, how it is found, how a new one is made."""

import re
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from importlib import resources
from pathlib import Path
from typing import Final
from urllib.parse import urlsplit

from benchlore.book import ReadBook, read_book
from benchlore.jobs import Store, StoreMissing
from benchlore.library.allowing import NOBODY, Allowed, read_allowed
from benchlore.library.errors import (
    BoardNameError,
    BookRefusedError,
    LibraryFileError,
    NoBookError,
    NoLibraryError,
    NotEmptyError,
    ShopRefusedError,
)
from benchlore.notation import (
    Document,
    FileNotWritten,
    Problem,
    Severity,
    is_name,
    load_yaml,
    quoted,
    read_text,
    reason_of,
    write_atomic,
)
from benchlore.shop import ReadShop, Shop, read_shop

MARKER: Final = "library.yaml"
FORMAT: Final = "1"

REMEMBERED: Final = 8
"""Books of which what was read is kept: one action asks for the same book many times over."""

LONGEST_REMEMBERED: Final = 256 * 1024
"""Characters of a book that is remembered; no honest one is longer."""


@dataclass(frozen=True, slots=True)
class Library:
    """A library folder: fault books, a shop file, the job store, pictures, and what was compiled."""

    folder: Path
    title: str
    licence: str
    site: str = ""
    """The address that the library's site stands at, with a slash at its end; ``""`` where it has none."""
    records: Mapping[str, Allowed] = field(default_factory=lambda: NOBODY)
    """What each shop that sent records allows; a shop that is not named allows nothing."""

    @property
    def books(self) -> Path:
        """The folder with a folder for each book."""
        return self.folder / "books"

    @property
    def skills(self) -> Path:
        """The folder with the skills pages."""
        return self.folder / "skills"

    @property
    def store(self) -> Path:
        """The job store's file."""
        return self.folder / "jobs.sqlite"

    @property
    def compiled(self) -> Path:
        """The folder for models and procedures; it can be deleted and made anew."""
        return self.folder / "compiled"

    @property
    def rejects(self) -> Path:
        """The folder for refused rows that wait to be mended."""
        return self.folder / "rejects"

    @property
    def shop_file(self) -> Path:
        """The shop file that is used when none is named."""
        return self.folder / "shop.yaml"

    def boards(self) -> tuple[str, ...]:
        """Names of the boards that have a book, sorted."""
        return tuple(sorted(path.parent.name for path in self.books.glob("*/book.yaml")))

    def book_file(self, board: str) -> Path:
        """The path of a board's book; raises ``NoBookError`` if there is none."""
        if board not in self.boards():
            raise NoBookError(board, self.boards())
        return self.books / board / "book.yaml"

    def shown(self, path: Path) -> str:
        """A path as messages show it: relative to the folder where it lies inside."""
        return str(path.relative_to(self.folder)) if path.is_relative_to(self.folder) else str(path)


def open_library(start: Path) -> Library:
    """Open the library at ``start`` or in the nearest folder above it.

    Raises
    ------
    NoLibraryError
        If there is none.
    LibraryFileError
        If its ``library.yaml`` cannot be understood.
    """
    start = start.resolve()
    if not start.is_dir():
        raise NoLibraryError(start)
    for folder in (start, *start.parents):
        if (folder / MARKER).is_file():
            return _library(folder, load_yaml(read_text(folder / MARKER), str(folder / MARKER)))
    raise NoLibraryError(start)


def init_library(folder: Path, *, title: str, board: str) -> Library:
    """Make a library in ``folder`` with a shop file and a first, working book about ``board``.

    Raises
    ------
    BoardNameError
        If no board can be called so.
    NotEmptyError
        If the folder holds anything.
    FileNotWritten
        If it cannot be written.
    """
    if not is_name(board):
        raise BoardNameError(board)
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise NotEmptyError(folder, folder.name if not folder.is_dir() else next(folder.iterdir()).name)
    make_folder(folder / "books" / board)
    fields = {"name": _quoted(title), "board": _quoted(board.replace("-", " "))}
    # The marker comes last: a half-made folder is then no library.
    for name, target in (
        ("shop.yaml", folder / "shop.yaml"),
        ("book.yaml", folder / "books" / board / "book.yaml"),
        ("library.yaml", folder / MARKER),
    ):
        write_atomic(target, _template(name, fields))
    return open_library(folder)


def read_book_of(library: Library, board: str) -> ReadBook:
    """Read a board's book; its problems stay with it."""
    path = library.book_file(board)
    text, file = read_text(path), library.shown(path)
    return (_read if len(text) <= LONGEST_REMEMBERED else _read.__wrapped__)(text, file, board)


@lru_cache(maxsize=REMEMBERED)
def _read(text: str, file: str, board: str) -> ReadBook:
    """Read a book's text; what is read is never changed, so that all who ask may share it."""
    return read_book(text, file=file, name=board)


def sound_book_of(library: Library, board: str) -> ReadBook:
    """Read a board's book and insist that it has no errors (``BookRefusedError``)."""
    read = read_book_of(library, board)
    if read.book is None:
        raise BookRefusedError(board, errors_in(read.problems))
    return read


def read_shop_of(library: Library, path: Path | None = None, *, described: Collection[str] = ()) -> ReadShop:
    """Read a shop file, the library's own if none is named; ``described`` is equipment that books add."""
    path = path or library.shop_file
    return read_shop(read_text(path), file=library.shown(path), described=described)


def sound_shop_of(library: Library, path: Path | None = None) -> Shop:
    """Read a shop file and insist that it has no errors (``ShopRefusedError``)."""
    read = read_shop_of(library, path)
    if read.shop is None:
        raise ShopRefusedError(path or library.shop_file, errors_in(read.problems))
    return read.shop


def store_of(library: Library) -> Store | None:
    """Open the job store; ``None`` where there is none yet, or only the file of one that was never made."""
    if not library.store.exists():
        return None
    try:
        return Store.open(library.store, create=False)
    except StoreMissing:
        return None


def errors_in(problems: tuple[Problem, ...]) -> tuple[Problem, ...]:
    """Keep the problems that refuse a file."""
    return tuple(problem for problem in problems if problem.severity is Severity.ERROR)


def _library(folder: Path, document: Document) -> Library:
    data = document.data if isinstance(document.data, dict) else {}
    problems = list(document.problems)
    if not problems and data.get("library") != FORMAT:
        found = f"found {quoted(data['library'])}" if data.get("library") else "and it is not there"
        problems.append(
            document.positions.problem(("library",), "format", f"'library: {FORMAT}' is expected, {found}")
        )
    if problems:
        raise LibraryFileError(tuple(problems))
    records, problems_of_records = read_allowed(data.get("records"), document.positions)
    if problems_of_records:
        raise LibraryFileError(problems_of_records)
    name, licence = data.get("name"), data.get("licence")
    try:
        site = site_address(str(data.get("site") or ""))
    except ValueError as error:
        raise LibraryFileError((document.positions.problem(("site",), "address", str(error)),)) from None
    return Library(
        folder=folder,
        title=name if isinstance(name, str) else folder.name,
        licence=licence if isinstance(licence, str) else "",
        site=site,
        records=records,
    )


def site_address(text: str) -> str:
    """Return the address of a site with a slash at its end; ``""`` for none.

    Raises ``ValueError`` for what is no address of a folder on the web.

    >>> site_address("https://repair.example/boards")
    'https://repair.example/boards/'
    """
    if not text:
        return ""
    parts = urlsplit(text)
    plain = text.isascii() and text.isprintable() and not set(text) & set(' \\"<>')
    if (
        parts.scheme not in {"http", "https"}
        or not parts.hostname
        or parts.query
        or parts.fragment
        or not plain
    ):
        raise ValueError(
            f"{quoted(text)} is no address of a site; expected one like 'https://repair.example/'"
        )
    return f"{text.rstrip('/')}/"


def make_folder(folder: Path) -> None:
    """Make a folder and those above it; raises ``FileNotWritten``."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise FileNotWritten(folder, reason_of(error)) from error


def _template(name: str, fields: dict[str, str]) -> str:
    text = (resources.files("benchlore.library") / "templates" / name).read_text(encoding="utf-8")
    return re.sub(r'"\{(\w+)\}"', lambda match: fields[match[1]], text)


def _quoted(text: str) -> str:
    """Write a text as a YAML scalar in double quotes."""
    escaped = text.replace("\\", "\\\\").replace('"', '\\"').replace("\n", " ")
    return f'"{escaped}"'
