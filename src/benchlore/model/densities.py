"""What a numeric check shows: predictive densities, probabilities of bands, likelihood of a number.

A number ``x`` is taken on the scale ``y = log x`` (log-normal) or ``y = x``. In state ``s`` it is over range
with probability ``over[s, 1] / sum(over[s])``; otherwise ``y`` has the density

``(1 - slip) t(y; 2 shape, mean, sqrt(scale (kappa + 1) / (shape kappa))) + slip N(y; slip_mean, slip_sd)``.

Likelihoods are densities in ``y``. On the logarithmic scale a number of zero or less lies below every
resolution: it counts as a reading in the lowest band.
"""

from collections.abc import Sequence
from math import inf

import numpy as np
from numpy.typing import ArrayLike
from scipy import special

from benchlore.model.values import Check, Densities, FloatArray, normalised
from benchlore.units import Measure

SLIP = 0.01
"""How often a number is a blunder: a slipped probe, a wrong range, a typing mistake (our own choice)."""

REACH = 4.0
"""Standard deviations around every state's mean that a blunder is spread over."""

FARTHEST = 1e150
"""Deviations that a blunder may lie away, so that its likelihood is a number in logarithms."""


def frozen(array: ArrayLike) -> FloatArray:
    """Return a read-only, C-contiguous float64 copy."""
    copy = np.array(array, dtype=np.float64, order="C")
    copy.setflags(write=False)
    return copy


def densities_of(
    measure: Measure,
    mean: ArrayLike,
    sd: ArrayLike,
    over: ArrayLike,
    *,
    log_normal: bool,
    strength: float = 10.0,
    slip: float = SLIP,
) -> Densities:
    """Make densities that expect ``mean``, ``sd`` and ``over`` with ``strength`` boards behind them.

    Parameters
    ----------
    measure, log_normal
        What is measured, and whether ``y`` is its logarithm.
    mean, sd
        ``(S,)``, on the scale of ``y``.
    over
        ``(S,)``, probabilities of an over-range reading.
    strength
        ``kappa`` and twice ``shape``, and the sum of each row of ``over``. ``scale`` is such that the mean
        precision is ``1 / sd²``.
    """
    means, sds, overs = (np.atleast_1d(np.asarray(given, dtype=np.float64)) for given in (mean, sd, over))
    low, high = float((means - REACH * sds).min()), float((means + REACH * sds).max())
    shape = np.full(means.shape, strength / 2)
    return Densities(
        measure=measure,
        log_normal=log_normal,
        mean=frozen(means),
        kappa=frozen(np.full(means.shape, strength)),
        shape=frozen(shape),
        scale=frozen(shape * sds**2),
        over=frozen(np.stack([1 - overs, overs], axis=1) * strength),
        slip=slip,
        slip_mean=(low + high) / 2,
        slip_sd=(high - low) / 2,
    )


def to_scale(densities: Densities, values: ArrayLike) -> FloatArray:
    """Return ``y``: the values, or their logarithm (``-inf`` for zero or less) if ``log_normal``."""
    numbers = np.asarray(values, dtype=np.float64)
    if not densities.log_normal:
        return numbers
    return np.log(numbers, out=np.full(numbers.shape, -inf), where=numbers > 0)


def from_scale(densities: Densities, ys: ArrayLike) -> FloatArray:
    """Return the numbers that stand at ``y``; the inverse of :func:`to_scale`."""
    numbers = np.asarray(ys, dtype=np.float64)
    return np.exp(numbers) if densities.log_normal else numbers


def over_probabilities(densities: Densities) -> FloatArray:
    """``P(over range | state)``, shape ``(S,)``."""
    return normalised(densities.over)[:, 1]


def predictive_scale(densities: Densities) -> FloatArray:
    """Return the scale of each state's predictive Student-t, shape ``(S,)``."""
    d = densities
    root: FloatArray = np.sqrt(d.scale * (d.kappa + 1) / (d.shape * d.kappa))
    return root


def cumulative(densities: Densities, ys: ArrayLike) -> FloatArray:
    """``P(y <= ys | state, a number)``, shape ``(N, S)``; ``ys`` may be infinite."""
    d, points = densities, np.asarray(ys, dtype=np.float64)
    student = special.stdtr(2 * d.shape, (points[:, None] - d.mean) / predictive_scale(d))
    blunder = special.ndtr((points - d.slip_mean) / d.slip_sd)[:, None]
    mixed: FloatArray = (1 - d.slip) * student + d.slip * blunder
    return mixed


def band_probabilities(densities: Densities, edges: Sequence[float], *, has_over_range: bool) -> FloatArray:
    """``P(band | state)``, shape ``(S, R)``, for bands between ``edges`` (SI units).

    Without a result of its own, an over-range reading falls into the highest band.
    """
    over = over_probabilities(densities)
    inner = cumulative(densities, to_scale(densities, edges))
    # two edges a rounding error apart may seem to run backwards
    steps = np.maximum(np.diff(inner, axis=0, prepend=0.0, append=1.0), 0.0).T * (1 - over)[:, None]
    if has_over_range:
        return np.column_stack([steps, over])
    steps[:, -1] += over
    return steps


def log_likelihoods(check: Check, values: ArrayLike) -> FloatArray:
    """``log p(value | state)`` of a numeric check, shape ``(N, S)``; ``inf`` is over range."""
    d = check.densities
    assert d is not None, f"check '{check.name}' is not numeric"
    numbers = np.asarray(values, dtype=np.float64)
    over = over_probabilities(d)
    ys = to_scale(d, numbers)
    inside = np.isfinite(ys)
    with np.errstate(divide="ignore"):
        logs = np.empty((*numbers.shape, d.mean.size))
        logs[inside] = np.log1p(-over) + log_density(d, ys[inside])
        logs[numbers == inf] = np.log(over)
        logs[ys == -inf] = np.log(check.probabilities[:, 0])
    return logs


def student_constant(densities: Densities) -> FloatArray:
    """Return the logarithm of the predictive Student-t's density at its mean, shape ``(S,)``.

    ``Γ(a + ½) / Γ(a)`` is taken as one function; the difference of two ``log Γ`` loses digits as ``a`` grows.
    """
    d = densities
    ratio = np.log(special.poch(d.shape, 0.5))
    constant: FloatArray = ratio - np.log(2 * np.pi * d.shape) / 2 - np.log(predictive_scale(d))
    return constant


def log_density(densities: Densities, ys: FloatArray) -> FloatArray:
    """``log p(y | state, a number)``, shape ``(N, S)``."""
    d, width = densities, predictive_scale(densities)
    gap = np.minimum(np.abs(ys[:, None] - d.mean) / width, FARTHEST)
    student = student_constant(d) - (d.shape + 0.5) * np.log1p(gap**2 / (2 * d.shape))
    far = np.minimum(np.abs(ys - d.slip_mean) / d.slip_sd, FARTHEST)
    blunder = np.log(d.slip / d.slip_sd) - 0.5 * np.log(2 * np.pi) - 0.5 * far**2
    mixed: FloatArray = np.logaddexp(np.log1p(-d.slip) + student, blunder[:, None])
    return mixed


def result_of(check: Check, value: float) -> int:
    """Return the index of the result into which a number falls; an edge belongs to the band above it."""
    if check.has_over_range and value == inf:
        return len(check.results) - 1
    return int(np.searchsorted(np.asarray(check.edges, dtype=np.float64), value, side="right"))
