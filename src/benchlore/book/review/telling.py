"""What the checks of a book can tell, and what they cannot."""

from collections.abc import Iterator

import numpy as np
from scipy.spatial.distance import cdist

from benchlore.book.review.likeness import (
    SAME,
    groups,
    healthy_look,
    looks,
    overlap,
    row,
    state_pairs,
    untouched,
)
from benchlore.book.values import Book
from benchlore.notation import Positions, Problem, Severity, listed

UNDECIDED = 0.5
"""Two states whose readings overlap by this much cannot be decided between by one reading."""

HARDLY_TOLD = 0.10
"""Faults whose readings differ on fewer boards than this count as alike."""

_MOVED = 0.01


def check_tells_nothing(book: Book, positions: Positions) -> Iterator[Problem]:
    """Doubt checks that show the same whatever the state, or read a condition that no fault changes."""
    moved = {name for name in book.conditions if _is_moved(book, name)}
    for name, check in book.checks.items():
        pairs = list(state_pairs(book, check))
        if pairs and all(overlap(check, *pair) >= SAME for pair in pairs):
            message = (
                f"check '{name}' tells nothing: it shows the same in every state of '{check.reads}'; "
                "say what differs, or take it out"
            )
        elif check.reads not in moved:
            message = (
                f"check '{name}' tells nothing: it reads '{check.reads}', which no fault changes; "
                "add it under 'causes' of the faults that do"
            )
        else:
            continue
        yield positions.problem(("checks", name), "tells-nothing", message, Severity.WARNING)


def fault_invisible(book: Book, positions: Positions) -> Iterator[Problem]:
    """Doubt faults that change nothing which any check reads."""
    healthy = healthy_look(book)
    for name, look in zip(book.faults, looks(book), strict=True):
        if np.abs(look - healthy).sum() / 2 < _MOVED:
            message = (
                f"no check can see fault '{name}'; say under 'causes' which condition it changes, "
                "and add a check that reads it"
            )
            yield positions.problem(("faults", name), "fault-invisible", message, Severity.WARNING)


def densities_overlap(book: Book, positions: Positions) -> Iterator[Problem]:
    """Doubt numeric checks whose reading cannot decide between two states that are said to differ."""
    for name, check in book.checks.items():
        if check.measures is None:
            continue
        for first, second in state_pairs(book, check):
            share = overlap(check, first, second)
            if UNDECIDED <= share < SAME:
                message = (
                    f"check '{name}' cannot decide between '{first}' and '{second}': their readings overlap "
                    f"by {100 * share:.0f} %; narrow the spans, measure otherwise, or write 'like {first}'"
                )
                key = ("checks", name, "shows", second)
                yield positions.problem(key, "readings-overlap", message, Severity.WARNING)


def faults_alike(book: Book, positions: Positions) -> Iterator[Problem]:
    """Name groups of faults that no check tells apart: a note where one fix cures all, else a warning."""
    names, seen = list(book.faults), looks(book)
    apart = cdist(seen, seen, "cityblock") / 2 if seen.shape[1] else np.zeros((len(names), len(names)))
    visible = np.abs(seen - healthy_look(book)).sum(axis=1) / 2 >= _MOVED
    alike = (apart < HARDLY_TOLD) & visible[:, None] & visible[None, :]
    pairs = [(int(i), int(j)) for i, j in np.argwhere(alike) if i < j]
    labels = groups(len(names), pairs)
    for label in dict.fromkeys(labels.tolist()):
        members = np.flatnonzero(labels == label)
        if len(members) > 1:
            worst = float(apart[np.ix_(members, members)].max())
            yield _alike(book, positions, [names[k] for k in members], worst)


def _alike(book: Book, positions: Positions, faults: list[str], worst: float) -> Problem:
    few = (
        "no check tells"
        if worst < _MOVED
        else f"hardly any check tells (on {100 * worst:.0f} % of boards at most)"
    )
    if _share_cures(book, faults):
        end, severity = "the same fixes cure them, so nothing is lost", Severity.NOTE
    else:
        end, severity = "add a check that only one of them changes, or make them one fault", Severity.WARNING
    message = f"{few} {listed(faults)} apart; {end}"
    return positions.problem(("faults", faults[0]), "faults-alike", message, severity)


def _share_cures(book: Book, faults: list[str]) -> bool:
    cures = {
        frozenset(
            name
            for name, fix in book.fixes.items()
            if fault in fix.cures and fix.cures[fault].probability > 0
        )
        for fault in faults
    }
    return len(cures) == 1 and cures != {frozenset()}


def _is_moved(book: Book, condition: str) -> bool:
    at = book.conditions[condition]
    still = untouched(at)
    return any(
        np.abs(row(book, fault.name, at) - still).sum() / 2 >= _MOVED
        for fault in book.faults.values()
        if condition in fault.causes
    )
