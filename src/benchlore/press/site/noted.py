"""What is noted of a board, so that a later edition can say what has changed: figures, titles and digests."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import Final, Protocol

from benchlore.model import to_json as model_to_json
from benchlore.notation import fingerprint
from benchlore.press.site.sources import BoardSource, ComplaintSource
from benchlore.press.text import printable
from benchlore.procedure import RELEASE, Procedure
from benchlore.proof import to_json as proof_to_json
from benchlore.units import money, share

DIGITS: Final = 16
"""Of a digest: enough to tell versions of one thing apart."""


@dataclass(frozen=True, slots=True)
class Named:
    """Something that has a title, and a digest of all that is said of it."""

    title: str
    digest: str


@dataclass(frozen=True, slots=True)
class ComplaintNoted:
    """What is noted of a complaint: figures as its page prints them, digests of the rest.

    ``faults`` to ``setups`` are what the book says of those that matter to it, by their names; ``steps`` are
    the procedure's, each with a digest of where its results lead.
    """

    title: str
    jobs: str
    cost: str = ""
    gap: str = ""
    state: str = ""
    standing: str = ""
    proof: str = ""
    model: str = ""
    text: str = ""
    faults: Mapping[str, Named] = field(default_factory=dict)
    checks: Mapping[str, Named] = field(default_factory=dict)
    fixes: Mapping[str, Named] = field(default_factory=dict)
    setups: Mapping[str, Named] = field(default_factory=dict)
    steps: tuple[Named, ...] = ()


@dataclass(frozen=True, slots=True)
class BoardNoted:
    """What is noted of a board; ``text`` is a digest of what belongs to no complaint alone."""

    title: str = ""
    text: str = ""
    complaints: Mapping[str, ComplaintNoted] = field(default_factory=dict)


class Titled(Protocol):
    """What the book calls by a name and a title."""

    @property
    def name(self) -> str:
        """Its name in the book."""

    @property
    def title(self) -> str:
        """What people call it."""


def note_board(source: BoardSource) -> BoardNoted:
    """Note what stands on a board's pages."""
    book = source.book
    rest = replace(book, checks={}, faults={}, fixes={}, setups={}, complaints={})
    pictures = [(name, digest_of(each.content)) for name, each in sorted(source.pictures.items())]
    return BoardNoted(
        title=printable(book.board.title),
        text=digest_of((rest, pictures)),
        complaints={each.complaint.name: note_complaint(each) for each in source.complaints},
    )


def note_complaint(source: ComplaintSource) -> ComplaintNoted:
    """Note what stands on a complaint's page."""
    book, model, stands = source.book, source.model, source.stands
    plan, proof = stands.plan, stands.proof
    return ComplaintNoted(
        title=printable(stands.title),
        jobs=f"{stands.jobs:,}",
        cost="" if plan is None else money(plan.expected, plan.currency),
        gap=""
        if plan is None
        else gap_text(is_optimal=plan.is_optimal, gap=plan.gap, is_sampled=plan.is_sampled),
        state="not planned" if plan is None else "stale" if plan.stale else "up to date",
        standing="" if proof is None else f"{proof.standing}, {share(proof.known.value)} of boards known",
        proof="" if source.proved is None else digest_of(proof_to_json(source.proved.proof)),
        model=digest_of(model_to_json(model)),
        text=digest_of(source.complaint),
        faults=_named(book.faults[name] for name in model.faults if name in book.faults),
        checks=_named(book.checks[each.name] for each in model.checks),
        fixes=_named(book.fixes[each.name] for each in model.fixes),
        setups=_named(book.setups[each.name] for each in model.setups),
        steps=() if source.planned is None else tuple(_steps(source, source.planned.procedure)),
    )


def gap_text(*, is_optimal: bool, gap: float | None, is_sampled: bool) -> str:
    """Say how far a procedure may be from the best possible.

    >>> gap_text(is_optimal=False, gap=0.123, is_sampled=False)
    'within 12 % of the best possible'
    >>> gap_text(is_optimal=False, gap=0.123, is_sampled=True)
    'within 12 % of the best possible, by a sample'
    """
    if is_optimal:
        return "the proven optimum"
    if gap is None:
        return "no bound"
    return f"within {100 * gap:.0f} % of the best possible{', by a sample' if is_sampled else ''}"


def digest_of(said: object) -> str:
    """Fingerprint what is said, short enough to be kept for every entry."""
    return fingerprint(said)[:DIGITS]


def _named(entries: Iterable[Titled]) -> dict[str, Named]:
    return {each.name: Named(printable(each.title), digest_of(each)) for each in entries}


def _steps(source: ComplaintSource, procedure: Procedure) -> Iterable[Named]:
    """Name each step that the page shows, with a digest of what is done after each of its results."""
    after = {step.number: step.action or "return" for step in procedure.steps} | {RELEASE: "release"}
    for step in source.steps:
        entry = source.entry_of(step)
        leads = sorted((result, after.get(number, "")) for result, number in step.branches.items())
        title = "Return the device unrepaired" if entry is None else printable(entry.title)
        yield Named(title, digest_of((step.setups, step.soak, leads)))
