"""Stored jobs: finding them, giving them out, and one job's record with what the model makes of it."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from math import isfinite
from typing import Final

import numpy as np

from benchlore.book import Book
from benchlore.jobs import (
    Attempt,
    Choices,
    Job,
    JobLine,
    Outcome,
    Reading,
    Retest,
    Search,
    Source,
    Store,
    csv_text,
)
from benchlore.library.compiled import procedure_folder, read_json
from benchlore.library.errors import LibraryError, NoJobError
from benchlore.library.folder import Library, read_book_of, sound_shop_of, store_of
from benchlore.library.planning import learn_board
from benchlore.model import (
    Evidence,
    Model,
    ModelError,
    Tried,
    cases_from_jobs,
    posterior,
    set_aside,
    state_log_likelihoods,
    without,
)
from benchlore.model.cases import end_of_evidence, soaked_in
from benchlore.notation import FileTrouble
from benchlore.proof import ProofError, odd_text
from benchlore.proof import from_json as proof_from_json
from benchlore.units import OL, Measure, format_quantity

PAGE: Final = 50
"""How many jobs a page of the list has."""


@dataclass(frozen=True, slots=True)
class FoundJobs:
    """A page of the jobs that a search finds.

    ``outcomes`` count all that it finds, ``stored`` all that there are; ``page`` counts from 1.
    """

    lines: tuple[JobLine, ...] = ()
    outcomes: dict[Outcome, int] = field(default_factory=dict)
    choices: Choices = field(default_factory=Choices)
    stored: int = 0
    page: int = 1
    size: int = PAGE

    @property
    def total(self) -> int:
        """How many jobs the search finds."""
        return sum(self.outcomes.values())

    @property
    def pages(self) -> int:
        """How many pages they fill; one at least."""
        return max(1, -(-self.total // self.size))

    @property
    def first(self) -> int:
        """Which job of all is the first on this page, from 1."""
        return (self.page - 1) * self.size + 1


@dataclass(frozen=True, slots=True)
class Leaning:
    """How much a reading speaks for a state: its likelihood's share among the states of the condition."""

    state: str
    share: float


@dataclass(frozen=True, slots=True)
class ReadStep:
    """A reading: what the bench ``wrote``, what it was ``understood`` as, and which states it speaks for.

    ``is_late`` marks one that was read on a board which a fix had repaired: it says nothing of the fault.
    ``speaks_for`` is empty where the book does not know the check or a reading like this.
    """

    check: str
    title: str
    wrote: str
    understood: str
    condition: str = ""
    speaks_for: tuple[Leaning, ...] = ()
    is_late: bool = False


@dataclass(frozen=True, slots=True)
class FixStep:
    """A fix that was tried, what trying the complaint again showed, and the minutes of soak, if known."""

    fix: str
    title: str
    retest: Retest
    soaked: float | None = None


@dataclass(frozen=True, slots=True)
class Suspect:
    """A fault, its title in the book, and its probability."""

    fault: str
    title: str
    share: float


@dataclass(frozen=True, slots=True)
class Recorded:
    """One job's record, with the names that its book has for what it says.

    ``suspects`` are what today's model believes after the readings and the fixes that failed; ``aside`` names
    what that belief leaves out because no fault allows it with the rest. ``was_learned_from`` says that the
    model learned from this job too. ``unknown`` says why there are no suspects. ``odd`` are sentences of the
    last proof about this job.
    """

    job: Job
    sources: tuple[Source, ...]
    board: str
    complaint: str
    fault: str
    steps: tuple[ReadStep | FixStep, ...]
    suspects: tuple[Suspect, ...] = ()
    aside: tuple[str, ...] = ()
    was_learned_from: bool = False
    unknown: str = ""
    odd: tuple[str, ...] = ()


def find_jobs(library: Library, search: Search, *, page: int = 1, size: int = PAGE) -> FoundJobs:
    """Find a page of the stored jobs, newest first; a page beyond the last is the last."""
    store = store_of(library)
    if store is None:
        return FoundJobs(outcomes=dict.fromkeys(Outcome, 0), size=size)
    with store:
        outcomes = dict(store.outcomes(search))
        here = min(page, max(1, -(-sum(outcomes.values()) // size)))
        return FoundJobs(
            store.search(search, offset=(here - 1) * size, limit=size),
            outcomes,
            store.choices(search),
            store.count(),
            here,
            size,
        )


def jobs_csv(library: Library, search: Search, file: str) -> Iterator[str]:
    """Give one file of an export (``jobs.csv``, …) of the jobs that a search finds, bit by bit."""
    store = store_of(library)
    if store is None:
        yield from csv_text((), file)
        return
    with store:
        yield from csv_text(store.found(search), file)


def stored_job(library: Library, shop: str, number: str) -> tuple[Job, tuple[Source, ...]]:
    """Return a stored job and where it came from; raises ``NoJobError``."""
    with _store_with(library, shop, number) as store:
        job = store.job(shop, number)
        if job is None:
            raise NoJobError(shop, number)
        return job, store.sources(shop, number)


def recorded_job(library: Library, shop: str, number: str) -> Recorded:
    """Return a job's record and what today's model makes of it.

    Raises
    ------
    NoJobError
        If there is no such job.
    """
    job, sources = stored_job(library, shop, number)
    book = _book(library, job.board)
    plain = _plain(job, sources, book)
    try:
        learned = learn_board(library, job.board)
        if (model := learned.models.get(job.complaint)) is None:
            return replace(plain, unknown=f"The book has no complaint '{job.complaint}'.")
        judged = _judged(plain, model)
    except (LibraryError, FileTrouble, ModelError) as error:
        return replace(plain, unknown=str(error))
    return replace(
        judged,
        was_learned_from=job.outcome is not Outcome.OPEN and learned.jobs > 0,
        odd=_odd(library, job),
    )


def evidence_of_job(model: Model, job: Job) -> Evidence:
    """What a job says of its fault: readings up to the fix that cured, and the fixes that did not.

    A fix after which the board came back counts as failed; the passing retest of the one that cured is left
    out, so that the suspects are those which the bench could have had before it.
    """
    # An open job says what it says: only its end is not known, which nothing here asks for.
    told = replace(job, outcome=Outcome.RETURNED) if job.outcome is Outcome.OPEN else job
    cases = cases_from_jobs((model,), (told,))
    results = cases.reading_results.tolist()
    checks = cases.reading_checks.tolist()
    values = cases.reading_values.tolist()
    tried = zip(cases.attempt_fixes.tolist(), cases.attempt_outcomes.tolist(), strict=True)
    return Evidence(
        readings=tuple((check, result) for check, result in zip(checks, results, strict=True) if result >= 0),
        values=tuple(
            (check, value) for check, result, value in zip(checks, results, values, strict=True) if result < 0
        ),
        failed=tuple(dict.fromkeys(fix for fix, outcome in tried if outcome != Tried.PASSED)),
        soaked=soaked_in(cases),
    )


@contextmanager
def _store_with(library: Library, shop: str, number: str) -> Iterator[Store]:
    store = None if "\0" in shop + number else store_of(library)  # no stored text holds NUL
    if store is None:
        raise NoJobError(shop, number)
    with store:
        yield store


def _book(library: Library, board: str) -> Book | None:
    if board not in library.boards():
        return None
    try:
        return read_book_of(library, board).book
    except FileTrouble:
        return None


def _plain(job: Job, sources: tuple[Source, ...], book: Book | None) -> Recorded:
    """Set a record in the book's words; what the book does not know keeps its name."""
    complaint = book.complaints.get(job.complaint) if book else None
    fault = book.faults.get(job.fault) if book and job.fault else None
    entries: list[Reading | Attempt] = sorted((*job.readings, *job.attempts), key=lambda each: each.step)
    return Recorded(
        job,
        sources,
        board=book.board.title if book else job.board,
        complaint=complaint.title if complaint else job.complaint,
        fault=fault.title if fault else job.fault or "",
        steps=tuple(
            _read_step(each, book) if isinstance(each, Reading) else _fix_step(each, book) for each in entries
        ),
    )


def _fix_step(attempt: Attempt, book: Book | None) -> FixStep:
    fix = book.fixes.get(attempt.fix) if book else None
    return FixStep(attempt.fix, fix.title if fix else attempt.fix, attempt.retest, attempt.soaked)


def _read_step(reading: Reading, book: Book | None) -> ReadStep:
    check = book.checks.get(reading.check) if book else None
    understood = reading.result or ""
    if reading.value is not None:
        understood = "OL" if reading.value == OL else f"{reading.value:g}"
        if check is not None and check.measures is not None and isfinite(reading.value):
            understood = _quantity(reading.value, check.measures, understood)
    condition = book.conditions[check.reads].title if book and check else ""
    title = check.title if check else reading.check
    return ReadStep(reading.check, title, reading.text, understood, condition)


def _quantity(value: float, measure: Measure, otherwise: str) -> str:
    try:
        return format_quantity(value, measure)
    except ValueError:  # a result that no meter shows
        return otherwise


def _judged(record: Recorded, model: Model) -> Recorded:
    """Add what the model believes, and which states each reading speaks for."""
    evidence = evidence_of_job(model, record.job)
    aside = set_aside(model, evidence)
    belief = posterior(model, without(evidence, aside)).faults
    order = np.argsort(-belief, kind="stable").tolist()
    suspects = (Suspect(model.faults[f], model.fault_titles[f], float(belief[f])) for f in order)
    return replace(
        record,
        steps=_with_leanings(record, model, evidence),
        suspects=tuple(suspects),
        aside=_names(model, aside),
    )


def _names(model: Model, part: Evidence) -> tuple[str, ...]:
    checks = [check for check, _ in (*part.readings, *part.values)]
    return (
        *(model.checks[check].title for check in checks),
        *(model.fixes[fix].title for fix in (*part.failed, *part.passed)),
    )


def _with_leanings(record: Recorded, model: Model, evidence: Evidence) -> tuple[ReadStep | FixStep, ...]:
    """Mark the readings that count (of a check that was read twice, the last before the repair)."""
    single = {
        model.checks[check].name: Evidence(readings=((check, result),)) for check, result in evidence.readings
    } | {model.checks[check].name: Evidence(values=((check, value),)) for check, value in evidence.values}
    cured = end_of_evidence(record.job)
    read = iter(sorted(record.job.readings, key=lambda each: each.step))
    last = {each.check: each.step for each in record.job.readings if each.step <= cured}
    steps: list[ReadStep | FixStep] = []
    for step in record.steps:
        if isinstance(step, FixStep):
            steps.append(step)
            continue
        at = next(read).step
        counts = step.check in single and last.get(step.check) == at
        leanings = _leanings(model, single[step.check]) if counts else ()
        steps.append(replace(step, speaks_for=leanings, is_late=at > cured))
    return tuple(steps)


def _leanings(model: Model, single: Evidence) -> tuple[Leaning, ...]:
    """Share out a reading's likelihood among the states of its condition, most likely first."""
    check = (*single.readings, *single.values)[0][0]
    place = model.checks[check].condition
    states = model.conditions[place].states
    logs = state_log_likelihoods(model, single)[place, : len(states)]
    if not np.isfinite(logs.max()):
        return ()
    weights = np.exp(logs - logs.max())
    shares = (weights / weights.sum()).tolist()
    ranked = sorted(zip(states, shares, strict=True), key=lambda each: -each[1])
    return tuple(Leaning(state, share) for state, share in ranked)


def _odd(library: Library, job: Job) -> tuple[str, ...]:
    """What the last proof for the library's shop found odd about a job; nothing where there is none."""
    try:
        shop = sound_shop_of(library)
        kept = read_json(procedure_folder(library, job.board, job.complaint, shop) / "proof.json")
        kept.pop("made_from", None)
        outliers = proof_from_json(kept).outliers
    except (LibraryError, FileTrouble, ProofError, ValueError, KeyError, AttributeError, TypeError):
        return ()
    return tuple(odd_text(one) for one in outliers if (one.shop, one.number) == (job.shop, job.number))
