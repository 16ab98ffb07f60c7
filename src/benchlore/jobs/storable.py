"""What a record may hold so that every store and every export gives it back as it was.

PostgreSQL keeps no NUL in a text; UTF-8 has no half characters (lone surrogates); SQLite takes "not a number"
for nothing at all; both count to 2⁶³ − 1.
"""

from collections.abc import Iterable, Iterator
from dataclasses import fields
from itertools import chain
from typing import Final

from benchlore.jobs.demand import DemandRecord
from benchlore.jobs.errors import DemandUnstorable, JobUnstorable
from benchlore.jobs.values import Job

_LARGEST: Final = 2**63 - 1


def check_job(job: Job) -> None:
    """Pass a job that can be kept.

    Raises
    ------
    JobUnstorable
        If it cannot, naming the field.
    """
    # Nearly every job passes, so that all its texts are looked at in one go; only a refused one is searched.
    if is_plain("".join(_texts(job))) and all(map(_is_kept, _numbers(job))):
        return
    for name, value in _job_fields(job):
        if reason := _objection(value):
            raise JobUnstorable(job, name, reason)


def check_demand(record: DemandRecord) -> None:
    """Pass a demand record that can be kept.

    Raises
    ------
    DemandUnstorable
        If it cannot, naming the field.
    """
    for each in fields(record):
        if reason := _objection(getattr(record, each.name)):
            raise DemandUnstorable(record.provider, record.id, each.name, reason)


def _texts(job: Job) -> Iterator[str]:
    yield from (job.shop, job.number, job.board, job.complaint, job.fault or "", job.fault_text)
    yield from (job.technician, job.notes)
    for reading in job.readings:
        yield reading.check
        yield reading.text
        if reading.result is not None:
            yield reading.result
    for attempt in job.attempts:
        yield attempt.fix
    yield from chain.from_iterable(job.extra.items())


def _numbers(job: Job) -> Iterable[float | None]:
    yield from (job.hands_on, job.waiting)
    for reading in job.readings:
        yield reading.value
        yield reading.step
    for attempt in job.attempts:
        yield attempt.step
        yield attempt.soaked


def _job_fields(job: Job) -> Iterator[tuple[str, object]]:
    for name in ("shop", "number", "board", "complaint", "fault", "fault_text", "technician", "notes"):
        yield name, getattr(job, name)
    yield from (("hands_on", job.hands_on), ("waiting", job.waiting))
    for reading in job.readings:
        for name in ("check", "step", "result", "value", "text"):
            yield f"the {name} of reading {reading.check!r}", getattr(reading, name)
    for attempt in job.attempts:
        for name in ("fix", "step", "soaked"):
            yield f"the {name} of attempt {attempt.fix!r}", getattr(attempt, name)
    for key, value in job.extra.items():
        yield f"the name of extra {key!r}", key
        yield f"extra {key!r}", value


def _objection(value: object) -> str | None:
    if isinstance(value, str) and not is_plain(value):
        return (
            "holds a NUL character; remove it" if "\0" in value else "holds half a character; mend the text"
        )
    if isinstance(value, int | float) and not _is_kept(value):
        return "is not a number; leave it out" if value != value else "is too large to be kept"  # noqa: PLR0124 -- NaN
    return None


def is_plain(text: str) -> bool:
    """Tell whether every store keeps a text: no NUL, no half characters."""
    if "\0" in text:
        return False
    if text.isascii():
        return True
    try:
        text.encode()
    except UnicodeEncodeError:
        return False
    return True


def _is_kept(number: float | None) -> bool:
    """Tell whether a number is none, a float that is a number, or a whole number of 64 bits."""
    if isinstance(number, int):
        return -_LARGEST <= number <= _LARGEST
    return number is None or number == number  # noqa: PLR0124 -- only "not a number" differs from itself
