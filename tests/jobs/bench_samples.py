"""An open job and entries for the tests of the journal."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from typing import Any

from benchlore.jobs import Draft, EntryKind, Job, OpenJob, Outcome, Reading

NINE = datetime(2026, 11, 25, 9, 0, tzinfo=UTC)

OPEN_JOB = OpenJob(
    key="k-1",
    shop="Quay Street Bench",
    number="26-1125-1",
    board="halden-t4",
    complaint="restarts",
    opened=NINE,
    said="restarts by itself, since it fell\nagain µ 漢",
    device="HT4-0091",
    technician="Ines",
)

FINISHED = Job(
    shop="Quay Street Bench",
    number="26-1125-1",
    board="halden-t4",
    complaint="restarts",
    opened=date(2026, 11, 25),
    readings=(Reading("vsys-ohms", 1, value=4180.0, text="4k18"),),
    outcome=Outcome.REPAIRED,
    fault="l1204-joint",
    hands_on=12.0,
    extra={"device": "HT4-0091"},
)


def job_with(**changes: Any) -> OpenJob:
    return replace(OPEN_JOB, **changes)


def draft(
    kind: EntryKind = EntryKind.NOTE, *, token: str = "t-1", minutes: float = 1.0, **data: Any
) -> Draft:
    return Draft(kind, data or {"text": "a remark"}, NINE + timedelta(minutes=minutes), "Ines", token)


def closing(token: str = "close") -> Draft:
    return draft(EntryKind.CLOSE, token=token, outcome="repaired", fault="l1204-joint")


def reopening(token: str = "reopen") -> Draft:
    return Draft(EntryKind.REOPEN, {}, NINE, "Ines", token)
