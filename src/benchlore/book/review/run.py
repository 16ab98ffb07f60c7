"""Which rules there are, and running them."""

from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Final, TypeAlias

from benchlore.book.read import ReadBook
from benchlore.book.review.gaps import (
    condition_unread,
    cures_nothing,
    fault_never_seen,
    fault_without_fix,
    licence_unknown,
    names_clash,
    nothing_seen,
    nothing_to_do,
    role_unknown,
    unused_equipment,
    unused_setup,
)
from benchlore.book.review.hazards import (
    missing_hot_air_caution,
    missing_light_caution,
    missing_lithium_caution,
    missing_mains_caution,
    missing_solvent_caution,
)
from benchlore.book.review.order import (
    only_after_cannot_tell,
    only_after_circle,
    only_after_never_met,
    powered_before_resistance,
)
from benchlore.book.review.pictures import missing_pictures
from benchlore.book.review.telling import (
    check_tells_nothing,
    densities_overlap,
    fault_invisible,
    faults_alike,
)
from benchlore.book.review.texts import no_place_to_probe, very_long_text
from benchlore.book.review.times import own_rhythm_unused, soak_too_short, takes_no_time, takes_too_long
from benchlore.book.values import Book
from benchlore.notation import Positions, Problem
from benchlore.notation.findings import in_order

Rule: TypeAlias = Callable[[Book, Positions], Iterable[Problem]]

RULES: Final[tuple[Rule, ...]] = (
    check_tells_nothing,
    condition_unread,
    cures_nothing,
    fault_invisible,
    fault_never_seen,
    fault_without_fix,
    licence_unknown,
    missing_hot_air_caution,
    missing_light_caution,
    missing_lithium_caution,
    missing_mains_caution,
    missing_solvent_caution,
    names_clash,
    no_place_to_probe,
    nothing_seen,
    nothing_to_do,
    only_after_cannot_tell,
    only_after_circle,
    only_after_never_met,
    own_rhythm_unused,
    powered_before_resistance,
    role_unknown,
    soak_too_short,
    takes_no_time,
    takes_too_long,
    unused_equipment,
    unused_setup,
    very_long_text,
)
"""Rules that look at each thing by itself."""

SLOW_RULES: Final[tuple[Rule, ...]] = (densities_overlap, faults_alike)
"""Rules that compare every state or fault with every other."""


def review(read: ReadBook, *, folder: Path | None = None) -> tuple[Problem, ...]:
    """Return all that is wrong or doubtful, by line: what reading found, then what the rules find.

    With ``folder``, the book's own, pictures that are not there are named too. A book that could not be
    read has only its reading problems.
    """
    if read.book is None:
        return read.problems
    found = list(read.problems)
    for rule in (*RULES, *SLOW_RULES):
        found.extend(rule(read.book, read.positions))
    if folder is not None:
        found.extend(missing_pictures(read.book, read.positions, folder))
    return in_order(found)
