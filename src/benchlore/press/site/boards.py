"""One board of the site: planned where it has to be, fingerprinted, and its files made.

A board is the piece of work that goes to another process, and that is left alone while nothing that it was
made
from has changed.
"""

from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import date
from functools import cache
from hashlib import sha256
from pathlib import Path
from typing import Final

import benchlore
from benchlore.jobs import JobColumns
from benchlore.library import (
    BookRefusedError,
    Library,
    NoProcedureError,
    kept_plan,
    plan_complaint,
    sound_book_of,
)
from benchlore.library.compiled import digest_of_shop, procedure_folder, stamp_of
from benchlore.library.folder import store_of
from benchlore.model import ModelError
from benchlore.notation import FileNotWritten, FileTrouble, is_name, quoted
from benchlore.press.site.board_files import board_files
from benchlore.press.site.folder import digest_of_file, gather
from benchlore.press.site.manifest import BoardMade
from benchlore.press.site.values import Frame, Refused
from benchlore.press.text import printable
from benchlore.procedure import Effort, PlanningError
from benchlore.shop import Shop

NOT_PLANNED: Final = "It is not planned yet."
PROGRAM: Final = ("*.py", "*.html", "*.css", "*.js")


@dataclass(frozen=True, slots=True)
class Wanted:
    """What is asked of every board.

    ``effort`` is how hard procedures that are missing are looked for, ``None`` where none is to be planned;
    with ``renew`` those that are stale are planned anew too. ``today`` is the day that such plans bear.
    """

    library: Library
    shop: Shop
    shop_file: Path | None
    frame: Frame
    effort: Effort | None
    renew: bool
    today: date


@dataclass(frozen=True, slots=True)
class Task:
    """A board to be made, and where its files are gathered."""

    wanted: Wanted
    board: str
    stage: Path


def make_board(task: Task) -> BoardMade:
    """Plan what is missing, and make a board's files; a book that is refused gives the reasons alone."""
    wanted, board = task.wanted, task.board
    try:
        _insist_on_name(board)
        troubles = dict(_planned(wanted, board))
        content = content_of(wanted, board)
        made = board_files(wanted.library, board, wanted.shop, wanted.shop_file, wanted.frame, troubles)
    except (BookRefusedError, FileTrouble, ModelError, NotANameError) as error:
        reasons = tuple(line.strip() for line in str(error).splitlines())
        made_from = made_from_of(wanted, content_of(wanted, board))
        return BoardMade(made_from, {}, None, Refused(printable(board), tuple(map(printable, reasons))))
    files = {path: gather(task.stage, path, text) for path, text in made.files.items()}
    return BoardMade(made_from_of(wanted, content), files, replace(made.entry, content=content), None)


class NotANameError(Exception):
    """A book's folder is called what no address can hold."""

    def __init__(self, board: str) -> None:
        super().__init__(
            f"the folder {quoted(board)} has no name for a page: use lower-case letters, digits and hyphens"
        )


def _insist_on_name(board: str) -> None:
    if not is_name(board):
        raise NotANameError(board)


def is_lacking(wanted: Wanted, made: BoardMade) -> bool:
    """Whether a board that has not changed is to be planned all the same, as it was not before."""
    complaints = () if made.entry is None else made.entry.complaints
    return any(
        (wanted.effort is not None and each.trouble == NOT_PLANNED) or (wanted.renew and bool(each.stale))
        for each in complaints
    )


def content_of(wanted: Wanted, board: str) -> str:
    """Fingerprint what is known of a board: its book and pictures, its jobs, what was planned and proven."""
    library, shop = wanted.library, wanted.shop
    folder = library.books / board
    jobs = ""
    with suppress(FileTrouble):  # a book that cannot be read is refused, and its jobs tell nothing
        jobs = stamp_of(library, board, _columns(library, board))["jobs"]
    slug = procedure_folder(library, board, "*", shop).name
    beside = sorted(path for path in folder.rglob("*") if path.is_file())
    kept = sorted((library.compiled / board).glob(f"*/{slug}/*.json"))
    said = [
        jobs,
        digest_of_shop(shop),
        [(str(path.relative_to(folder)), digest_of_file(path)) for path in beside],
        [(str(path.relative_to(library.compiled)), digest_of_file(path)) for path in kept],
    ]
    return _digest(said)


def made_from_of(wanted: Wanted, content: str) -> str:
    """Fingerprint all that a board's files are made from: what is known, the frame, the program."""
    return _digest([content, wanted.frame, benchlore.__version__, _program()])


def _digest(said: Sequence[object]) -> str:
    return sha256(repr(said).encode("utf-8", "surrogatepass")).hexdigest()


@cache
def _program() -> str:
    """Fingerprint the program and its templates: a change of either changes pages."""
    root = Path(benchlore.__file__).parent
    digest = sha256()
    for path in sorted(path for kind in PROGRAM for path in root.rglob(kind)):
        digest.update(f"{path.relative_to(root)} {digest_of_file(path)}\n".encode())
    return digest.hexdigest()


def _columns(library: Library, board: str) -> JobColumns | None:
    store = store_of(library)
    if store is None:
        return None
    with store:
        return store.columns(board)


def _planned(wanted: Wanted, board: str) -> Iterator[tuple[str, str]]:
    """Plan what is missing; name each complaint that stays without a procedure, and why."""
    book = sound_book_of(wanted.library, board).book
    assert book is not None
    for complaint in book.complaints:
        stale: tuple[str, ...] | None = None
        with suppress(NoProcedureError):
            stale = kept_plan(wanted.library, board, complaint, shop_file=wanted.shop_file).stale
        if stale == () or (stale and not wanted.renew):
            continue
        if wanted.effort is None:
            if stale is None:
                yield complaint, NOT_PLANNED
            continue
        try:
            plan_complaint(
                wanted.library,
                board,
                complaint,
                shop_file=wanted.shop_file,
                effort=wanted.effort,
                today=wanted.today,
            )
        except (PlanningError, FileNotWritten) as error:
            yield complaint, str(error)
