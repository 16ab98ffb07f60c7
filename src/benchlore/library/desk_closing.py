"""A job on the bench becomes a finished record."""

from datetime import tzinfo

from benchlore.book import Book
from benchlore.jobs import (
    UNLISTED,
    Attempt,
    EntryKind,
    Job,
    Outcome,
    Plain,
    Reading,
)
from benchlore.library.bench import Bench, evidence_of
from benchlore.library.desk_entries import is_minutes
from benchlore.library.desk_values import Close, JobView, Taken
from benchlore.library.errors import EntryRefusedError
from benchlore.model import Model
from benchlore.notation import did_you_mean


def sound_close(close: Close, book: Book) -> Close:
    """Return how a job ended, in the book's own names; raises ``EntryRefusedError``."""
    if close.outcome is Outcome.OPEN:
        raise EntryRefusedError("the outcome", "'open' ends nothing; say repaired, returned or ruined")
    for name, value in (("hands-on", close.hands_on), ("waiting", close.waiting)):
        if value is not None and not is_minutes(value):
            raise EntryRefusedError(f"minutes {name}", f"{value!r} where minutes from 0 on are expected")
    return Close(
        close.outcome,
        None if close.fault is None else _fault(close.fault, book),
        close.fault_text,
        close.notes,
        close.hands_on,
        close.waiting,
    )


def close_data(close: Close) -> dict[str, Plain]:
    """A closing entry's data."""
    return {
        "outcome": str(close.outcome),
        "fault": close.fault,
        "fault_text": close.fault_text,
        "notes": close.notes,
        "hands_on": close.hands_on,
        "waiting": close.waiting,
    }


def finished_job(view: JobView, close: Close, zone: tzinfo | None) -> Job:
    """Make the record of a job: its readings and fixes in order, its minutes, how it ended.

    The day of opening is that of the time zone ``zone``.
    """
    job, clock = view.job, view.clock
    strange = [each.entry for each in view.unread if each.entry.kind in (EntryKind.READING, EntryKind.FIX)]
    places = [each.place for each in view.readings] + [each.place for each in view.tried]
    places = sorted(places + [each.place for each in strange])
    steps = {place: step for step, place in enumerate(places, 1)}
    readings = [_reading(view.model, taken, steps[taken.place]) for taken in view.readings]
    attempts = [
        Attempt(each.fix, steps[each.place], each.retest, view.soaked.get(each.place)) for each in view.tried
    ]
    for entry in strange:
        # The book knew it when it was entered: it stays on record, in the words of then.
        if entry.kind is EntryKind.READING:
            text = " ".join(str(entry.data["text"]).split())
            readings.append(Reading(str(entry.data["check"]), steps[entry.place], text=text))
        else:
            soaked = view.soaked.get(entry.place)
            attempts.append(Attempt(str(entry.data["fix"]), steps[entry.place], soaked=soaked))
    said = {"said": job.said, "device": job.device, "comeback of": " ".join(job.comeback_of or ())}
    return Job(
        shop=job.shop,
        number=job.number,
        board=job.board,
        complaint=job.complaint,
        opened=job.opened.astimezone(zone).date(),
        readings=tuple(sorted(readings, key=lambda each: each.step)),
        attempts=tuple(sorted(attempts, key=lambda each: each.step)),
        outcome=close.outcome,
        fault=close.fault,
        fault_text=close.fault_text,
        hands_on=close.hands_on if close.hands_on is not None or not clock.ran else clock.hands_on,
        waiting=close.waiting if close.waiting is not None or not clock.ran else clock.waiting,
        technician=job.technician,
        notes=close.notes or "\n".join(str(note.data["text"]) for note in view.notes),
        extra={name: text for name, text in said.items() if text},
    )


def _reading(model: Model, taken: Taken, step: int) -> Reading:
    """A reading as intake makes one: a named result, or a number; neither where it told nothing."""
    evidence = evidence_of(model, Bench(((taken.check, taken.text),)))
    result = next((model.checks[c].results[r] for c, r in evidence.readings), None)
    value = next((value for _, value in evidence.values), None)
    return Reading(taken.check, step, result, value, " ".join(taken.text.split()))


def _fault(name: str, book: Book) -> str:
    """Find a fault by its name or, whatever the case, by its title."""
    if name == UNLISTED or name in book.faults:
        return name
    titled = [fault.name for fault in book.faults.values() if fault.title.casefold() == name.casefold()]
    if len(titled) == 1:
        return titled[0]
    raise EntryRefusedError(
        "the fault",
        f"the book has no fault {name[:60]!r}{did_you_mean(name, tuple(book.faults))}; "
        f"choose '{UNLISTED}' and describe it in words",
    )
