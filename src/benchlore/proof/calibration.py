"""How well percentages hold: everything that is told about forecasts and what came true."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from benchlore.model import FloatArray
from benchlore.procedure.arrays import IntArray
from benchlore.proof.estimate import Estimate
from benchlore.proof.pool import Pool, pooled
from benchlore.proof.ranking import RocArea, roc_of
from benchlore.proof.reliability import (
    EDGES,
    BrierParts,
    CalibrationTest,
    ReliabilityBin,
    bin_numbers,
    bins_of,
    parts_of,
    spiegelhalter,
)
from benchlore.proof.scores import (
    FLOOR,
    WORST_BRIER,
    WORST_LOG,
    Score,
    brier_scores,
    log_scores,
    places_taken,
    resamples,
    score_of,
    share_of,
)


@dataclass(frozen=True, slots=True)
class Bar:
    """How many forecasts give their most probable category from ``low`` to below ``high``."""

    low: float
    high: float
    forecasts: int


@dataclass(frozen=True, slots=True)
class Sharpness:
    """How sure the forecasts are, right or wrong: mean largest probability, mean entropy in bits."""

    largest: float
    entropy: float
    bars: tuple[Bar, ...]


@dataclass(frozen=True, slots=True)
class Calibration:
    """How ``forecasts``, made for ``jobs``, did.

    ``log_score`` is in nats; ``ruled_out`` forecasts gave what came true less than ``FLOOR`` and count as if
    they had given that. ``brier`` sums over categories and ends at 2; ``parts`` and ``bins`` are of pooled
    events, one for each category of each forecast. ``first`` and ``first_three`` are how often what came true
    was the most probable category or among the three most probable. ``roc`` is ``None`` where every event
    happened, ``test`` where the forecasts leave nothing to chance.
    """

    forecasts: int
    jobs: int
    ruled_out: int
    log_score: Score
    brier: Score
    parts: BrierParts
    bins: tuple[ReliabilityBin, ...]
    test: CalibrationTest | None
    sharpness: Sharpness
    first: Estimate
    first_three: Estimate
    roc: RocArea | None


def calibration_of(
    forecasts: Sequence[FloatArray],
    shown: Sequence[int],
    clusters: IntArray,
    *,
    rng: np.random.Generator,
    base: FloatArray | Sequence[FloatArray] | None = None,
) -> Calibration | None:
    """Return how well forecasts hold, or ``None`` where there are none.

    Parameters
    ----------
    forecasts
        A probability for each category, ``(K,)`` each; ``K`` may differ from one forecast to the next.
    shown
        The category that came true, an index into each forecast.
    clusters
        The job of each forecast, ``(n,)``: intervals count jobs, not forecasts. Forecasts of one job are each
        made from what came before it.
    rng
        Draws resamples and outcomes.
    base
        Forecasts to compare with, such as what the book says before any reading: one ``(K,)`` for all, or one
        for each forecast.

    Raises
    ------
    ValueError
        If numbers do not fit together, or a forecast is no probability distribution.
    """
    if not len(forecasts):
        return None
    pool, other = pooled(forecasts, shown, clusters, _for_each(base, len(forecasts)))
    draws = resamples(pool.jobs, rng)
    return Calibration(
        forecasts=pool.forecasts,
        jobs=pool.jobs,
        ruled_out=int(np.count_nonzero(pool.of_shown < FLOOR)),
        log_score=score_of(pool, log_scores(pool), log_scores(other) if other else None, WORST_LOG, draws),
        brier=score_of(pool, brier_scores(pool), brier_scores(other) if other else None, WORST_BRIER, draws),
        parts=parts_of(pool),
        bins=bins_of(pool),
        test=spiegelhalter(pool, rng),
        sharpness=sharpness_of(pool),
        first=share_of(pool, places_taken(pool, 1)),
        first_three=share_of(pool, places_taken(pool, 3)),
        roc=roc_of(pool),
    )


def sharpness_of(pool: Pool) -> Sharpness:
    """How sure forecasts are."""
    largest = np.maximum.reduceat(pool.chances, pool.starts)
    surprise = np.log2(pool.chances, out=np.zeros(len(pool.chances)), where=pool.chances > 0)
    heights = np.bincount(bin_numbers(largest), minlength=len(EDGES) - 1)
    bars = tuple(Bar(EDGES[place], EDGES[place + 1], int(height)) for place, height in enumerate(heights))
    entropy = abs(float(np.sum(pool.chances * surprise))) / pool.forecasts
    return Sharpness(float(largest.mean()), entropy, bars)


def _for_each(base: FloatArray | Sequence[FloatArray] | None, count: int) -> Sequence[FloatArray] | None:
    if isinstance(base, np.ndarray) and base.ndim == 1:
        return [base] * count
    return None if base is None else list(base)
