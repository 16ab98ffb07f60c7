"""Open jobs and their journals in the store; every function works in the transaction of its connection."""

import json
from collections.abc import Sequence
from dataclasses import replace
from types import MappingProxyType
from typing import Any, Final

from sqlalchemy import Connection, Row, Select, func, insert, select, update

from benchlore.jobs import adding, tables
from benchlore.jobs.errors import (
    BenchUnstorable,
    EntryConflict,
    JobClosed,
    JobNotClosed,
    NoOpenJob,
    NumberTaken,
)
from benchlore.jobs.journal import Draft, Entry, EntryKind, OpenJob
from benchlore.jobs.journal_limits import MOST_ENTRIES, check_draft, check_open_job, data_text
from benchlore.jobs.merge import merge
from benchlore.jobs.storable import check_job
from benchlore.jobs.store_rows import insert_jobs, read_jobs, update_jobs
from benchlore.jobs.store_values import Identity
from benchlore.jobs.values import Job, Outcome

_OPEN: Final = tables.open_job.c
_ENTRY: Final = tables.entry.c


def open_job(connection: Connection, job: OpenJob, drafts: Sequence[Draft]) -> OpenJob:
    """Store an open job with its first entries, or find the one that has its key."""
    check_open_job(job)
    for draft in drafts:
        check_draft(draft)
    if (stored := find(connection, job.key)) is not None:
        return stored
    if job.number.endswith("-"):
        job = replace(job, number=f"{job.number}{_next_of_day(connection, job)}")
    connection.execute(insert(tables.open_job), _open_row(job))
    for place, draft in enumerate(drafts, 1):
        _insert(connection, job.key, place, draft)
    return job


def append(connection: Connection, key: str, draft: Draft, *, expected: int) -> Entry:
    """Add an entry to the journal of an open job; one whose token is there already adds nothing."""
    check_draft(draft)
    job = _existing(connection, key)
    if (stored := _with_token(connection, key, draft.token)) is not None:
        return stored
    if job.closed:
        raise JobClosed(key)
    return _append(connection, key, draft, expected)


def close_job(connection: Connection, key: str, draft: Draft, finished: Job, *, expected: int) -> Entry:
    """Add the closing entry, store the finished job, and mark the one that it came back from."""
    check_draft(draft)
    check_job(finished)
    job = _existing(connection, key)
    if (stored := _with_token(connection, key, draft.token)) is not None:
        return stored
    if job.closed:
        raise JobClosed(key)
    is_own = _was_closed_before(connection, key)
    entry = _append(connection, key, draft, expected)
    _write_job(connection, finished, is_own=is_own)
    _set_closed(connection, key, closed=True)
    if job.comeback_of is not None:
        _mark_comeback(connection, job.comeback_of)
    return entry


def reopen_job(connection: Connection, key: str, draft: Draft, *, expected: int) -> Entry:
    """Add the reopening entry, and let the stored job count as open: nothing learns from it then."""
    check_draft(draft)
    job = _existing(connection, key)
    if (stored := _with_token(connection, key, draft.token)) is not None:
        return stored
    if not job.closed:
        raise JobNotClosed(key)
    entry = _append(connection, key, draft, expected)
    _set_closed(connection, key, closed=False)
    for number, finished in _stored(connection, (job.shop, job.number)).items():
        again = replace(finished, outcome=Outcome.OPEN, fault=None, fault_text="")
        update_jobs(connection, [(number, again)])
    return entry


def find(connection: Connection, key: str) -> OpenJob | None:
    """Return the job with a key."""
    row = connection.execute(select(tables.open_job).where(_OPEN.key == key)).first()
    return None if row is None else _open_job(row)


def read_open_jobs(connection: Connection, *, shop: str | None, closed: bool | None) -> tuple[OpenJob, ...]:
    """Return jobs on the bench, the last opened first."""
    query = select(tables.open_job).order_by(_OPEN.opened.desc(), _OPEN.key)
    if shop is not None:
        query = query.where(_OPEN.shop == shop)
    if closed is not None:
        query = query.where(_OPEN.closed == closed)
    return tuple(map(_open_job, connection.execute(query)))


def read_entries(connection: Connection, key: str, *, after: int = 0) -> tuple[Entry, ...]:
    """Return a journal's entries beyond a place."""
    return tuple(map(_entry, connection.execute(_entries_of(key).where(_ENTRY.place > after))))


def read_journals(
    connection: Connection, *, shop: str | None, closed: bool | None
) -> tuple[tuple[OpenJob, tuple[Entry, ...]], ...]:
    """Return jobs on the bench with their journals, the last opened first."""
    jobs = read_open_jobs(connection, shop=shop, closed=closed)
    return tuple((job, read_entries(connection, job.key)) for job in jobs)


def _append(connection: Connection, key: str, draft: Draft, expected: int) -> Entry:
    last = _last(connection, key)
    if last != expected:
        raise EntryConflict(key, expected, read_entries(connection, key, after=min(expected, last)))
    if last >= MOST_ENTRIES:
        raise BenchUnstorable("the journal", f"has {last:,} entries; more are not kept")
    return _insert(connection, key, last + 1, draft)


def _insert(connection: Connection, key: str, place: int, draft: Draft) -> Entry:
    row = {
        "job_key": key,
        "place": place,
        "kind": str(draft.kind),
        "data": data_text(draft),
        "made": draft.at,
        "made_by": draft.by,
        "token": draft.token,
    }
    connection.execute(insert(tables.entry), row)
    return _entry(connection.execute(_entries_of(key).where(_ENTRY.place == place)).one())


def _last(connection: Connection, key: str) -> int:
    query = select(func.coalesce(func.max(_ENTRY.place), 0)).where(_ENTRY.job_key == key)
    return int(connection.execute(query).scalar_one())


def _existing(connection: Connection, key: str) -> OpenJob:
    job = find(connection, key)
    if job is None:
        raise NoOpenJob(key)
    return job


def _with_token(connection: Connection, key: str, token: str) -> Entry | None:
    row = connection.execute(_entries_of(key).where(_ENTRY.token == token)).first()
    return None if row is None else _entry(row)


def _was_closed_before(connection: Connection, key: str) -> bool:
    query = _entries_of(key).where(_ENTRY.kind == str(EntryKind.CLOSE)).limit(1)
    return connection.execute(query).first() is not None


def _set_closed(connection: Connection, key: str, *, closed: bool) -> None:
    connection.execute(update(tables.open_job).where(_OPEN.key == key).values(closed=closed))


def _write_job(connection: Connection, job: Job, *, is_own: bool) -> None:
    """Store a finished job; what another record says of it must not deny it, unless that is its own."""
    stored = _stored(connection, (job.shop, job.number))
    for number, other in stored.items():
        if is_own:
            extra = {**other.extra, **job.extra}
            update_jobs(connection, [(number, replace(job, comeback=other.comeback, extra=extra))])
            continue
        merged = merge(other, job)
        if merged.conflicts:
            raise NumberTaken(merged.conflicts)
        update_jobs(connection, [(number, merged.job)])
    if not stored:
        insert_jobs(connection, [(adding.next_number(connection, tables.job), job)])


def _mark_comeback(connection: Connection, earlier: Identity) -> None:
    for number, job in _stored(connection, earlier).items():
        update_jobs(connection, [(number, replace(job, comeback=True))])


def _stored(connection: Connection, identity: Identity) -> dict[int, Job]:
    return read_jobs(connection, list(adding.numbers(connection, [identity]).values()))


def _next_of_day(connection: Connection, job: OpenJob) -> int:
    """Return the first number after all that begin as the job's does, finished or on the bench."""
    taken = [0]
    for table in (tables.job, tables.open_job):
        # A range and not LIKE: it is found in the index, and reads no character as a sign.
        beyond = job.number[:-1] + chr(ord("-") + 1)
        query = select(table.c.number).where(
            table.c.shop == job.shop, table.c.number >= job.number, table.c.number < beyond
        )
        rests = (text.removeprefix(job.number) for text in connection.execute(query).scalars())
        taken += [int(rest) for rest in rests if rest.isascii() and rest.isdigit() and len(rest) < 10]
    return max(taken) + 1


def _entries_of(key: str) -> Select[Any]:
    return select(tables.entry).where(_ENTRY.job_key == key).order_by(_ENTRY.place)


def _open_row(job: OpenJob) -> dict[str, Any]:
    comeback_shop, comeback_number = job.comeback_of or (None, None)
    return {
        "key": job.key,
        "shop": job.shop,
        "number": job.number,
        "board": job.board,
        "complaint": job.complaint,
        "opened": job.opened,
        "said": job.said,
        "device": job.device,
        "technician": job.technician,
        "comeback_shop": comeback_shop,
        "comeback_number": comeback_number,
        "closed": job.closed,
    }


def _open_job(row: Row[Any]) -> OpenJob:
    back = row.comeback_shop is not None and row.comeback_number is not None
    return OpenJob(
        key=row.key,
        shop=row.shop,
        number=row.number,
        board=row.board,
        complaint=row.complaint,
        opened=row.opened,
        said=row.said,
        device=row.device,
        technician=row.technician,
        comeback_of=(row.comeback_shop, row.comeback_number) if back else None,
        closed=row.closed,
    )


def _entry(row: Row[Any]) -> Entry:
    data = json.loads(row.data)
    if not isinstance(data, dict):
        raise ValueError(f"{row.data[:60]!r} is not a JSON object")  # noqa: TRY004 the store holds what nobody wrote
    return Entry(
        row.job_key, row.place, EntryKind(row.kind), MappingProxyType(data), row.made, row.made_by, row.token
    )
