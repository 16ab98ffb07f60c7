"""What a journal says of time: minutes by the clock, and the soak that runs after a fix."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise
from typing import Final

from benchlore.jobs import Entry, EntryKind, Retest
from benchlore.library.desk_values import Clock, Counting, Soak

COUNTINGS: Final[tuple[Counting, ...]] = ("hands-on", "waiting", "stopped")

_ENDS_SOAK: Final = (
    EntryKind.CLOCK,
    EntryKind.FIX,
    EntryKind.RETEST,
    EntryKind.UNDO,
    EntryKind.CLOSE,
    EntryKind.REOPEN,
)


def clock_of(entries: Iterable[Entry], now: datetime) -> Clock:
    """Count minutes over a whole journal, undone entries included."""
    watch = _Watch()
    for entry in entries:
        watch.run(entry.at)
        watch.note(entry)
    watch.run(now)
    return Clock(watch.shown, watch.hands_on, watch.waiting, watch.ran)


class _Watch:
    """A running count; moments that lie before earlier ones (another clock) add nothing."""

    def __init__(self) -> None:
        self.hands_on = self.waiting = 0.0
        self.ran = False
        self._counting: Counting = "stopped"
        self._soak_left: float | None = None
        self._since: datetime | None = None

    @property
    def shown(self) -> Counting:
        """What time counts as now."""
        if self._soak_left is None:
            return self._counting
        return "waiting" if self._soak_left > 0 else "stopped"

    def run(self, to: datetime) -> None:
        """Count the minutes up to a moment."""
        if self._since is None or to > self._since:
            span = 0.0 if self._since is None else minutes(to - self._since)
            self._since = to
            self._count(span)

    def note(self, entry: Entry) -> None:
        """Change what time counts as."""
        if entry.kind in _ENDS_SOAK:
            self._soak_left = None
        if entry.kind is EntryKind.CLOCK:
            self._counting = next(each for each in COUNTINGS if each == entry.data["to"])
            self.ran |= self._counting != "stopped"
        elif entry.kind is EntryKind.SOAK:
            self._soak_left = number(entry, "minutes")
            self.ran = True
        elif entry.kind is EntryKind.CLOSE:
            self._counting = "stopped"

    def _count(self, span: float) -> None:
        if self._soak_left is not None:
            soaked = min(span, self._soak_left)
            self.waiting += soaked
            self._soak_left -= soaked
        elif self._counting == "hands-on":
            self.hands_on += span
        elif self._counting == "waiting":
            self.waiting += span


@dataclass(frozen=True, slots=True)
class Trial:
    """The last fix of a job and its retest: ``soaked`` minutes in all, ``soak`` the one that runs or ran.

    ``due`` tells whether the retest is still to be made; ``retest`` is what it showed last.
    """

    entry: Entry
    due: bool
    retest: Retest
    soak: Soak | None
    soaked: float

    @property
    def held(self) -> bool:
        """Whether nobody knows of a complaint since the fix: readings then may be of a cured board."""
        return self.due or self.retest is Retest.GONE


def trial_of(counting: Sequence[Entry], now: datetime) -> Trial | None:
    """Find the last fix among the entries that count, and how its retest stands."""
    place = max((k for k, entry in enumerate(counting) if entry.kind is EntryKind.FIX), default=None)
    if place is None:
        return None
    since = [entry for entry in counting[place:] if entry.kind in (EntryKind.SOAK, EntryKind.RETEST)]
    retests = [entry for entry in since if entry.kind is EntryKind.RETEST]
    due = not since or since[-1].kind is EntryKind.SOAK
    soaks = [
        _soak(entry, following.at) for entry, following in pairwise(since) if entry.kind is EntryKind.SOAK
    ]
    running = _soak(since[-1], now) if since and due else None
    by_hand = sum(number(entry, "minutes") for entry in retests)
    soaked = sum(soak.ran for soak in soaks) + by_hand + (running.ran if running else 0.0)
    retest = Retest(str(retests[-1].data["result"])) if retests else Retest.UNKNOWN
    return Trial(counting[place], due, retest, running, soaked)


def _soak(entry: Entry, end: datetime) -> Soak:
    planned = number(entry, "minutes")
    ran = min(planned, max(0.0, minutes(end - entry.at)))
    until = entry.at + timedelta(minutes=planned)
    return Soak(entry.place, entry.at, planned, until, ran, over=ran >= planned)


def minutes(span: timedelta) -> float:
    """Minutes of a span of time."""
    return span.total_seconds() / 60


def number(entry: Entry, field: str) -> float:
    """A number of an entry; 0 where it has none."""
    value = entry.data.get(field)
    return float(value) if isinstance(value, int | float) else 0.0
