"""Offered jobs against stored ones: which are new, which the same, which add something, which conflict."""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import islice
from typing import TypeAlias, TypeVar

from sqlalchemy import Connection, Table, func, insert, select, update

from benchlore.jobs import tables
from benchlore.jobs.merge import Conflict, merge
from benchlore.jobs.storable import check_job
from benchlore.jobs.store_rows import CHUNK, among, insert_jobs, insert_rows, read_jobs, update_jobs
from benchlore.jobs.store_values import Added, Identity, IntakeRecord
from benchlore.jobs.values import Job

Progress: TypeAlias = Callable[[int], None]
"""Told how many records are done, now and then; it may raise to stop the work, and then nothing is kept."""

Lookup: TypeAlias = Callable[[Sequence[Identity]], Mapping[Identity, Job]]
"""Finds those of the named jobs that are stored."""

_T = TypeVar("_T")


def nothing_stored(identities: Sequence[Identity]) -> Mapping[Identity, Job]:  # noqa: ARG001 -- a Lookup
    """Find nothing: the lookup of a store that is not there yet."""
    return {}


def would_add(
    jobs: Iterable[Job], lookup: Lookup = nothing_stored, *, progress: Progress | None = None
) -> Added:
    """Say what adding ``jobs`` would do, without a write.

    Raises
    ------
    JobUnstorable
        If a job holds something that no store keeps.
    """
    offers = Offers()
    for chunk in chunks(jobs, progress):
        offers.take(chunk, lookup)
    return offers.added()


@dataclass(slots=True)
class Offers:
    """Offered jobs, sorted; ``new`` and ``changed`` are what would have to be written."""

    new: dict[Identity, Job] = field(default_factory=dict)
    changed: dict[Identity, Job] = field(default_factory=dict)
    counts: dict[str, int] = field(
        default_factory=lambda: {"new": 0, "same": 0, "merged": 0, "conflicting": 0}
    )
    conflicts: list[Conflict] = field(default_factory=list)

    def take(self, jobs: Sequence[Job], lookup: Lookup) -> None:
        """Sort some more jobs; a job that was offered before is compared with what became of it."""
        for job in jobs:
            check_job(job)
        stored = lookup([identity(job) for job in jobs if identity(job) not in self.new])
        for job in jobs:
            name = identity(job)
            self._sort(job, self.new.get(name) or self.changed.get(name) or stored.get(name))

    def added(self) -> Added:
        """Return the counts."""
        return Added(**self.counts, conflicts=tuple(self.conflicts))

    def written(self) -> None:
        """Forget what was written; from now on the store has it."""
        self.new.clear()
        self.changed.clear()

    def _sort(self, job: Job, stored: Job | None) -> None:
        if stored is None:
            self.counts["new"] += 1
            self.new[identity(job)] = job
            return
        merged = merge(stored, job)
        if merged.conflicts:
            self.counts["conflicting"] += 1
            self.conflicts.extend(merged.conflicts)
        elif merged.job is stored:
            self.counts["same"] += 1
        else:
            self.counts["merged"] += 1
            where = self.new if identity(job) in self.new else self.changed
            where[identity(job)] = merged.job


def add(
    connection: Connection, jobs: Iterable[Job], *, intake: IntakeRecord | None, progress: Progress | None
) -> Added:
    """Add jobs in the transaction that ``connection`` holds for writing."""
    writer = _Writer(connection, intake, next_number(connection, tables.job))
    offers = Offers()
    for chunk in chunks(jobs, progress):
        offers.take(chunk, writer.lookup)
        writer.write(offers)
        offers.written()
    added = offers.added()
    writer.close(added)
    return added


class _Writer:
    """Writes new and changed jobs and where they came from."""

    def __init__(self, connection: Connection, intake: IntakeRecord | None, first: int) -> None:
        self._connection = connection
        self._intake = intake
        self._next = first
        self._numbers: dict[Identity, int] = {}
        self._sourced: set[int] = set()
        self._intake_number = _open_intake(connection, intake) if intake else 0

    def lookup(self, identities: Sequence[Identity]) -> Mapping[Identity, Job]:
        """Find stored jobs, and keep their row numbers for the write that follows."""
        self._numbers = numbers(self._connection, identities)
        jobs = read_jobs(self._connection, list(self._numbers.values()))
        return {name: jobs[number] for name, number in self._numbers.items()}

    def write(self, offers: Offers) -> None:
        """Write what is new and what changed."""
        new = list(enumerate(offers.new.values(), self._next))
        changed = [(self._numbers[name], job) for name, job in offers.changed.items()]
        self._next += len(new)
        insert_jobs(self._connection, new)
        update_jobs(self._connection, changed)
        if self._intake:
            self._write_sources(self._intake, [*new, *changed])

    def close(self, added: Added) -> None:
        """Write the intake's counts, which are known at the end only."""
        if not self._intake:
            return
        counts = {
            "jobs_new": added.new,
            "jobs_same": added.same,
            "jobs_merged": added.merged,
            "jobs_conflicting": added.conflicting,
        }
        self._connection.execute(
            update(tables.intake).where(tables.intake.c.id == self._intake_number).values(counts)
        )

    def _write_sources(self, intake: IntakeRecord, jobs: Iterable[tuple[int, Job]]) -> None:
        rows = []
        for number, job in jobs:
            # A job that stands twice in one file comes from its first place.
            if number not in self._sourced:
                self._sourced.add(number)
                place = intake.places.get(identity(job))
                rows.append(
                    (number, self._intake_number, *((place.sheet, place.row) if place else (None, None)))
                )
        insert_rows(self._connection, tables.source, rows)


def identity(job: Job) -> Identity:
    """Return what identifies a job."""
    return job.shop, job.number


def chunks(items: Iterable[_T], progress: Progress | None) -> Iterator[list[_T]]:
    """Yield the items in lists, and report after each."""
    iterator, done = iter(items), 0
    while chunk := list(islice(iterator, CHUNK)):
        yield chunk
        done += len(chunk)
        if progress:
            progress(done)


def numbers(connection: Connection, identities: Sequence[Identity]) -> dict[Identity, int]:
    """Find the row numbers of stored jobs."""
    job = tables.job.c
    query = select(job.shop, job.number, job.id)
    return {
        (shop, number): row
        for condition in among(job.shop, job.number, identities)
        for shop, number, row in connection.execute(query.where(condition))
    }


def next_number(connection: Connection, table: Table) -> int:
    """Return the next row number; the caller holds the store's only write transaction."""
    return int(connection.execute(select(func.coalesce(func.max(table.c.id), 0))).scalar_one()) + 1


def _open_intake(connection: Connection, intake: IntakeRecord) -> int:
    number = next_number(connection, tables.intake)
    row = {
        "id": number,
        "file": intake.file,
        "sha256": intake.sha256,
        "taken": intake.taken,
        "mapping": intake.mapping,
        "rows_read": intake.rows,
        "rows_refused": intake.refused,
        "jobs_new": 0,
        "jobs_same": 0,
        "jobs_merged": 0,
        "jobs_conflicting": 0,
    }
    connection.execute(insert(tables.intake), row)
    return number
