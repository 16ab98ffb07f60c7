"""How long to soak: a board's complaint, its restart record or the customer's words, and a fix.

The same questions are answered for commands and pages: what a record shows, how often it happens, which
suspects that speaks for, how long a soak has to be, and what a clean one proves.
"""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import IO, Final

import numpy as np

from benchlore.book import OTHERS, Book, Hazard
from benchlore.library.bench import Bench, evidence_of
from benchlore.library.desk_belief import belief_of, chance_cured, uncured_by
from benchlore.library.desk_standing import fix_of
from benchlore.library.errors import NoRateError, RecordRefusedError
from benchlore.library.folder import Library, sound_shop_of
from benchlore.library.planning import learn_board, model_of_complaint
from benchlore.library.progress import Report, silent
from benchlore.model import FloatArray, Model
from benchlore.notation import FileMissing, FileUnreadable
from benchlore.procedure import instance_of
from benchlore.shop import Shop
from benchlore.soak import (
    HOURS_A_DAY,
    Finding,
    LogLook,
    MeanBetween,
    NumberError,
    Pattern,
    PowerLaw,
    Rate,
    RateBelief,
    RateMixture,
    RecordError,
    RestartRecord,
    SequentialTest,
    SoakError,
    Verdict,
    belief_in,
    cheapest_soak,
    find_kind,
    mean_between,
    on_the_bench,
    power_law,
    read_record,
    said,
    soak_for,
    verdict,
)
from benchlore.units import counted, format_duration

CONFIDENCES: Final = (0.8, 0.9, 0.95, 0.99)
SURE: Final = 0.95
BETTER: Final = 10.0
"""A board counts as good in the sequential test if it shows the complaint so many times more seldom."""
MOST_SUSPECTS: Final = 5
BATCH: Final = 1 << 16


@dataclass(frozen=True, eq=False)
class RecordRead:
    """A restart record and what it shows; ``every`` and ``trend`` are in minutes."""

    file: str
    record: RestartRecord
    finding: Finding
    every: MeanBetween
    trend: PowerLaw | None


@dataclass(frozen=True, slots=True)
class SoakAsked:
    """What is asked about a soak.

    ``says`` are the customer's words. ``after`` is a fix that was made, ``readings`` are ``(check, text)`` of
    this job. An hour on the bench counts as ``factor`` hours of use; ``boards`` with the same fix soak side
    by side. ``soaked`` are minutes already without an event.
    """

    says: str = ""
    after: str | None = None
    readings: tuple[tuple[str, str], ...] = ()
    hours_a_day: float = HOURS_A_DAY
    factor: float = 1.0
    boards: int = 1
    soaked: float | None = None


@dataclass(frozen=True, slots=True)
class RecordReading:
    """What a record says in a check of the book: its name, title and result."""

    check: str
    title: str
    result: str


@dataclass(frozen=True, slots=True)
class Moved:
    """A suspect's share without and with what the record says."""

    fault: str
    title: str
    before: float
    after: float


@dataclass(frozen=True, slots=True)
class SoakRow:
    """A soak (minutes on the bench), why one would choose it, and what it proves if it shows nothing."""

    minutes: float
    why: str
    verdict: Verdict


@dataclass(frozen=True, slots=True)
class AfterFix:
    """What a soak is worth after a fix.

    ``cured`` is the chance that it cured, before any trial. ``cheapest`` (minutes on the bench) costs the
    shop least; ``None`` where its waiting costs nothing.
    """

    fix: str
    title: str
    cured: float
    cheapest: float | None
    rows: tuple[SoakRow, ...]


@dataclass(frozen=True, eq=False)
class SoakPlan:
    """How long to soak, in minutes.

    ``typical`` is the time between events, ``low`` to ``high`` nine times in ten, ``sources`` say where that
    is from. ``confidences`` are rows of a chance and the bench time in which an uncured board shows the
    complaint with it. ``test`` may end the soak early, in minutes on the bench. ``clock`` is the period of a
    record that comes by a clock.
    """

    book: Book
    complaint: str
    shop: Shop
    sources: tuple[str, ...]
    typical: float
    low: float
    high: float
    confidences: tuple[tuple[float, float], ...]
    test: SequentialTest
    reading: RecordReading | None
    suspects: tuple[Moved, ...]
    after: AfterFix | None
    hazards: tuple[Hazard, ...]
    asked: SoakAsked
    clock: float | None = None


def read_restarts(
    path: Path, look: LogLook | None = None, *, now: datetime, report: Report = silent
) -> RecordRead:
    """Read a restart record from a file of any length, and say what it shows.

    Raises
    ------
    FileMissing, FileUnreadable
        If the file cannot be read.
    RecordRefusedError
        If it is no record; names the line.
    """
    with _opened(path, report) as lines:
        try:
            record = read_record(lines, look, now=now)
        except RecordError as error:
            raise RecordRefusedError(path, error) from None
    finding = find_kind(record)
    minutes = record.watched / 60
    every = mean_between(record.count, minutes, to_event=record.to_event and record.count > 0)
    return RecordRead(str(path), record, finding, every, _trend(record))


@contextmanager
def _opened(path: Path, report: Report) -> Iterator[Iterator[str]]:
    """Give the lines of a file; what is no text in it is replaced, since logs hold all sorts of bytes."""
    try:
        total = path.stat().st_size
        with path.open("rb") as stream:
            yield _lines(stream, total, report)
    except FileNotFoundError:
        raise FileMissing(path) from None
    except (OSError, ValueError) as error:
        if isinstance(error, SoakError):
            raise
        raise FileUnreadable(path, (getattr(error, "strerror", None) or str(error)).lower()) from None


def _lines(stream: IO[bytes], total: int, report: Report) -> Iterator[str]:
    done = 0
    for number, line in enumerate(iter(lambda: stream.readline(BATCH), b"")):
        done += len(line)
        if not number % BATCH:
            report("Reading the record", done, total)
        yield line.decode("utf-8", errors="replace")
    report("Reading the record", total, total)


def _trend(record: RestartRecord) -> PowerLaw | None:
    try:
        return power_law(record.times / 60, None if record.to_event else record.watched / 60)
    except NumberError:
        return None


def reading_of(book: Book, finding: Finding, *, but_not: Sequence[str] = ()) -> RecordReading | None:
    """What a record says in the book's first check that can be read from one; ``None`` for nothing."""
    if finding.pattern is Pattern.TOO_FEW:
        return None
    for check in book.checks.values():
        result = check.from_record.get(finding.pattern, check.from_record.get(OTHERS))
        if result is not None and check.name not in but_not:
            return RecordReading(check.name, check.title, result)
    return None


def plan_soak(
    library: Library,
    board: str,
    complaint: str,
    asked: SoakAsked | None = None,
    *,
    record: RecordRead | None = None,
    shop_file: Path | None = None,
    report: Report = silent,
) -> SoakPlan:
    """Say how long to soak a board, and what a soak without an event proves.

    The rate is the record's, together with what the customer said; without either it is the book's: each
    fault with its own mean time, by how likely the fault is (and left uncured by the fix).

    Raises
    ------
    NoBookError, BookRefusedError, NoComplaintError, ShopRefusedError
        If what is named is not there or has errors.
    ReadingError
        If a reading or the fix means nothing to the book.
    NoRateError
        If the complaint always shows, and nobody says how often it comes.
    SoakError
        If the customer's words say no rate, or a number makes no sense.
    PlanningError
        If the model cannot be priced for the shop.
    """
    asked = asked or SoakAsked()
    shop = sound_shop_of(library, shop_file)
    learned = learn_board(library, board, report=report)
    model = model_of_complaint(learned, complaint)
    given = [check for check, _ in asked.readings]
    reading = None if record is None else reading_of(learned.book, record.finding, but_not=given)
    if reading is not None and reading.check not in {check.name for check in model.checks}:
        reading = None
    plain = Bench(asked.readings)
    bench = plain if reading is None else Bench((*asked.readings, (reading.check, reading.result)))
    fixes = () if asked.after is None else (fix_of(model, asked.after),)
    found = soak_after(learned.book, model, shop, bench, fixes, asked, record=record)
    return replace(
        found, reading=reading, suspects=_moved(model, plain, bench) if reading is not None else ()
    )


def soak_after(
    book: Book,
    model: Model,
    shop: Shop,
    bench: Bench,
    fixes: Sequence[int],
    asked: SoakAsked,
    *,
    record: RecordRead | None = None,
) -> SoakPlan:
    """Say how long to soak a board on which fixes (places in the model) were made; see :func:`plan_soak`.

    What a soak proves is of the last fix and of those before it together.
    """
    rate, sources = _rate(model, bench, asked, fixes, record)
    low, high = rate.between()
    typical = rate.typical
    finding = None if record is None else record.finding
    return SoakPlan(
        book=book,
        complaint=model.complaint,
        shop=shop,
        sources=sources,
        typical=typical,
        low=low,
        high=high,
        confidences=tuple((c, on_the_bench(soak_for(rate, c), asked.factor)) for c in CONFIDENCES),
        test=SequentialTest(
            on_the_bench(BETTER * typical, asked.factor), on_the_bench(typical, asked.factor), 0.05, 0.05
        ),
        reading=None,
        suspects=(),
        after=_after(model, shop, bench, asked, fixes, rate),
        hazards=_hazards(book, model.complaint),
        asked=asked,
        clock=finding.period / 60
        if finding and finding.pattern is Pattern.FIXED and finding.period
        else None,
    )


def _rate(
    model: Model, bench: Bench, asked: SoakAsked, fixes: Sequence[int], record: RecordRead | None
) -> tuple[Rate, tuple[str, ...]]:
    """What is believed of the rate of a board that is not cured, and from where."""
    sources: list[str] = []
    belief: RateBelief | None = None
    if asked.says:
        words = said(asked.says, hours_a_day=asked.hours_a_day)
        belief = words.belief
        sources.append(f'The customer: "{asked.says}", taken for {words.plain}.')
    if record is not None:
        found, how = belief_in(record.record, record.finding, belief)
        watched = format_duration(float(f"{record.record.watched / 60:.4g}"))
        seen = f"{counted(record.record.count, 'event')} in {watched} watched"
        sources.append(f"The record: {seen}{'; ' + how if how else ''}.")
        return found, tuple(sources)
    if belief is not None:
        return belief, tuple(sources)
    return _book_rate(model, bench, fixes), ("The book: each suspect's own time between events.",)


def _book_rate(model: Model, bench: Bench, fixes: Sequence[int]) -> RateMixture:
    weights: FloatArray = np.where(model.every > 0, uncured_by(model, bench, fixes), 0.0)
    if not weights.sum() > 0:
        raise NoRateError(model.complaint)
    shares = (weights / weights.sum()).tolist()
    parts = zip(shares, model.every.tolist(), strict=True)
    return RateMixture(tuple((share, RateBelief.known(every)) for share, every in parts if share > 0))


def _moved(model: Model, plain: Bench, bench: Bench) -> tuple[Moved, ...]:
    before, after = (belief_of(model, evidence_of(model, each)) for each in (plain, bench))
    order = np.argsort(-after, kind="stable")[:MOST_SUSPECTS].tolist()
    return tuple(
        Moved(model.faults[f], model.fault_titles[f], float(before[f]), float(after[f])) for f in order
    )


def _after(
    model: Model, shop: Shop, bench: Bench, asked: SoakAsked, fixes: Sequence[int], rate: Rate
) -> AfterFix | None:
    """What soaks are worth after fixes; the retest's own minutes count as watched too."""
    if not fixes:
        return None
    place = fixes[-1]
    cured = chance_cured(model, bench, fixes)
    takes = model.retest.takes
    cheapest = _cheapest(model, shop, rate, cured, asked.factor)
    sure = on_the_bench(soak_for(rate, SURE), asked.factor)
    wanted = [(model.retest.waits, "the book's"), (sure, "95 % sure to show it")]
    wanted += [] if cheapest is None else [(cheapest, "costs least")]
    wanted += [] if asked.soaked is None else [(asked.soaked, "done")]
    rows = tuple(
        SoakRow(
            minutes,
            why,
            verdict(rate, cured, takes + minutes * asked.factor, hours_a_day=asked.hours_a_day),
        )
        for minutes, why in sorted(wanted)
    )
    fix = model.fixes[place]
    return AfterFix(fix.name, fix.title, cured, cheapest, rows)


def _cheapest(model: Model, shop: Shop, rate: Rate, cured: float, factor: float) -> float | None:
    """The soak on the bench that costs the shop least, beyond the retest's own minutes.

    What going on costs is not known before it is planned: half of a return stands for it, as where the
    planner chooses its soaks.
    """
    minute = shop.waiting_hour / 60
    if minute <= 0:
        return None
    ends = instance_of(model, shop)
    saved = max(0.0, ends.comeback - ends.give_up / 2)
    watched = cheapest_soak(rate, 1 - cured, minute / factor, saved)
    return on_the_bench(max(0.0, watched - model.retest.takes), factor)


def _hazards(book: Book, complaint: str) -> tuple[Hazard, ...]:
    """Hazards of the retest and of the setups that stand while it runs."""
    retest = book.complaints[complaint].retest
    works = [*(book.setups[name].work for name in retest.setups), retest]
    return tuple(dict.fromkeys(hazard for work in works for hazard in work.cautions))
