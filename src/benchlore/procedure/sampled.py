"""A lower bound from sampled jobs that know everything beforehand, and are charged for it.

Brown, Smith & Sun ("Information relaxations and duality in stochastic dynamic programs", Operations Research
58, 2010): whoever knows the fault and all results may choose the cheapest way, but pays at each step what the
result changes in a bound on the rest, less what it changes in expectation. For those who know nothing that is
nothing, in expectation; so the mean over jobs is a lower bound. Charged by the certificate of the price of
information, a job costs that bound and the residuals on its way.
"""

from collections.abc import Callable
from math import sqrt
from typing import Final

import numpy as np
from scipy.special import stdtrit

from benchlore.model import FloatArray
from benchlore.procedure.arrays import Arrays, reduced
from benchlore.procedure.bounds import ROUNDING, Bound
from benchlore.procedure.clairvoyant import Foreseen, cheapest_way
from benchlore.procedure.information import best_market
from benchlore.procedure.instance import Instance
from benchlore.procedure.residual import bound_at, certificate_of, point_of
from benchlore.procedure.state import first_state, problem_of
from benchlore.procedure.tree import tree_of
from benchlore.procedure.values import SAMPLED

SURE: Final = 0.99
"""Share of samples in which the bound holds, by Student's limit for a mean over strata, which are the faults.

Satterthwaite, "An approximate distribution of estimates of variance components", Biometrics Bulletin 2, 1946.
"""

FEWEST_JOBS: Final = 30
"""Jobs without which no interval is named."""

TWO: Final = 2
"""Jobs of each fault without which its spread is not known."""

WORK: Final = 40_000_000
"""How long one job is looked at, in products of faults with results and fixes; less loosens the bound."""

Told = Callable[[float, float], None]
"""Told the share of the jobs that are done, and the bound so far."""


def sampled_bound(
    instance: Instance,
    jobs: int,
    *,
    seed: int = 1,
    stopped: Callable[[], bool] = lambda: False,
    told: Told = lambda _share, _bound: None,
) -> Bound | None:
    """A lower bound that holds in 99 of 100 samples of ``jobs`` jobs, 30 or more.

    Each fault has its share of them, two at least. ``None`` where faults are only identified, where
    conditions have too many joint results, or where it was ``stopped`` before each fault had two.

    Raises
    ------
    ValueError
        If fewer than thirty jobs are asked for: no interval would hold.
    """
    if jobs < FEWEST_JOBS:
        raise ValueError(f"{jobs} jobs are too few: {FEWEST_JOBS} or more")
    small = reduced(instance)
    if small.arrays.identify:
        return None
    problem = problem_of(small.arrays)
    cert = certificate_of(best_market(problem))
    if cert is None:
        return None
    tree, first = tree_of(problem, 1 << 4, seed), first_state(small.arrays)
    known = float(bound_at(point_of(problem, cert, tree, first)))
    looked = max(1, WORK // (len(first.b) * (small.arrays.shows[:, 0].size + len(first.failed) + 1)))
    rng = np.random.default_rng(seed)
    sample = _Sample(small.arrays.prior / small.arrays.prior.sum())
    order = sample.order(jobs)
    for done, fault in enumerate(order, start=1):
        if stopped():
            break
        job = foreseen(small.arrays, fault, rng)
        sample.ways[fault].append(float(cheapest_way(problem, cert, tree, first, job, looked)))
        told(done / len(order), known + (sample.lower_limit if sample.is_enough else 0.0))
    if not sample.is_enough:
        return None
    value = float(small.arrays.prior.sum()) * (known + sample.lower_limit) * (1 - ROUNDING)
    return Bound(
        value, f"{SAMPLED}: {100 * SURE:.0f} % sure, from {sample.count} jobs that know all beforehand"
    )


class _Sample:
    """What was found, for each fault with a prior ``(F,)``; ``ways`` are the residuals of its jobs."""

    def __init__(self, prior: FloatArray) -> None:
        self._prior = prior
        self.ways: list[list[float]] = [[] for _ in prior]

    def order(self, jobs: int) -> list[int]:
        """The faults of all jobs, in an order in which each has its share all along."""
        shares = [max(TWO, round(jobs * share)) for share in self._prior.tolist()]
        places = [((k + 0.5) / share, f) for f, share in enumerate(shares) for k in range(share)]
        return [f for _, f in sorted(places)]

    @property
    def count(self) -> int:
        """Jobs so far."""
        return sum(map(len, self.ways))

    @property
    def is_enough(self) -> bool:
        """Whether each fault has two jobs, so that its spread is known."""
        return min(map(len, self.ways)) >= TWO

    @property
    def lower_limit(self) -> float:
        """The limit below the mean over all faults; no less than nothing, as no way is."""
        counts = np.array([len(ways) for ways in self.ways])
        mean = float(self._prior @ [np.mean(ways) for ways in self.ways])
        parts = self._prior**2 * [np.var(ways, ddof=1) for ways in self.ways] / counts
        if parts.sum() <= 0.0:
            return mean
        freedom = parts.sum() ** 2 / (parts**2 / (counts - 1)).sum()
        return max(0.0, mean - float(stdtrit(freedom, SURE)) * sqrt(parts.sum()))


def foreseen(arrays: Arrays, fault: int, rng: np.random.Generator) -> Foreseen:
    """One job with a fault: what every check would show, and after which fixes it would go on."""
    states = [_drawn(table[fault], rng) for table in arrays.table]
    results = [_drawn(shows[states[g]], rng) for shows, g in zip(arrays.shows, arrays.condition, strict=True)]
    luck = rng.random((int(arrays.fix_group.max(initial=-1)) + 1, 2))[arrays.fix_group]
    missed, detects = arrays.missed[:, fault], arrays.detects[:, fault]
    goes_on = (luck[:, 0] < missed) & (luck[:, 1] < detects)
    return Foreseen(np.array(results, dtype=np.int64), goes_on)


def _drawn(weights: FloatArray, rng: np.random.Generator) -> int:
    return int(rng.choice(len(weights), p=weights / weights.sum()))
