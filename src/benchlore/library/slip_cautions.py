"""What the customer's slip warns of: by what was really done to this device."""

from collections.abc import Iterator
from typing import Final

from benchlore.book import Hazard, Work
from benchlore.jobs import EntryKind
from benchlore.library.desk_values import JobView
from benchlore.library.sheet import hazards_of

WARNINGS: Final = {
    Hazard.LITHIUM: "A battery that is swollen, hot or smells must not be charged or pressed: keep it away "
    "from what burns and ask for advice.",
    Hazard.MAINS: "If the device smells, smokes or gives a shock when it is plugged in, pull the plug and do "
    "not use it until it was looked at.",
}
"""In words for who owns the device; other hazards are the bench's alone."""


def slip_cautions(view: JobView) -> tuple[str, ...]:
    """Return the warnings that the work on this job gives cause for, each once."""
    return tuple(WARNINGS[hazard] for hazard in hazards_of(_work_done(view)) if hazard in WARNINGS)


def _work_done(view: JobView) -> Iterator[Work]:
    """The checks that were read, the fixes that were tried, their setups and those set up, the retests."""
    book, setups = view.book, dict.fromkeys(view.bench.setups)
    for name in [taken.check for taken in view.readings] + [each.fix for each in view.tried]:
        part = book.checks.get(name) or book.fixes.get(name)
        if part is not None:
            setups |= dict.fromkeys(part.work.setups)
            yield part.work
    for name in setups:
        if name in book.setups:
            yield book.setups[name].work
    if any(entry.kind in (EntryKind.RETEST, EntryKind.SOAK) for entry in view.counting):
        yield book.complaints[view.job.complaint].retest
