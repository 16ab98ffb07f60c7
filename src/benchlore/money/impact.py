"""What was saved: differences between groups of jobs, weighted over complaints, with intervals.

A weighted sum ``Σ w_i θ_i`` of independent figures with intervals ``l_i`` to ``u_i`` has the interval

``Σ w_i θ_i ± sqrt(Σ w_i² d_i²)``,  ``d_i`` the distance from ``θ_i`` to its end on the side where the sum
falls (rises), so for ``w_i < 0`` to the other one. With the scores of two shares it is method 10 of Newcombe
1998 ("Interval estimation for the difference between independent proportions", Statistics in Medicine 17);
in general that of Zou & Donner 2008 (Statistics in Medicine 27).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import hypot
from typing import Final

import numpy as np

from benchlore.model import FloatArray
from benchlore.proof import Estimate
from benchlore.proof.estimate import between_percentiles, proportion

REPLICATES: Final = 2000


@dataclass(frozen=True, eq=False)
class Pair:
    """Jobs of one complaint done in two ways: how many of how many were repaired, and what each job took.

    ``led`` and ``own`` are ``(repaired, jobs)``; ``led_spent (n,)`` and ``own_spent (m,)`` are of those of
    them whose minutes are known.
    """

    led: tuple[int, int]
    own: tuple[int, int]
    led_spent: FloatArray
    own_spent: FloatArray


def combined(parts: Sequence[tuple[float, Estimate]]) -> Estimate:
    """The weighted sum of independent figures, with its interval."""
    value = sum(weight * each.value for weight, each in parts)
    below = [w * (each.value - (each.low if w > 0 else each.high)) for w, each in parts]
    above = [w * ((each.high if w > 0 else each.low) - each.value) for w, each in parts]
    return Estimate(value, value - hypot(*below), value + hypot(*above))


def more_repaired(pairs: Sequence[Pair]) -> Estimate:
    """How many more of the led jobs were repaired than would have been at the other jobs' shares.

    Shares have Wilson's intervals. With one complaint and divided by its jobs it is Newcombe's method 10.
    """
    parts = []
    for pair in pairs:
        jobs = float(pair.led[1])
        parts += [(jobs, proportion(*pair.led)), (-jobs, proportion(*pair.own))]
    return combined(parts)


def saved(pairs: Sequence[Pair], rng: np.random.Generator) -> Estimate:
    """What the led jobs took less than they would have at the other jobs' means.

    The interval is a bootstrap within each complaint and way (Efron & Tibshirani 1993, chapter 8, two-sample
    problems), widened for the smallest of the groups.
    """
    value, drawn, smallest = 0.0, np.zeros(REPLICATES), np.inf
    for pair in pairs:
        jobs = pair.led[1]
        value += jobs * float(pair.own_spent.mean() - pair.led_spent.mean())
        drawn += jobs * (_means(pair.own_spent, rng) - _means(pair.led_spent, rng))
        smallest = min(smallest, len(pair.led_spent), len(pair.own_spent))
    return between_percentiles(value, drawn, jobs=int(smallest))


def _means(column: FloatArray, rng: np.random.Generator) -> FloatArray:
    """Means of the column's values drawn with replacement, ``(REPLICATES,)``."""
    found: FloatArray = column[rng.integers(len(column), size=(REPLICATES, len(column)))].mean(axis=1)
    return found
