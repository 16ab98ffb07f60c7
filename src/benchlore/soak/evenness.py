"""Fixed intervals: whether events come by a clock.

Two clocks are looked for. One starts anew with each event (a supervisor that counts from the start): then all
intervals are alike, and their coefficient of variation is small. One runs through, and some of its beats have
no event: then all events have one phase at its period.
"""

from dataclasses import dataclass
from functools import lru_cache
from math import exp, lgamma, log, pi, sqrt
from typing import Final

import numpy as np
from scipy import special

from benchlore.model import FloatArray
from benchlore.soak.errors import NumberError

SEED: Final = 1963
"""Of the draws below: equal records give equal figures."""
DRAWS: Final = 20_000
MANY: Final = 400
"""From so many intervals on the normal approximation stands in for draws."""
MOST_PHASED: Final = 400
"""Events whose phase is tried; of more, the first: a clock shows soon."""
FASTEST: Final = 4.0
SLOWEST: Final = 0.8
"""Beats in a mean interval: a clock may have up to three beats in four without an event."""
OVERSAMPLED: Final = 8
"""Frequencies tried for each that is independent of its neighbours."""


@dataclass(frozen=True, slots=True)
class Spacing:
    """How even intervals are: their coefficient of variation, and how often chance gives one as small.

    ``even`` is the chance of a coefficient as small as this if events come at random, ``uneven`` of one as
    large; ``count`` intervals of mean ``mean``.
    """

    count: int
    mean: float
    variation: float
    even: float
    uneven: float


def spacing(intervals: FloatArray) -> Spacing:
    """Try whether intervals are more even, or less, than those of events at random.

    The coefficient of variation takes the population's standard deviation; with ``n`` intervals and ``G`` the
    sum of squared shares (Greenwood's statistic) its square is ``n G - 1``. For events at random, the shares
    are uniform on a simplex. Where the ball of vectors that are as even lies in the simplex (``v <= 1 /
    sqrt(n - 1)``), its chance is exact: ``pi^((n-1)/2) (v / sqrt n)^(n-1) / Gamma((n+1)/2) * (n-1)! / sqrt
    n``. Otherwise it is counted in seeded draws, the record itself among them; from ``MANY`` intervals on
    ``v^2`` is normal with mean 1 and variance ``4 / n``. Source of the statistic: M. Greenwood, *JRSS* 109
    (1946) 85-110; of its limit: P. A. P. Moran, *JRSS B* 9 (1947) 92-98.

    Raises
    ------
    NumberError
        If there are fewer than two intervals.
    """
    n = len(intervals)
    if n < 2 or not float(intervals.sum()) > 0:
        raise NumberError("the number of intervals", n, "2 or more, not all of no length")
    mean = float(intervals.mean())
    variation = float(intervals.std() / mean)
    if n >= MANY:
        z = (variation**2 - 1) * sqrt(n) / 2
        return Spacing(n, mean, variation, float(special.ndtr(z)), float(special.ndtr(-z)))
    drawn = _variations(n)
    even = float(np.count_nonzero(drawn <= variation) + 1) / (DRAWS + 1)
    uneven = float(np.count_nonzero(drawn >= variation) + 1) / (DRAWS + 1)
    exact = exactly_even(n, variation)
    return Spacing(n, mean, variation, even if exact is None else exact, uneven)


def exactly_even(n: int, variation: float) -> float | None:
    """The chance that ``n`` intervals at random are as even; ``None`` where the formula does not hold."""
    if variation > 1 / sqrt(n - 1):
        return None
    dimension = n - 1
    radius = max(variation, 1e-9) / sqrt(n)
    ball = dimension / 2 * log(pi) + dimension * log(radius) - lgamma(dimension / 2 + 1)
    return exp(ball + lgamma(n) - log(n) / 2)


@lru_cache(maxsize=8)
def _variations(n: int) -> FloatArray:
    """Coefficients of variation of ``n`` intervals at random, ``(DRAWS,)``."""
    rng = np.random.default_rng(SEED)
    blocks = (rng.standard_exponential((DRAWS // 10, n)) for _ in range(10))
    return np.concatenate([block.std(axis=1) / block.mean(axis=1) for block in blocks])


@dataclass(frozen=True, slots=True)
class Rayleigh:
    """Rayleigh's test of phases: mean resultant length ``r``, ``z = n r^2``, mean phase in turns, ``p``."""

    count: int
    length: float
    z: float
    phase: float
    p: float


def rayleigh(turns: FloatArray) -> Rayleigh:
    """Try whether phases, in turns, gather somewhere, at a period that was known before.

    ``p`` is the approximation ``exp(sqrt(1 + 4 n + 4 (n^2 - R^2)) - (1 + 2 n))`` with ``R = n r`` (J. A.
    Greenwood and D. Durand, *Ann. Math. Stat.* 26 (1955) 233-246; in J. H. Zar, *Biostatistical Analysis*).
    """
    n = len(turns)
    if n < 2:
        raise NumberError("the number of phases", n, "2 or more")
    whole = np.exp(2j * pi * turns).mean()
    length = float(abs(whole))
    p = exp(sqrt(1 + 4 * n + 4 * (n**2 - (n * length) ** 2)) - (1 + 2 * n))
    return Rayleigh(n, length, n * length**2, float(np.angle(whole) / (2 * pi) % 1), min(1.0, p))


@dataclass(frozen=True, slots=True)
class Beat:
    """The period whose phases gather most, the test there, and how surprising that is among all tried."""

    period: float
    phase: float
    length: float
    p: float


def beat(events: FloatArray) -> Beat:
    """Look for a clock that runs through, from four beats in a mean interval to 0.8 of one.

    The period is chosen for the strongest phase, so the ``exp(-z)`` of one period is too small: it is
    multiplied by the number of independent periods in the range (the upcrossings of the statistic: ``W
    exp(-z) sqrt z`` with ``W = (f2 - f1) sqrt(4 pi var(t))``; R. V. Baluev, *MNRAS* 385 (2008)
    1279-1285, equations 5 and 6, after R. B. Davies, *Biometrika* 74 (1987) 33-43).

    Raises
    ------
    NumberError
        If there are fewer than five events.
    """
    tried = events[:MOST_PHASED]
    n = len(tried)
    if n < 5 or not tried[-1] > tried[0]:
        raise NumberError("the number of events", n, "5 or more, not all at one time")
    length = float(tried[-1] - tried[0])
    rate = (n - 1) / length
    low, high = SLOWEST * rate, FASTEST * rate
    frequencies = np.linspace(low, high, max(16, int(OVERSAMPLED * (high - low) * length)))
    lengths = np.concatenate([_lengths(tried, part) for part in np.array_split(frequencies, 1 + n // 20)])
    best = float(frequencies[int(np.argmax(lengths))])
    for step in (frequencies[1] - frequencies[0]) / np.array([4, 16, 64, 256]):
        near = best + step * np.arange(-4, 5)
        best = float(near[int(np.argmax(_lengths(tried, near)))])
    found = rayleigh(tried * best)
    width = (high - low) * sqrt(4 * pi * float(tried.var()))
    many = 1.0 + width * sqrt(max(found.z, 1.0))
    return Beat(1 / best, found.phase, found.length, min(1.0, many * exp(-found.z)))


def _lengths(events: FloatArray, frequencies: FloatArray) -> FloatArray:
    found: FloatArray = np.abs(np.exp(2j * pi * np.outer(frequencies, events)).mean(axis=1))
    return found
