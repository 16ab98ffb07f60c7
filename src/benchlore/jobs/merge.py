"""Two records of one job become one, or it is said why they cannot.

A record may leave things blank, so two records of a job are compatible if neither denies the other. Blank are
``None``, empty text, the outcome ``open`` and the retest ``unknown``. The fault ``unlisted`` gives way to a
name, because a book may come to know what it did not. Minutes of a job that is still open are "so far", and
notes may go on from notes. So are minutes of soak after a fix that nobody has judged yet.

One denial is enough for the whole offered record to be refused: a number that was used twice would otherwise
blend two devices.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from itertools import pairwise
from typing import TypeAlias, TypeVar

from benchlore.jobs.values import UNLISTED, Attempt, Job, Outcome, Reading, Retest

Field: TypeAlias = str | float | bool | date | None
"""What a conflict shows of each side."""

_F = TypeVar("_F", bound=Field)
_E = TypeVar("_E", Reading, Attempt)
_K = TypeVar("_K", int, str)


@dataclass(frozen=True, slots=True)
class Conflict:
    """A field in which an offered record denies the stored one; ``job`` is the offered record."""

    job: Job
    field: str
    stored: Field
    offered: Field

    def __str__(self) -> str:
        """Say which job, what stands in the store, and what was offered."""
        return (
            f"{_identity(self.job)}: {self.field} is {_shown(self.stored)} "
            f"in the store and {_shown(self.offered)} in this record; the stored job stays as it is"
        )


@dataclass(frozen=True, slots=True)
class Merged:
    """What two records of one job make; ``job`` is the stored record itself where nothing was added to it."""

    job: Job
    conflicts: tuple[Conflict, ...] = ()


def merge(stored: Job, offered: Job) -> Merged:
    """Join two records of one job.

    Where nothing conflicts the order of the two does not matter, and joining one of them again changes
    nothing. A check or fix that both records have equally often, with outcomes that agree, counts as the
    same although its steps are numbered differently: a sheet that gains a column numbers anew.

    Raises
    ------
    ValueError
        If the two are not of the same job.
    """
    if (stored.shop, stored.number) != (offered.shop, offered.number):
        raise ValueError(
            f"{_identity(stored)} and {_identity(offered)} are two jobs; only one job can be joined"
        )
    if stored == offered:
        return Merged(stored)
    join = _Join(stored, offered)
    joined = join.jobs()
    if join.conflicts:
        return Merged(stored, tuple(join.conflicts))
    return Merged(stored if joined == canonical(stored) else joined)


def canonical(job: Job) -> Job:
    """Put readings and attempts in the order of their steps, then names, each said once."""
    return replace(job, readings=_ordered(job.readings), attempts=_ordered(job.attempts))


@dataclass(slots=True)
class _Join:
    """Joins values pairwise and collects every denial, so that a reader sees all of them at once."""

    stored: Job
    offered: Job
    conflicts: list[Conflict] = field(default_factory=list)

    def jobs(self) -> Job:
        """Join the two records."""
        stored, offered = self.stored, self.offered
        return replace(
            stored,
            board=self.filled("board", stored.board, offered.board, ""),
            complaint=self.filled("complaint", stored.complaint, offered.complaint, ""),
            opened=self.filled("opened", stored.opened, offered.opened, None),
            readings=_ordered(self.series(stored.readings, offered.readings)),
            attempts=_ordered(self.series(stored.attempts, offered.attempts)),
            outcome=self.filled("outcome", stored.outcome, offered.outcome, Outcome.OPEN),
            fault=self.fault(stored.fault, offered.fault),
            fault_text=self.filled("fault_text", stored.fault_text, offered.fault_text, ""),
            hands_on=self.minutes("hands_on", stored.hands_on, offered.hands_on),
            waiting=self.minutes("waiting", stored.waiting, offered.waiting),
            comeback=self.filled("comeback", stored.comeback, offered.comeback, None),
            technician=self.filled("technician", stored.technician, offered.technician, ""),
            notes=self.notes(stored.notes, offered.notes),
            extra=self.more(stored.extra, offered.extra),
        )

    def denied(self, name: str, stored: _F, offered: Field) -> _F:
        """Note a denial; the stored value stays."""
        self.conflicts.append(Conflict(self.offered, name, stored, offered))
        return stored

    def filled(self, name: str, stored: _F, offered: _F, blank: _F) -> _F:
        """Let a blank give way; two that are not blank must be equal."""
        if offered in (stored, blank):
            return stored
        return offered if stored == blank else self.denied(name, stored, offered)

    def fault(self, stored: str | None, offered: str | None) -> str | None:
        """Let nothing give way to ``unlisted``, and ``unlisted`` to a name."""
        if offered == UNLISTED and stored is not None:
            return stored
        if stored == UNLISTED and offered is not None:
            return offered
        return self.filled("fault", stored, offered, None)

    def minutes(self, name: str, stored: float | None, offered: float | None) -> float | None:
        """Minutes of an open job are "so far": a finished job's replace them, and of two the later count."""
        if stored is None or offered is None:
            return offered if stored is None else stored
        if self.stored.outcome is Outcome.OPEN:
            return max(stored, offered) if self.offered.outcome is Outcome.OPEN else offered
        return stored if self.offered.outcome is Outcome.OPEN else self.filled(name, stored, offered, None)

    def notes(self, stored: str, offered: str) -> str:
        """Keep the longer of two notes if it goes on from the shorter."""
        if stored.startswith(offered):
            return stored
        return offered if offered.startswith(stored) else self.denied("notes", stored, offered)

    def more(self, stored: Mapping[str, str], offered: Mapping[str, str]) -> dict[str, str]:
        """Join two mappings; what both name must be equal."""
        for key in sorted(stored.keys() & offered.keys()):
            if stored[key] != offered[key]:
                self.denied(f"extra {key!r}", stored[key], offered[key])
        return {**offered, **stored}

    def series(self, stored: Iterable[_E], offered: Iterable[_E]) -> Iterator[_E]:
        """Join readings or attempts, name by name."""
        mine, theirs = _by(_name, stored), _by(_name, offered)
        for name in sorted(mine.keys() | theirs.keys()):
            first, second = mine.get(name, ()), theirs.get(name, ())
            if _is_same_series(first, second):
                yield from map(self.entry, first, second)
            else:
                yield from self.steps(_by(_step, first), _by(_step, second))

    def steps(self, stored: dict[int, tuple[_E, ...]], offered: dict[int, tuple[_E, ...]]) -> Iterator[_E]:
        """Join entries of one name, step by step."""
        for step in sorted(stored.keys() | offered.keys()):
            first, second = stored.get(step, ()), offered.get(step, ())
            if first and second and first != second:
                yield from self.step(first, second)
            else:
                yield from first or second

    def step(self, stored: tuple[_E, ...], offered: tuple[_E, ...]) -> tuple[_E, ...]:
        """Join what two records say of one name at one step."""
        mine, theirs = stored[0], offered[0]
        if len(stored) == len(offered) == 1 and _agree(mine, theirs):
            return (self.entry(mine, theirs),)
        noun = "reading" if isinstance(mine, Reading) else "attempt"
        self.denied(f"{noun} {_name(mine)!r} at step {mine.step}", *_difference(stored, offered))
        return stored

    def entry(self, stored: _E, offered: _E) -> _E:
        """Join two entries that agree; the earlier step counts, which keeps both records' order."""
        step = min(stored.step, offered.step)
        if isinstance(stored, Attempt):
            retest = offered.retest if stored.retest is Retest.UNKNOWN else stored.retest
            return replace(stored, step=step, retest=retest, soaked=_soaked(stored, offered))
        return replace(
            stored,
            step=step,
            result=offered.result if stored.result is None else stored.result,
            value=offered.value if stored.value is None else stored.value,
            text=max(stored.text, offered.text, key=lambda text: (len(text), text)),
        )


def _is_same_series(first: Sequence[_E], second: Sequence[_E]) -> bool:
    """Tell whether two records have a check or fix equally often, once a step, with outcomes that agree."""
    return (
        len(first) == len(second)
        and all(a.step < b.step for entries in (first, second) for a, b in pairwise(entries))
        and all(map(_agree, first, second))
    )


def _agree(first: _E, second: _E) -> bool:
    """Tell whether neither entry denies the other."""
    if isinstance(first, Attempt):
        if Retest.UNKNOWN in (first.retest, second.retest):
            return True
        return first.retest is second.retest and (
            None in (first.soaked, second.soaked) or first.soaked == second.soaked
        )
    pairs = ((first.result, second.result), (first.value, second.value))
    if any(a is not None and b is not None and a != b for a, b in pairs):
        return False
    if any(a is not None and b is not None for a, b in pairs):
        return True
    # A result against a number, or words that nobody understood: only equal words agree.
    is_blank = any(each.result is None and each.value is None for each in (first, second))
    return is_blank and (first.text == second.text or "" in (first.text, second.text))


def _soaked(first: Attempt, second: Attempt) -> float | None:
    """Join the minutes of soak of two attempts that agree; those before anybody judged it are "so far"."""
    known = [each for each in (first, second) if each.soaked is not None]
    judged = [each for each in known if each.retest is not Retest.UNKNOWN]
    return max((each.soaked for each in judged or known if each.soaked is not None), default=None)


def _difference(stored: Sequence[Reading | Attempt], offered: Sequence[Reading | Attempt]) -> tuple[str, str]:
    """Print the two sides of a denial."""
    return " and ".join(map(_outcome, stored)), " and ".join(map(_outcome, offered))


def _outcome(entry: Reading | Attempt) -> str:
    if isinstance(entry, Attempt):
        return entry.retest if entry.soaked is None else f"{entry.retest} after {entry.soaked:g} min of soak"
    value = None if entry.value is None else f"{entry.value:g}"
    return ", ".join(part for part in (entry.result, value, entry.text and f"written {entry.text!r}") if part)


def _ordered(entries: Iterable[_E]) -> tuple[_E, ...]:
    return tuple(dict.fromkeys(sorted(entries, key=_order)))


def _order(entry: Reading | Attempt) -> tuple[int, str, str]:
    return entry.step, _name(entry), repr(entry)


def _by(key: Callable[[_E], _K], entries: Iterable[_E]) -> dict[_K, tuple[_E, ...]]:
    groups: dict[_K, list[_E]] = {}
    for entry in _ordered(entries):
        groups.setdefault(key(entry), []).append(entry)
    return {name: tuple(group) for name, group in groups.items()}


def _name(entry: Reading | Attempt) -> str:
    return entry.check if isinstance(entry, Reading) else entry.fix


def _step(entry: Reading | Attempt) -> int:
    return entry.step


def _identity(job: Job) -> str:
    return f"job {job.number!r} of shop {job.shop!r}"


def _shown(value: Field) -> str:
    return repr(str(value)) if isinstance(value, str | date) else str(value)
