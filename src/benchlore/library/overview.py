"""Where a library stands: every book with its jobs, its findings, its plans and its proofs.

Nothing is learned, planned or proven for it: what is kept is shown, with what has changed since. The answer
for a book is kept too, under a fingerprint of all that it was made from, so that a library of many books
answers at once.
"""

from collections.abc import Mapping
from contextlib import ExitStack, suppress
from dataclasses import dataclass
from hashlib import sha256
from math import isfinite
from pathlib import Path
from typing import Any, Final

from pydantic import TypeAdapter, ValidationError

from benchlore.book import Book
from benchlore.jobs import Store
from benchlore.library.compiled import (
    changed,
    digest_of_shop,
    procedure_folder,
    read_json,
    stamp_of,
    write_json,
)
from benchlore.library.errors import NoProcedureError, ShopRefusedError
from benchlore.library.folder import Library, sound_shop_of, store_of
from benchlore.library.planning import is_of, read_kept
from benchlore.library.proving import read_proof
from benchlore.library.reviewing import review_read
from benchlore.notation import FileNotWritten, FileTrouble, Severity
from benchlore.procedure import Kind, Procedure
from benchlore.proof import Estimate
from benchlore.shop import Shop

FORMAT: Final = 2
"""Of what is kept; another format's is made anew."""


@dataclass(frozen=True, slots=True)
class PlanKept:
    """A kept procedure in figures: expected cost in ``currency`` and expected minutes of a job.

    ``gap`` is how far above the bound the cost stands, ``None`` where there is no bound; ``is_sampled`` says
    whether that comes from a sample, and may not hold. ``stale`` names what has changed since it was planned,
    as everywhere here.
    """

    expected: float
    currency: str
    hands_on: float
    waiting: float
    steps: int
    is_optimal: bool
    gap: float | None
    is_sampled: bool
    learned_from: int
    stale: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ProofKept:
    """A kept proof in figures: the standing, the held-out jobs, the share of boards that the book knows."""

    standing: str
    jobs: int
    known: Estimate
    stale: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ComplaintOverview:
    """One complaint of a book; ``None`` where nothing is planned, or proven, for the shop."""

    name: str
    title: str
    is_intermittent: bool
    jobs: int
    plan: PlanKept | None
    proof: ProofKept | None


@dataclass(frozen=True, slots=True)
class BookOverview:
    """One book; a book that ``is_refused`` has errors, so that only its board's name and jobs are known."""

    board: str
    title: str
    device: str
    licence: str
    is_refused: bool
    errors: int
    warnings: int
    notes: int
    jobs: int
    complaints: tuple[ComplaintOverview, ...]


@dataclass(frozen=True, slots=True)
class Overview:
    """A library's books in the order of their names; ``shop`` is whose plans and proofs are shown.

    Where the shop file has errors, ``shop`` is ``None`` and ``trouble`` says what they are; no plan or proof
    is then known.
    """

    shop: str | None
    trouble: str
    books: tuple[BookOverview, ...]


KEPT: Final = TypeAdapter(BookOverview)


def overview(library: Library, shop_file: Path | None = None) -> Overview:
    """Say where every book stands for a shop, the library's own where none is named."""
    shop, trouble = _shop(library, shop_file)
    with ExitStack() as stack:
        store = store_of(library)
        if store is not None:
            stack.enter_context(store)
        books = tuple(_book(library, board, shop, store) for board in library.boards())
    return Overview(None if shop is None else shop.name, trouble, books)


def book_overview(library: Library, board: str, shop_file: Path | None = None) -> BookOverview:
    """Say where one book stands; raises ``NoBookError``."""
    library.book_file(board)
    shop, _ = _shop(library, shop_file)
    with ExitStack() as stack:
        store = store_of(library)
        if store is not None:
            stack.enter_context(store)
        return _book(library, board, shop, store)


def expected_minutes(procedure: Procedure, book: Book) -> tuple[float, float]:
    """Return the hands-on and the waiting minutes that a job takes on average, with retests and setups."""
    hands_on = waiting = 0.0
    retest = book.complaints[procedure.complaint].retest
    for step in procedure.steps:
        if step.kind is Kind.RETURN:
            continue
        entry = book.fixes[step.action] if step.kind is Kind.FIX else book.checks[step.action]
        works = [entry.work, *(book.setups[name].work for name in step.setups)]
        hands_on += step.reach * sum(work.takes for work in works)
        waiting += step.reach * (sum(work.waits for work in works) + step.soak)
        if step.kind is Kind.FIX:
            hands_on += step.reach * retest.takes
    return hands_on, waiting


def _shop(library: Library, shop_file: Path | None) -> tuple[Shop | None, str]:
    try:
        return sound_shop_of(library, shop_file), ""
    except (ShopRefusedError, FileTrouble) as error:
        return None, str(error)


def _book(library: Library, board: str, shop: Shop | None, store: Store | None) -> BookOverview:
    try:
        columns = None if store is None else store.columns(board)
        stamp: dict[str, Any] = dict(stamp_of(library, board, columns))
    except FileTrouble:
        return _unreadable(board, store)
    stamp["shop"] = "" if shop is None else digest_of_shop(shop)
    path = library.compiled / board / f"overview-{stamp['shop'][:12] or 'no-shop'}.json"
    key = _key(library, board, stamp)
    with suppress(FileTrouble, ValueError, ValidationError, KeyError, TypeError):
        kept = read_json(path)
        if kept["made_from"] == key:
            return KEPT.validate_python(kept["book"])
    counts = {} if store is None else _counts(store, board)
    found = _look(library, board, shop, stamp, counts)
    with suppress(FileNotWritten):  # a library that may only be read still answers
        write_json(path, {"made_from": key, "book": KEPT.dump_python(found, mode="json")})
    return found


def _key(library: Library, board: str, stamp: Mapping[str, Any]) -> str:
    """Fingerprint all that a book's overview is made from; pictures and kept files go by name and age."""
    digest = sha256(repr((FORMAT, sorted(stamp.items()))).encode())
    kept = [path for name in ("procedure", "made-from", "proof") for path in _kept(library, board, name)]
    beside = [path for path in library.book_file(board).parent.iterdir() if path.is_file()]
    for path in sorted([*kept, *beside]):
        with suppress(OSError):
            stat = path.stat()
            digest.update(repr((path.name, path.parent.name, stat.st_size, stat.st_mtime_ns)).encode())
    return digest.hexdigest()


def _kept(library: Library, board: str, name: str) -> list[Path]:
    return list((library.compiled / board).glob(f"*/*/{name}.json"))


def _counts(store: Store, board: str) -> dict[str, int]:
    """Count a board's jobs by complaint; all of them under ``""``."""
    counts: dict[str, int] = {"": 0}
    for job in store.jobs(board=board):
        counts[""] += 1
        counts[job.complaint] = counts.get(job.complaint, 0) + 1
    return counts


def _unreadable(board: str, store: Store | None) -> BookOverview:
    jobs = 0 if store is None else store.count(board=board)
    return BookOverview(board, board, "", "", True, 1, 0, 0, jobs, ())


def _look(
    library: Library, board: str, shop: Shop | None, stamp: Mapping[str, Any], counts: Mapping[str, int]
) -> BookOverview:
    reviewed, read = review_read(library, board)
    book = None if read is None else read.book
    return BookOverview(
        board=board,
        title=board if book is None else book.board.title,
        device="" if book is None else book.board.device,
        licence="" if book is None else book.licence,
        is_refused=book is None,
        errors=reviewed.count(Severity.ERROR),
        warnings=reviewed.count(Severity.WARNING),
        notes=reviewed.count(Severity.NOTE),
        jobs=counts.get("", 0),
        complaints=()
        if book is None
        else tuple(
            ComplaintOverview(
                name=name,
                title=complaint.title,
                is_intermittent=complaint.about_every is not None,
                jobs=counts.get(name, 0),
                plan=None if shop is None else _plan(library, book, name, shop, stamp),
                proof=None if shop is None else _proof(library, book, name, shop, stamp),
            )
            for name, complaint in book.complaints.items()
        ),
    )


def _plan(
    library: Library, book: Book, complaint: str, shop: Shop, stamp: Mapping[str, Any]
) -> PlanKept | None:
    try:
        procedure, made_from = read_kept(library, book.board.name, complaint, shop)
    except NoProcedureError:
        return None
    if not is_of(procedure, book):
        return None
    hands_on, waiting = expected_minutes(procedure, book)
    return PlanKept(
        expected=procedure.expected,
        currency=procedure.currency,
        hands_on=hands_on,
        waiting=waiting,
        steps=len(procedure.steps),
        is_optimal=procedure.proof == "optimal",
        gap=procedure.gap if isfinite(procedure.gap) else None,
        is_sampled=procedure.is_sampled,
        learned_from=int(made_from["learned_from"]),
        stale=changed(made_from, stamp),
    )


def _proof(
    library: Library, book: Book, complaint: str, shop: Shop, stamp: Mapping[str, Any]
) -> ProofKept | None:
    path = procedure_folder(library, book.board.name, complaint, shop) / "proof.json"
    if (found := read_proof(path)) is None:
        return None
    proof, made_from = found
    return ProofKept(
        standing=proof.standing.standing.value,
        jobs=len(proof.replay.jobs),
        known=proof.coverage.known,
        stale=changed(made_from, stamp),
    )
