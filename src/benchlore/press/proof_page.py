"""The page of a proof: what the terminal tells, with pictures."""

from typing import Final

from benchlore.book import Book
from benchlore.library import Passage, Proved
from benchlore.press.belief import draw_belief
from benchlore.press.coverage import draw_coverage
from benchlore.press.drawing import Picture
from benchlore.press.figures import draw_gains
from benchlore.press.page import Column, ReportPage, Section, Table, report_html
from benchlore.press.reliability import draw_reliability
from benchlore.press.spreads import draw_spreads
from benchlore.press.text import person_line
from benchlore.press.values import Belief, Covered, Figure, Forecasts, Spread
from benchlore.proof import Example, Part, Proof, Topic, parts_of, records_text, worth_saying
from benchlore.proof import Table as ProofTable

MOST_RECORDS: Final = 12
UNBROKEN_TO: Final = "\u00a0to\u00a0"


def proof_html(proved: Proved) -> str:
    """Set a proof as one HTML file with everything in it."""
    return report_html(proof_page(proved))


def proof_page(proved: Proved) -> ReportPage:
    """What the page of a proof shows."""
    proof, book = proved.proof, proved.book
    pictures = _pictures(proof)
    sections = [section_of(part, pictures.get(part.topic)) for part in parts_of(proof)]
    if proof.examples:
        sections.insert(-1, _examples(proof, book))
    return ReportPage(
        title=f"{book.complaints[proof.complaint].title}: what the procedure is worth",
        lead=(
            f"How procedures for “{book.complaints[proof.complaint].title}” on {book.board.title} do on "
            f"recorded jobs that they were not made from, at {proof.shop}."
        ),
        sections=tuple(sections),
        facts=_facts(proved),
        licence=f"Licence: {book.licence}." if book.licence else "",
        credits=tuple(map(person_line, book.people.values())),
    )


def _facts(proved: Proved) -> tuple[tuple[str, str], ...]:
    proof = proved.proof
    return (
        ("Board", proved.book.board.title),
        ("Complaint", proved.book.complaints[proof.complaint].title),
        ("Shop", proof.shop),
        ("Jobs held out", f"{len(proof.replay.jobs):,}, {proof.confirmed:,} with a confirmed fault"),
        ("Standing", proof.standing.standing.value),
    )


def section_of(part: Part | Passage, picture: Picture | None = None) -> Section:
    """Set a part of a report."""
    return Section(
        heading=part.heading,
        paragraphs=tuple(map(tight, part.sentences)),
        picture=picture,
        table=None if part.table is None else _table(part.heading, part.table),
    )


def tight(text: str) -> str:
    """Keep a number and its per cent sign on one line."""
    return text.replace(" %", "\u00a0%")


def _table(caption: str, table: ProofTable) -> Table:
    kinds = ["text" if side == "<" or " to " in cell else "number" for side, cell in _first_cells(table)]
    return Table(
        caption=caption,
        columns=tuple(
            Column(heading or "way", "text" if kind == "text" else "number")
            for heading, kind in zip(table.head, kinds, strict=True)
        ),
        rows=tuple(tuple(tight(cell).replace(" to ", UNBROKEN_TO) for cell in row) for row in table.rows),
    )


def _first_cells(table: ProofTable) -> list[tuple[str, str]]:
    first = table.rows[0] if table.rows else ("",) * len(table.head)
    return list(zip(table.align, first, strict=True))


def _pictures(proof: Proof) -> dict[Topic, Picture]:
    found = {Topic.COSTS: _spreads(proof)}
    if proof.faults is not None:
        found[Topic.PERCENTAGES] = draw_reliability(
            [Forecasts(each.forecast, each.observed, each.events) for each in proof.faults.bins]
        )
    if proof.coverage.curve:
        found[Topic.COVERAGE] = draw_coverage(
            [Covered(point.boards, point.coverage) for point in proof.coverage.curve],
            present=proof.coverage.boards,
            title="Share of what comes in that had come in before",
        )
    worth = worth_saying(proof.sensitivity) if proof.sensitivity is not None else ()
    if worth:
        found[Topic.SENSITIVITY] = draw_gains(
            [Figure(records_text(each), each.worth) for each in worth[:MOST_RECORDS]],
            unit=f"{proof.currency} a job",
            title="What more records would be worth",
        )
    return found


def _spreads(proof: Proof) -> Picture:
    return draw_spreads(
        [
            Spread(account.way.value, tuple(c for c in account.costs if c is not None), account.cost)
            for account in proof.replay.accounts
        ],
        unit=proof.currency,
    )


def _examples(proof: Proof, book: Book) -> Section:
    return Section(
        heading="Some of the jobs, reading by reading",
        paragraphs=(
            (
                "The job whose fault ended most probable, a middling one, and the one whose fault ended "
                "least probable, as a model saw them that had not learned from them."
            ),
        ),
        parts=tuple(_example(example, book) for example in proof.examples),
    )


def _example(example: Example, book: Book) -> Section:
    title = book.faults[example.fault].title if example.fault in book.faults else example.fault
    steps = [
        Belief(f"{point.check} {point.text}" if point.check else "before any reading", point.suspects)
        for point in example.beliefs
    ]
    return Section(
        heading=f"{example.shop} {example.number}",
        paragraphs=(f"The fault that was confirmed: {title} ({example.fault}).",),
        picture=draw_belief(steps, title=f"Suspects in job {example.number}"),
    )
