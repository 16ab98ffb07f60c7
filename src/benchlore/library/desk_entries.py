"""What may be entered on a job: fields of each kind, checked against the book and the job as it stands."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime
from math import isfinite
from typing import Final, TypeAlias, TypeGuard

from benchlore.jobs import Entry, EntryKind, Plain, Retest, is_plain, standing
from benchlore.library.asking import Companion
from benchlore.library.bench import missing_of, setups_of, skipped_of
from benchlore.library.desk_clock import COUNTINGS, POWERS, minutes, trial_of
from benchlore.library.desk_standing import fix_of, understood
from benchlore.library.desk_values import Soak
from benchlore.library.errors import EntryRefusedError

LONGEST_SOAK: Final = 14 * 24 * 60.0
"""Minutes of the longest soak that can be started: two weeks."""

Data: TypeAlias = dict[str, Plain]


@dataclass(frozen=True, slots=True)
class Journal:
    """The job that an entry is for: its companion, its entries so far, and the moment."""

    companion: Companion
    entries: tuple[Entry, ...]
    now: datetime


def checked(kind: EntryKind, data: Mapping[str, object], journal: Journal) -> Data:
    """Return an entry's data, in the book's own names.

    Raises
    ------
    ReadingError
        If a name or a reading means nothing to the book.
    EntryRefusedError
        If the fields are not those of the kind, or the job as it stands cannot take it.
    """
    if kind not in _CHECKS:
        raise EntryRefusedError(f"'{kind}'", "a job is closed and opened again by ways of their own")
    required, optional, check = _CHECKS[kind]
    if missing := [name for name in required if name not in data]:
        raise EntryRefusedError(f"'{kind}'", f"the field '{missing[0]}' is missing")
    if strange := [name for name in data if name not in (*required, *optional)]:
        raise EntryRefusedError(
            f"'{kind}'", f"there is no field {strange[0][:60]!r}; it has {', '.join((*required, *optional))}"
        )
    return check(data, journal)


def _reading(data: Mapping[str, object], journal: Journal) -> Data:
    text = _text(data, "text")
    taken = understood(journal.companion.model, journal.companion.shop, _text(data, "check"), text)
    return {"check": taken.check, "text": text}


def _skip(data: Mapping[str, object], journal: Journal) -> Data:
    return {"name": skipped_of(journal.companion.model, [_text(data, "name")])[0]}


def _without(data: Mapping[str, object], journal: Journal) -> Data:
    model, shop = journal.companion.model, journal.companion.shop
    return {"equipment": missing_of(model, shop, [_text(data, "equipment")])[0]}


def _setup(data: Mapping[str, object], journal: Journal) -> Data:
    model = journal.companion.model
    return {"name": model.setups[setups_of(model, [_text(data, "name")])[0]].name}


def _fix(data: Mapping[str, object], journal: Journal) -> Data:
    model = journal.companion.model
    fix = model.fixes[fix_of(model, _text(data, "fix"))].name
    return {"fix": fix, "soak": _minutes(data, "soak", otherwise=0.0)}


def _soak(data: Mapping[str, object], journal: Journal) -> Data:
    trial = trial_of(standing(journal.entries), journal.now)
    if trial is None or not trial.held:
        raise EntryRefusedError("a soak", "it tries a board after a fix; enter the fix first")
    planned = _minutes(data, "minutes")
    if planned <= 0:
        raise EntryRefusedError("a soak", f"{planned:g} minutes; give more than none")
    return {"minutes": planned}


def _restart(data: Mapping[str, object], journal: Journal) -> Data:
    soak = _running(journal, "a restart")
    ago = _minutes(data, "ago", otherwise=0.0)
    if ago > minutes(journal.now - soak.started):
        raise EntryRefusedError("a restart", f"{ago:g} minutes ago the soak had not begun; give a later time")
    return {"ago": ago}


def _power(data: Mapping[str, object], journal: Journal) -> Data:
    soak = _running(journal, "on or off")
    to = _one_of(data, "to", POWERS)
    if soak.paused == (to == "off"):
        raise EntryRefusedError("on or off", f"the device is {to} already")
    return {"to": to}


def _running(journal: Journal, what: str) -> Soak:
    trial = trial_of(standing(journal.entries), journal.now)
    if trial is None or trial.soak is None:
        raise EntryRefusedError(what, "it tells of a soak, and none runs; begin the soak first")
    return trial.soak


def _retest(data: Mapping[str, object], journal: Journal) -> Data:
    if trial_of(standing(journal.entries), journal.now) is None:
        raise EntryRefusedError("a retest", "it follows a fix; enter the fix first")
    result = _one_of(data, "result", tuple(Retest))
    if "minutes" not in data:
        return {"result": result}
    return {"result": result, "minutes": _minutes(data, "minutes")}


def _clock(data: Mapping[str, object], journal: Journal) -> Data:  # noqa: ARG001  one signature for all kinds
    return {"to": _one_of(data, "to", COUNTINGS)}


def _note(data: Mapping[str, object], journal: Journal) -> Data:  # noqa: ARG001  one signature for all kinds
    text = _text(data, "text")
    if not text.strip():
        raise EntryRefusedError("a remark", "it says nothing; write something")
    return {"text": text}


def _undo(data: Mapping[str, object], journal: Journal) -> Data:
    to, last = data["to"], len(journal.entries)
    if not isinstance(to, int) or isinstance(to, bool) or not 0 <= to < last:
        places = f"a place from 0 to {last - 1}" if last else "nothing was entered yet"
        raise EntryRefusedError("an undo", f"{str(to)[:60]!r} where {places} is expected")
    if to and journal.entries[to - 1].kind is EntryKind.CLOSE:
        raise EntryRefusedError("an undo", "the job was closed there; close it instead")
    return {"to": to}


_Check: TypeAlias = Callable[[Mapping[str, object], Journal], Data]

_CHECKS: Final[Mapping[EntryKind, tuple[tuple[str, ...], tuple[str, ...], _Check]]] = {
    EntryKind.READING: (("check", "text"), (), _reading),
    EntryKind.SKIP: (("name",), (), _skip),
    EntryKind.WITHOUT: (("equipment",), (), _without),
    EntryKind.SETUP: (("name",), (), _setup),
    EntryKind.FIX: (("fix",), ("soak",), _fix),
    EntryKind.SOAK: (("minutes",), (), _soak),
    EntryKind.RESTART: ((), ("ago",), _restart),
    EntryKind.POWER: (("to",), (), _power),
    EntryKind.RETEST: (("result",), ("minutes",), _retest),
    EntryKind.CLOCK: (("to",), (), _clock),
    EntryKind.NOTE: (("text",), (), _note),
    EntryKind.UNDO: (("to",), (), _undo),
}
"""The fields that each kind must have and may have, and what checks them."""


def _text(data: Mapping[str, object], name: str) -> str:
    value = data[name]
    if not isinstance(value, str):
        raise EntryRefusedError(f"the field '{name}'", f"{str(value)[:60]!r} where a text is expected")
    if not is_plain(value):
        raise EntryRefusedError(f"the field '{name}'", "holds a NUL character or half a character; remove it")
    return value


def _one_of(data: Mapping[str, object], name: str, words: tuple[str, ...]) -> str:
    value = data[name]
    if value not in words:
        raise EntryRefusedError(
            f"the field '{name}'", f"{str(value)[:60]!r} where {' or '.join(map(str, words))} is expected"
        )
    return str(value)


def _minutes(data: Mapping[str, object], name: str, *, otherwise: float | None = None) -> float:
    value = data.get(name, otherwise)
    if not is_minutes(value) or float(value) > LONGEST_SOAK:
        raise EntryRefusedError(
            f"the field '{name}'",
            f"{str(value)[:60]!r} where minutes from 0 to {LONGEST_SOAK:.0f} are expected",
        )
    return float(value)


def is_minutes(value: object) -> TypeGuard[float]:
    """Whether a value is a number of minutes: finite, from 0 on."""
    return isinstance(value, int | float) and not isinstance(value, bool) and isfinite(value) and value >= 0
