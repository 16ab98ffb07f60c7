"""How often each fix really cured, from the recorded jobs, beside what the book says."""

from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Final, TypeAlias

import numpy as np

from benchlore.book import Book
from benchlore.jobs import Attempt, Job, Outcome, Retest, Store
from benchlore.library.folder import Library, sound_book_of, store_of
from benchlore.soak import CureCurve, cure_curve

DAYS: Final = (30.0, 90.0)
GUESSED: Final = 14.0
"""Days after which a comeback without a date is taken to have come (common practice, no source)."""
Identity: TypeAlias = tuple[str, str]


@dataclass(frozen=True, eq=False)
class CureRate:
    """A fix on a fault that somebody confirmed: what the book says, and what became of the boards.

    ``boards`` had it, ``at_once`` of them showed the complaint again in the retest, ``later`` came back.
    ``shares`` has for 30 and 90 days the share still cured and its 95 % limits. ``curve`` has days since the
    job was opened. ``guessed`` comebacks have no date, and were put at ``GUESSED`` days.
    """

    fix: str
    title: str
    fault: str
    fault_title: str
    stated: float
    boards: int
    at_once: int
    later: int
    guessed: int
    shares: tuple[tuple[float, float, float, float], ...]
    curve: CureCurve


def cure_rates(library: Library, board: str) -> tuple[CureRate, ...]:
    """The real cure rate of each fix on each fault that it is said to cure, by the product-limit method.

    A retest that shows the complaint again counts as a comeback after 0 days; a board that nobody saw again
    counts as cured up to the last day on which the store has a job. Only jobs with a confirmed fault count.
    A comeback without a date is put at ``GUESSED`` days.

    Raises
    ------
    NoBookError, BookRefusedError
        If there is no such book, or it has errors.
    """
    book = sound_book_of(library, board).book
    assert book is not None
    store = store_of(library)
    if store is None:
        return ()
    with store:
        return _rates(book, store)


def _rates(book: Book, store: Store) -> tuple[CureRate, ...]:
    jobs = [job for job in store.jobs(board=book.board.name) if job.outcome is not Outcome.OPEN]
    last = max((job.opened for job in jobs if job.opened is not None), default=None)
    back = _days_until_back(store, jobs)
    found: defaultdict[tuple[str, str], list[_Board]] = defaultdict(list)
    for job in jobs:
        for attempt, is_last in _attempts(job):
            if job.fault is not None and job.fault in _cures(book, attempt.fix):
                one = _board(job, attempt, is_last, last, back)
                if one is not None:
                    found[attempt.fix, job.fault].append(one)
    return tuple(
        _rate(book, fix, fault, found[fix, fault])
        for fix in book.fixes
        for fault in _cures(book, fix)
        if found.get((fix, fault))
    )


@dataclass(frozen=True, slots=True)
class _Board:
    """Days that a board was followed, whether it came back, at once, and on a day that was guessed."""

    days: float
    came: bool
    at_once: bool = False
    guessed: bool = False


def _board(
    job: Job,
    attempt: Attempt,
    is_last: bool,
    last: date | None,
    back: Mapping[Identity, float],
) -> _Board | None:
    """What became of a board after a fix; ``None`` where nobody knows."""
    if attempt.retest is Retest.STILL_THERE or (attempt.retest is Retest.GONE and not is_last):
        return _Board(0.0, came=True, at_once=True)
    if not is_last or job.outcome is not Outcome.REPAIRED:
        return None
    followed = float((last - job.opened).days) if last is not None and job.opened is not None else 0.0
    if not job.comeback:
        return _Board(followed, came=False)
    dated = back.get((job.shop, job.number))
    if dated is not None:
        return _Board(dated, came=True)
    return _Board(min(followed, GUESSED), came=True, guessed=True)


def _attempts(job: Job) -> Iterator[tuple[Attempt, bool]]:
    """The fixes of a job in their order, and whether each is the last."""
    ordered = sorted(job.attempts, key=lambda attempt: attempt.step)
    return ((attempt, attempt is ordered[-1]) for attempt in ordered)


def _cures(book: Book, fix: str) -> tuple[str, ...]:
    return tuple(book.fixes[fix].cures) if fix in book.fixes else ()


def _days_until_back(store: Store, jobs: list[Job]) -> dict[Identity, float]:
    """Days from each job to the one that it came back with, where the bench wrote that down."""
    opened = {(job.shop, job.number): job.opened for job in jobs}
    found: dict[Identity, float] = {}
    for again in store.open_jobs(closed=None):
        earlier = opened.get(again.comeback_of) if again.comeback_of is not None else None
        if again.comeback_of is not None and earlier is not None:
            days = float(max(0, (again.opened.date() - earlier).days))
            found[again.comeback_of] = min(days, found.get(again.comeback_of, days))
    return found


def _rate(book: Book, fix: str, fault: str, boards: list[_Board]) -> CureRate:
    curve = cure_curve(
        np.array([board.days for board in boards]), np.array([float(board.came) for board in boards])
    )
    return CureRate(
        fix=fix,
        title=book.fixes[fix].title,
        fault=fault,
        fault_title=book.faults[fault].title,
        stated=book.fixes[fix].cures[fault].probability,
        boards=len(boards),
        at_once=sum(board.at_once for board in boards),
        later=sum(board.came and not board.at_once for board in boards),
        guessed=sum(board.guessed for board in boards),
        shares=tuple((days, *curve.at(days)) for days in DAYS),
        curve=curve,
    )
