"""The job store: every job that a library knows, in one SQLite file or one PostgreSQL database.

A write is one transaction: all of it is kept, or nothing. Readers see the store as it was when they began.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from datetime import date
from pathlib import Path
from types import TracebackType
from typing import Any, Self

from sqlalchemy import Connection, Select, delete, func, select

from benchlore.jobs import adding, store_bench, store_demand, store_log, tables
from benchlore.jobs.columns import JobColumns, read_columns
from benchlore.jobs.demand import DemandRecord
from benchlore.jobs.errors import NoOpenJob, StoreDamaged, StoreTrouble
from benchlore.jobs.journal import Draft, Entry, OpenJob
from benchlore.jobs.storable import check_job
from benchlore.jobs.store_engine import Database, connect, keep_copy, locate
from benchlore.jobs.store_rows import CHUNK, insert_jobs, read_jobs, update_jobs
from benchlore.jobs.store_schema import prepare
from benchlore.jobs.store_values import (
    Added,
    DemandAdded,
    Filter,
    Identity,
    Intake,
    IntakeRecord,
    Source,
)
from benchlore.jobs.values import Job


class Store:
    """An open job store. ``place`` is where it is, as messages name it, without a password."""

    def __init__(self, database: Database) -> None:
        self.database = database
        self.place = database.location.name

    @classmethod
    def open(cls, place: Path | str, *, create: bool = True, wait: float = 30.0) -> Self:
        """Open the store in a library folder, a SQLite file, or a PostgreSQL database (``postgresql://…``).

        A store that an older benchlore made is brought up to date, a SQLite file after a copy of it was put
        beside it. One that may only be read can be read. Writers take turns, each waiting up to ``wait``
        seconds.

        Raises
        ------
        StoreTrouble
            One of its kinds; the store is left as it was.
        """
        database = connect(locate(place, create=create), wait=wait)
        try:
            prepare(database, create=create)
        except BaseException:
            database.engine.dispose()
            raise
        return cls(database)

    def close(self) -> None:
        """Close all connections."""
        self.database.engine.dispose()

    def __enter__(self) -> Self:
        """Use the store in a ``with`` statement."""
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, traceback: TracebackType | None
    ) -> None:
        """Close all connections."""
        self.close()

    @property
    def read_only(self) -> bool:
        """Whether the store may only be read here."""
        return self.database.location.read_only

    def add(
        self,
        jobs: Iterable[Job],
        *,
        intake: IntakeRecord | None = None,
        progress: adding.Progress | None = None,
    ) -> Added:
        """Add jobs in one transaction.

        A job that is stored already is compared: the same changes nothing, one that fills blanks is merged,
        one that denies the stored job is a conflict and the stored job stays (see ``merge``). An exception
        from ``jobs`` or ``progress`` undoes all.

        Raises
        ------
        JobUnstorable
            If a job holds something that no store keeps.
        StoreTrouble
            One of its kinds.
        """
        with self.database.writing() as connection:
            return adding.add(connection, jobs, intake=intake, progress=progress)

    def would_add(self, jobs: Iterable[Job], *, progress: adding.Progress | None = None) -> Added:
        """Say what ``add`` would do, without a write."""
        with self.database.reading() as connection:

            def lookup(identities: Sequence[Identity]) -> Mapping[Identity, Job]:
                numbers = adding.numbers(connection, identities)
                found = read_jobs(connection, list(numbers.values()))
                return {identity: found[number] for identity, number in numbers.items()}

            return adding.would_add(jobs, lookup, progress=progress)

    def replace(self, job: Job) -> bool:
        """Store ``job`` in place of what is stored of it; tell whether there was something."""
        check_job(job)
        with self.database.writing() as connection:
            numbers = adding.numbers(connection, [adding.identity(job)])
            if number := next(iter(numbers.values()), None):
                update_jobs(connection, [(number, job)])
            else:
                insert_jobs(connection, [(adding.next_number(connection, tables.job), job)])
        return bool(numbers)

    def remove(self, shop: str, number: str) -> bool:
        """Remove a job and all that is stored of it; tell whether it was there."""
        with self.database.writing() as connection:
            found = adding.numbers(connection, [(shop, number)])
            connection.execute(delete(tables.job).where(tables.job.c.id.in_(found.values())))
        return bool(found)

    def jobs(
        self,
        *,
        board: str | None = None,
        complaint: str | None = None,
        shop: str | None = None,
        since: date | None = None,
        until: date | None = None,
    ) -> Iterator[Job]:
        """Yield jobs in the order of shop and number, as the store was at the first one.

        ``since`` and ``until`` are days, both inclusive; with either, jobs without a date are left out.
        """
        chosen = Filter(board, complaint, shop, since, until)
        with self.database.reading() as connection:
            job = tables.job.c
            query = _chosen(select(job.id), chosen).order_by(job.shop, job.number)
            numbers = list(connection.execute(query).scalars())
            for start in range(0, len(numbers), CHUNK):
                yield from self._read(connection, numbers[start : start + CHUNK])

    def job(self, shop: str, number: str) -> Job | None:
        """Return one job."""
        with self.database.reading() as connection:
            numbers = adding.numbers(connection, [(shop, number)])
            return next(iter(self._read(connection, list(numbers.values()))), None)

    def count(
        self,
        *,
        board: str | None = None,
        complaint: str | None = None,
        shop: str | None = None,
        since: date | None = None,
        until: date | None = None,
    ) -> int:
        """Count the jobs that ``jobs`` would yield."""
        query = _chosen(
            select(func.count()).select_from(tables.job), Filter(board, complaint, shop, since, until)
        )
        with self.database.reading() as connection:
            return int(connection.execute(query).scalar_one())

    def boards(self) -> Mapping[str, int]:
        """Return how many jobs there are of each board, in the order of names."""
        board = tables.job.c.board
        with self.database.reading() as connection:
            query = select(board, func.count()).group_by(board).order_by(board)
            return {row[0]: row[1] for row in connection.execute(query)}

    def columns(self, board: str) -> JobColumns:
        """Return a board's jobs as arrays."""
        with self.database.reading() as connection, self._no_strangers():
            return read_columns(connection, board)

    def intakes(self) -> tuple[Intake, ...]:
        """Return the files that were taken in, first to last."""
        with self.database.reading() as connection:
            return store_log.read_intakes(connection)

    def taken(self, sha256: str) -> Intake | None:
        """Return the last intake of a file with these contents."""
        with self.database.reading() as connection:
            return next(reversed(store_log.read_intakes(connection, sha256=sha256)), None)

    def sources(self, shop: str, number: str) -> tuple[Source, ...]:
        """Return the files that a job came from, and where in them it stood."""
        with self.database.reading() as connection:
            return store_log.read_sources(connection, shop, number)

    def add_demand(
        self, records: Iterable[DemandRecord], *, progress: adding.Progress | None = None
    ) -> DemandAdded:
        """Add demand records in one transaction; one that is stored already is brought up to date."""
        with self.database.writing() as connection:
            return store_demand.add_demand(connection, records, progress)

    def demand(self) -> Iterator[DemandRecord]:
        """Yield the demand records, by provider and identifier."""
        with self.database.reading() as connection:
            yield from store_demand.read_demand(connection)

    def demand_count(self) -> int:
        """Count the demand records."""
        with self.database.reading() as connection:
            return store_demand.count_demand(connection)

    def demand_summary(self, by: Sequence[str] = ("category",)) -> store_demand.DemandCounts:
        """Count demand records by fields such as ``category`` or ``brand``, most frequent first."""
        with self.database.reading() as connection:
            return store_demand.summarise_demand(connection, by)

    def open_job(self, job: OpenJob, drafts: Sequence[Draft] = ()) -> OpenJob:
        """Put a job on the bench, with the first entries of its journal, in one transaction.

        A number that ends in ``-`` is the beginning of one: the next that is free follows. Where there is a
        job with this key already, that one is returned and nothing is added.

        Raises
        ------
        BenchUnstorable
            If a text is too long, or holds what no store keeps.
        """
        with self.database.writing() as connection, self._no_strangers():
            return store_bench.open_job(connection, job, drafts)

    def append(self, key: str, draft: Draft, *, expected: int) -> Entry:
        """Add an entry to a journal, whole and for good, and return it with its place.

        ``expected`` is the place of the last entry that the writer has seen. An entry whose token is there
        already adds nothing: the stored one is returned.

        Raises
        ------
        NoOpenJob
            If there is no job with this key.
        JobClosed
            If it is closed.
        EntryConflict
            If somebody else added entries since; it carries them.
        BenchUnstorable
            If the entry is too large, or holds what no store keeps.
        """
        with self.database.writing() as connection, self._no_strangers():
            return store_bench.append(connection, key, draft, expected=expected)

    def close_job(self, key: str, draft: Draft, finished: Job, *, expected: int) -> Entry:
        """Add the closing entry and store the finished job, in one transaction.

        A job that this one came back from counts as a comeback from then on.

        Raises
        ------
        NumberTaken
            If another record of this shop and number denies the finished job.
        NoOpenJob, JobClosed, EntryConflict, BenchUnstorable, JobUnstorable
            As for ``append`` and ``add``.
        """
        with self.database.writing() as connection, self._no_strangers():
            return store_bench.close_job(connection, key, draft, finished, expected=expected)

    def reopen_job(self, key: str, draft: Draft, *, expected: int) -> Entry:
        """Add the reopening entry and let the stored job count as open, in one transaction.

        Raises
        ------
        JobNotClosed
            If it is open.
        NoOpenJob, EntryConflict, BenchUnstorable
            As for ``append``.
        """
        with self.database.writing() as connection, self._no_strangers():
            return store_bench.reopen_job(connection, key, draft, expected=expected)

    def open_job_of(self, key: str) -> OpenJob | None:
        """Return the job on the bench with this key, closed or not."""
        with self.database.reading() as connection:
            return store_bench.find(connection, key)

    def open_jobs(self, *, shop: str | None = None, closed: bool | None = False) -> tuple[OpenJob, ...]:
        """Return the jobs on the bench, the last opened first; ``closed=None`` returns all of them."""
        with self.database.reading() as connection:
            return store_bench.read_open_jobs(connection, shop=shop, closed=closed)

    def entries(self, key: str, *, after: int = 0) -> tuple[Entry, ...]:
        """Return the entries of a journal beyond a place, in order."""
        with self.database.reading() as connection, self._no_strangers():
            return store_bench.read_entries(connection, key, after=after)

    def journal(self, key: str) -> tuple[OpenJob, tuple[Entry, ...]]:
        """Return a job on the bench and its journal, as they were at one moment; raises ``NoOpenJob``."""
        with self.database.reading() as connection, self._no_strangers():
            job = store_bench.find(connection, key)
            if job is None:
                raise NoOpenJob(key)
            return job, store_bench.read_entries(connection, key)

    def journals(
        self, *, shop: str | None = None, closed: bool | None = False
    ) -> tuple[tuple[OpenJob, tuple[Entry, ...]], ...]:
        """Return the jobs on the bench with their journals, as they were at one moment."""
        with self.database.reading() as connection, self._no_strangers():
            return store_bench.read_journals(connection, shop=shop, closed=closed)

    def back_up(self, target: Path) -> None:
        """Write a copy of a SQLite store to a file, whole or not at all, while others go on writing."""
        location = self.database.location
        if location.file is None:
            raise StoreTrouble(self.place, "PostgreSQL has a tool of its own for copies: pg_dump")
        keep_copy(location, target, wait=self.database.wait)

    def _read(self, connection: Connection, numbers: Sequence[int]) -> Iterable[Job]:
        with self._no_strangers():
            return read_jobs(connection, numbers).values()

    @contextmanager
    def _no_strangers(self) -> Iterator[None]:
        """Refuse a value that no job has; only another program can have written it."""
        try:
            yield
        except (KeyError, ValueError, TypeError) as error:
            raise StoreDamaged(self.place, f"it holds what no job holds: {error}") from error


def _chosen(query: Select[Any], chosen: Filter) -> Select[Any]:
    job = tables.job.c
    for column, value in (
        (job.board, chosen.board),
        (job.complaint, chosen.complaint),
        (job.shop, chosen.shop),
    ):
        if value is not None:
            query = query.where(column == value)
    if chosen.since is not None:
        query = query.where(job.opened >= chosen.since)
    if chosen.until is not None:
        query = query.where(job.opened <= chosen.until)
    return query
