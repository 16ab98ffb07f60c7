"""Whether what is given 30 per cent comes true 30 times in a hundred.

Each category of each forecast is an event with a probability that happens or not; the events of all forecasts
are pooled and put into bins by their probability.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from math import sqrt
from typing import Final

import numpy as np

from benchlore.model import FloatArray
from benchlore.procedure.arrays import IntArray
from benchlore.proof.estimate import Estimate, proportion
from benchlore.proof.pool import Pool

EDGES: Final = (0.0, 0.02, 0.05, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 0.95, 0.98, 1.0)
"""Ends of the bins, narrow near 0 and 1 where most events lie; a bin holds its lower end, the last both."""
SIMULATIONS: Final = 2000
"""Outcomes drawn from the forecasts to see how far chance alone takes them."""
CHUNK: Final = 250
"""Outcomes drawn at once, to bound memory."""


@dataclass(frozen=True, slots=True)
class ReliabilityBin:
    """Events with a probability from ``low`` to below ``high``: mean ``forecast``, share that happened."""

    low: float
    high: float
    events: int
    forecast: float
    observed: Estimate


@dataclass(frozen=True, slots=True)
class BrierParts:
    """Parts that the ``brier`` score of pooled events is made of.

    It is ``reliability - resolution + uncertainty + within_variance - within_covariance``.

    ``uncertainty`` belongs to the events alone; ``resolution`` is how far the bins' shares differ from the
    overall share; ``reliability`` is how far forecasts lie from what was observed. The last two are there
    because a bin holds different forecasts.
    """

    brier: float
    reliability: float
    resolution: float
    uncertainty: float
    within_variance: float
    within_covariance: float


@dataclass(frozen=True, slots=True)
class CalibrationTest:
    """Whether the forecasts keep their promise: the mean Brier score ``promised`` against the one ``found``.

    ``z`` above zero means that they were too sure of themselves, below zero too timid. ``p`` is how often
    right forecasts would be as far off, either way.
    """

    promised: float
    found: float
    z: float
    p: float


def bins_of(pool: Pool) -> tuple[ReliabilityBin, ...]:
    """The bins that hold events."""
    return tuple(
        ReliabilityBin(
            EDGES[place],
            EDGES[place + 1],
            len(chances),
            float(chances.mean()),
            proportion(int(happened.sum()), len(chances)),
        )
        for place, chances, happened in _binned(pool)
    )


def parts_of(pool: Pool) -> BrierParts:
    """Murphy's decomposition (1973, Journal of Applied Meteorology 12, 595-600) in bins.

    Bins hold different forecasts, so two terms of Stephenson, Coelho & Jolliffe (2008, Weather and
    Forecasting 23, 752-757) are added, with which the identity is exact.
    """
    binned = [(chances, happened) for _, chances, happened in _binned(pool)]
    weights = np.array([len(chances) for chances, _ in binned]) / len(pool.chances)
    forecast = np.array([chances.mean() for chances, _ in binned])
    observed = np.array([happened.mean() for _, happened in binned])
    reliability, resolution, uncertainty = murphy(forecast, observed, weights)
    return BrierParts(
        brier=float(np.mean((pool.chances - pool.happened) ** 2)),
        reliability=reliability,
        resolution=resolution,
        uncertainty=uncertainty,
        within_variance=float(weights @ [chances.var() for chances, _ in binned]),
        within_covariance=float(weights @ [2 * _covariance(*pair) for pair in binned]),
    )


def murphy(forecast: FloatArray, observed: FloatArray, weights: FloatArray) -> tuple[float, float, float]:
    """Reliability, resolution and uncertainty of ``K`` bins, from ``(K,)`` means, shares and weights.

    Weights add up to one.
    """
    overall = float(weights @ observed)
    return (
        float(weights @ (forecast - observed) ** 2),
        float(weights @ (observed - overall) ** 2),
        overall * (1 - overall),
    )


def _binned(pool: Pool) -> Iterator[tuple[int, FloatArray, FloatArray]]:
    """The number of each bin that is not empty, its events' probabilities, and 1 for each that happened."""
    bins = bin_numbers(pool.chances)
    happened = pool.happened.astype(np.float64)
    for place in np.unique(bins):
        inside = bins == place
        yield int(place), pool.chances[inside], happened[inside]


def bin_numbers(chances: FloatArray) -> IntArray:
    """Which bin of ``EDGES`` each probability falls into."""
    return np.minimum(np.searchsorted(EDGES, chances, side="right") - 1, len(EDGES) - 2)


def _covariance(chances: FloatArray, happened: FloatArray) -> float:
    return float(np.mean((chances - chances.mean()) * (happened - happened.mean())))


def spiegelhalter(pool: Pool, rng: np.random.Generator) -> CalibrationTest | None:
    """Spiegelhalter's test (1986, Statistics in Medicine 5, 421-433) for any number of categories.

    A right forecast ``p`` promises the Brier score ``1 - Σp²``, and its score varies by ``4 (Σp³ - (Σp²)²)``:
    the categories of one forecast exclude each other, which that variance counts. What a forecast misses its
    promise by says nothing about the next forecast's miss as long as each is made from what came before it,
    so variances add up within a job, too. For two categories ``z`` is Spiegelhalter's own.

    ``p`` counts outcomes drawn from the forecasts that are at least as far off, in the smaller tail, twice:
    few and very sure forecasts are far from normal. ``None`` where the forecasts leave nothing to chance.
    """
    squares = pool.sums(pool.chances**2)
    variance = 4 * float(np.sum(np.maximum(pool.sums(pool.chances**3) - squares**2, 0)))
    if variance <= 1e-12 * pool.forecasts:
        return None
    found = float(np.sum(1 - 2 * pool.of_shown + squares))
    promised = float(np.sum(1 - squares))
    tail = _tail(pool, float(pool.of_shown.sum()), rng)
    z = (found - promised) / sqrt(variance)
    return CalibrationTest(promised / pool.forecasts, found / pool.forecasts, z, tail)


def _tail(pool: Pool, total: float, rng: np.random.Generator) -> float:
    """The two-sided share of outcomes whose probabilities add up to as little, or as much, as ``total``."""
    ends = _ends(pool)
    last = pool.starts + pool.lengths - 1
    slack = 1e-9 * max(total, 1.0)
    fewer = more = 1
    for begin in range(0, SIMULATIONS, CHUNK):
        draws = rng.random((min(CHUNK, SIMULATIONS - begin), pool.forecasts)) + np.arange(pool.forecasts)
        drawn = np.minimum(np.searchsorted(ends, draws, side="right"), last)
        sums = pool.chances[drawn].sum(axis=1)
        fewer += int(np.count_nonzero(sums <= total + slack))
        more += int(np.count_nonzero(sums >= total - slack))
    return min(1.0, 2 * min(fewer, more) / (SIMULATIONS + 1))


def _ends(pool: Pool) -> FloatArray:
    """Cumulative probabilities within each forecast plus its number: one increasing row, ``(E,)``."""
    running = np.cumsum(pool.chances)
    before = np.repeat(running[pool.starts] - pool.chances[pool.starts], pool.lengths)
    totals = np.repeat(pool.sums(pool.chances), pool.lengths)
    return (running - before) / totals + np.repeat(np.arange(pool.forecasts), pool.lengths)
