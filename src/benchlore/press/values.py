"""What pictures are drawn from: names and plain numbers, checked when they are made."""

import math
from dataclasses import dataclass

from benchlore.proof import Estimate


@dataclass(frozen=True, slots=True)
class Spread:
    """What jobs cost in one way of doing them: every job, and the mean with its interval.

    Raises ``ValueError`` for a number that is not finite, as all values here do.
    """

    name: str
    values: tuple[float, ...]
    mean: Estimate | None = None

    def __post_init__(self) -> None:
        """Refuse what cannot be drawn."""
        check_finite(self.name, *self.values, *numbers(self.mean))


@dataclass(frozen=True, slots=True)
class Figure:
    """A named figure with its interval."""

    name: str
    estimate: Estimate

    def __post_init__(self) -> None:
        """Refuse what cannot be drawn."""
        check_finite(self.name, *numbers(self.estimate))


@dataclass(frozen=True, slots=True)
class Forecasts:
    """Forecasts of about the same probability: their mean, how many, and the share that came true."""

    mean: float
    observed: Estimate
    count: int

    def __post_init__(self) -> None:
        """Refuse what cannot be drawn."""
        check_finite("forecasts", self.mean, *numbers(self.observed))
        if self.count < 1:
            raise ValueError(f"forecasts: a group has one forecast or more, not {self.count}")


@dataclass(frozen=True, slots=True)
class Mark:
    """A named place on an axis, such as a price."""

    name: str
    at: float

    def __post_init__(self) -> None:
        """Refuse what cannot be drawn."""
        check_finite(self.name, self.at)


@dataclass(frozen=True, slots=True)
class Covered:
    """The coverage of a book after so many boards."""

    boards: float
    coverage: Estimate

    def __post_init__(self) -> None:
        """Refuse what cannot be drawn."""
        check_finite("coverage", self.boards, *numbers(self.coverage))


@dataclass(frozen=True, slots=True)
class Belief:
    """The suspects after a reading (or before the first), each with its share; shares sum to 1 or less."""

    after: str
    shares: tuple[tuple[str, float], ...]

    def __post_init__(self) -> None:
        """Refuse what cannot be drawn."""
        check_finite(self.after, *(share for _, share in self.shares))
        if any(share < 0 for _, share in self.shares) or sum(share for _, share in self.shares) > 1 + 1e-6:
            raise ValueError(f"{self.after}: shares of suspects are from 0 to 1 and sum to 1 or less")


def numbers(estimate: Estimate | None) -> tuple[float, ...]:
    """List the numbers of an estimate."""
    return () if estimate is None else (estimate.value, estimate.low, estimate.high)


def check_finite(name: str, *given: float) -> None:
    """Refuse numbers that have no place on an axis."""
    for number in given:
        if not math.isfinite(number):
            raise ValueError(f"{name}: {number} cannot be drawn; leave it out")
