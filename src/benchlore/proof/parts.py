"""What a proof is told in: parts of a heading, sentences and a table, and how figures stand in sentences."""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from benchlore.proof.estimate import Estimate
from benchlore.units import share

MOST_NAMED: Final = 6
LEAST_P: Final = 0.001


class Topic(StrEnum):
    """What a part is about."""

    STANDING = "standing"
    COSTS = "costs"
    PERCENTAGES = "percentages"
    COVERAGE = "coverage"
    SENSITIVITY = "sensitivity"
    ODD_JOBS = "odd jobs"
    CANDIDATES = "candidates"
    DEPENDENCE = "dependence"
    METHOD = "method"


@dataclass(frozen=True, slots=True)
class Table:
    """Rows under a head; ``align`` has ``<`` or ``>`` for each column."""

    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    align: str


@dataclass(frozen=True, slots=True)
class Part:
    """A heading, sentences, and perhaps a table."""

    topic: Topic
    heading: str
    sentences: tuple[str, ...]
    table: Table | None = None


def shares(estimate: Estimate) -> str:
    """A share with its interval."""
    return f"{share(estimate.value)} ({share(estimate.low)} to {share(estimate.high)})"


def from_to(estimate: Estimate, digits: int = 2) -> str:
    """The ends of an interval."""
    return f"{estimate.low:.{digits}f} to {estimate.high:.{digits}f}"


def p_text(p: float) -> str:
    """A p-value, which drawn outcomes tell no finer than one in a thousand."""
    return "p ≤ 0.001" if p <= LEAST_P else f"p = {p:.2g}"


def some(names: Sequence[str]) -> str:
    """Name the first few, and say how many more there are."""
    more = f" and {len(names) - MOST_NAMED} more" if len(names) > MOST_NAMED else ""
    return f"{', '.join(names[:MOST_NAMED])}{more}"
