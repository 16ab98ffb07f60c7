"""What goes into a job store beside jobs, and what it answers."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import TypeAlias

from benchlore.jobs.merge import Conflict

Identity: TypeAlias = tuple[str, str]
"""``(shop, number)`` of a job."""


@dataclass(frozen=True, slots=True)
class Place:
    """Where in a file a job stands: the sheet (``""`` in a CSV file) and its first row, counted from one."""

    sheet: str
    row: int


@dataclass(frozen=True, slots=True)
class IntakeRecord:
    """One file that is taken in: its name and SHA-256, when, by which mapping, and where each job stood.

    ``rows`` counts the rows that were read, ``refused`` those that no job was made of.
    """

    file: str
    sha256: str
    taken: datetime
    mapping: str = ""
    rows: int = 0
    refused: int = 0
    places: Mapping[Identity, Place] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Added:
    """What became of offered jobs: each is new, the same, merged, or one of ``conflicting``.

    A job that conflicts may do so in several fields, hence have several ``conflicts``.
    """

    new: int = 0
    same: int = 0
    merged: int = 0
    conflicts: tuple[Conflict, ...] = ()
    conflicting: int = 0


@dataclass(frozen=True, slots=True)
class Intake:
    """A file that was taken in, as the store remembers it, and how many of its jobs were what."""

    number: int
    file: str
    sha256: str
    taken: datetime
    mapping: str
    rows: int
    refused: int
    new: int
    same: int
    merged: int
    conflicting: int


@dataclass(frozen=True, slots=True)
class Source:
    """A file and the place in it that a job came from; ``place`` is ``None`` where nobody noted it."""

    intake: Intake
    place: Place | None


@dataclass(frozen=True, slots=True)
class Filter:
    """Which jobs are meant; what is ``None`` is not asked for.

    ``since`` and ``until`` are days, both inclusive; with either, jobs without a date are left out.
    """

    board: str | None = None
    complaint: str | None = None
    shop: str | None = None
    since: date | None = None
    until: date | None = None


@dataclass(frozen=True, slots=True)
class DemandAdded:
    """What became of offered demand records; ``changed`` were there and said something else."""

    new: int = 0
    same: int = 0
    changed: int = 0
