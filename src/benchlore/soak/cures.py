"""The real cure rate of a fix: the share of boards that have not come back, by the time since release."""

from dataclasses import dataclass
from math import exp, log, sqrt

import numpy as np
from scipy import special

from benchlore.model import FloatArray
from benchlore.soak.errors import NumberError, chance_of


@dataclass(frozen=True, eq=False)
class CureCurve:
    """The share still cured after each time at which some came back, with its pointwise interval.

    All arrays are ``(k,)``. ``low`` and ``high`` are log-log limits; ``deviation`` is Greenwood's.
    ``follows`` has how long each of the boards was followed, ``back`` of which came back; ``tail`` is the
    chance beyond either limit.
    """

    times: FloatArray
    share: FloatArray
    deviation: FloatArray
    low: FloatArray
    high: FloatArray
    at_risk: FloatArray
    follows: FloatArray
    back: int
    tail: float

    def at(self, time: float) -> tuple[float, float, float]:
        """Share still cured after ``time``, and its limits.

        Where none came back until then, the lower limit is the exact one of as many boards as were followed
        that long (C. J. Clopper and E. S. Pearson, *Biometrika* 26 (1934) 404-413), 0 for none.
        """
        place = int(np.searchsorted(self.times, time, side="right")) - 1
        if place >= 0:
            return float(self.share[place]), float(self.low[place]), float(self.high[place])
        seen = int(np.count_nonzero(self.follows >= time))
        return 1.0, self.tail ** (1 / seen) if seen else 0.0, 1.0


def cure_curve(times: FloatArray, back: FloatArray, *, confidence: float = 0.95) -> CureCurve:
    """Estimate the share still cured, by the product-limit method.

    Sources: E. L. Kaplan and P. Meier, *JASA* 53 (1958) 457-481; Greenwood's variance; limits ``S **
    exp(+-z s / (S ln S))`` (J. D. Kalbfleisch and R. L. Prentice, *The Statistical Analysis of Failure Time
    Data*, 1980, section 1.3).

    Parameters
    ----------
    times
        ``(n,)``, time from release to the comeback, or to the last day on which none was known.
    back
        ``(n,)``, 1 where the board came back, 0 where it had not.
    """
    z = float(special.ndtri(0.5 + chance_of("the confidence", confidence) / 2))
    if not len(times) or len(times) != len(back) or (times < 0).any():
        raise NumberError("the number of boards", len(times), "1 or more, each with a time of zero or more")
    at, inverse = np.unique(times, return_inverse=True)
    came = np.bincount(inverse, back)
    left = len(times) - np.concatenate([[0], np.cumsum(np.bincount(inverse))[:-1]])
    kept = came > 0
    at, came, left = at[kept], came[kept], left[kept].astype(np.float64)
    share = np.cumprod(1 - came / left)
    with np.errstate(divide="ignore"):
        sums = np.cumsum(np.where(left > came, came / (left * (left - came)), np.inf))
    rows = [_limits(float(s), float(v), z) for s, v in zip(share, sums, strict=True)]
    if len(share) and share[-1] <= 0:  # all of those left came back at once: their exact limit
        rows[-1] = (0.0, 0.0, 1.0 - ((1 - confidence) / 2) ** (1 / float(left[-1])))
    return CureCurve(
        times=at,
        share=share,
        deviation=np.array([row[0] for row in rows]),
        low=np.array([row[1] for row in rows]),
        high=np.array([row[2] for row in rows]),
        at_risk=left,
        follows=np.sort(times),
        back=int(np.sum(back)),
        tail=(1 - confidence) / 2,
    )


def _limits(share: float, variance: float, z: float) -> tuple[float, float, float]:
    """Greenwood's standard deviation, and the log-log limits."""
    if share <= 0:
        return 0.0, 0.0, 0.0
    deviation = share * sqrt(variance)
    if share >= 1:
        return deviation, 1.0, 1.0
    reach = z * sqrt(variance) / abs(log(share))
    return deviation, share ** exp(reach), share ** exp(-reach)
