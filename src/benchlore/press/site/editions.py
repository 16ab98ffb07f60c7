"""Editions of the site: what stood in each, kept so that the next one can say what has changed.

An edition is a state of the site that a reader could tell from the one before. A press that changes nothing
makes none.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated, Final, Literal

from pydantic import Field, TypeAdapter, ValidationError

from benchlore.notation import FileMissing, FileTrouble, read_text
from benchlore.press.site.noted import BoardNoted, Named

FORMAT: Final = 1
MOST_EDITIONS: Final = 12
"""How many editions are told of, the last first."""
MOST_BYTES: Final = 256 * 1024**2
UNDATED: Final = datetime(1980, 1, 1, tzinfo=UTC)
"""Stands for no date, where one has to stand (a feed's): the first that a zip can hold."""

What = Literal["new", "gone", "changed"]
Date = Annotated[str, Field(pattern=r"^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ$")]
Number = Annotated[int, Field(ge=1, le=10**9)]


@dataclass(frozen=True, slots=True)
class Difference:
    """One thing that changed: a figure ``before`` and ``after``, or titles that came, went, were altered.

    ``after`` alone says in words what no list names.
    """

    topic: str
    before: str = ""
    after: str = ""
    added: tuple[str, ...] = ()
    removed: tuple[str, ...] = ()
    altered: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class ComplaintChange:
    """What became of a complaint."""

    name: str
    title: str
    what: What
    differences: tuple[Difference, ...] = ()


@dataclass(frozen=True, slots=True)
class BoardChange:
    """What became of a board; ``why`` says why it has gone, where that is known."""

    board: str
    title: str
    what: What
    why: str = ""
    complaints: tuple[ComplaintChange, ...] = ()
    differences: tuple[Difference, ...] = ()


@dataclass(frozen=True, slots=True)
class Edition:
    """An edition: its number, its day and time (RFC 3339), and how it differs from the one before.

    ``compared`` says whether there was one to compare it with: ``nothing`` stood there, or what stood there
    is ``unknown``.
    """

    number: Number
    date: Date
    compared: Literal["before", "nothing", "unknown"]
    boards: tuple[BoardChange, ...] = ()
    skills: Difference | None = None

    @property
    def day(self) -> str:
        """The day, ``""`` where the edition has none."""
        return "" if self.date == rfc3339(UNDATED) else self.date[:10]


@dataclass(frozen=True, slots=True)
class BoardKept:
    """What was known of a board, and when that changed last (RFC 3339)."""

    updated: Date
    noted: BoardNoted


@dataclass(frozen=True, slots=True)
class Editions:
    """The last editions, the newest first, and what stands in that one."""

    format: Literal[1]
    editions: Annotated[tuple[Edition, ...], Field(min_length=1)]
    boards: Mapping[str, BoardKept] = field(default_factory=dict)
    skills: Mapping[str, Named] = field(default_factory=dict)


KEPT: Final = TypeAdapter(Editions)


def editions_text(editions: Editions) -> bytes:
    """Write what the next press compares with; anybody may read it."""
    return KEPT.dump_json(editions) + b"\n"


def read_editions(path: Path) -> Editions | Literal["nothing", "unknown"]:
    """Read what an earlier press wrote; a file that cannot be read, or another format's, tells nothing."""
    try:
        return KEPT.validate_json(read_text(path, most=MOST_BYTES))
    except FileMissing:
        return "nothing"
    except (FileTrouble, ValidationError):
        return "unknown"


def rfc3339(time: datetime) -> str:
    """Write a time as RFC 3339 does, in UTC."""
    return f"{time.astimezone(UTC):%Y-%m-%dT%H:%M:%SZ}"
