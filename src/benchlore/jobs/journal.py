"""A job that lies on a bench now: what was said of it, and its journal.

A journal is only ever added to. What was entered by mistake is undone by another entry, so that nobody's
record is lost and two people who look at one job can always say what they have seen: the place of an entry.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import TypeAlias

from benchlore.jobs.store_values import Identity

Plain: TypeAlias = str | int | float | None
"""What a field of an entry may hold."""


class EntryKind(StrEnum):
    """What an entry tells, with the fields of its ``data``."""

    READING = "reading"
    """``check``, ``text``: a check was made; the text is as typed, ``unclear`` if it told nothing."""
    SKIP = "skip"
    """``name``: a check or fix that cannot be done on this job."""
    WITHOUT = "without"
    """``equipment``: an instrument or skill that is missing today."""
    SETUP = "setup"
    """``name``: a setup that stands already."""
    FIX = "fix"
    """``fix``, ``soak``: a fix was done; minutes of soak that are planned; its retest is due."""
    SOAK = "soak"
    """``minutes``: a soak of so many minutes was started."""
    RESTART = "restart"
    """``ago``: while it soaked the complaint showed itself, so many minutes before the entry was made."""
    POWER = "power"
    """``to``: while it soaks the device was switched ``off``, or is ``on`` again; time off is no soak."""
    RETEST = "retest"
    """``result``: ``gone``, ``still there`` or ``unknown``, of the last fix; ``minutes`` of soak beside those
    of soak entries, if there were any."""
    CLOCK = "clock"
    """``to``: what time counts as from now on: ``hands-on``, ``waiting`` or ``stopped``."""
    NOTE = "note"
    """``text``: a remark."""
    UNDO = "undo"
    """``to``: the job stands as it stood after the entry at that place (0: as it was opened)."""
    CLOSE = "close"
    """``outcome``, ``fault``, ``fault_text``, ``notes``, ``hands_on``, ``waiting``: the job is finished."""
    REOPEN = "reopen"
    """Nothing: it is not finished after all."""


@dataclass(frozen=True, slots=True)
class OpenJob:
    """A device on a bench, or one that was there: ``closed`` jobs can be opened again.

    ``key`` is random and fits into a URL; ``shop`` and ``number`` will identify the finished job. ``said`` is
    what the customer said, ``device`` a label or serial number, ``opened`` a moment in UTC. ``comeback_of``
    is the earlier job after which the device came back.
    """

    key: str
    shop: str
    number: str
    board: str
    complaint: str
    opened: datetime
    said: str = ""
    device: str = ""
    technician: str = ""
    comeback_of: Identity | None = None
    closed: bool = False


@dataclass(frozen=True, slots=True)
class Draft:
    """An entry before it has a place. ``token`` is the sender's own random text: sent twice, stored once."""

    kind: EntryKind
    data: Mapping[str, Plain]
    at: datetime
    by: str
    token: str


@dataclass(frozen=True, slots=True)
class Entry:
    """One entry of the journal of the job with key ``job``; ``place`` counts from one, ``at`` is in UTC."""

    job: str
    place: int
    kind: EntryKind
    data: Mapping[str, Plain]
    at: datetime
    by: str
    token: str


def standing(entries: Iterable[Entry]) -> tuple[Entry, ...]:
    """Return the entries that count, in order; undone ones and the undoing ones do not.

    After an undo to a place the job stands as it stood there. So an undo is itself undone by a later one to
    the place before it.
    """
    after: list[tuple[Entry, ...]] = [()]
    for entry in entries:
        to = entry.data["to"] if entry.kind is EntryKind.UNDO else None
        after.append(after[to] if isinstance(to, int) else (*after[-1], entry))
    return after[-1]
