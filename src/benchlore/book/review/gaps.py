"""What is missing from a book, and what is in it for nothing."""

from collections import defaultdict
from collections.abc import Iterator
from typing import Final

from benchlore.book.bench import STANDARD
from benchlore.book.contributions import ROLES, SHORT, credit_role
from benchlore.book.review.steps import works
from benchlore.book.values import Book, Check, Complaint, Fault, Fix
from benchlore.notation import Key, Positions, Problem, Severity, did_you_mean, listed, quoted

LICENCES: Final = (
    "CC0-1.0",
    "CC-BY-4.0",
    "CC-BY-SA-4.0",
    "CC-BY-NC-4.0",
    "CC-BY-NC-SA-4.0",
    "CC-BY-ND-4.0",
    "CC-BY-NC-ND-4.0",
    "CC-BY-3.0",
    "CC-BY-SA-3.0",
    "GFDL-1.3-or-later",
    "ODbL-1.0",
    "ODC-By-1.0",
    "PDDL-1.0",
    "Apache-2.0",
    "MIT",
)
"""Licences for texts and data by their SPDX identifiers (SPDX License List)."""


def fault_without_fix(book: Book, positions: Positions) -> Iterator[Problem]:
    """Doubt faults that no fix cures: finding them can only end in returning the board."""
    cured = {fault for fix in book.fixes.values() for fault, c in fix.cures.items() if c.probability > 0}
    for name in book.faults:
        if name not in cured:
            message = f"no fix cures fault '{name}'; add one, or it can only end in returning the board"
            yield positions.problem(("faults", name), "fault-without-fix", message, Severity.WARNING)


def cures_nothing(book: Book, positions: Positions) -> Iterator[Problem]:
    """Doubt fixes that cure no fault."""
    for name, fix in book.fixes.items():
        if not any(chance.probability > 0 for chance in fix.cures.values()):
            message = (
                f"fix '{name}' cures nothing; name the faults that it ends under 'cures', or take it out"
            )
            yield positions.problem(("fixes", name), "cures-nothing", message, Severity.WARNING)


def condition_unread(book: Book, positions: Positions) -> Iterator[Problem]:
    """Doubt conditions that no check reads."""
    read = {check.reads for check in book.checks.values()}
    for name in book.conditions:
        if name not in read:
            message = f"no check reads condition '{name}'; add one, or take the condition out"
            yield positions.problem(("conditions", name), "condition-unread", message, Severity.WARNING)


def nothing_to_do(book: Book, positions: Positions) -> Iterator[Problem]:
    """Doubt books without checks or without fixes."""
    for section, words in (("checks", "a check to look with"), ("fixes", "a fix to repair with")):
        if not getattr(book, section):
            message = f"the book has no '{section}'; add {words}"
            yield positions.problem((section,), "nothing-to-do", message, Severity.WARNING)


def fault_never_seen(book: Book, positions: Positions) -> Iterator[Problem]:
    """Note faults that the writer saw under no complaint, where there are counts at all."""
    seens = [complaint.seen for complaint in book.complaints.values() if complaint.seen]
    counted = {fault for seen in seens for fault, boards in seen.faults.items() if boards > 0}
    for name in book.faults if seens else ():
        if name not in counted:
            message = (
                f"fault '{name}' was seen under no complaint; add it to a 'seen', or say in 'notes' why not"
            )
            yield positions.problem(("faults", name), "fault-never-seen", message, Severity.NOTE)


def nothing_seen(book: Book, positions: Positions) -> Iterator[Problem]:
    """Note complaints without counts: every fault then counts as equally probable at first."""
    for name, complaint in book.complaints.items():
        if complaint.seen is None or not any(complaint.seen.faults.values()):
            message = (
                f"complaint '{name}' does not say which faults your boards had; all count as equally "
                "probable until jobs tell; add 'seen'"
            )
            yield positions.problem(("complaints", name), "nothing-seen", message, Severity.NOTE)


def unused_setup(book: Book, positions: Positions) -> Iterator[Problem]:
    """Note setups that nothing needs."""
    used = {setup for work in works(book) for setup in work.setups}
    for name in book.setups:
        if name not in used:
            message = f"nothing needs setup '{name}'; name it under 'needs', or take it out"
            yield positions.problem(("setups", name), "unused", message, Severity.NOTE)


def unused_equipment(book: Book, positions: Positions) -> Iterator[Problem]:
    """Note the book's own instruments and skills that nothing needs, or that are standard anyway."""
    used = {name for work in works(book) for name in work.equipment}
    for section in ("instruments", "skills"):
        for name in book.equipment:
            if (section, name) not in positions.places:
                continue
            if name in STANDARD:
                message = f"{quoted(name)} is in the standard list; it need not be described here"
                yield positions.problem((section, name), "standard-anyway", message, Severity.NOTE)
            elif name not in used:
                message = f"nothing needs {quoted(name)}; name it under 'needs', or take it out"
                yield positions.problem((section, name), "unused", message, Severity.NOTE)


def licence_unknown(book: Book, positions: Positions) -> Iterator[Problem]:
    """Doubt licences that are no SPDX identifier known here."""
    if book.licence not in LICENCES:
        hint = did_you_mean(book.licence, LICENCES)
        message = f"the licence {quoted(book.licence)} is no usual SPDX identifier{hint}"
        yield positions.problem(("licence",), "licence-unknown", message, Severity.WARNING)


def role_unknown(book: Book, positions: Positions) -> Iterator[Problem]:
    """Doubt roles that are none of CRediT's (NISO Z39.104-2022)."""
    for name, person in book.people.items():
        for place, role in enumerate(person.roles):
            if credit_role(role) is None:
                hint = did_you_mean(role, (*ROLES, *SHORT))
                message = f"{quoted(role)} is none of the 14 roles of CRediT, in full or in short{hint}"
                yield positions.problem(
                    ("people", name, "roles", place), "role-unknown", message, Severity.WARNING
                )


def names_clash(book: Book, positions: Positions) -> Iterator[Problem]:
    """Doubt names that shops' sheets could mean two things by: the same ``also`` or title twice."""
    for section in ("checks", "faults", "fixes", "complaints"):
        owners: dict[str, list[str]] = defaultdict(list)
        for name, part in getattr(book, section).items():
            for each in dict.fromkeys(_folded(text) for text in _all_names(part)):
                owners[each].append(name)
        for text, names in owners.items():
            if len(names) > 1:
                key: Key = (section, names[1])
                message = f"{quoted(text)} means {listed(names)}; a shop's sheet could mean either"
                yield positions.problem(key, "names-clash", f"{message}; tell them apart", Severity.WARNING)


def _all_names(part: Check | Fault | Fix | Complaint) -> tuple[str, ...]:
    return (part.name, part.title, *part.also)


def _folded(text: str) -> str:
    return " ".join(text.casefold().replace("-", " ").split())
