"""How often each fix really cured, from the recorded jobs, beside what the book says."""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from math import inf
from typing import Final, TypeAlias

import numpy as np

from benchlore.book import Book
from benchlore.jobs import Attempt, Job, Outcome, Retest, Store
from benchlore.library.folder import Library, sound_book_of, store_of
from benchlore.soak import CureCurve, cure_curve, mean_of_intervals, times_within

DAYS: Final = (30.0, 90.0)
PARTS: Final = 100
"""A comeback without a date counts as so many parts, each on a day of its own."""
Identity: TypeAlias = tuple[str, str]


@dataclass(frozen=True, eq=False)
class CureRate:
    """A fix on a fault that somebody confirmed: what the book says, and what became of the boards.

    ``boards`` had it, ``at_once`` of them showed the complaint again in the retest, ``later`` came back.
    ``shares`` has for 30 and 90 days the share still cured and its 95 % limits. ``curve`` has days since the
    job was opened. ``undated`` comebacks have no date: of those it is only known that they came by the last
    day in the store, where ``curve`` has them.
    """

    fix: str
    title: str
    fault: str
    fault_title: str
    stated: float
    boards: int
    at_once: int
    later: int
    undated: int
    shares: tuple[tuple[float, float, float, float], ...]
    curve: CureCurve


def cure_rates(library: Library, board: str) -> tuple[CureRate, ...]:
    """The real cure rate of each fix on each fault that it is said to cure, by the product-limit method.

    A retest that shows the complaint again counts as a comeback after 0 days; a board that nobody saw again
    counts as cured up to the last day on which the store has a job. Only jobs with a confirmed fault count.
    A comeback without a date came at any time up to then, at a constant rate
    (:func:`benchlore.soak.mean_of_intervals`); limits are those of the days in that time that lower, and
    raise, the share most.

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
    """Days that a board was followed, whether it came back, at once, or on a day that nobody wrote down."""

    days: float
    came: bool
    at_once: bool = False
    undated: bool = False

    def put(self, day: float) -> float:
        """The days of a board, a comeback without a date put at ``day``, or at its last if that is sooner."""
        return min(day, self.days) if self.undated else self.days


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
    return _Board(followed, came=True, undated=True)


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


def _curve(boards: list[_Board], days: Iterable[float]) -> CureCurve:
    return cure_curve(np.array(list(days)), np.array([float(board.came) for board in boards]))


def _share(boards: list[_Board], curve: CureCurve, day: float) -> tuple[float, float, float]:
    """The share still cured after so many days, and its limits.

    A comeback without a date lowers it most where it came last by then, among the fewest boards, and least
    where it came later or, if it cannot have, at once.
    """
    if not any(board.undated for board in boards):
        return curve.at(day)
    low = _curve(boards, (board.put(day) for board in boards)).at(day)
    high = _curve(boards, (board.put(inf if board.days > day else 0.0) for board in boards)).at(day)
    return _shared_out(boards).at(day)[0], low[1], high[2]


def _shared_out(boards: list[_Board]) -> CureCurve:
    """The curve with comebacks without a date shared out; what was not back at once says at which rate."""
    later = [board for board in boards if not board.at_once]
    since = np.array([0.0 if board.undated else board.days for board in later])
    until = np.array([board.days if board.came else inf for board in later])
    days = np.repeat(np.array([board.days for board in boards])[:, None], PARTS, axis=1)
    undated = np.array([board.undated for board in boards])
    days[undated] = times_within(days[undated, 0], mean_of_intervals(since, until), PARTS)
    came = np.repeat(np.array([float(board.came) for board in boards]), PARTS)
    return cure_curve(days.ravel(), came)


def _rate(book: Book, fix: str, fault: str, boards: list[_Board]) -> CureRate:
    curve = _curve(boards, (board.days for board in boards))
    return CureRate(
        fix=fix,
        title=book.fixes[fix].title,
        fault=fault,
        fault_title=book.faults[fault].title,
        stated=book.fixes[fix].cures[fault].probability,
        boards=len(boards),
        at_once=sum(board.at_once for board in boards),
        later=sum(board.came and not board.at_once for board in boards),
        undated=sum(board.undated for board in boards),
        shares=tuple((days, *_share(boards, curve, days)) for days in DAYS),
        curve=curve,
    )
