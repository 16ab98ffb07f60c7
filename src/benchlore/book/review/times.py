"""Times that cannot be meant, and soaks that prove nothing."""

from collections.abc import Iterator
from math import exp, log

from benchlore.book.values import Book, Work
from benchlore.notation import Key, Positions, Problem, Severity
from benchlore.units import format_duration

LEAST_CAUGHT = 0.5
"""A soak that lets more than half of the uncured boards go home is not worth its time (our own choice)."""

MOST_WORK = 7 * 24 * 60.0
"""Minutes of a week: more of them at work on a step, or on a job, are a slip of the unit (our own choice)."""


def takes_too_long(book: Book, positions: Positions) -> Iterator[Problem]:
    """Doubt work of more than a week: no procedure would ever ask for it, and nobody would see why."""
    works: dict[Key, Work] = {("setups", name): setup.work for name, setup in book.setups.items()}
    works |= {("checks", name): check.work for name, check in book.checks.items()}
    works |= {("fixes", name): fix.work for name, fix in book.fixes.items()}
    works |= {("complaints", name, "retest"): each.retest for name, each in book.complaints.items()}
    for key, work in works.items():
        if work.takes > MOST_WORK:
            long = format_duration(work.takes)
            message = f"{long} at work are more than a week day and night; is the unit right?"
            yield positions.problem((*key, "takes"), "takes-too-long", message, Severity.WARNING)


def takes_no_time(book: Book, positions: Positions) -> Iterator[Problem]:
    """Doubt fixes that take no time: a procedure would try them all at once."""
    for name, fix in book.fixes.items():
        if fix.work.takes + fix.work.waits == 0:
            message = f"fix '{name}' takes no time at all; write how long it keeps somebody busy"
            yield positions.problem(("fixes", name, "takes"), "takes-no-time", message, Severity.WARNING)


def soak_too_short(book: Book, positions: Positions) -> Iterator[Problem]:
    """Doubt retests of intermittent complaints that would miss most boards which are not cured."""
    for name, complaint in book.complaints.items():
        if complaint.about_every is None:
            continue
        watched = complaint.retest.takes + complaint.retest.waits
        caught = 1 - exp(-watched / complaint.about_every)
        if caught < LEAST_CAUGHT:
            enough = format_duration(round(-log(0.05) * complaint.about_every))
            message = (
                f"after this retest {100 * (1 - caught):.0f} % of the boards that are not cured go home "
                f"unnoticed; a soak of {enough} catches 95 of 100"
            )
            key = ("complaints", name, "retest", "soak")
            yield positions.problem(key, "soak-too-short", message, Severity.WARNING)


def own_rhythm_unused(book: Book, positions: Positions) -> Iterator[Problem]:
    """Doubt a fault's ``about every`` in a book whose complaints are all always there."""
    if any(complaint.about_every is not None for complaint in book.complaints.values()):
        return
    for name, fault in book.faults.items():
        if fault.about_every is not None:
            message = (
                f"fault '{name}' says 'about every', but no complaint is intermittent; add "
                "'intermittent: {about every: …}' to the complaint, or take this out"
            )
            yield positions.problem(
                ("faults", name, "about every"), "rhythm-unused", message, Severity.WARNING
            )
