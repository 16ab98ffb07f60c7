"""A figure with its interval, and the two intervals that most figures of a proof have."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike
from scipy import special

LEVEL: Final = 0.95
"""The level of every interval."""
Z: Final = float(special.ndtri((1 + LEVEL) / 2))
"""How many standard errors a normal interval reaches to each side."""


@dataclass(frozen=True, slots=True)
class Estimate:
    """A figure, and the ends of its interval at ``LEVEL``."""

    value: float
    low: float
    high: float

    @property
    def excludes_zero(self) -> bool:
        """Whether zero lies outside the interval."""
        return self.low > 0 or self.high < 0


def proportion(times: int, of: int) -> Estimate:
    """A share with Wilson's score interval (Wilson 1927, JASA 22, 209-212); from 0 to 1 where ``of`` is 0.

    >>> proportion(8, 10)
    Estimate(value=0.8, low=0.49016247153664183, high=0.9433178485456247)
    """
    if of == 0:
        return Estimate(0.5, 0.0, 1.0)
    return wilson(times / of, of)


def wilson(share: float, count: float) -> Estimate:
    """As :func:`proportion`, of a share that need not be so many of so many: ``count`` may be a fraction."""
    if count <= 0:
        return Estimate(share, 0.0, 1.0)
    scale = Z**2 / count
    middle = (share + scale / 2) / (1 + scale)
    reach = float(np.sqrt(scale * (share * (1 - share) + scale / 4))) / (1 + scale)
    return Estimate(share, max(min(middle - reach, share), 0.0), min(max(middle + reach, share), 1.0))


def between_percentiles(value: float, replicates: ArrayLike, *, jobs: int | None = None) -> Estimate:
    """A figure with the percentile interval of its replicates (Efron & Tibshirani 1993, chapter 13).

    With few ``jobs`` behind the replicates the plain interval is too short; then it is widened as Student's
    is beside the normal's (Hesterberg 2015, "What teachers should know about the bootstrap", The American
    Statistician 69, section 5.3, "expanded percentile interval"). It always holds the figure.
    """
    low, high = percentiles(replicates, tail=_tail(jobs))
    return Estimate(value, min(low, value), max(high, value))


def percentiles(draws: ArrayLike, *, tail: float = (1 - LEVEL) / 2) -> tuple[float, float]:
    """The ends of the central interval of draws, with so much of them on either side."""
    low, high = np.quantile(np.asarray(draws, dtype=np.float64), (tail, 1 - tail))
    return float(low), float(high)


def _tail(jobs: int | None) -> float:
    """The share of replicates outside an interval on either side."""
    tail = (1 - LEVEL) / 2
    if jobs is None:
        return tail
    if jobs < 2:
        return 0.0
    return float(special.ndtr(special.stdtrit(jobs - 1, tail) * np.sqrt(jobs / (jobs - 1))))
