"""What a journal says of time: minutes by the clock, and the soak that runs after a fix."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final

from benchlore.jobs import Entry, EntryKind, Retest
from benchlore.library.desk_values import Clock, Counting, Soak

COUNTINGS: Final[tuple[Counting, ...]] = ("hands-on", "waiting", "stopped")

POWERS: Final = ("on", "off")
"""What a soaking device may be switched to."""
_OF_SOAK: Final = (EntryKind.SOAK, EntryKind.RESTART, EntryKind.POWER, EntryKind.RETEST)
"""Entries that follow a fix and tell of its soak."""

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
        self._is_off = False
        self._since: datetime | None = None
        self._soaks: list[tuple[float | None, bool, float]] = [(None, False, 0.0)]
        self._gone = 0.0

    @property
    def shown(self) -> Counting:
        """What time counts as now."""
        if self._soak_left is None:
            return self._counting
        return "waiting" if self._soak_left > 0 and not self._is_off else "stopped"

    def run(self, to: datetime) -> None:
        """Count the minutes up to a moment."""
        if self._since is None or to > self._since:
            span = 0.0 if self._since is None else minutes(to - self._since)
            self._since = to
            self._count(span)

    def note(self, entry: Entry) -> None:
        """Change what time counts as."""
        if entry.kind in _ENDS_SOAK:
            self._soak_left, self._is_off = None, False
        if entry.kind is EntryKind.CLOCK:
            self._counting = next(each for each in COUNTINGS if each == entry.data["to"])
            self.ran |= self._counting != "stopped"
        elif entry.kind is EntryKind.SOAK:
            self._soak_left, self._is_off = number(entry, "minutes"), False
            self.ran = True
        elif entry.kind is EntryKind.POWER:
            self._is_off = entry.data["to"] == "off"
        elif entry.kind is EntryKind.CLOSE:
            self._counting = "stopped"
        elif entry.kind is EntryKind.UNDO:
            self._go_on(entry.data["to"])
        self._soaks.append((self._soak_left, self._is_off, self._gone))

    def _go_on(self, to: object) -> None:
        """After an undo, let the soak go on that ran at the place: the device did not stop for it."""
        left, self._is_off, then = self._soaks[to] if isinstance(to, int) else (None, False, 0.0)
        self._soak_left = left if left is None or self._is_off else max(0.0, left - (self._gone - then))

    def _count(self, span: float) -> None:
        self._gone += span
        if self._soak_left is not None:
            soaked = 0.0 if self._is_off else min(span, self._soak_left)
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
    since = [entry for entry in counting[place:] if entry.kind in _OF_SOAK]
    retests = [entry for entry in since if entry.kind is EntryKind.RETEST]
    due = not since or since[-1].kind is not EntryKind.RETEST
    soaks = list(_soaks(since, now))
    running = soaks[-1] if soaks and due else None
    by_hand = sum(number(entry, "minutes") for entry in retests)
    soaked = sum(soak.ran for soak in soaks) + by_hand
    retest = Retest(str(retests[-1].data["result"])) if retests else Retest.UNKNOWN
    return Trial(counting[place], due, retest, running, soaked)


def soaked_of(counting: Sequence[Entry], now: datetime) -> Mapping[int, float]:
    """Minutes of soak after each fix, by its place: as long as it ran, or until the complaint showed itself.

    A complaint that is still there was left by every fix before it, so that their minutes go on to then. A
    fix after which nobody noted a soak has none.
    """
    places = [k for k, entry in enumerate(counting) if entry.kind is EntryKind.FIX]
    found = ((counting[k].place, _soaked_since(counting[k:], now)) for k in places)
    return {place: soaked for place, soaked in found if soaked is not None}


def _soaked_since(since: Sequence[Entry], now: datetime) -> float | None:
    """Minutes of soak after the fix that comes first; ``None`` where none was noted."""
    failed = next((k for k, entry in enumerate(since) if _shows(entry, Retest.STILL_THERE)), None)
    if failed is not None:
        since = since[: failed + 1]
    elif later := [k for k, entry in enumerate(since) if k and entry.kind is EntryKind.FIX]:
        since, now = since[: later[0]], since[later[0]].at
    soaks = list(_soaks(since, now))
    by_hand = [entry for entry in since if entry.kind is EntryKind.RETEST and "minutes" in entry.data]
    if not soaks and not by_hand:
        return None
    held = max((entry.place for entry in since if _shows(entry, Retest.GONE)), default=0)
    shown = next((soak for soak in soaks if soak.shown and soak.place > held), None) if failed else None
    end = shown.place if shown else since[-1].place + 1
    total = sum(soak.ran for soak in soaks if soak.place < end)
    total += sum(number(entry, "minutes") for entry in by_hand if entry.place < end)
    return total + (shown.shown[0] if shown else 0.0)


def _shows(entry: Entry, result: Retest) -> bool:
    return entry.kind is EntryKind.RETEST and entry.data["result"] == result


def _soaks(since: Sequence[Entry], now: datetime) -> Iterator[Soak]:
    """The soaks after a fix; each ends with the next soak, retest or fix, the last one now."""
    starts = [k for k, entry in enumerate(since) if entry.kind is EntryKind.SOAK]
    for start in starts:
        ends = (
            k
            for k, entry in enumerate(since)
            if k > start and entry.kind in (EntryKind.SOAK, EntryKind.RETEST, EntryKind.FIX)
        )
        end = next(ends, None)
        inside = since[start + 1 : end]
        yield _soak(since[start], inside, now if end is None else since[end].at)


def _soak(entry: Entry, inside: Sequence[Entry], end: datetime) -> Soak:
    """Follow a soak over the times at which the device was off; it ends at ``end`` at the latest."""
    planned, on = number(entry, "minutes"), _on_times(entry, inside, end)
    ran = min(planned, _on_until(on, end))
    switched = [each for each in inside if each.kind is EntryKind.POWER]
    is_off = bool(switched) and switched[-1].data["to"] == "off"
    noted = [each for each in inside if each.kind is EntryKind.RESTART]
    shown = (_on_until(on, each.at - timedelta(minutes=number(each, "ago"))) for each in noted)
    until = _until(on, planned, end)
    return Soak(entry.place, entry.at, planned, until, ran, ran >= planned, is_off, tuple(sorted(shown)))


def _on_times(entry: Entry, inside: Sequence[Entry], end: datetime) -> list[tuple[datetime, datetime]]:
    """From when to when the device was on; moments before earlier ones (another clock) add nothing."""
    found: list[tuple[datetime, datetime]] = []
    since: datetime | None = entry.at
    for each in inside:
        if each.kind is not EntryKind.POWER:
            continue
        if each.data["to"] == "on":
            since = since or each.at
        elif since is not None:
            found.append((since, max(since, each.at)))
            since = None
    return found if since is None else [*found, (since, max(since, end))]


def _on_until(on: Sequence[tuple[datetime, datetime]], moment: datetime) -> float:
    """Minutes that the device was on up to a moment."""
    return sum(minutes(min(to, moment) - start) for start, to in on if start < moment)


def _until(on: Sequence[tuple[datetime, datetime]], planned: float, end: datetime) -> datetime:
    """When a soak ran its planned time, or will have if the device stays on from ``end``."""
    left = planned
    for start, to in on:
        if minutes(to - start) >= left:
            return start + timedelta(minutes=left)
        left -= minutes(to - start)
    return end + timedelta(minutes=left)


def minutes(span: timedelta) -> float:
    """Minutes of a span of time."""
    return span.total_seconds() / 60


def number(entry: Entry, field: str) -> float:
    """A number of an entry; 0 where it has none."""
    value = entry.data.get(field)
    return float(value) if isinstance(value, int | float) else 0.0
