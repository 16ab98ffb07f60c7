"""How well probabilities rank what happens above what does not."""

from dataclasses import dataclass
from math import sqrt
from typing import Final

import numpy as np
from scipy.optimize import brentq

from benchlore.model import FloatArray
from benchlore.proof.estimate import Estimate, Z
from benchlore.proof.pool import Pool

SNAP: Final = 1e-9
"""Nearer to an end of the scale than this, an area is at that end."""

TINY: Final = 1e-12
"""So far from an end of the scale the search for the other end of an interval begins."""


@dataclass(frozen=True, slots=True)
class RocArea:
    """The probability that an event that happened had been given more than one that did not; a tie is half.

    ``error`` is its standard error (Hanley & McNeil 1982, Radiology 143, 29-36).
    """

    area: Estimate
    error: float


def roc_of(pool: Pool) -> RocArea | None:
    """The area under the receiver operating characteristic of pooled events; ``None`` if all happened."""
    return roc_area(pool.chances[pool.happened], pool.chances[~pool.happened])


def roc_area(happened: FloatArray, others: FloatArray) -> RocArea | None:
    """The same from the probabilities of events that ``happened`` and of ``others``."""
    if not len(happened) or not len(others):
        return None
    levels, place = np.unique(np.concatenate([happened, others]), return_inverse=True)
    up = np.bincount(place[: len(happened)], minlength=len(levels)) / len(happened)
    down = np.bincount(place[len(happened) :], minlength=len(levels)) / len(others)
    above, below = 1 - np.cumsum(up), np.cumsum(down) - down
    area = _snapped(float(down @ (above + up / 2)))
    two_above = float(down @ (above**2 + above * up + up**2 / 3))
    two_below = float(up @ (below**2 + below * down + down**2 / 3))
    square = area * (1 - area)
    square += (len(happened) - 1) * (two_above - area**2) + (len(others) - 1) * (two_below - area**2)
    error = sqrt(max(square, 0.0) / (len(happened) * len(others)))
    return RocArea(_interval(area, len(happened), len(others)), error)


def _snapped(area: float) -> float:
    """An area that misses an end of the scale by rounding alone is that end."""
    return float(round(area)) if abs(area - round(area)) < SNAP else area


def _interval(area: float, happened: int, others: int) -> Estimate:
    """The areas from which the one found is no further off than chance (Newcombe 2006, method 5).

    Statistics in Medicine 25, 559-573. Taken at each area instead of the one found, the standard error
    leaves an interval also where everything is ranked right.
    """

    def beyond(true: float) -> float:
        return (area - true) ** 2 - Z**2 * _square_error(true, happened, others)

    low = 0.0 if area == 0 else float(brentq(beyond, 0.0, min(area, 1 - TINY)))
    high = 1.0 if area == 1 else float(brentq(beyond, max(area, TINY), 1.0))
    return Estimate(area, low, high)


def _square_error(area: float, happened: int, others: int) -> float:
    """Hanley & McNeil's squared standard error for exponential distributions, with the numbers evened out."""
    even = (happened + others) / 2 - 1
    factor = 1 + even * ((1 - area) / (2 - area) + area / (1 + area))
    return area * (1 - area) / (happened * others) * factor
