"""Bursts: whether events come in heaps."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy import special

from benchlore.model import FloatArray
from benchlore.soak.errors import NumberError, above_zero

IN_A_WINDOW: Final = 2.0
"""Expected events in a window, at least: the tests try that the chi-square approximation holds from there."""
MOST_WINDOWS: Final = 200


@dataclass(frozen=True, slots=True)
class Dispersion:
    """Variance over mean of the counts in equal windows: 1 at a constant rate, above 1 in bursts.

    ``bursts`` is the chance of an index as large if events come at random.
    """

    windows: int
    index: float
    bursts: float


def dispersion(times: FloatArray, watched: float) -> Dispersion:
    """Try whether counts in equal windows of watched time vary more than those of events at random.

    ``sum (c - mean)^2 / mean`` is chi-square with one degree of freedom less than windows. Source: R. A.
    Fisher, H. G. Thornton and W. A. Mackenzie, *Annals of Applied Biology* 9 (1922) 325-359; Cox and Lewis,
    *The Statistical Analysis of Series of Events*, 1966, section 6.3.

    Raises
    ------
    NumberError
        If there are fewer than eight events, which fill no four windows.
    """
    n = len(times)
    windows = min(MOST_WINDOWS, int(n / IN_A_WINDOW))
    if windows < 4:
        raise NumberError("the number of events", n, f"{int(4 * IN_A_WINDOW)} or more")
    counts, _ = np.histogram(times, bins=windows, range=(0.0, above_zero("the time watched", watched)))
    chi = float(((counts - n / windows) ** 2).sum() / (n / windows))
    return Dispersion(windows, chi / (windows - 1), float(special.chdtrc(windows - 1, chi)))
