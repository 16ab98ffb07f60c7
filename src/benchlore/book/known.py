"""The names that a book's text gives to things, sound or not, and the looking up of them."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from benchlore.book.bench import STANDARD
from benchlore.book.shape import CheckShape, ConditionShape, SetupShape
from benchlore.notation import Key, did_you_mean, quoted
from benchlore.notation.document import Data
from benchlore.notation.findings import Findings


@dataclass(frozen=True)
class Known:
    """What may be named, by section. An entry with mistakes is known all the same: naming it is none."""

    names: Mapping[str, tuple[str, ...]]
    setups: Mapping[str, SetupShape]
    conditions: Mapping[str, ConditionShape]
    checks: Mapping[str, CheckShape]
    equipment: Mapping[str, str]
    findings: Findings

    def has(self, section: str, kind: str, name: str, key: Key) -> bool:
        """Say whether ``name`` stands in ``section``; if not, that is an error at ``key``."""
        return self.is_one(name, self.names[section], kind, key)

    def is_one(self, name: str, names: Iterable[str], kind: str, key: Key) -> bool:
        """Say whether ``name`` is one of ``names``; if not, that is an error at ``key``."""
        names = tuple(names)
        if name not in names:
            hint = did_you_mean(name, names) or (f"; there is no {kind} yet" if not names else "")
            self.findings.error(key, "unknown-name", f"no {kind} {quoted(name)}{hint}")
        return name in names

    def states(self, condition: str) -> tuple[str, ...] | None:
        """Return a condition's states, ``normal`` first; ``None`` where it is not known what they are."""
        shape = self.conditions.get(condition)
        return normal_first(shape.states) if shape else None


def names_in(data: Data) -> tuple[str, ...]:
    """Return the names of a section."""
    return tuple(data) if isinstance(data, dict) else ()


def equipment_in(data: Mapping[str, Data]) -> dict[str, str]:
    """Return all equipment that a book may name: the standard one, and its own."""
    own = {
        name: line if isinstance(line, str) else ""
        for section in ("instruments", "skills")
        for name, line in _pairs(data.get(section))
    }
    return {**STANDARD, **own}


def normal_first(states: tuple[str, ...]) -> tuple[str, ...]:
    """Put ``normal`` before the other states where it is one of them."""
    return tuple(sorted(dict.fromkeys(states), key=lambda state: state != "normal"))


def _pairs(data: Data) -> Iterable[tuple[str, Data]]:
    return data.items() if isinstance(data, dict) else ()
