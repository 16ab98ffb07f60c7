"""What the site is made of: what every page shows, and what the start page, the search and the feed know."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Final, Literal

from pydantic import TypeAdapter

from benchlore.book import Person
from benchlore.press.site.noted import BoardNoted


@dataclass(frozen=True, slots=True)
class Link:
    """A way to a file of the site: its path from the root, perhaps with ``#`` and a place, and its words."""

    path: str
    label: str


@dataclass(frozen=True, slots=True)
class Frame:
    """What every page shows of the library, and where the site stands.

    ``base`` is the address of the root with a slash at its end, ``""`` where the site has none of its own.
    ``links`` are what leads on from every page.
    """

    title: str
    licence: str
    shop: str
    base: str
    links: tuple[Link, ...] = ()


@dataclass(frozen=True, slots=True)
class Head:
    """What a page says of itself; ``structured`` are JSON-LD documents, ``credits`` people, a line each.

    ``licence`` is that of what the page shows, the library's own where it is ``""``.
    """

    path: str
    title: str
    description: str
    structured: tuple[Mapping[str, Any], ...] = ()
    licence: str = ""
    credits: tuple[str, ...] = ()
    language: str = "en"


Subject = Literal["board", "complaint", "fault", "part", "check"]


@dataclass(frozen=True, slots=True)
class Findable:
    """Something that the search finds: where it stands, and more words by which it is found."""

    subject: Subject
    title: str
    inside: str
    path: str
    words: str


@dataclass(frozen=True, slots=True)
class ComplaintEntry:
    """A complaint as lists show it; ``trouble`` says why it has no procedure, ``""`` where it has one."""

    name: str
    title: str
    path: str
    is_intermittent: bool
    jobs: int
    standing: str
    known: str
    cost: str
    time: str
    trouble: str
    stale: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class BoardEntry:
    """A board as lists, search and feed know it; ``content`` fingerprints what it was made from.

    ``noted`` is what the next edition is compared with, ``updated`` when that changed last (RFC 3339).
    ``credited`` are the people of its book.
    """

    board: str
    title: str
    device: str
    path: str
    licence: str
    jobs: int
    complaints: tuple[ComplaintEntry, ...]
    findables: tuple[Findable, ...]
    content: str
    updated: str = ""
    noted: BoardNoted = field(default_factory=BoardNoted)
    credited: tuple[Person, ...] = ()


@dataclass(frozen=True, slots=True)
class Refused:
    """A book that has no page, and why."""

    board: str
    reasons: tuple[str, ...]


ENTRY: Final = TypeAdapter(BoardEntry)
REFUSED: Final = TypeAdapter(Refused)
