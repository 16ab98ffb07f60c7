"""What a procedure asks for: instruments, skills and parts, and the jumpers of each fault."""

from collections.abc import Iterable
from dataclasses import dataclass

from benchlore.book import CAUTIONS, STANDARD_SKILLS, Book, Fix, Work
from benchlore.library.sheet import hazards_of, parts_of_fix, wire_text, works_of
from benchlore.press.site.sources import ComplaintSource
from benchlore.units import money, share


@dataclass(frozen=True, slots=True)
class Need:
    """An instrument or a skill: its name, what it is, and the steps that need it."""

    name: str
    what: str
    steps: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class PartNeeded:
    """A part that a fix uses up, with its price, and the steps that use it."""

    title: str
    price: str
    steps: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Needed:
    """All that the steps of a procedure ask for."""

    instruments: tuple[Need, ...]
    skills: tuple[Need, ...]
    parts: tuple[PartNeeded, ...]


@dataclass(frozen=True, slots=True)
class FixNote:
    """A fix of a fault: how often it cures it, its jumper in words, the step that does it, its cautions."""

    title: str
    cures: str
    wire: str
    parts: tuple[str, ...]
    step: int | None
    cautions: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class FaultNote:
    """What the book says of a fault: its part, its notes, its share of boards, its fixes."""

    name: str
    title: str
    part: str
    share: str
    notes: str
    fixes: tuple[FixNote, ...]


def needed_by(source: ComplaintSource) -> Needed:
    """Gather what the shown steps of a procedure ask for, in the order in which they do."""
    book = source.book
    equipment: dict[str, list[int]] = {}
    parts: dict[tuple[str, str], list[int]] = {}
    for number, step in enumerate(source.steps, start=1):
        entry = source.entry_of(step)
        if entry is None:
            continue
        for name in _equipment(works_of(book, entry, source.complaint.name)):
            equipment.setdefault(name, []).append(number)
        for part in entry.parts if isinstance(entry, Fix) else ():
            parts.setdefault((part.title, money(part.price, book.currency)), []).append(number)
    skills = STANDARD_SKILLS.keys() | source.shop.skills
    needs = {name: Need(name, book.equipment[name], tuple(steps)) for name, steps in equipment.items()}
    return Needed(
        instruments=tuple(need for name, need in needs.items() if name not in skills),
        skills=tuple(need for name, need in needs.items() if name in skills),
        parts=tuple(PartNeeded(*part, tuple(steps)) for part, steps in parts.items()),
    )


def fault_notes(source: ComplaintSource) -> tuple[FaultNote, ...]:
    """Tell of each fault of the complaint what the book says, the most frequent first."""
    book = source.book
    return tuple(
        FaultNote(
            name=known.name,
            title=known.title,
            part=_part(book, known.name),
            share=share(known.share.value),
            notes=book.faults[known.name].notes,
            fixes=tuple(
                _fix_note(source, fix, fix.cures[known.name].probability)
                for fix in book.fixes.values()
                if known.name in fix.cures
            ),
        )
        for known in source.known.faults
        if known.name in book.faults
    )


def _fix_note(source: ComplaintSource, fix: Fix, cures: float) -> FixNote:
    book = source.book
    done = [number for number, step in enumerate(source.steps, start=1) if step.action == fix.name]
    return FixNote(
        title=fix.title,
        cures=share(cures),
        wire=wire_text(fix),
        parts=parts_of_fix(fix, book.currency),
        step=done[0] if done else None,
        cautions=tuple(CAUTIONS[hazard] for hazard in hazards_of(works_of(book, fix, source.complaint.name))),
    )


def _part(book: Book, fault: str) -> str:
    about = book.faults[fault]
    return ", ".join(text for text in (about.part_ref, about.part_class) if text)


def _equipment(works: Iterable[Work]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(name for work in works for name in work.equipment))
