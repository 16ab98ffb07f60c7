"""Finding stored jobs: by what they are about, by words, newest first, a page at a time."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Any, Final

from sqlalchemy import ColumnElement, Connection, Select, false, func, or_, select

from benchlore.jobs import tables
from benchlore.jobs.values import Outcome

MOST_WORDS: Final = 8
"""Words that one search looks for; further ones are passed over."""


@dataclass(frozen=True, slots=True)
class Search:
    """Which jobs are looked for; what is ``None`` or empty is not asked for.

    ``since`` and ``until`` are days, both inclusive; with either, jobs without a date are left out.
    ``confirmed`` asks for jobs with (``True``) or without a confirmed fault. Each of the ``words`` must stand
    in the job number, the fault's name, or what the bench wrote of it, whatever the case.
    """

    board: str | None = None
    complaint: str | None = None
    shop: str | None = None
    outcome: Outcome | None = None
    fault: str | None = None
    confirmed: bool | None = None
    since: date | None = None
    until: date | None = None
    words: str = ""


@dataclass(frozen=True, slots=True)
class JobLine:
    """A job as a line of a list: what ``Job`` says, without its readings, fixes, notes and extras."""

    shop: str
    number: str
    board: str
    complaint: str
    opened: date | None
    outcome: Outcome
    fault: str | None
    fault_text: str
    hands_on: float | None
    waiting: float | None
    comeback: bool | None
    technician: str


@dataclass(frozen=True, slots=True)
class Choices:
    """What stored jobs can be narrowed to: each value and how many jobs have it, in the order of values.

    ``complaints`` and ``faults`` are those of the board and complaint that were asked for.
    """

    boards: Mapping[str, int] = field(default_factory=dict)
    complaints: Mapping[str, int] = field(default_factory=dict)
    shops: Mapping[str, int] = field(default_factory=dict)
    faults: Mapping[str, int] = field(default_factory=dict)


def found_lines(connection: Connection, search: Search, *, offset: int, limit: int) -> tuple[JobLine, ...]:
    """Read a page of the jobs that a search finds, newest first; those without a date come last."""
    job = tables.job.c
    # Numbers first: sorting whole rows takes ten times as long where the page is far down a large store.
    here = _newest_first(searched(select(job.id), search)).offset(offset).limit(limit).subquery()
    names = [getattr(job, each) for each in JobLine.__slots__]
    query = _newest_first(select(*names).join(here, here.c.id == job.id))
    return tuple(_line(row) for row in connection.execute(query))


def found_numbers(connection: Connection, search: Search) -> list[int]:
    """Return the row numbers of all jobs that a search finds, newest first."""
    return list(connection.execute(_newest_first(searched(select(tables.job.c.id), search))).scalars())


def found_outcomes(connection: Connection, search: Search) -> dict[Outcome, int]:
    """Count the jobs that a search finds by how they ended."""
    outcome = tables.job.c.outcome
    query = searched(select(outcome, func.count()), search).group_by(outcome)
    counts = {Outcome(row[0]): int(row[1]) for row in connection.execute(query)}
    return {each: counts.get(each, 0) for each in Outcome}


def choices_of(connection: Connection, search: Search) -> Choices:
    """Count jobs by board and shop, and of the asked board and complaint by complaint and fault."""
    job = tables.job.c
    board = Search(board=search.board)
    within = Search(board=search.board, complaint=search.complaint)
    return Choices(
        boards=_counts(connection, job.board, Search()),
        complaints=_counts(connection, job.complaint, board),
        shops=_counts(connection, job.shop, Search()),
        faults=_counts(connection, job.fault, within),
    )


def searched(query: Select[Any], search: Search) -> Select[Any]:
    """Narrow a query on jobs to those that a search finds."""
    return query.where(*_conditions(search))


def _conditions(search: Search) -> Iterator[ColumnElement[bool]]:
    job = tables.job.c
    for column, value in (
        (job.board, search.board),
        (job.complaint, search.complaint),
        (job.shop, search.shop),
        (job.outcome, None if search.outcome is None else str(search.outcome)),
        (job.fault, search.fault),
    ):
        if value is not None:
            # No stored text holds NUL, and PostgreSQL refuses to be asked for one.
            yield false() if "\0" in value else column == value
    if search.confirmed is not None:
        yield job.fault.is_not(None) if search.confirmed else job.fault.is_(None)
    if search.since is not None:
        yield job.opened >= search.since
    if search.until is not None:
        yield job.opened <= search.until
    for word in search.words.replace("\0", " ").split()[:MOST_WORDS]:
        yield _stands_somewhere(word)


def _stands_somewhere(word: str) -> ColumnElement[bool]:
    """Look for a word whatever its case.

    Both databases only know the case of ASCII letters here; of others, the usual spellings are looked for.
    """
    job = tables.job.c
    spellings = {_ascii_lower(each) for each in (word, word.lower(), word.upper(), word.capitalize())}
    return or_(
        *(
            func.lower(column).contains(spelling, autoescape=True)
            for column in (job.number, job.fault_text, job.fault)
            for spelling in sorted(spellings)
        )
    )


def _ascii_lower(text: str) -> str:
    return "".join(letter.lower() if letter.isascii() else letter for letter in text)


def _newest_first(query: Select[Any]) -> Select[Any]:
    job = tables.job.c
    return query.order_by(job.opened.is_(None), job.opened.desc(), job.id.desc())


def _counts(connection: Connection, column: ColumnElement[Any], within: Search) -> dict[str, int]:
    query = searched(select(column, func.count()), within).where(column.is_not(None))
    return {row[0]: int(row[1]) for row in connection.execute(query.group_by(column).order_by(column))}


def _line(row: Any) -> JobLine:
    fields = dict(row._mapping)  # noqa: SLF001  the documented way to a row's names
    return JobLine(**{**fields, "outcome": Outcome(fields["outcome"])})
