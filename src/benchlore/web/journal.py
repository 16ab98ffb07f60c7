"""The journal of a job on the bench, in words."""

from collections.abc import Sequence
from dataclasses import dataclass

from benchlore.jobs import Entry, EntryKind
from benchlore.library import JobView


@dataclass(frozen=True, slots=True)
class Line:
    """An entry of the journal in words; ``counts`` is whether no undo took it back."""

    place: int
    at: str
    by: str
    text: str
    counts: bool


def journal_of(view: JobView) -> tuple[Line, ...]:
    """Tell every entry of a job, the last one first."""
    counting = {entry.place for entry in view.counting}
    understood = {each.place: f"{each.title}: {each.understood}" for each in view.readings}
    opened = view.job.opened.astimezone().date()
    lines = []
    for entry in view.entries:
        text = understood.get(entry.place) or _entry_text(view, entry)
        at = entry.at.astimezone()
        told = at.strftime("%H:%M" if at.date() == opened else "%d %b %H:%M")
        counts = entry.place in counting or entry.kind is EntryKind.UNDO
        lines.append(Line(entry.place, told, entry.by, text, counts))
    return tuple(reversed(lines))


def _entry_text(view: JobView, entry: Entry) -> str:
    get = entry.data.get
    name = str(get("fix") or get("check") or get("name") or "")
    titles: Sequence[str] = [
        part.title
        for group in (view.book.fixes, view.book.checks, view.book.setups)
        for key, part in group.items()
        if key == name
    ]
    title = titles[0] if titles else name
    words = {
        EntryKind.READING: f"{title}: {get('text')}",
        EntryKind.SKIP: f"Cannot be done: {title}",
        EntryKind.WITHOUT: f"Missing today: {get('equipment')}",
        EntryKind.SETUP: f"Stands: {title}",
        EntryKind.FIX: f"Fix done: {title}",
        EntryKind.SOAK: f"Soak begun, {float(get('minutes') or 0):g} min",
        EntryKind.RESTART: f"It showed itself, {float(get('ago') or 0):.3g} min before this entry"
        if get("ago")
        else "It showed itself",
        EntryKind.POWER: f"While it soaks: switched {get('to')}",
        EntryKind.RETEST: f"Complaint tried again: {get('result')}",
        EntryKind.CLOCK: f"Clock: {get('to')}",
        EntryKind.NOTE: f"Note: {get('text')}",
        EntryKind.UNDO: f"Back to entry {get('to')}" if get("to") else "Back to the start",
        EntryKind.CLOSE: f"Closed: {get('outcome')}",
        EntryKind.REOPEN: "Opened again",
    }
    return words[entry.kind]
