"""What is known of one board and its complaints, read once: what its pages are set from."""

from collections.abc import Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

from benchlore.book import Book, Check, Complaint, Fix
from benchlore.library import (
    BookOverview,
    ComplaintKnown,
    ComplaintOverview,
    KeptSheet,
    Knowledge,
    Library,
    NoPictureError,
    NoProcedureError,
    Planned,
    Proved,
    Sheet,
    book_overview,
    kept_for,
    kept_proof,
    kept_sheet,
    knowledge,
    learn_board,
    picture_of,
    sheet_of,
)
from benchlore.library.pictures import BookPicture
from benchlore.model import Model
from benchlore.procedure import Kind, Step, trimmed
from benchlore.shop import Shop

Pictures = Mapping[str, BookPicture]
"""Each picture of a book, by its file."""

RARE = 0.02
"""Share of jobs below which a step has no place on the page; the program knows the rest."""


@dataclass(frozen=True, eq=False)
class ComplaintSource:
    """A complaint with its model, and its procedure and proof where there are any.

    ``paper`` is what the procedure's sheet is printed from. ``trouble`` says why there is no procedure.
    """

    book: Book
    shop: Shop
    complaint: Complaint
    stands: ComplaintOverview
    known: ComplaintKnown
    model: Model
    planned: Planned | None
    paper: KeptSheet | None
    proved: Proved | None
    trouble: str

    @cached_property
    def sheet(self) -> Sheet | None:
        """The procedure's steps in words."""
        return None if self.planned is None else sheet_of(self.planned.procedure, self.book, min_reach=RARE)

    @property
    def steps(self) -> tuple[Step, ...]:
        """The procedure's steps that the sheet shows, in its order."""
        return () if self.planned is None else trimmed(self.planned.procedure, RARE).steps

    def entry_of(self, step: Step) -> Check | Fix | None:
        """What the book says of a step's action; ``None`` for a return."""
        if step.kind is Kind.RETURN:
            return None
        return self.book.fixes[step.action] if step.kind is Kind.FIX else self.book.checks[step.action]


@dataclass(frozen=True, eq=False)
class BoardSource:
    """A board: its book, how it stands, its complaints, the pictures that its steps show."""

    book: Book
    shop: Shop
    stands: BookOverview
    known: Knowledge
    complaints: tuple[ComplaintSource, ...]
    pictures: Pictures


def board_source(
    library: Library, board: str, shop: Shop, shop_file: Path | None, troubles: Mapping[str, str]
) -> BoardSource:
    """Read a board; ``troubles`` says of complaints why they have no procedure.

    Raises
    ------
    BookRefusedError
        If the book has errors.
    """
    learned = learn_board(library, board)
    known, stands = knowledge(library, board), book_overview(library, board, shop_file)
    by_name = {each.name: each for each in known.complaints}
    complaints = []
    for each in stands.complaints:
        planned = proved = paper = None
        try:
            paper = kept_sheet(library, board, each.name, shop_file=shop_file)
            planned = kept_for(library, learned, each.name, shop)
        except NoProcedureError as error:
            trouble = troubles.get(each.name, str(error))
        else:
            trouble = ""
            if each.proof is not None:
                proved = kept_proof(library, board, each.name, shop_file=shop_file)
        complaints.append(
            ComplaintSource(
                book=learned.book,
                shop=shop,
                complaint=learned.book.complaints[each.name],
                stands=each,
                known=by_name[each.name],
                model=learned.models[each.name],
                planned=planned,
                paper=paper,
                proved=proved,
                trouble=trouble,
            )
        )
    pictures = dict(_pictures(library, learned.book))
    return BoardSource(learned.book, shop, stands, known, tuple(complaints), pictures)


def _pictures(library: Library, book: Book) -> Iterator[tuple[str, BookPicture]]:
    """Read the pictures that checks and fixes show; review has told of those that are missing."""
    entries: tuple[Check | Fix, ...] = (*book.checks.values(), *book.fixes.values())
    for entry in entries:
        if entry.picture is not None:
            with suppress(NoPictureError):
                found = picture_of(library, book.board.name, entry.picture.file)
                if found.size is not None:  # without it, no place on it can be shown
                    yield entry.picture.file, found
