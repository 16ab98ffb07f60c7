"""Collecting what is wrong with a text while it is read."""

from dataclasses import dataclass, field

from benchlore.notation.problem import Key, Positions, Problem, Severity


@dataclass
class Findings:
    """Problems so far; each new one is placed and says in words which value it is about."""

    positions: Positions
    problems: list[Problem] = field(default_factory=list)

    def error(self, key: Key, rule: str, message: str, about: Key | None = None) -> None:
        """Add an error about the value at ``key``; ``about`` is the way that the message names instead."""
        self._add(key, rule, message, Severity.ERROR, about)

    def warning(self, key: Key, rule: str, message: str) -> None:
        """Add a warning about the value at ``key``."""
        self._add(key, rule, message, Severity.WARNING)

    @property
    def has_errors(self) -> bool:
        """Whether anything found so far is an error."""
        return any(problem.severity is Severity.ERROR for problem in self.problems)

    def in_order(self) -> tuple[Problem, ...]:
        """Return the problems by line; those without a place come first."""
        return in_order(self.problems)

    def _add(self, key: Key, rule: str, message: str, severity: Severity, about: Key | None = None) -> None:
        where = way(key if about is None else about)
        text = f"{where}: {message}" if where else message
        self.problems.append(self.positions.problem(key, rule, text, severity))


def in_order(problems: list[Problem]) -> tuple[Problem, ...]:
    """Sort problems by line and column; those without a place come first. Repeated ones are dropped."""
    unique = dict.fromkeys(problems)
    return tuple(
        sorted(
            unique, key=lambda each: (each.position.line, each.position.column) if each.position else (0, 0)
        )
    )


def way(key: Key) -> str:
    """Return the way to a value in words: ``checks › vsys-ohms › needs › item 2``."""
    return " › ".join(f"item {part + 1}" if isinstance(part, int) else part for part in key)
