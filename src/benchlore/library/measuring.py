"""What books have brought so far: led jobs beside others where both are recorded, else the proof's replay."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Final, TypeAlias

import numpy as np

from benchlore.book import Book
from benchlore.jobs import Job, Outcome
from benchlore.library.compiled import changed, digest_of_shop, procedure_folder, stamp_of
from benchlore.library.folder import Library, sound_book_of, sound_shop_of, store_of
from benchlore.library.progress import Report, silent
from benchlore.library.proving import read_proof
from benchlore.model import Model, build
from benchlore.money import Pair, combined, more_repaired, saved
from benchlore.proof import Estimate, Proof
from benchlore.proof.ways import HANDS_ON, MONEY, Bench, Way, bench_of
from benchlore.shop import Shop

LEAST: Final = 5
"""Jobs that a complaint must have on either side to be compared."""

Identity: TypeAlias = tuple[str, str]


@dataclass(frozen=True, slots=True)
class Tally:
    """Finished jobs by how they ended; ``repaired`` are those that did not come back.

    ``timed`` of them have their minutes at work on record, ``hours`` in all.
    """

    jobs: int = 0
    repaired: int = 0
    came_back: int = 0
    returned: int = 0
    ruined: int = 0
    timed: int = 0
    hours: float = 0.0

    def plus(self, other: "Tally") -> "Tally":
        """Both together."""
        return Tally(
            self.jobs + other.jobs,
            self.repaired + other.repaired,
            self.came_back + other.came_back,
            self.returned + other.returned,
            self.ruined + other.ruined,
            self.timed + other.timed,
            self.hours + other.hours,
        )


@dataclass(frozen=True, slots=True)
class Saving:
    """Over so many ``jobs``: more boards repaired, hours at work and money saved.

    Hours and money are ``None`` where minutes are not on record; they are of the jobs of the complaints
    where they are. Money counts time, parts, boards lost, comebacks, and the worth of repairs not sold.
    """

    jobs: int
    beside: int
    repaired: Estimate
    hours: Estimate | None
    money: Estimate | None
    timed: int


@dataclass(frozen=True, slots=True)
class ComplaintImpact:
    """A complaint's jobs: ``led`` since the day asked for, ``own`` those that the bench did its own way.

    ``replayed`` is what the kept proof says the procedure would have saved on recorded jobs, ``None`` where
    none is kept or no minutes are on record; ``stale`` names what has changed since that proof.
    """

    board: str
    complaint: str
    title: str
    led: Tally
    own: Tally
    is_compared: bool
    replayed: Saving | None
    is_proven: bool
    stale: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ImpactReport:
    """What a library has brought.

    ``measured`` is over all complaints that could be compared, ``None`` where none could. ``expected`` is
    the model's word: the proofs' replays together, ``None`` where there are none. ``undated`` counts led jobs
    without a day, left out because a first day was asked for.
    """

    shop: str
    currency: str
    hour: float
    since: date | None
    seed: int
    boards: tuple[str, ...]
    complaints: tuple[ComplaintImpact, ...]
    measured: Saving | None
    expected: Saving | None
    undated: int

    @property
    def led(self) -> Tally:
        """All jobs that were led."""
        return _total(each.led for each in self.complaints)

    @property
    def own(self) -> Tally:
        """All jobs that were done the bench's own way."""
        return _total(each.own for each in self.complaints)


@dataclass(frozen=True, eq=False)
class _Counted:
    """A complaint with the pairs that its jobs make, of money and of hours; ``None``: not compared."""

    impact: ComplaintImpact
    money: Pair | None
    hours: Pair | None


def weigh_impact(
    library: Library,
    boards: Sequence[str] = (),
    *,
    since: date | None = None,
    shop_file: Path | None = None,
    seed: int = 1,
    report: Report = silent,
) -> ImpactReport:
    """Say what boards' books have brought since a day (all boards', ever, where nothing is named).

    A job is led if it was kept at the app's bench, step by step. It is compared with the jobs of the same
    complaint that were not, whenever those were. Nothing is planned, learned or proven for it.

    Raises
    ------
    NoBookError, BookRefusedError, ShopRefusedError, PlanningError
        As for a plan.
    """
    shop = sound_shop_of(library, shop_file)
    books = [_book(library, board) for board in dict.fromkeys(boards or library.boards())]
    jobs, led = _recorded(library)
    counted: list[_Counted] = []
    for done, book in enumerate(books):
        report("Counting jobs", done, len(books))
        counted += _board(library, book, shop, jobs, led, since)
    known = {book.board.name for book in books}
    return ImpactReport(
        shop=shop.name,
        currency=shop.currency,
        hour=shop.hour,
        since=since,
        seed=seed,
        boards=tuple(book.board.title for book in books),
        complaints=tuple(each.impact for each in counted),
        measured=_measured(counted, np.random.default_rng(seed)),
        expected=_expected([each.impact for each in counted]),
        undated=sum(
            since is not None and job.opened is None and job.board in known and _identity(job) in led
            for job in jobs
        ),
    )


def _book(library: Library, board: str) -> Book:
    book = sound_book_of(library, board).book
    assert book is not None
    return book


def _recorded(library: Library) -> tuple[tuple[Job, ...], frozenset[Identity]]:
    """All finished jobs, and which of them were led."""
    store = store_of(library)
    if store is None:
        return (), frozenset()
    with store:
        led = frozenset((each.shop, each.number) for each in store.open_jobs(closed=True))
        return tuple(job for job in store.jobs() if job.outcome is not Outcome.OPEN), led


def _identity(job: Job) -> Identity:
    return job.shop, job.number


def _board(
    library: Library,
    book: Book,
    shop: Shop,
    jobs: Sequence[Job],
    led: frozenset[Identity],
    since: date | None,
) -> Iterator[_Counted]:
    for complaint in book.complaints:
        these = [job for job in jobs if job.board == book.board.name and job.complaint == complaint]
        ours = [job for job in these if _identity(job) in led and _is_since(job, since)]
        others = [job for job in these if _identity(job) not in led]
        proof = read_proof(procedure_folder(library, book.board.name, complaint, shop) / "proof.json")
        stale = () if proof is None else _stale(library, book.board.name, shop, proof[1])
        model = build(book, complaint)
        yield _complaint(model, book, shop, (ours, others), None if proof is None else proof[0], stale)


def _is_since(job: Job, since: date | None) -> bool:
    return since is None or (job.opened is not None and job.opened >= since)


def _stale(library: Library, board: str, shop: Shop, made_from: Mapping[str, object]) -> tuple[str, ...]:
    store = store_of(library)
    columns = None
    if store is not None:
        with store:
            columns = store.columns(board)
    return changed(made_from, {**stamp_of(library, board, columns), "shop": digest_of_shop(shop)})


def _complaint(
    model: Model,
    book: Book,
    shop: Shop,
    jobs: tuple[Sequence[Job], Sequence[Job]],
    proof: Proof | None,
    stale: tuple[str, ...],
) -> _Counted:
    led, own = (bench_of(model, shop, each) for each in jobs)
    is_compared = min(map(len, jobs)) >= LEAST
    is_timed = is_compared and min(led.timed.sum(), own.timed.sum()) >= LEAST
    impact = ComplaintImpact(
        board=model.board,
        complaint=model.complaint,
        title=book.complaints[model.complaint].title,
        led=_tally(jobs[0], led),
        own=_tally(jobs[1], own),
        is_compared=is_compared,
        replayed=None if proof is None else _replayed(proof),
        is_proven=proof is not None,
        stale=stale,
    )
    if not is_compared:
        return _Counted(impact, None, None)
    money = _pair(led, own, MONEY, 1.0)
    return _Counted(impact, money, _pair(led, own, HANDS_ON, 60.0) if is_timed else None)


def _pair(led: Bench, own: Bench, column: int, unit: float) -> Pair:
    return Pair(
        (int(led.repaired.sum()), len(led.timed)),
        (int(own.repaired.sum()), len(own.timed)),
        led.spent[led.timed, column] / unit,
        own.spent[own.timed, column] / unit,
    )


def _tally(jobs: Sequence[Job], bench: Bench) -> Tally:
    ends = [job.outcome for job in jobs]
    return Tally(
        jobs=len(jobs),
        repaired=int(bench.repaired.sum()),
        came_back=int(bench.came_back.sum()),
        returned=ends.count(Outcome.RETURNED),
        ruined=ends.count(Outcome.RUINED),
        timed=int(bench.timed.sum()),
        hours=float(bench.spent[bench.timed, HANDS_ON].sum()) / 60,
    )


def _total(tallies: Iterator[Tally]) -> Tally:
    total = Tally()
    for each in tallies:
        total = total.plus(each)
    return total


def _measured(counted: Sequence[_Counted], rng: np.random.Generator) -> Saving | None:
    """All complaints together that have enough jobs on both sides."""
    pairs = [each.money for each in counted if each.money is not None]
    if not pairs:
        return None
    timed = [each for each in counted if each.hours is not None and each.money is not None]
    hours = [each.hours for each in timed if each.hours is not None]
    return Saving(
        jobs=sum(pair.led[1] for pair in pairs),
        beside=sum(pair.own[1] for pair in pairs),
        repaired=more_repaired(pairs),
        hours=saved(hours, rng) if hours else None,
        money=saved([each.money for each in timed if each.money is not None], rng) if hours else None,
        timed=sum(pair.led[1] for pair in hours),
    )


def _replayed(proof: Proof) -> Saving | None:
    """What the procedure would have saved on the jobs that the bench timed, by the proof's replay."""
    bench, own = proof.replay.of(Way.BENCH), proof.replay.of(Way.PROCEDURE)
    if bench is None or own is None or bench.more is None or bench.more_minutes is None:
        return None
    jobs = float(bench.jobs)
    return Saving(
        jobs=bench.jobs,
        beside=bench.jobs,
        repaired=combined([(jobs, own.repaired), (-jobs, bench.repaired)]),
        hours=combined([(jobs / 60, bench.more_minutes)]),
        money=combined([(jobs, bench.more)]),
        timed=bench.jobs,
    )


def _expected(complaints: Sequence[ComplaintImpact]) -> Saving | None:
    """The replays of all complaints together."""
    found = [each.replayed for each in complaints if each.replayed is not None]
    if not found:
        return None
    jobs = sum(each.jobs for each in found)
    return Saving(
        jobs=jobs,
        beside=jobs,
        repaired=combined([(1.0, each.repaired) for each in found]),
        hours=combined([(1.0, each.hours) for each in found if each.hours is not None]),
        money=combined([(1.0, each.money) for each in found if each.money is not None]),
        timed=jobs,
    )
