"""What ``needs`` and ``after`` name: setups in the order of making them, instruments and skills."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from graphlib import CycleError, TopologicalSorter
from types import MappingProxyType
from typing import Final

from benchlore.notation import Key, did_you_mean, quoted
from benchlore.notation.equipment import STANDARD_INSTRUMENTS, STANDARD_SKILLS
from benchlore.notation.findings import Findings

STANDARD: Final[Mapping[str, str]] = MappingProxyType({**STANDARD_INSTRUMENTS, **STANDARD_SKILLS})
"""Every standard instrument and skill."""


@dataclass(frozen=True)
class Bench:
    """The setups of a book, with what stands before each, and all equipment that it may name."""

    after: Mapping[str, Sequence[str]]
    equipment: Mapping[str, str]

    def split(
        self, needs: Sequence[str], key: Key, findings: Findings
    ) -> tuple[tuple[str, ...], tuple[str, ...]]:
        """Split ``needs``, which stands at ``key``, into setups (closed over ``after``) and equipment."""
        for place, name in enumerate(needs):
            if name not in self.after and name not in self.equipment:
                hint = did_you_mean(name, [*self.after, *self.equipment])
                findings.error(
                    (*key, place), "unknown-name", f"no setup, instrument or skill {quoted(name)}{hint}"
                )
        equipment = tuple(dict.fromkeys(name for name in needs if name in self.equipment))
        return self.closed(name for name in needs if name in self.after), equipment

    def closed(self, setups: Iterable[str]) -> tuple[str, ...]:
        """Return ``setups`` and all that must stand before them, each after what it builds on."""
        order: dict[str, None] = {}
        waiting = [(name, False) for name in reversed(list(setups)) if name in self.after]
        seen: set[str] = set()
        while waiting:
            name, is_ready = waiting.pop()
            if is_ready:
                order[name] = None
            elif name not in seen:
                seen.add(name)
                waiting.append((name, True))
                waiting.extend((each, False) for each in reversed(self.after[name]) if each in self.after)
        return tuple(order)


def circles(before: Mapping[str, Iterable[str]]) -> list[tuple[str, ...]]:
    """Return groups of names that wait for each other in a circle; each name is in one of them at most."""
    rest = {name: set(names) for name, names in before.items()}
    found = []
    while circle := _circle(rest):
        found.append(circle)
        rest = {name: names.difference(circle) for name, names in rest.items() if name not in circle}
    return found


def _circle(before: Mapping[str, Iterable[str]]) -> tuple[str, ...]:
    try:
        TopologicalSorter(before).prepare()
    except CycleError as error:
        return tuple(error.args[1][:-1])
    return ()
