"""Ties: whether events come oftener when something else is so."""

from dataclasses import dataclass
from math import exp, log
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy import special

from benchlore.model import FloatArray
from benchlore.soak.errors import NumberError
from benchlore.soak.record import Covariate, RestartRecord

MOST_LEVELS: Final = 24
"""Different values of a number up to which each is a level of its own; more are put into as many heaps."""
ROUNDS: Final = 60
CLOSE: Final = 1e-11


@dataclass(frozen=True, slots=True)
class Tie:
    """A covariate and the rate: ``p`` of the likelihood ratio against a constant rate.

    For a number, ``factor`` is how many times the rate rises from its first to its third quartile of watched
    time, ``from_`` and ``to``. For words, ``levels`` has the rate (events a second) of each.
    """

    name: str
    p: float
    statistic: float
    factor: float = 1.0
    from_: float = 0.0
    to: float = 0.0
    levels: tuple[tuple[str, float], ...] = ()


@dataclass(frozen=True, eq=False)
class Poisson:
    """A fitted Poisson regression: coefficients and deviance."""

    coefficients: FloatArray
    deviance: float


def poisson_regression(counts: FloatArray, exposure: FloatArray, design: FloatArray) -> Poisson:
    """Fit ``log E[count / exposure] = design @ beta`` by iteratively reweighted least squares.

    Source: P. McCullagh and J. A. Nelder, *Generalized Linear Models*, 2nd edition 1989, section 2.5.

    Parameters
    ----------
    counts, exposure
        ``(m,)``, events and watched time of each cell; no exposure is zero.
    design
        ``(m, k)``; the first column is usually ones.
    """
    mean = np.maximum(counts, 0.5 * exposure * counts.sum() / exposure.sum()) + 1e-12
    eta = np.log(mean / exposure)
    before = np.inf
    beta = np.zeros(design.shape[1])
    for _ in range(ROUNDS):
        working = eta + (counts - mean) / mean
        root = np.sqrt(mean)
        beta = np.linalg.lstsq(design * root[:, None], working * root, rcond=None)[0]
        eta = np.clip(design @ beta, -60.0, 60.0)
        mean = exposure * np.exp(eta)
        found = _deviance(counts, mean)
        if abs(before - found) <= CLOSE * (1 + abs(found)):
            break
        before = found
    return Poisson(beta, _deviance(counts, mean))


def _deviance(counts: FloatArray, mean: FloatArray) -> float:
    return float(2 * (special.xlogy(counts, counts / mean) - (counts - mean)).sum())


def tie(record: RestartRecord, covariate: Covariate) -> Tie | None:
    """Try whether a covariate moves the rate; ``None`` where it was seen only at events or never changed.

    Words have a rate each; a number moves the logarithm of the rate in proportion. The likelihood ratio
    against a constant rate is chi-square (Wilks).

    Raises
    ------
    NumberError
        If there are fewer than five events.
    """
    if record.count < 5:
        raise NumberError("the number of events", record.count, "5 or more")
    values, counts, exposure = _cells(record, covariate)
    if len(values) < 2:
        return None
    total, watched = counts.sum(), exposure.sum()
    null = _deviance(counts, exposure * total / watched)
    if covariate.words:
        statistic = max(0.0, null - _deviance(counts, np.maximum(counts, 1e-300)))
        p = float(special.chdtrc(len(values) - 1, statistic))
        named = [covariate.words[int(value)] for value in values]
        rates = tuple(zip(named, (counts / exposure).tolist(), strict=True))
        return Tie(covariate.name, p, statistic, levels=rates)
    mean = float(np.average(values, weights=exposure))
    spread = float(np.sqrt(np.average((values - mean) ** 2, weights=exposure)))
    fitted = poisson_regression(
        counts, exposure, np.column_stack([np.ones(len(values)), (values - mean) / spread])
    )
    statistic = max(0.0, null - fitted.deviance)
    low, high = _quartiles(values, exposure)
    slope = float(fitted.coefficients[1]) / spread
    factor = exp(float(np.clip(slope * (high - low), -log(1e9), log(1e9))))
    return Tie(covariate.name, float(special.chdtrc(1, statistic)), statistic, factor, low, high)


def _cells(record: RestartRecord, covariate: Covariate) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Sum watched time and events by the covariate's value; times before its first are left out."""
    order = np.argsort(covariate.times, kind="stable")
    times, values = covariate.times[order], covariate.values[order]
    ends = np.append(times[1:], max(record.spans[-1][1], times[-1]))
    lasting = record.on_watch(ends) - record.on_watch(times)
    # An event belongs to the value before it: what is written at an event may be its consequence.
    place = np.searchsorted(times, record.events, side="left") - 1
    happened = np.bincount(place[place >= 0], minlength=len(times)).astype(np.float64)
    heaps = _heaps(values, lasting)
    weights = np.bincount(heaps, lasting * values)
    exposure: FloatArray = np.bincount(heaps, lasting).astype(np.float64)
    counts: FloatArray = np.bincount(heaps, happened).astype(np.float64)
    kept = exposure > 0
    return (weights / np.where(kept, exposure, 1.0))[kept], counts[kept], exposure[kept]


def _heaps(values: FloatArray, lasting: FloatArray) -> NDArray[np.intp]:
    """Number the values: each its own, or heaps of about equal watched time."""
    different, inverse = np.unique(values, return_inverse=True)
    if len(different) <= MOST_LEVELS:
        return np.asarray(inverse, dtype=np.intp)
    share = np.cumsum(np.bincount(inverse, lasting))
    heap = np.minimum((share / share[-1] * MOST_LEVELS).astype(np.intp), MOST_LEVELS - 1)
    return np.asarray(heap[inverse], dtype=np.intp)


def _quartiles(values: FloatArray, exposure: FloatArray) -> tuple[float, float]:
    share = np.cumsum(exposure) / exposure.sum()
    low, high = (float(values[int(np.searchsorted(share, q))]) for q in (0.25, 0.75))
    return (low, high) if high > low else (float(values[0]), float(values[-1]))
