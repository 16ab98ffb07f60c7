"""A fault book as values: names are checked, references hold, units are SI, times are minutes."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from benchlore.units import Chance, Measure, Span


class Hazard(StrEnum):
    """A way in which a check, fix or setup can hurt someone or something."""

    MAINS = "mains"
    LITHIUM = "lithium"
    HOT_AIR = "hot air"
    SOLVENT = "solvent"
    LIGHT = "laser or UV"
    STATIC = "static"
    SHARP = "sharp"
    HOT_SURFACE = "hot surface"


@dataclass(frozen=True, slots=True)
class Board:
    """The board that a book is about; ``name`` is its identifier, the folder's name."""

    name: str
    title: str
    device: str
    revision: str | None = None


@dataclass(frozen=True, slots=True)
class Person:
    """Somebody whose knowledge stands in the book."""

    name: str
    title: str
    roles: tuple[str, ...] = ()
    orcid: str | None = None


@dataclass(frozen=True, slots=True)
class Picture:
    """A picture in the book's folder and the place that it shows, in the picture's own pixels."""

    file: str
    at: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True)
class Work:
    """What a setup, check or fix asks of the bench.

    ``takes`` is hands-on minutes, ``waits`` minutes in which the technician is free. ``setups`` and
    ``equipment`` are what ``needs`` names: bench states of this book, and instruments or skills of the shop.
    ``ruins`` is the probability of ruining the board.
    """

    takes: float
    waits: float = 0.0
    ruins: float = 0.0
    setups: tuple[str, ...] = ()
    equipment: tuple[str, ...] = ()
    cautions: tuple[Hazard, ...] = ()


@dataclass(frozen=True, slots=True)
class Setup:
    """A bench state; ``work.setups`` are the setups that come before it (``after``)."""

    name: str
    title: str
    work: Work
    how: str = ""


@dataclass(frozen=True, slots=True)
class Condition:
    """The hidden state of one place on the board.

    ``by_chance`` is the share of boards that show some state other than the first although their fault
    does not cause it. The first state is ``normal`` where there is one of that name.
    """

    name: str
    title: str
    at: str
    states: tuple[str, ...]
    by_chance: float = 0.02


@dataclass(frozen=True, slots=True)
class Gate:
    """``only after`` another check; with ``state``, only if its reading is (or, ``negated``, is not) that.

    ``state`` is a state of the other check's condition or one of its named results.
    """

    check: str
    state: str | None = None
    negated: bool = False


@dataclass(frozen=True, slots=True)
class Check:
    """Something that can be looked at, measured or tried, and reads one condition.

    A named check has ``results`` and ``chances[state][result]``; a numeric one has ``measures`` and
    ``spans[state]``. ``from_record`` has the result that a restart record of a kind gives, by the kind.
    ``also`` are other names that shops use for it.
    """

    name: str
    title: str
    reads: str
    how: str
    work: Work
    results: tuple[str, ...] = ()
    chances: Mapping[str, Mapping[str, Chance]] = field(default_factory=dict)
    measures: Measure | None = None
    spans: Mapping[str, Span] = field(default_factory=dict)
    gates: tuple[Gate, ...] = ()
    picture: Picture | None = None
    from_record: Mapping[str, str] = field(default_factory=dict)
    also: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Fault:
    """A root cause at component level.

    ``causes[condition][state]``: how often a board with this fault shows that state. ``about_every`` is the
    mean time between events in minutes where it differs from the complaint's.
    """

    name: str
    title: str
    part_ref: str | None = None
    part_class: str | None = None
    causes: Mapping[str, Mapping[str, Chance]] = field(default_factory=dict)
    about_every: float | None = None
    notes: str = ""
    also: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Part:
    """A part that a fix uses up, priced in the book's currency."""

    title: str
    price: float


@dataclass(frozen=True, slots=True)
class Wire:
    """A jumper: where it runs, the current it carries (A), the drop it may have (V)."""

    start: str
    end: str
    carries: float
    may_drop: float | None = None


@dataclass(frozen=True, slots=True)
class Fix:
    """A repair action; ``cures[fault]`` is how often it ends that fault."""

    name: str
    title: str
    how: str
    work: Work
    cures: Mapping[str, Chance]
    parts: tuple[Part, ...] = ()
    wire: Wire | None = None
    picture: Picture | None = None
    gates: tuple[Gate, ...] = ()
    also: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Seen:
    """The expert's own last boards with a complaint: how many, and which fault each had.

    Boards beyond the sum of ``faults`` stayed unexplained. ``weight`` scales them against recorded jobs.
    """

    boards: float
    faults: Mapping[str, float]
    weight: float = 1.0


@dataclass(frozen=True, slots=True)
class Complaint:
    """What the customer says is wrong.

    ``about_every`` is the mean time between events in minutes of an intermittent complaint, ``None`` for a
    hard one. ``retest`` is the work of trying the complaint again; its ``waits`` is the soak.
    """

    name: str
    title: str
    retest: Work
    about_every: float | None = None
    retest_how: str = ""
    seen: Seen | None = None
    worth: float | None = None
    also: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Book:
    """One board's knowledge. Mappings keep the order in which the book names things."""

    board: Board
    licence: str
    currency: str
    people: Mapping[str, Person]
    equipment: Mapping[str, str]
    setups: Mapping[str, Setup]
    conditions: Mapping[str, Condition]
    checks: Mapping[str, Check]
    faults: Mapping[str, Fault]
    fixes: Mapping[str, Fix]
    complaints: Mapping[str, Complaint]
