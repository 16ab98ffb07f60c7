"""Proper scores of forecasts, and how often the foremost categories come true; intervals count jobs."""

from dataclasses import dataclass
from math import log, sqrt
from typing import Final

import numpy as np

from benchlore.model import FloatArray
from benchlore.procedure.arrays import IntArray
from benchlore.proof.estimate import LEVEL, Estimate, wilson
from benchlore.proof.pool import Pool

FLOOR: Final = 1e-6
"""What a forecast of less counts for in the log score: no book has seen boards enough to rule out more."""
REPLICATES: Final = 2000
"""Resamples behind the interval of a score."""
ROUNDING: Final = 1e-12
"""A spread so small beside the range is one of rounding."""
WORST_LOG: Final = -log(FLOOR)
WORST_BRIER: Final = 2.0


@dataclass(frozen=True, slots=True)
class Score:
    """A mean score, the lower the better; with a base forecast, that one's and what is gained over it.

    ``gain`` is ``base - value``, paired, above zero where the forecasts are better; ``skill`` is the share of
    the base's score that was removed, ``None`` also where the base scores zero.
    """

    value: Estimate
    base: Estimate | None
    gain: Estimate | None
    skill: Estimate | None


def log_scores(pool: Pool) -> FloatArray:
    """``-ln p`` of what came true (Good 1952, JRSS B 14, 107-114), at most ``-ln FLOOR``; ``(n,)``."""
    return 0.0 - np.log(np.maximum(pool.of_shown, FLOOR))


def brier_scores(pool: Pool) -> FloatArray:
    """``sum over categories of (p - o)²`` (Brier 1950, Monthly Weather Review 78, 1-3), ``(n,)``."""
    return pool.sums((pool.chances - pool.happened) ** 2)


def places_taken(pool: Pool, places: int) -> FloatArray:
    """Whether what came true is among the ``places`` most probable categories, ``(n,)``.

    Where equal probabilities tie for the last places, the chance that drawing lots among them gives it one.
    """
    own = np.repeat(pool.of_shown, pool.lengths)
    above = pool.sums((pool.chances > own).astype(np.float64))
    level = pool.sums((pool.chances == own).astype(np.float64))
    return np.clip((places - above) / level, 0.0, 1.0)


def score_of(pool: Pool, own: FloatArray, base: FloatArray | None, worst: float, draws: IntArray) -> Score:
    """Mean scores ``own`` and ``base``, each ``(n,)`` from 0 to ``worst``, and what is gained.

    ``draws`` are from ``resamples``; the same serve every figure, so that differences are paired.
    """
    sizes, mine = pool.per_job(np.ones(pool.forecasts)), pool.per_job(own)
    value = ratio(mine, sizes, draws, (0.0, worst))
    if base is None:
        return Score(value, None, None, None)
    theirs = pool.per_job(base)
    total = float(theirs.sum())
    least = 1 - worst * pool.forecasts / total if total > 0 else 0.0
    return Score(
        value,
        ratio(theirs, sizes, draws, (0.0, worst)),
        ratio(theirs - mine, sizes, draws, (-worst, worst)),
        ratio(theirs - mine, theirs, draws, (least, 1.0)) if total > 0 else None,
    )


def resamples(jobs: int, rng: np.random.Generator) -> IntArray:
    """How often each job stands in each resample of as many jobs, ``(REPLICATES, jobs)``."""
    return rng.multinomial(jobs, np.full(jobs, 1 / jobs), size=REPLICATES)


def ratio(above: FloatArray, below: FloatArray, draws: IntArray, bounds: tuple[float, float]) -> Estimate:
    """The ratio of two sums over jobs, with its interval by a studentised bootstrap of whole jobs.

    Efron & Tibshirani 1993, chapter 12, with the linearised standard error of a ratio (Cochran 1977, section
    6.3). Scores are skewed, and with the few jobs that there often are this interval holds the truth far
    oftener than percentiles of the resamples do. It ends where Wilson's would for figures that always lie
    at one of the ``bounds``: none between them varies more. Jobs that agree leave no interval.
    """
    value = float(above.sum() / below.sum())
    rest = above - value * below
    error = sqrt(float(rest @ rest)) / float(below.sum())
    least, most = bounds
    if len(above) > 1 and error <= ROUNDING * (most - least):
        return Estimate(value, value, value)
    steps = _studentised(rest, below, draws, error)
    low, high = np.quantile(steps, ((1 - LEVEL) / 2, (1 + LEVEL) / 2), method="inverted_cdf")
    ends = (-np.inf, np.inf) if len(above) == 1 else (value - high * error, value - low * error)
    worth = float(below.sum() ** 2 / (below @ below))
    around = wilson((value - least) / (most - least), worth)
    limits = [least + (most - least) * end for end in (around.low, around.high)]
    return Estimate(
        value, min(max(float(ends[0]), limits[0]), value), max(min(float(ends[1]), limits[1]), value)
    )


def _studentised(rest: FloatArray, below: FloatArray, draws: IntArray, error: float) -> FloatArray:
    """How many of its own standard errors each resample lies off: infinite where all its jobs agree."""
    drawn = draws @ below
    shift = np.divide(draws @ rest, drawn, out=np.zeros(len(draws)), where=drawn > 0)
    square = draws @ rest**2 - 2 * shift * (draws @ (rest * below)) + shift**2 * (draws @ below**2)
    errors = np.divide(np.sqrt(np.maximum(square, 0)), drawn, out=np.zeros(len(draws)), where=drawn > 0)
    steps = np.where(shift == 0, 0.0, np.copysign(np.inf, shift))
    return np.divide(shift, errors, out=steps, where=errors > 1e-7 * error)


def share_of(pool: Pool, credit: FloatArray) -> Estimate:
    """The mean of credits from 0 to 1, with Wilson's interval on as many forecasts as their spread is worth.

    Several forecasts of one job tend to succeed or fail together. Their number is divided by the design
    effect (Kish 1965), as Dean & Pagano 2015 (Journal of Survey Statistics and Methodology 3, 484-503)
    advise; where all succeed or all fail, nothing shows how much they do so, and each job counts once.
    """
    share, count = float(credit.mean()), float(pool.forecasts)
    if pool.jobs < pool.forecasts:
        count = _worth(pool, credit, share)
    return wilson(share, count)


def _worth(pool: Pool, credit: FloatArray, share: float) -> float:
    """How many independent forecasts those of jobs are worth: between the number of jobs and of forecasts."""
    jobs, forecasts = float(pool.jobs), float(pool.forecasts)
    spread = pool.per_job(credit - share)
    clustered = jobs / (jobs - 1) * float(spread @ spread) if jobs > 1 else 0.0
    if clustered == 0:
        return jobs
    return min(max(forecasts**2 * share * (1 - share) / clustered, min(jobs, forecasts)), forecasts)
