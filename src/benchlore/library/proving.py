"""Proving a library's procedures on the jobs that it recorded."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from benchlore.book import Book, read_book
from benchlore.jobs import Job
from benchlore.library.compiled import (
    changed,
    digest_of_shop,
    procedure_folder,
    read_json,
    was_learned_elsewhere,
    write_json,
)
from benchlore.library.errors import NoComplaintError, NoProofError, OtherBookError
from benchlore.library.folder import Library, errors_in, sound_shop_of, store_of
from benchlore.library.planning import fresh_procedure, kept_for, learn_board
from benchlore.library.progress import Report, silent
from benchlore.library.workers import cores, working
from benchlore.model import build
from benchlore.notation import FileTrouble, read_text
from benchlore.procedure import Effort, Procedure
from benchlore.proof import Against, Planning, Proof, ProofError, Settings, Subject, prove
from benchlore.proof import from_json as proof_from_json
from benchlore.proof import to_json as proof_to_json
from benchlore.shop import Shop
from benchlore.units import counted


@dataclass(frozen=True, slots=True)
class Other:
    """What to compare with: another version of the book, or this one planned with at most so many steps."""

    book_file: Path | None = None
    steps: int | None = None


@dataclass(frozen=True, eq=False)
class Proved:
    """A proof, the procedure that it is of, its book; ``stale`` names what has changed since."""

    book: Book
    shop: Shop
    procedure: Procedure
    proof: Proof
    stale: tuple[str, ...] = ()


def prove_complaint(  # noqa: PLR0913 what a caller may leave out has its name
    library: Library,
    board: str,
    complaint: str,
    *,
    shop_file: Path | None = None,
    settings: Settings | None = None,
    effort: Effort = Effort.QUICK,
    other: Other | None = None,
    workers: int | None = None,
    report: Report = silent,
) -> Proved:
    """Prove the kept procedure of a complaint, which is planned first if there is none or it is stale.

    ``effort`` is how hard each part's procedure is looked for. The proof is kept beside the procedure.

    Raises
    ------
    NoBookError, BookRefusedError, NoComplaintError, ShopRefusedError
        If what is named is not there or has errors.
    OtherBookError
        If the version to compare with has errors, or not this complaint.
    ProofError
        If there are too few jobs, or they cannot be divided as asked.
    PlanningError
        If no plan can be made.
    """
    planned = fresh_procedure(library, board, complaint, shop_file=shop_file, report=report)
    # A procedure that came with a bundle may follow readings that the jobs here do not tell apart.
    carried = was_learned_elsewhere(library, board, complaint)
    jobs = _jobs(library, board)
    subject = _subject(planned.book, complaint, planned.shop, jobs, effort, planned.procedure.limit)
    against = None if other is None else _against(library, subject, complaint, other)

    def told(stage: str, done: int, total: int) -> None:
        report(stage, done, total)

    with working(cores() if workers is None else workers) as run:
        proof = prove(
            subject,
            settings=settings or Settings(),
            procedure=None if carried else planned.procedure,
            against=against,
            run=run,
            told=told,
        )
    folder = procedure_folder(library, board, complaint, planned.shop)
    made_from = {**learn_board(library, board).stamp, "shop": digest_of_shop(planned.shop)}
    write_json(folder / "proof.json", {"made_from": made_from, **proof_to_json(proof)})
    return Proved(planned.book, planned.shop, planned.procedure, proof)


def kept_proof(library: Library, board: str, complaint: str, *, shop_file: Path | None = None) -> Proved:
    """Return the proof that was made last for a complaint and a shop, and what has changed since.

    Raises
    ------
    NoProofError
        If none was made, or what is kept cannot be read.
    """
    shop, learned = sound_shop_of(library, shop_file), learn_board(library, board)
    planned = kept_for(library, learned, complaint, shop)
    path = procedure_folder(library, board, complaint, shop) / "proof.json"
    if (found := read_proof(path)) is None:
        raise NoProofError(board, complaint, shop.name, is_kept=path.exists())
    proof, made_from = found
    stale = changed(made_from, {**learned.stamp, "shop": digest_of_shop(shop)})
    return Proved(planned.book, shop, planned.procedure, proof, stale)


def read_proof(path: Path) -> tuple[Proof, Mapping[str, Any]] | None:
    """Read a kept proof and what it was made from; ``None`` if there is none that can be read."""
    try:
        kept = read_json(path)
        made_from: Mapping[str, Any] = kept.pop("made_from")
        return proof_from_json(kept), made_from
    except (FileTrouble, ValueError, ProofError, KeyError, AttributeError, TypeError):
        return None


def _jobs(library: Library, board: str) -> tuple[Job, ...]:
    store = store_of(library)
    if store is None:
        return ()
    with store:
        return tuple(store.jobs(board=board))


def _subject(
    book: Book, complaint: str, shop: Shop, jobs: tuple[Job, ...], effort: Effort, steps: int | None
) -> Subject:
    if complaint not in book.complaints:
        raise NoComplaintError(book.board.name, complaint, tuple(book.complaints))
    return Subject(
        models=tuple(build(book, name) for name in book.complaints),
        complaint=list(book.complaints).index(complaint),
        shop=shop,
        jobs=jobs,
        planning=Planning(effort=effort, steps=steps),
    )


def _against(library: Library, subject: Subject, complaint: str, other: Other) -> Against:
    planning = replace(subject.planning, steps=other.steps or subject.planning.steps)
    limited = "" if other.steps is None else f"at most {counted(other.steps, 'step')}"
    if other.book_file is None:
        return Against(limited, replace(subject, planning=planning))
    board = subject.models[0].board
    read = read_book(read_text(other.book_file), file=library.shown(other.book_file), name=board)
    name = library.shown(other.book_file)
    if read.book is None:
        raise OtherBookError(name, "\n".join(map(str, errors_in(read.problems))))
    if complaint not in read.book.complaints:
        known = ", ".join(f"'{known}'" for known in read.book.complaints)
        raise OtherBookError(name, f"this book has no complaint '{complaint}', but {known}")
    version = _subject(
        read.book, complaint, subject.shop, subject.jobs, subject.planning.effort, planning.steps
    )
    return Against(f"{name}, {limited}" if limited else name, version)
