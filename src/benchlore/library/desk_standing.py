"""Where a job stands after the entries that count: readings, fixes tried, and what ``next`` would be asked.

A complaint that is still there says that no fix so far has cured. Readings that were taken after a fix,
before anybody knows of the complaint, may be of a cured board: they count as evidence once it is known to be
there.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field, replace

from benchlore.jobs import Entry, EntryKind, Retest
from benchlore.library.bench import (
    Bench,
    evidence_of,
    missing_of,
    read_as,
    setups_of,
    situation_of,
    skipped_of,
)
from benchlore.library.desk_values import Taken, Tried, Unread
from benchlore.library.errors import ReadingError
from benchlore.model import Model
from benchlore.procedure import STILL_THERE, Kind
from benchlore.shop import Shop


@dataclass(frozen=True, slots=True)
class Move:
    """What may have moved the belief: an entry's place, check or fix, result, and the bench after it."""

    place: int
    kind: Kind
    action: str
    title: str
    text: str
    bench: Bench


@dataclass(frozen=True, slots=True)
class Standing:
    """Where a job stands; ``moves`` lead to ``bench``."""

    bench: Bench
    readings: tuple[Taken, ...]
    tried: tuple[Tried, ...]
    moves: tuple[Move, ...]
    unread: tuple[Unread, ...]


def standing_of(model: Model, shop: Shop, counting: Iterable[Entry]) -> Standing:
    """Follow the entries that count; what the model does not know is left aside and named."""
    follower = _Follower(model, shop)
    for entry in counting:
        follower.follow(entry)
    return Standing(
        follower.bench(),
        tuple(follower.readings.values()),
        tuple(follower.tried),
        tuple(follower.moves),
        tuple(follower.unread),
    )


def understood(model: Model, shop: Shop, check: str, text: str) -> Taken:
    """Read one reading (``place`` 0); raises ``ReadingError``."""
    situation = situation_of(model, shop, Bench(((check, text),)))
    read = read_as(model, situation.evidence, situation.unclear)[0]
    return Taken(0, read.check, read.title, text, read.text)


def fix_of(model: Model, name: str) -> int:
    """The place of a fix in the model; raises ``ReadingError``."""
    return evidence_of(model, Bench(failed=(name,))).failed[0]


@dataclass(slots=True)
class _Follower:
    """Follows a journal; ``readings`` are by place, ``held`` those of a board that may be cured."""

    model: Model
    shop: Shop
    readings: dict[int, Taken] = field(default_factory=dict)
    held: list[int] = field(default_factory=list)
    is_held: bool = False
    evidence: dict[str, Taken] = field(default_factory=dict)
    tried: list[Tried] = field(default_factory=list)
    setups: list[str] = field(default_factory=list)
    skipped: list[str] = field(default_factory=list)
    without: list[str] = field(default_factory=list)
    moves: list[Move] = field(default_factory=list)
    unread: list[Unread] = field(default_factory=list)

    def bench(self) -> Bench:
        """Where the job stands, as ``next`` would be asked."""
        # A fix whose retest told nothing is not proposed again, although it may have failed.
        unsure = [each.fix for each in self.tried if each.retest is not Retest.STILL_THERE]
        return Bench(
            readings=tuple((check, taken.text) for check, taken in self.evidence.items()),
            failed=tuple(dict.fromkeys(each.fix for each in self.tried if each.retest is Retest.STILL_THERE)),
            setups=tuple(dict.fromkeys([*self.setups, *self._setups_of(unsure)])),
            skipped=tuple(dict.fromkeys([*self.skipped, *unsure])),
            without=tuple(dict.fromkeys(self.without)),
        )

    def follow(self, entry: Entry) -> None:
        """Take one more entry."""
        try:
            self._take(entry)
        except ReadingError as error:
            self.unread.append(Unread(entry, str(error)))

    def _take(self, entry: Entry) -> None:
        told = {name: value for name, value in entry.data.items() if isinstance(value, str)}
        match entry.kind:
            case EntryKind.READING:
                self._read(entry.place, understood(self.model, self.shop, told["check"], told["text"]))
            case EntryKind.SKIP:
                self.skipped += skipped_of(self.model, [told["name"]])
            case EntryKind.WITHOUT:
                self.without += missing_of(self.model, self.shop, [told["equipment"]])
            case EntryKind.SETUP:
                self.setups += [self.model.setups[k].name for k in setups_of(self.model, [told["name"]])]
            case EntryKind.FIX:
                self.is_held = True
                fix = self.model.fixes[fix_of(self.model, told["fix"])]
                self.tried.append(Tried(entry.place, fix.name, fix.title, Retest.UNKNOWN))
            case EntryKind.RETEST:
                self._retest(entry.place, Retest(told["result"]))
            case _:
                pass

    def _read(self, place: int, taken: Taken) -> None:
        taken = replace(taken, place=place, after=self.is_held)
        self.readings[place] = taken
        if self.is_held:
            self.held.append(place)
        else:
            self._count(taken)

    def _count(self, taken: Taken) -> None:
        """Let a reading be evidence, in place of an earlier one of the same check."""
        if (earlier := self.evidence.get(taken.check)) is not None:
            self.readings[earlier.place] = replace(earlier, replaced=True)
        taken = replace(taken, after=False)
        self.readings[taken.place] = self.evidence[taken.check] = taken
        self._move(taken.place, Kind.CHECK, taken.check, taken.title, taken.understood)

    def _retest(self, place: int, result: Retest) -> None:
        if self.tried:
            self.tried[-1] = replace(self.tried[-1], retest=result)
        self.is_held = result is Retest.GONE
        if result is Retest.STILL_THERE:
            self.tried = [replace(each, retest=Retest.STILL_THERE) for each in self.tried]
            last = self.tried[-1] if self.tried else None
            if last is not None:
                self._move(place, Kind.FIX, last.fix, last.title, STILL_THERE)
        if not self.is_held:
            for held in self.held:
                self._count(self.readings[held])
            self.held.clear()

    def _move(self, place: int, kind: Kind, action: str, title: str, text: str) -> None:
        self.moves.append(Move(place, kind, action, title, text, self.bench()))

    def _setups_of(self, fixes: Iterable[str]) -> Iterable[str]:
        """The setups that fixes needed, which therefore stand."""
        for name in fixes:
            fix = self.model.fixes[fix_of(self.model, name)]
            yield from (self.model.setups[k].name for k in fix.work.setups)
