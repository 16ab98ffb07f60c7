"""The files of one complaint: its page, its proof's page, and the model and the procedure as JSON."""

import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from benchlore.library.sheet import setup_in_short, setup_sentence
from benchlore.model import to_json as model_to_json
from benchlore.press.page_bench import page_bench
from benchlore.press.procedure_drawing import draw_procedure
from benchlore.press.proof_page import proof_page
from benchlore.press.sheets import sheet_pdf
from benchlore.press.site.entries import time_of
from benchlore.press.site.needs import Needed, fault_notes, needed_by
from benchlore.press.site.paths import (
    absolute,
    board_page,
    complaint_folder,
    complaint_page,
    leading,
    picture_path,
)
from benchlore.press.site.set_page import set_page
from benchlore.press.site.sources import ComplaintSource, Pictures
from benchlore.press.site.step_pictures import step_pictures
from benchlore.press.site.structured import how_to
from benchlore.press.site.values import Frame, Head, Link
from benchlore.press.text import person_line
from benchlore.press.typesetting import Paper
from benchlore.procedure import Procedure
from benchlore.procedure import to_json as procedure_to_json
from benchlore.proof import Topic, parts_of

PAPERS: Final[Mapping[Paper, str]] = {"a4": "A4", "letter": "Letter"}

NOT_PROVEN = (
    "Not proven yet: this procedure rests on what the book says and on the jobs that taught it; "
    "nobody has tried procedures made like it on recorded jobs that they were not made from."
)


def complaint_files(frame: Frame, source: ComplaintSource, pictures: Pictures) -> Mapping[str, bytes]:
    """Make the files of a complaint."""
    board, name = source.book.board.name, source.complaint.name
    folder = complaint_folder(board, name)
    files = {f"{folder}/model.json": json_bytes(model_to_json(source.model))}
    links = [Link(f"{folder}/model.json", "The model as JSON")]
    if source.planned is not None:
        files[f"{folder}/procedure.json"] = json_bytes(procedure_to_json(source.planned.procedure))
        links.append(Link(f"{folder}/procedure.json", "The procedure as JSON"))
    for link, content in _sheets(frame, source, folder):
        files[link.path] = content
        links.append(link)
    if source.proved is not None:
        files[f"{folder}/proof.html"] = _proof(frame, source)
    files[complaint_page(board, name)] = page_file(frame, source, pictures, links)
    return files


def _sheets(frame: Frame, source: ComplaintSource, folder: str) -> Iterator[tuple[Link, bytes]]:
    """Set the procedure's sheet on both papers; with an address, its code leads to the page."""
    kept = source.paper
    if kept is None:
        return
    page = complaint_page(source.book.board.name, source.complaint.name)
    for paper, name in PAPERS.items():
        content = sheet_pdf(
            kept.book,
            kept.procedure,
            kept.proof,
            shop=kept.shop,
            base=absolute(frame.base, page) if frame.base else None,
            paper=paper,
            made=kept.planned,
            stale=kept.stale,
        )
        yield Link(f"{folder}/sheet-{paper}.pdf", f"The procedure to print, on {name} (PDF)"), content


def json_bytes(data: Any) -> bytes:
    """Write JSON as it is kept: equal values give equal bytes."""
    return json.dumps(data, ensure_ascii=False, allow_nan=False, separators=(",", ":")).encode() + b"\n"


def page_file(frame: Frame, source: ComplaintSource, pictures: Pictures, links: Sequence[Link]) -> bytes:
    """Make a complaint's page; ``links`` lead to its other files."""
    book, complaint, sheet = source.book, source.complaint, source.sheet
    folder = complaint_folder(book.board.name, complaint.name)
    plan = source.stands.plan
    drawing = None
    if sheet is not None:
        title = f"Procedure for “{complaint.title}”, drawn from left to right"
        drawing = draw_procedure(sheet, title=title, prefix="step-")
    needed = needed_by(source)
    paths = {name: picture_path(book.board.name, name, each.content) for name, each in pictures.items()}
    sizes = {name: each.size for name, each in pictures.items()}
    page = complaint_page(book.board.name, complaint.name)
    bench = page_bench(
        book,
        source.model,
        source.shop,
        _plan(source),
        size=sizes.get,
        address=lambda file: leading(page, paths[file]),
    )
    return set_page(
        frame,
        _head(frame, source, needed),
        "complaint.html",
        board_page=board_page(book.board.name),
        bench=bench.fragment,
        bench_trouble=bench.trouble.rstrip("."),
        policy=bench.policy,
        book=book,
        complaint=complaint,
        drawing=drawing,
        faults=fault_notes(source),
        known=source.known,
        links=links,
        needed=needed,
        pictures=paths,
        planned=source.planned,
        proof_page="" if source.proved is None else f"{folder}/proof.html",
        proved=source.proved,
        setups=_setups(source),
        sheet=sheet,
        shop=source.shop,
        shown=step_pictures(source, pictures),
        standing=_standing(source),
        stands=source.stands,
        takes="" if plan is None else time_of(plan.hands_on, plan.waiting),
        trouble=source.trouble,
    )


def _plan(source: ComplaintSource) -> Procedure | None:
    """The procedure, where nothing has changed since it was made: then the bench follows it."""
    planned = source.planned
    return None if planned is None or planned.stale else planned.procedure


def _head(frame: Frame, source: ComplaintSource, needed: Needed) -> Head:
    book, complaint = source.book, source.complaint
    path = complaint_page(book.board.name, complaint.name)
    return Head(
        path=path,
        title=f"{complaint.title}: {book.board.title}",
        description=(
            f"What to check and what to do, step by step, when {book.board.device} comes in with "
            f"“{complaint.title}”."
        ),
        structured=how_to(frame, source, needed, path),
        licence=book.licence,
        credits=tuple(map(person_line, book.people.values())),
    )


def _standing(source: ComplaintSource) -> tuple[str, ...]:
    """Say how far the procedure can be relied on, as its proof tells it."""
    if source.planned is None:
        return ()
    if source.proved is None:
        return (NOT_PROVEN,)
    return next(part.sentences for part in parts_of(source.proved.proof) if part.topic is Topic.STANDING)


@dataclass(frozen=True, slots=True)
class SetupTold:
    """What a step says of a setup to make; ``as_at`` is the step that tells how, if this one does not."""

    words: str
    as_at: int | None = None


def _setups(source: ComplaintSource) -> Mapping[int, tuple[SetupTold, ...]]:
    """Say of each step what to set up first: how where it comes first, after that where to read it."""
    told: dict[str, int] = {}
    found = {}
    for number, step in enumerate(source.steps, start=1):
        lines = []
        for name in step.setups:
            setup = source.book.setups[name]
            if name in told and setup.how:
                lines.append(SetupTold(setup_in_short(setup), told[name]))
            else:
                lines.append(SetupTold(setup_sentence(setup)))
            told.setdefault(name, number)
        found[number] = tuple(lines)
    return found


def _proof(frame: Frame, source: ComplaintSource) -> bytes:
    assert source.proved is not None
    board, name = source.book.board.name, source.complaint.name
    report = proof_page(source.proved)
    head = Head(
        path=f"{complaint_folder(board, name)}/proof.html",
        title=report.title,
        description=report.lead,
        licence=source.book.licence,
        credits=report.credits,
    )
    return set_page(
        frame,
        head,
        "proof.html",
        report=report,
        proved=source.proved,
        procedure_page=complaint_page(board, name),
    )
