"""What is wrong with a user's text, as values that are collected and shown together."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import TypeAlias

Key: TypeAlias = tuple[str | int, ...]
"""The way from a document's root to one of its values, such as ``("checks", "vsys-ohms", "takes")``."""


class Severity(StrEnum):
    """How much a finding matters."""

    ERROR = "error"
    WARNING = "warning"
    NOTE = "note"


@dataclass(frozen=True, order=True, slots=True)
class Position:
    """A place in a text file; both numbers count from one."""

    line: int
    column: int


@dataclass(frozen=True, slots=True)
class Problem:
    """One finding: where, what, and what would be right.

    ``rule`` is a stable kebab-case name of the rule that was broken, such as ``unknown-name``.
    """

    file: str
    position: Position | None
    rule: str
    message: str
    severity: Severity = Severity.ERROR
    key: Key = ()

    def __str__(self) -> str:
        """Print as ``file:line:column: severity: message [rule]``, which editors can jump to."""
        place = f"{self.file}:{self.position.line}:{self.position.column}" if self.position else self.file
        return f"{place}: {self.severity}: {self.message} [{self.rule}]"


@dataclass(frozen=True, slots=True)
class Positions:
    """Where each key of one text file stands."""

    file: str
    places: Mapping[Key, Position] = field(default_factory=dict)

    def of(self, key: Key) -> Position | None:
        """Return the place of ``key``, or of its nearest ancestor that has one."""
        for end in range(len(key), -1, -1):
            if (place := self.places.get(key[:end])) is not None:
                return place
        return None

    def problem(self, key: Key, rule: str, message: str, severity: Severity = Severity.ERROR) -> Problem:
        """Make a finding about the value at ``key``."""
        return Problem(self.file, self.of(key), rule, message, severity, key)
