"""What a check, fix or setup asks of the bench, in sentences that every surface prints alike."""

from collections.abc import Collection, Iterable

from benchlore.book import Book, Check, Complaint, Fix, Hazard, Setup, Work
from benchlore.units import format_duration


def works_of(book: Book, entry: Check | Fix, complaint: str) -> list[Work]:
    """Return the work of an entry with every setup that it stands on and, for a fix, the retest after it."""
    works = [*(book.setups[name].work for name in entry.work.setups), entry.work]
    return [*works, book.complaints[complaint].retest] if isinstance(entry, Fix) else works


def hazards_of(works: Iterable[Work]) -> tuple[Hazard, ...]:
    """Return the hazards of some work, each once, in the order in which they come."""
    return tuple(dict.fromkeys(hazard for work in works for hazard in work.cautions))


def standing_text(book: Book, entry: Check | Fix, made_now: Collection[str]) -> str:
    """Name the setups that must still stand from earlier; closing or powering may have ended them."""
    standing = [book.setups[name].title for name in entry.work.setups if name not in made_now]
    return f"Must still stand: {', '.join(standing)}. If not, make it again first." if standing else ""


def setup_text(setup: Setup) -> str:
    """Say what must stand first."""
    how = f": {setup.how}" if setup.how else ""
    return f"First {setup.title} ({minutes(setup.work)}){how}"


def retest_text(complaint: Complaint, soak: float) -> str:
    """Say how to try a complaint again after a fix, and how long to let the board run first."""
    hands_on = format_duration(complaint.retest.takes)
    again = f"try the complaint again ({hands_on}). {complaint.retest_how}"
    return f"Soak {format_duration(soak)}, then {again}" if soak else f"Then {again}"


def minutes(work: Work) -> str:
    """Print hands-on and waiting time: ``3 min and 1 h waiting``."""
    hands_on = format_duration(work.takes)
    return f"{hands_on} and {format_duration(work.waits)} waiting" if work.waits else hands_on
