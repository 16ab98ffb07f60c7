"""What taking a table in would do, row by row, before anything is stored."""

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date
from typing import Final

from benchlore.book import Book
from benchlore.jobs.intake.cells import Reason
from benchlore.jobs.intake.fit import check_mapping
from benchlore.jobs.intake.long import LongReader
from benchlore.jobs.intake.mapping import Layout, TableMapping
from benchlore.jobs.intake.readers import Readers
from benchlore.jobs.intake.table import Table
from benchlore.jobs.intake.verdicts import Judged, RowVerdict, Verdict
from benchlore.jobs.intake.wide import WideReader
from benchlore.jobs.merge import merge
from benchlore.jobs.values import Job
from benchlore.notation import Problem

_EVERY: Final = 500


@dataclass(frozen=True, slots=True)
class Preview:
    """What a table says: the ``jobs`` to be stored, and the verdict on each row that is not empty.

    ``problems`` are those of the mapping with this table and these books; while there are any, no row is
    read. ``unused`` are the columns that the mapping passes over.
    """

    table: Table
    mapping: TableMapping
    jobs: tuple[Job, ...] = ()
    rows: tuple[RowVerdict, ...] = ()
    problems: tuple[Problem, ...] = ()
    unused: tuple[str, ...] = ()

    def counts(self) -> Mapping[Verdict, int]:
        """Return how many rows have each verdict."""
        found = Counter(row.verdict for row in self.rows)
        return {verdict: found[verdict] for verdict in Verdict}

    def first_rows(self) -> Mapping[str, int]:
        """Return the first row of each job to be stored, by job number."""
        numbers = {job.number for job in self.jobs}
        found: dict[str, int] = {}
        for row in self.rows:
            if row.job in numbers:
                found.setdefault(row.job, row.row)
        return found


def preview(
    table: Table,
    mapping: TableMapping,
    books: Mapping[str, Book],
    *,
    stored: Iterable[Job] = (),
    today: date | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> Preview:
    """Read a table into jobs and say what becomes of each row; nothing is stored.

    Parameters
    ----------
    table, mapping
        What to read, and what it means.
    books
        The library's books by board name.
    stored
        Jobs that the store has already (those of other shops are passed over): an equal job is "already
        there", one that the stored record denies is refused.
    today
        Jobs that were opened after it are refused.
    progress
        Is told how many rows are done, and about how many there are.

    Raises
    ------
    TableTrouble
        If the table turns out to be damaged or too large on the way.
    """
    problems = check_mapping(mapping, table, books)
    if problems:
        return Preview(table, mapping, problems=problems)
    known = {job.number: job for job in stored if job.shop == mapping.shop}
    readers = Readers(table, mapping, books, today)
    reader = WideReader(readers) if mapping.layout is Layout.WIDE else LongReader(readers)
    jobs: list[Job] = []
    rows: list[RowVerdict] = []
    for judged in _told(reader.read(table.rows()), table.lines, progress):
        settled = _against_store(judged, known) if judged.job and known else judged
        if settled.job is not None:
            jobs.append(settled.job)
        rows += _trimmed(settled.rows)
    rows.sort(key=lambda each: each.row)
    return Preview(table, mapping, tuple(jobs), tuple(rows), unused=_unused(table, mapping))


def _told(
    judged: Iterator[Judged], lines: int, progress: Callable[[int, int], None] | None
) -> Iterator[Judged]:
    """Pass verdicts on and tell of the progress now and then, and at the end."""
    done = told = 0
    for each in judged:
        yield each
        done += len(each.rows)
        if progress and done >= told + _EVERY:
            told = done
            progress(done, max(done, lines))
    if progress:
        progress(done, done)


def _against_store(judged: Judged, known: Mapping[str, Job]) -> Judged:
    """Compare a job with the stored one of its number."""
    job = judged.job
    if job is None or job.number not in known:
        return judged
    stored = known[job.number]
    merged = merge(stored, job)
    if merged.conflicts:
        reasons = tuple(
            Reason(
                "",
                "",
                f"{each.field} is {each.offered!s:.60} here and {each.stored!s:.60} in the store",
                _ADVICE,
            )
            for each in merged.conflicts
        )
        return Judged(tuple(_now(row, Verdict.REFUSED, reasons) for row in judged.rows))
    if merged.job is stored:
        reasons = (Reason("", "", f"the store has job {job.number} just so"),)
        return Judged(tuple(_now(row, Verdict.ALREADY_THERE, reasons) for row in judged.rows))
    return judged


_ADVICE: Final = "correct the one that is wrong; another device needs a job number of its own"


def _now(row: RowVerdict, verdict: Verdict, reasons: tuple[Reason, ...]) -> RowVerdict:
    """Change the verdict on a row that would have been taken."""
    if row.verdict not in {Verdict.TAKEN, Verdict.DOUBTFUL}:
        return row
    return replace(row, verdict=verdict, reasons=(*reasons, *row.reasons))


def _trimmed(rows: tuple[RowVerdict, ...]) -> tuple[RowVerdict, ...]:
    """Forget the cells of rows that no file of refused rows will need."""
    if any(row.verdict is Verdict.REFUSED for row in rows):
        return rows
    return tuple(RowVerdict(row.row, row.job, row.verdict, row.reasons) for row in rows)


def _unused(table: Table, mapping: TableMapping) -> tuple[str, ...]:
    used = {table.place(column) for column, _ in mapping.columns()}
    return tuple(name for place, name in enumerate(table.header) if place not in used)
