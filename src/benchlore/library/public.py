"""The library as anybody may have it: what is given away is made from this, and from nothing else.

Jobs are those of shops that allow it, without numbers, names and texts, dated by their month alone. Models,
procedures and proofs go along as they are, but for what they say of single jobs.
"""

import json
from collections.abc import Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from shutil import copyfile
from typing import Any

from benchlore.book import Book
from benchlore.jobs import UNLISTED, Attempt, Job, JobColumns, Reading, Store
from benchlore.library.allowing import Allowed, public_names
from benchlore.library.compiled import ELSEWHERE, procedure_folder, read_json, stamp_of, write_json
from benchlore.library.errors import BookRefusedError, NoPictureError
from benchlore.library.folder import (
    MARKER,
    Library,
    make_folder,
    open_library,
    sound_book_of,
    sound_shop_of,
    store_of,
)
from benchlore.library.pictures import picture_of
from benchlore.library.planning import learn_board
from benchlore.library.progress import Report, silent
from benchlore.library.skills import skills_of
from benchlore.model import ModelError
from benchlore.notation import FileTrouble, is_name, write_atomic
from benchlore.proof import Proof, ProofError
from benchlore.proof import from_json as proof_from_json
from benchlore.proof import to_json as proof_to_json
from benchlore.shop import Shop

UNPUBLISHED = "not published"
"""The shop of a job of which only its place in a count is told."""


@dataclass(frozen=True, eq=False)
class Public:
    """The public library, its jobs, and the boards that stayed behind because their books have errors."""

    library: Library
    jobs: tuple[Job, ...]
    left_out: tuple[str, ...]


@dataclass(frozen=True, eq=False)
class _Published:
    """The public jobs, and which recorded job each is."""

    jobs: tuple[Job, ...]
    names: Mapping[tuple[str, str], tuple[str, str]]
    notes: frozenset[tuple[str, str]]


def make_public(library: Library, folder: Path, *, report: Report = silent) -> Public:
    """Make the public form of a library in a new ``folder``.

    Raises
    ------
    ShopRefusedError
        If the shop file has errors.
    FileNotWritten
        If the folder cannot be written.
    """
    shop = sound_shop_of(library)
    books, left_out = _sound_books(library)
    for done, board in enumerate(books):
        report("Learning", done, len(books), board)
        with suppress(ModelError):
            learn_board(library, board)
    published = _published(library, books)
    make_folder(folder)
    _copy_texts(library, folder, books)
    write_atomic(folder / "shop.yaml", shop_text(shop))
    write_atomic(folder / MARKER, library_text(library))
    public = open_library(folder)
    with Store.open(public.store) as store:
        store.add(published.jobs)
    for board, book in books.items():
        _copy_compiled(library, public, book, shop, published)
        report("Making public", len(published.jobs), len(published.jobs), board)
    return Public(public, published.jobs, left_out)


def library_text(library: Library) -> str:
    """Write the file of a public library: of shops it names those alone that allow it."""
    allowed = {
        name: {"publish": "yes"}
        | ({"name": name} if library.records[shop].name else {})
        | ({"notes": "yes"} if library.records[shop].notes else {})
        for shop, name in public_names(library.records).items()
    }
    said: dict[str, Any] = {"library": 1, "name": library.title, "licence": library.licence}
    said |= {"site": library.site} if library.site else {}
    said |= {"records": dict(sorted(allowed.items()))} if allowed else {}
    return _yaml(said)


def shop_text(shop: Shop) -> str:
    """Write a shop file with what counts, and without what else its writer noted."""
    worth = dict(sorted(shop.worth.items()))
    worth |= {} if shop.worth_otherwise is None else {"otherwise": shop.worth_otherwise}
    said = {
        "shop": 1,
        "name": shop.name,
        "currency": shop.currency,
        "hour": shop.hour,
        "waiting hour": shop.waiting_hour,
        "instruments": sorted(shop.instruments),
        "skills": sorted(shop.skills),
        "worth": worth,
        "diagnostic fee": shop.diagnostic_fee,
        **({} if shop.comeback is None else {"comeback": shop.comeback}),
        "exchange": dict(sorted(shop.exchange.items())),
    }
    return _yaml(said)


def _yaml(said: Mapping[str, Any]) -> str:
    """Write a line for each value, in YAML's flow form, of which JSON is a part."""
    return "".join(f"{key}: {json.dumps(value, ensure_ascii=False)}\n" for key, value in said.items())


def public_job(job: Job, book: Book, name: str, allowed: Allowed) -> Job | None:
    """Make a job anonymous; ``None`` where the book does not know its complaint.

    What stays are names that the book gives, numbers that were measured, minutes, outcome and month. The
    number follows later, from the order of what stays.
    """
    if job.complaint not in book.complaints:
        return None
    fault = job.fault if job.fault is None or job.fault in book.faults else UNLISTED
    return Job(
        shop=name,
        number="",
        board=job.board,
        complaint=job.complaint,
        opened=None if job.opened is None else date(job.opened.year, job.opened.month, 1),
        readings=tuple(_readings(job, book, allowed)),
        attempts=tuple(
            Attempt(a.fix, a.step, a.retest, a.soaked) for a in job.attempts if a.fix in book.fixes
        ),
        outcome=job.outcome,
        fault=fault,
        fault_text=job.fault_text if allowed.notes else "",
        hands_on=job.hands_on,
        waiting=job.waiting,
        comeback=job.comeback,
        notes=job.notes if allowed.notes else "",
    )


def _readings(job: Job, book: Book, allowed: Allowed) -> Iterator[Reading]:
    for reading in job.readings:
        check = book.checks.get(reading.check)
        if check is None:
            continue
        known = {*check.results, *book.conditions[check.reads].states}
        result = reading.result if reading.result in known else None
        if result is not None or reading.value is not None:
            text = reading.text if allowed.notes else ""
            yield Reading(reading.check, reading.step, result, reading.value, text)


def _published(library: Library, books: Mapping[str, Book]) -> _Published:
    names = public_names(library.records)
    found: list[tuple[Job, tuple[str, str]]] = []
    store = store_of(library)
    if store is not None:
        with store:
            for job in store.jobs():
                if job.shop in names and job.board in books:
                    made = public_job(job, books[job.board], names[job.shop], library.records[job.shop])
                    if made is not None:
                        found.append((made, (job.shop, job.number)))
    # The order must not tell what was taken away, and be the same whoever makes it from these jobs again.
    found.sort(key=lambda pair: (repr(pair[0]), pair[1]))
    counts: dict[str, int] = {}
    jobs, told = [], {}
    for job, identity in found:
        counts[job.shop] = counts.get(job.shop, 0) + 1
        jobs.append(replace(job, number=f"{counts[job.shop]:06}"))
        told[identity] = (job.shop, jobs[-1].number)
    notes = frozenset(identity for identity in told if library.records[identity[0]].notes)
    return _Published(tuple(jobs), told, notes)


def _sound_books(library: Library) -> tuple[dict[str, Book], tuple[str, ...]]:
    sound: dict[str, Book] = {}
    left_out = []
    for board in library.boards():
        try:
            book = sound_book_of(library, board).book
        except (BookRefusedError, FileTrouble):
            book = None
        if book is None or not is_name(board):
            left_out.append(board)
        else:
            sound[board] = book
    return sound, tuple(left_out)


def _copy_texts(library: Library, folder: Path, books: Mapping[str, Book]) -> None:
    for board, book in books.items():
        checked = {check.picture.file for check in book.checks.values() if check.picture}
        pictures = checked | {fix.picture.file for fix in book.fixes.values() if fix.picture}
        _copy(library.books / board / "book.yaml", folder / "books" / board / "book.yaml")
        for name in sorted(pictures):
            _copy_picture(library, board, name, folder / "books" / board / name)
    for skill in skills_of(library):
        _copy(library.skills / f"{skill.name}.md", folder / "skills" / f"{skill.name}.md")
    for name in ("LICENSE", "editions.json"):
        _copy(library.folder / name, folder / name)


def _copy_picture(library: Library, board: str, name: str, target: Path) -> None:
    """Copy a picture as it is shown; one that cannot be shown stays behind, with whatever is in it."""
    with suppress(NoPictureError):
        content = picture_of(library, board, name).content
        make_folder(target.parent)
        target.write_bytes(content)


def _copy(source: Path, target: Path) -> None:
    """Copy a file that is one; a link that leads elsewhere could give away what is no part of the library."""
    if source.is_file() and not source.is_symlink():
        make_folder(target.parent)
        copyfile(source, target)


def _copy_compiled(library: Library, public: Library, book: Book, shop: Shop, published: _Published) -> None:
    board = book.board.name
    before = stamp_of(library, board, _columns(library, board))["jobs"]
    now = stamp_of(public, board, _columns(public, board))["jobs"]

    def fresh(made_from: Mapping[str, Any]) -> dict[str, Any]:
        """What was made from the jobs as they are counts as made from the public ones, and stays kept."""
        if before == now or made_from.get("jobs") != before:
            return dict(made_from)
        return {**made_from, "jobs": now, ELSEWHERE: True}

    for complaint in book.complaints:
        source, target = library.compiled / board / complaint, public.compiled / board / complaint
        kept = procedure_folder(library, board, complaint, shop).name
        for name in ("model.json", "made-from.json", f"{kept}/procedure.json", f"{kept}/made-from.json"):
            with suppress(FileTrouble, ValueError, TypeError):
                data = read_json(source / name)
                write_json(target / name, fresh(data) if name.endswith("made-from.json") else data)
        with suppress(FileTrouble, ValueError, KeyError, TypeError, AttributeError, ProofError):
            data = read_json(source / kept / "proof.json")
            made_from = fresh(data.pop("made_from"))
            proof = public_proof(proof_from_json(data), published.names, published.notes)
            write_json(target / kept / "proof.json", {"made_from": made_from, **proof_to_json(proof)})


def public_proof(
    proof: Proof,
    names: Mapping[tuple[str, str], tuple[str, str]],
    notes: frozenset[tuple[str, str]],
) -> Proof:
    """Take out of a proof what it says of single jobs that are not published, and the words of all texts."""

    def told(jobs: tuple[tuple[str, str], ...]) -> tuple[tuple[str, str], ...]:
        return tuple(names.get(job, (UNPUBLISHED, f"{place:06}")) for place, job in enumerate(jobs, 1))

    return replace(
        proof,
        replay=replace(proof.replay, jobs=told(proof.replay.jobs)),
        outliers=tuple(
            replace(each, shop=names[each.shop, each.number][0], number=names[each.shop, each.number][1])
            for each in proof.outliers
            if (each.shop, each.number) in names
        ),
        candidates=tuple(replace(each, jobs=told(each.jobs), words=()) for each in proof.candidates),
        examples=tuple(
            replace(each, shop=names[each.shop, each.number][0], number=names[each.shop, each.number][1])
            for each in proof.examples
            if (each.shop, each.number) in notes
        ),
    )


def _columns(library: Library, board: str) -> JobColumns | None:
    store = store_of(library)
    if store is None:
        return None
    with store:
        return store.columns(board)
