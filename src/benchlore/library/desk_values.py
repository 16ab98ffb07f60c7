"""What a page shows of a job on the bench."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Literal, TypeAlias

from benchlore.book import Book
from benchlore.jobs import Entry, OpenJob, Outcome, Retest
from benchlore.library.asking import Asked
from benchlore.library.bench import Bench
from benchlore.model import Model
from benchlore.procedure import Kind, worth_of
from benchlore.shop import Shop

Counting: TypeAlias = Literal["hands-on", "waiting", "stopped"]
"""What time counts as."""


@dataclass(frozen=True, slots=True)
class Clock:
    """Minutes so far, and what time counts as at this moment.

    Every entry of the journal counts, undone or not: an undo gives no time back. A soak counts as waiting,
    for at most the minutes that were planned, whatever the clock was set to; after its retest (or an undo)
    the clock is where it was. ``ran`` is false where no time was ever counted.
    """

    counting: Counting
    hands_on: float
    waiting: float
    ran: bool


@dataclass(frozen=True, slots=True)
class Proves:
    """What a retest that shows nothing would prove, or proved, after ``minutes`` of soak.

    ``cured`` is the chance that the board is cured given that. ``overlooked`` is the chance that a board
    which is not cured shows nothing in that time, ``clean`` the chance that this one shows nothing.
    """

    minutes: float
    cured: float
    overlooked: float
    clean: float


@dataclass(frozen=True, slots=True)
class Soak:
    """A soak that was started and not yet followed by a retest: when, for how long, and how long it ran.

    ``ran`` is in minutes of a device that was on, and never more than ``minutes``; ``over`` tells whether it
    ran its time. ``until`` is when it will have, if it stays on. ``shown`` are the minutes of soak after
    which the complaint showed itself.
    """

    place: int
    started: datetime
    minutes: float
    until: datetime
    ran: float
    over: bool
    paused: bool = False
    shown: tuple[float, ...] = ()


@dataclass(frozen=True, eq=False)
class Due:
    """A retest that is due: of which fix, the soak that was planned with it, and the soak that runs, if any.

    ``before`` is what is believed without a retest (``minutes`` 0, nothing tried); ``sofar`` what a board
    that showed nothing up to now proves; ``planned`` what it proves if it shows nothing to the planned end.
    ``soaked`` are the minutes of soak since the fix, earlier soaks included. ``otherwise`` is what would be
    advised if the retest showed the complaint now.
    """

    place: int
    fix: str
    title: str
    planned_soak: float
    soak: Soak | None
    soaked: float
    before: float
    sofar: Proves
    planned: Proves
    otherwise: Asked


@dataclass(frozen=True, slots=True)
class Tried:
    """A fix that was tried: the place of its entry, and what its retest showed (``UNKNOWN``: not yet)."""

    place: int
    fix: str
    title: str
    retest: Retest


@dataclass(frozen=True, slots=True)
class Taken:
    """A reading that counts, as it was understood.

    ``after`` the complaint was gone it says nothing of the fault: it is what was measured on the repaired
    board. One that was ``replaced`` was taken again later.
    """

    place: int
    check: str
    title: str
    text: str
    understood: str
    after: bool = False
    replaced: bool = False


@dataclass(frozen=True, slots=True)
class Believed:
    """What was believed after an entry (``place`` 0: before any).

    ``shares`` are those of ``JobView.suspects``, in that order; with ``others`` they sum to one. ``kind`` and
    ``action`` name what moved the belief, ``text`` its result as it was understood.
    """

    place: int
    kind: Kind | None
    action: str
    title: str
    text: str
    shares: tuple[float, ...]
    others: float


@dataclass(frozen=True, slots=True)
class Spent:
    """Money spent so far, in the shop's currency: the clock's minutes at the shop's rates, parts of fixes."""

    hands_on: float
    waiting: float
    parts: float

    @property
    def total(self) -> float:
        """All of it."""
        return self.hands_on + self.waiting + self.parts


@dataclass(frozen=True, slots=True)
class Ahead:
    """What the rest of the job is expected to cost from here, in the shop's currency.

    ``to_finish`` holds everything from here to the end: time, setups, parts, retests and soaks, and also what
    may be lost: the board's worth if it is ruined, a comeback, and the repair that is not sold if the device
    goes back in the end. It holds nothing that was spent before. Where a step is advised, it is done first;
    where a retest is due, that is the rest of the planned soak, the retest, and what follows from what it may
    show; where the complaint is gone, a release now, hence only the comeback that it may bring. ``returned``
    is what returning the device now would cost. ``total`` is what was spent and ``to_finish`` together.
    """

    to_finish: float
    returned: float
    total: float


@dataclass(frozen=True, slots=True)
class Unread:
    """An entry that the book, as it is now, does not understand: it is kept, and does not count."""

    entry: Entry
    reason: str


@dataclass(frozen=True, eq=False)
class JobView:
    """A job on the bench, as it stands.

    ``entries`` are all of the journal, ``counting`` those that count after undos; ``last`` is the place to
    send as ``expected``. ``bench`` is where the job stands, as ``benchlore next`` would be asked; ``asked``
    is its answer, ``None`` where the job is closed, a retest is due, or the complaint is gone. Then ``due``
    or ``cured`` says what the retest would prove or proved. ``soaked`` has minutes of soak after fixes, by
    the places of their entries. ``suspects`` are at most six names of faults, the strongest of the whole job,
    and ``history`` how their shares moved. ``ahead`` is ``None`` once the job is
    closed. ``trouble`` says why an older reading of book and shop is shown, where the present one has errors.
    """

    job: OpenJob
    book: Book
    model: Model
    shop: Shop
    entries: tuple[Entry, ...]
    counting: tuple[Entry, ...]
    bench: Bench
    asked: Asked | None
    due: Due | None
    cured: Proves | None
    readings: tuple[Taken, ...]
    tried: tuple[Tried, ...]
    soaked: Mapping[int, float]
    suspects: tuple[str, ...]
    history: tuple[Believed, ...]
    clock: Clock
    spent: Spent
    ahead: Ahead | None
    unread: tuple[Unread, ...] = ()
    trouble: str = ""

    @property
    def last(self) -> int:
        """The place of the last entry; 0 where there is none."""
        return len(self.entries)

    @property
    def price(self) -> float:
        """What is asked for a repair, in the shop's currency: the worth of the finished repair."""
        return worth_of(self.model, self.shop)

    @property
    def stop(self) -> bool:
        """Whether returning the device costs least from here; ``asked.advice.go_on`` has what would not."""
        return self.asked is not None and self.asked.advice.best.kind is Kind.RETURN

    @property
    def notes(self) -> tuple[Entry, ...]:
        """The remarks that count."""
        return tuple(entry for entry in self.counting if entry.kind == "note")


@dataclass(frozen=True, slots=True)
class JobLine:
    """An open job in a list: how many entries, when the last was made, and what it waits for."""

    job: OpenJob
    last: int
    touched: datetime
    clock: Clock
    fix: str = ""
    soak: Soak | None = None


@dataclass(frozen=True, slots=True)
class Close:
    """How a job ended.

    ``fault`` is the confirmed fault's name or title in the book, ``unlisted`` (then in words in
    ``fault_text``), or ``None`` where nobody confirmed one. Minutes that are given stand in place of the
    clock's.
    """

    outcome: Outcome
    fault: str | None = None
    fault_text: str = ""
    notes: str = ""
    hands_on: float | None = None
    waiting: float | None = None
