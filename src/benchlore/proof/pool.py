"""Forecasts and what came true, checked and laid out for counting."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np
from numpy.typing import NDArray

from benchlore.model import FloatArray
from benchlore.procedure.arrays import IntArray

TOLERANCE: Final = 1e-6
"""How far from one the probabilities of a forecast may add up."""


@dataclass(frozen=True, eq=False)
class Pool:
    """``n`` forecasts of ``E`` events in all: each category of a forecast is an event that happens or not.

    ``chances`` are the events' probabilities, ``(E,)``; ``starts`` is where each forecast begins, ``(n,)``;
    ``shown`` is the event that came true, ``(n,)``; ``job`` numbers the jobs from 0, ``(n,)``.
    """

    chances: FloatArray
    starts: IntArray
    shown: IntArray
    job: IntArray

    @cached_property
    def forecasts(self) -> int:
        """``n``."""
        return len(self.starts)

    @cached_property
    def jobs(self) -> int:
        """How many jobs the forecasts are of."""
        return int(self.job.max()) + 1

    @cached_property
    def lengths(self) -> IntArray:
        """How many categories each forecast has, ``(n,)``."""
        return np.diff(self.starts, append=len(self.chances))

    @cached_property
    def happened(self) -> NDArray[np.bool_]:
        """Which events came true, ``(E,)``."""
        happened = np.zeros(len(self.chances), dtype=np.bool_)
        happened[self.shown] = True
        return happened

    @cached_property
    def of_shown(self) -> FloatArray:
        """What each forecast gave to what came true, ``(n,)``."""
        return self.chances[self.shown]

    def sums(self, events: FloatArray) -> FloatArray:
        """The sum over each forecast's categories, ``(n,)``."""
        return np.asarray(np.add.reduceat(events, self.starts), dtype=np.float64)

    def per_job(self, figures: FloatArray) -> FloatArray:
        """The sum over each job's forecasts."""
        return np.bincount(self.job, weights=figures, minlength=self.jobs).astype(np.float64)


def pooled(
    forecasts: Sequence[FloatArray],
    shown: Sequence[int],
    clusters: IntArray,
    base: Sequence[FloatArray] | None,
) -> tuple[Pool, Pool | None]:
    """Check forecasts (at least one), and lay them and those of ``base`` out in the same order.

    That order depends on what the forecasts are and not on how they were listed.
    """
    if not len(forecasts) == len(shown) == len(clusters) == len(forecasts if base is None else base):
        other = "no" if base is None else len(base)
        raise ValueError(
            f"expected as many forecasts as categories that came true, jobs and base forecasts, got "
            f"{len(forecasts)}, {len(shown)}, {len(clusters)} and {other}"
        )
    for place, forecast in enumerate(forecasts):
        _check(f"forecast {place}", forecast, shown[place])
        if base is not None:
            _check(f"base forecast {place}", base[place], shown[place])
            if len(base[place]) != len(forecast):
                raise ValueError(
                    f"forecast {place} has {len(forecast)} categories, its base has {len(base[place])}"
                )
    keys = [
        (int(clusters[place]), int(shown[place]), tuple(forecast), () if base is None else tuple(base[place]))
        for place, forecast in enumerate(forecasts)
    ]
    order = sorted(range(len(keys)), key=keys.__getitem__)
    categories = [shown[place] for place in order]
    job = np.unique(np.asarray(clusters)[order], return_inverse=True)[1].astype(np.int64)
    own = _laid_out([forecasts[place] for place in order], categories, job)
    return own, None if base is None else _laid_out([base[place] for place in order], categories, job)


def _check(name: str, forecast: FloatArray, category: int) -> None:
    if not 0 <= category < len(forecast):
        raise ValueError(f"{name} has {len(forecast)} categories, but category {category} came true")
    if not np.all(np.isfinite(forecast)) or np.min(forecast) < 0 or abs(np.sum(forecast) - 1) > TOLERANCE:
        raise ValueError(f"{name} is no probability distribution: {np.asarray(forecast).tolist()}")


def _laid_out(forecasts: Sequence[FloatArray], shown: Sequence[int], job: IntArray) -> Pool:
    lengths = np.array([len(forecast) for forecast in forecasts], dtype=np.int64)
    starts = np.cumsum(lengths) - lengths
    return Pool(np.concatenate(forecasts).astype(np.float64), starts, starts + np.asarray(shown), job)
