"""A bench job as values."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum

UNLISTED = "unlisted"
"""The fault that stands for every fault which the book does not know."""


class Outcome(StrEnum):
    """How a job ended."""

    REPAIRED = "repaired"
    RETURNED = "returned"
    RUINED = "ruined"
    OPEN = "open"


class Retest(StrEnum):
    """What trying the complaint again after a fix showed."""

    GONE = "gone"
    STILL_THERE = "still there"
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True)
class Reading:
    """The outcome of one check: a named ``result``, or a ``value`` in SI units (``inf`` is over range).

    ``step`` orders readings and attempts within the job; ``text`` is what the bench wrote.
    """

    check: str
    step: int
    result: str | None = None
    value: float | None = None
    text: str = ""


@dataclass(frozen=True, slots=True)
class Attempt:
    """A fix that was tried.

    ``soaked`` are the minutes that the board ran after it: to the end of a retest that showed nothing, or
    until the complaint showed itself again; ``None`` where not recorded.
    """

    fix: str
    step: int
    retest: Retest = Retest.UNKNOWN
    soaked: float | None = None


@dataclass(frozen=True, slots=True)
class Job:
    """One device on one bench. ``shop`` and ``number`` identify it.

    ``fault`` is the confirmed fault's name, ``unlisted``, or ``None`` where nobody confirmed one;
    ``fault_text`` is what the bench wrote of it. Minutes are ``None`` where not recorded. ``comeback`` is
    ``True`` if the device returned with the same complaint, ``None`` if nobody knows yet.
    """

    shop: str
    number: str
    board: str
    complaint: str
    opened: date | None = None
    readings: tuple[Reading, ...] = ()
    attempts: tuple[Attempt, ...] = ()
    outcome: Outcome = Outcome.OPEN
    fault: str | None = None
    fault_text: str = ""
    hands_on: float | None = None
    waiting: float | None = None
    comeback: bool | None = None
    technician: str = ""
    notes: str = ""
    extra: Mapping[str, str] = field(default_factory=dict)
