"""Times of which only two ends are known: the mean of a constant rate, and when in between they may lie."""

from math import log
from typing import Final

import numpy as np
from scipy import optimize

from benchlore.model import FloatArray
from benchlore.soak.errors import NumberError

REACH: Final = 1e6
"""The mean is looked for up to so many times the longest time known, and down to a part of the shortest."""


def mean_of_intervals(since: FloatArray, until: FloatArray) -> float:
    """Estimate the mean time of a constant rate from times that lie after one time and by another.

    The largest of ``sum log(exp(-since / T) - exp(-until / T))``; an exact time has the density ``exp(-t / T)
    / T`` (J. C. Lindsey and L. M. Ryan, *Statistics in Medicine* 17 (1998) 219-238). Where the likelihood
    goes on rising, or is level, the mean is as far as it tells anything.

    Parameters
    ----------
    since, until
        ``(n,)``: equal for an exact time, ``until`` infinite for none so far.

    Examples
    --------
    >>> times = np.array([2.0, 4.0, 9.0])
    >>> round(mean_of_intervals(times, np.array([2.0, 4.0, np.inf])), 3)
    7.5
    """
    if not len(since) or len(since) != len(until) or not ((since >= 0) & (since <= until)).all():
        raise NumberError("the number of boards", len(since), "1 or more, each from a time to a later one")
    ends = np.concatenate([since, until])
    ends = ends[(ends > 0) & np.isfinite(ends)]
    if not len(ends):
        return 0.0
    width = until - since
    exact = width == 0

    def against(log_mean: float) -> float:
        mean = np.exp(log_mean)
        # log(exp(-a / T) - exp(-b / T)) = -a / T + log(1 - exp(-(b - a) / T))
        shares = np.where(exact, 1 / mean, -np.expm1(-width / mean))
        return float((since / mean - np.log(np.maximum(shares, 1e-300))).sum())

    span = (log(float(ends.min()) / REACH), log(float(ends.max()) * REACH))
    return float(np.exp(optimize.minimize_scalar(against, bounds=span, method="bounded").x))


def times_within(until: FloatArray, mean: float, parts: int) -> FloatArray:
    """Times up to each of ``until`` ``(n,)`` at a constant rate: middles of equal shares, ``(n, parts)``."""
    shares = (np.arange(parts) + 0.5) / parts
    if mean <= 0:
        return np.zeros((len(until), parts))
    return np.minimum(-mean * np.log1p(shares * np.expm1(-until[:, None] / mean)), until[:, None])
