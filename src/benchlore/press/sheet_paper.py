"""What a printed sheet says: the steps of the page, and what a bench without a screen needs beside them."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Final

from benchlore.book import CAUTIONS, GENERAL_CAUTION, Book, Check, Fault, Fix, Setup, Work
from benchlore.library import Onward, Sheet, SheetStep, sheet_of
from benchlore.library.sheet import entry_of, hazards_of, in_short, minutes, parts_of_fix, wire_text, works_of
from benchlore.press.bands import edges_of, states_shown
from benchlore.press.typesetting import UNBROKEN, day_text
from benchlore.procedure import Excerpt, Kind, Procedure, Step, trimmed
from benchlore.proof import Proof, tried_said
from benchlore.shop import Shop
from benchlore.units import money, share

LONGEST_HEAD: Final = 90
FOLLOW: Final = (
    "Begin at step 1. Do what a step says, find the line of what was read, and go where its arrow leads: to "
    "a step, to the release of the device, or to its return. Bands of numbers are not drawn to scale."
)
STOP: Final = "“Return unrepaired”: no way on was found that is expected to cost less."
ASK: Final = (
    "Where a result says “from here ask”, the sheet does not go on: open the job in the bench app and enter "
    "what was read. It names the next step from there, and after any step that was left out or done out of "
    "order."
)


@dataclass(frozen=True, slots=True)
class Way:
    """A result of a step and where it leads: ``step`` is the number of a step of this sheet.

    ``shows`` are the states in which a number of this band is usual; ``mark`` is what stands in the band.
    """

    result: str
    shows: tuple[str, ...]
    chance: str
    words: str
    step: int | None
    end: str
    mark: str


@dataclass(frozen=True, slots=True)
class PaperStep:
    """A step as it is printed; ``edges`` are the numbers between its bands, none where it has no bands.

    ``first`` are the setups to make now, by their titles, each with its minutes.
    """

    number: int
    kind: str
    title: str
    reached: str
    first: tuple[str, ...]
    standing: str
    how: str
    extras: tuple[str, ...]
    cautions: tuple[str, ...]
    cost: str
    retest: str
    edges: tuple[str, ...]
    ways: tuple[Way, ...]


@dataclass(frozen=True, slots=True)
class SetupNote:
    """How to make a setup that steps call by its title."""

    title: str
    time: str
    how: str


@dataclass(frozen=True, slots=True)
class FaultNote:
    """A fault that the sheet may lead to: its share of jobs where that is known, and where it is fixed.

    ``part`` is the part's reference where the title does not name it.
    """

    title: str
    part: str
    share: str
    notes: str
    fixes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class SheetPaper:
    """A printed sheet; ``head`` stands on every page.

    ``code`` are the rows of a QR symbol, 1 where it is dark; none where there is no address.
    """

    head: str
    title: str
    board: str
    about: str
    made: str
    cost: str
    standing: str
    stale: str
    cautions: tuple[str, ...]
    equipment: tuple[str, ...]
    parts: tuple[str, ...]
    setups: tuple[SetupNote, ...]
    steps: tuple[PaperStep, ...]
    follow: tuple[str, ...]
    faults: tuple[FaultNote, ...]
    credits: tuple[str, ...]
    licence: str
    base: str
    code: tuple[tuple[int, ...], ...]


def sheet_paper(
    book: Book,
    procedure: Procedure,
    proof: Proof | None,
    *,
    shop: Shop,
    made: date | None = None,
    stale: Iterable[str] = (),
) -> SheetPaper:
    """Say what the sheet of a procedure says, without an address; the book must have all its steps."""
    sheet = sheet_of(procedure, book)
    excerpt = trimmed(procedure, sheet.min_reach)
    entries = [entry_of(book, step) for step in excerpt.steps if step.kind is not Kind.RETURN]
    setups = dict.fromkeys(name for step in excerpt.steps for name in step.setups)
    works = [work for entry in entries for work in works_of(book, entry, procedure.complaint)]
    return SheetPaper(
        head=_head(f"{book.board.title} · {book.complaints[procedure.complaint].title}"),
        title=book.complaints[procedure.complaint].title,
        board=book.board.title,
        about=_about(book),
        made=_made(procedure, shop, made),
        cost=sheet.cost,
        standing=_standing(proof),
        stale=_changed(tuple(stale)),
        cautions=(GENERAL_CAUTION, *(CAUTIONS[hazard] for hazard in hazards_of(works))),
        equipment=_equipment(book, works),
        parts=_parts(book, excerpt),
        setups=tuple(_setup(book.setups[name]) for name in setups),
        steps=tuple(_step(book, step, words) for step, words in zip(excerpt.steps, sheet.steps, strict=True)),
        follow=tuple(_follow(sheet)),
        faults=_faults(book, procedure, excerpt),
        credits=tuple(
            f"{person.title} ({', '.join(person.roles)})" if person.roles else person.title
            for person in book.people.values()
        ),
        licence=book.licence,
        base="",
        code=(),
    )


def _head(text: str) -> str:
    """Fit a text into the line at the head of every page."""
    return text if len(text) <= LONGEST_HEAD else f"{text[: LONGEST_HEAD - 1].rstrip()}…"


def _about(book: Book) -> str:
    revision = f", board revision {book.board.revision}" if book.board.revision else ""
    return f"{book.board.device}{revision}"


def _made(procedure: Procedure, shop: Shop, made: date | None) -> str:
    work, wait = money(shop.hour, shop.currency), money(shop.waiting_hour, shop.currency)
    planned = f" Planned on {day_text(made)}." if made else ""
    return f"For {procedure.shop}: {work} an hour at work, {wait} waiting.{planned}"


def _standing(proof: Proof | None) -> str:
    if proof is None:
        return "Not proven yet: nobody tried it on recorded jobs."
    return f"Standing: {proof.standing.standing}. {tried_said(proof)}"


def _changed(stale: tuple[str, ...]) -> str:
    return f"{' and '.join(stale).capitalize()} changed since this was made." if stale else ""


def _follow(sheet: Sheet) -> Iterator[str]:
    """Say how to follow the sheet, and what its ends mean."""
    ends = {to.end for step in sheet.steps for to in step.onward}
    yield FOLLOW
    if "return" in ends:
        yield STOP
    if "ask" in ends:
        yield ASK
    if sheet.left_out:
        yield sheet.left_out


def _equipment(book: Book, works: Iterable[Work]) -> tuple[str, ...]:
    """The equipment of every step, the most used first."""
    counts: dict[str, int] = {}
    for work in works:
        for name in work.equipment:
            counts[name] = counts.get(name, 0) + 1
    names = sorted(counts, key=lambda name: (-counts[name], name))
    return tuple(book.equipment.get(name, name).rstrip(".") for name in names)


def _fixes(book: Book, excerpt: Excerpt) -> Mapping[int, Fix]:
    """The fixes of a sheet by the number of the step, as it is printed."""
    return {
        k: book.fixes[step.action] for k, step in enumerate(excerpt.steps, start=1) if step.kind is Kind.FIX
    }


def _parts(book: Book, excerpt: Excerpt) -> tuple[str, ...]:
    """The parts that fixes of a sheet use up, each with the steps that need it."""
    steps: dict[str, list[int]] = {}
    for number, fix in _fixes(book, excerpt).items():
        for part in parts_of_fix(fix, book.currency):
            steps.setdefault(part, []).append(number)
    return tuple(f"{part}, {_steps(numbers)}" for part, numbers in steps.items())


def _steps(numbers: Iterable[int]) -> str:
    listed = [str(number) for number in sorted(set(numbers))]
    if len(listed) == 1:
        return f"step{UNBROKEN}{listed[0]}"
    return f"steps{UNBROKEN}{', '.join(listed[:-1])} and{UNBROKEN}{listed[-1]}"


def _setup(setup: Setup) -> SetupNote:
    return SetupNote(setup.title, minutes(setup.work), setup.how)


def _step(book: Book, step: Step, words: SheetStep) -> PaperStep:
    entry = None if step.kind is Kind.RETURN else entry_of(book, step)
    results = tuple(to.result for to in words.onward)
    shown = states_shown(entry, results) if isinstance(entry, Check) else {}
    return PaperStep(
        number=words.number,
        kind=words.kind.value,
        title=words.title,
        reached=words.reached,
        first=tuple(f"{book.setups[name].title} ({minutes(book.setups[name].work)})" for name in step.setups),
        standing=words.standing,
        how=words.how,
        extras=_extras(entry, book.currency),
        cautions=tuple(map(in_short, words.cautions)),
        cost=words.cost,
        retest=words.retest,
        edges=edges_of(results) if shown else (),
        ways=tuple(_way(to, shown) for to in words.onward),
    )


def _extras(entry: Check | Fix | None, currency: str) -> tuple[str, ...]:
    """Say what a fix needs besides its instructions: parts, and the run of its jumper."""
    if not isinstance(entry, Fix):
        return ()
    parts = parts_of_fix(entry, currency)
    said = (f"Parts: {', '.join(parts)}." if parts else "", wire_text(entry))
    return tuple(text for text in said if text)


def _way(to: Onward, shown: Mapping[str, tuple[str, ...]]) -> Way:
    mark = to.end or str(to.step)
    return Way(to.result, shown.get(to.result, ()), share(to.chance), to.words, to.step, to.end, mark)


def _faults(book: Book, procedure: Procedure, excerpt: Excerpt) -> tuple[FaultNote, ...]:
    """The likeliest faults of the complaint, then the others that a fix of the sheet cures."""
    fixes = _fixes(book, excerpt)
    likely = {name: share(chance) for name, chance in procedure.steps[0].suspects if name in book.faults}
    cured = {name for fix in fixes.values() for name in fix.cures}
    names = [*likely, *(name for name in book.faults if name in cured and name not in likely)]
    return tuple(_fault(book.faults[name], likely.get(name, ""), fixes) for name in names)


def _fault(fault: Fault, chance: str, fixes: Mapping[int, Fix]) -> FaultNote:
    numbers: dict[str, list[int]] = {}
    wires: dict[str, str] = {}
    for number, fix in fixes.items():
        if fault.name in fix.cures:
            numbers.setdefault(fix.title, []).append(number)
            wires[fix.title] = wire_text(fix)
    return FaultNote(
        title=fault.title,
        part="" if fault.part_ref is None or fault.part_ref in fault.title else fault.part_ref,
        share=chance,
        notes=fault.notes,
        fixes=tuple(
            f"{title}: {_steps(at)}.{' ' + wires[title] if wires[title] else ''}"
            for title, at in numbers.items()
        ),
    )
