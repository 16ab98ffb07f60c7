"""A lower bound from sampled jobs that know their fault and all results, and are charged for it.

Brown, Smith & Sun ("Information relaxations and duality in stochastic dynamic programs", Operations Research
58, 2010): whoever knows the fault and all results may choose the cheapest way, but pays at each step what the
result changes in a bound on the rest, less what it changes in expectation. For those who know nothing that is
nothing, in expectation; so the mean over jobs is a lower bound. Charged by the certificate of the price of
information, a job costs that bound and the residuals on its way. Whether a retest shows the complaint it does
not know. Each result of the checks that cost nothing has prices of its own.
"""

from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Future, ThreadPoolExecutor, wait
from contextlib import contextmanager
from math import sqrt
from threading import local
from typing import Final, NamedTuple

import numpy as np
from scipy.special import stdtrit

from benchlore.model import FloatArray
from benchlore.procedure.anytime import Effort
from benchlore.procedure.arrays import Arrays, reduced
from benchlore.procedure.beforehand import Known, after_free_checks
from benchlore.procedure.bounds import ROUNDING, Bound
from benchlore.procedure.clairvoyant import Foreseen, cheapest_way
from benchlore.procedure.information import best_market
from benchlore.procedure.instance import Instance, Mode
from benchlore.procedure.residual import Certificate, bound_at, certificate_of, point_of
from benchlore.procedure.state import Problem, first_state, problem_of
from benchlore.procedure.tree import Tree, tree_of
from benchlore.procedure.values import SAMPLED

SURE: Final = 0.99
"""Share of samples in which the bound holds."""

LIMIT: Final = 0.995
"""The level of Student's limit for a mean over strata; the rest is for ways that are not normal.

Degrees of freedom are those of the smallest stratum, which errs on the safe side (Mickey & Brown, "Bounds on
the distribution functions of the Behrens-Fisher statistic", Annals of Mathematical Statistics 37, 1966).
"""

FEWEST_JOBS: Final = 30
"""Jobs without which no interval is named."""

FEW: Final = 8
"""Jobs of a stratum without which its spread is hardly known; rarer kinds of jobs make one together.

Measured: with two jobs for each kind, however rare, the limit failed in up to 4 of 100 samples.
"""

WORK: Final = {Effort.QUICK: 10_000_000, Effort.NORMAL: 40_000_000, Effort.THOROUGH: 200_000_000}
"""How long one job is looked at, in products of faults with results and fixes; less loosens the bound."""

ASK: Final = 0.1
"""Seconds between two times that it is asked whether to stop."""

Told = Callable[[float, float], None]
"""Told the share of the jobs that are done, and the bound so far."""


def sampled_bound(
    instance: Instance,
    jobs: int,
    *,
    effort: Effort = Effort.NORMAL,
    seed: int = 1,
    workers: int = 1,
    stopped: Callable[[], bool] = lambda: False,
    told: Told = lambda _share, _bound: None,
) -> Bound | None:
    """A lower bound that holds in 99 of 100 samples of ``jobs`` jobs, 30 or more.

    Each fault has its share of them, after each result of the checks that cost nothing; those that would have
    few share one. ``effort`` is how long each is looked at, ``workers`` how many at a time. ``None`` where
    faults are only identified, where conditions have too many joint results, or where it was ``stopped``
    before each share had a few.

    Raises
    ------
    ValueError
        If fewer than thirty jobs are asked for: no interval would hold.
    """
    if jobs < FEWEST_JOBS:
        raise ValueError(f"{jobs} jobs are too few: {FEWEST_JOBS} or more")
    if instance.mode is Mode.IDENTIFY:
        return None
    parts = []
    for known in after_free_checks(instance):
        part = None if stopped() else _part(known, WORK[effort])
        if part is None:
            return None
        parts.append(part)
    certain = sum(part.chance * part.certain for part in parts)
    kinds = [(part, fault) for part in parts for fault in range(len(part.prior))]
    sample = _Sample(np.concatenate([part.chance * part.prior for part in parts]), jobs)
    rng = np.random.default_rng(seed)
    order = sample.order()
    drawn = []
    for stratum in order:
        part, fault = kinds[sample.kind_of(stratum, rng)]
        drawn.append((part, foreseen(part.problem.arrays, fault, rng)))
    with _ways(drawn, workers, stopped) as ways:
        for done, (stratum, way) in enumerate(zip(order, ways, strict=True), start=1):
            if stopped():
                break
            sample.ways[stratum].append(way)
            told(done / len(order), certain + (sample.lower_limit if sample.is_enough else 0.0))
    if not sample.is_enough:
        return None
    return Bound(
        (certain + sample.lower_limit) * (1 - ROUNDING),
        f"{SAMPLED}: {100 * SURE:.0f} % sure, from {sample.count} jobs that know their fault and all results",
    )


class _Part(NamedTuple):
    """What free checks showed: how likely it is, and the problem from there on, with its certificate.

    ``prior (F,)`` sums to one; ``certain`` is what the certificate proves, ``most`` how many states a job's
    search may look at.
    """

    chance: float
    prior: FloatArray
    problem: Problem
    cert: Certificate
    certain: float
    most: int


def _part(known: Known, work: int) -> _Part | None:
    """The part of the problem that is left after free checks; ``None`` where it has no certificate."""
    arrays = reduced(known.left).arrays
    problem = problem_of(arrays)
    cert = certificate_of(best_market(problem))
    if cert is None:
        return None
    total = float(arrays.prior.sum())
    certain = float(bound_at(point_of(problem, cert, _tree(problem), first_state(arrays))))
    size = len(arrays.prior) * (arrays.shows[:, 0].size + len(arrays.fix_cost) + 1)
    return _Part(known.chance * total, arrays.prior / total, problem, cert, certain, max(1, work // size))


def _tree(problem: Problem) -> Tree:
    """What a search remembers of a problem."""
    return tree_of(problem, 1 << 4, 1)


class _Trees(local):
    """The trees of one thread, by the number of their part."""

    def __init__(self) -> None:
        self.of: dict[int, Tree] = {}


@contextmanager
def _ways(
    drawn: Sequence[tuple[_Part, Foreseen]], workers: int, stopped: Callable[[], bool]
) -> Iterator[Iterator[float]]:
    """Yield the residuals of all jobs, in order.

    What nobody waits for any more is not begun, and what is under way when ``stopped`` says so is cut short.
    """
    trees, halt = _Trees(), np.zeros(1, dtype=np.bool_)

    def way(part: _Part, job: Foreseen) -> float:
        if id(part) not in trees.of:
            trees.of[id(part)] = _tree(part.problem)
        first = first_state(part.problem.arrays)
        return float(cheapest_way(part.problem, part.cert, trees.of[id(part)], first, job, part.most, halt))

    def found(under_way: "Future[float]") -> float:
        while wait([under_way], timeout=ASK).not_done:
            halt[0] |= stopped()
        return under_way.result()

    pool = ThreadPoolExecutor(workers)
    try:
        yield map(found, [pool.submit(way, *each) for each in drawn])
    finally:
        halt[0] = True
        pool.shutdown(cancel_futures=True)


class _Sample:
    """What was found: ``ways`` are the residuals of the jobs of each stratum.

    ``shares (N,)`` are those of all kinds of jobs; one of which there are few stands in the last stratum.
    """

    def __init__(self, shares: FloatArray, jobs: int) -> None:
        alone = jobs * shares >= FEW
        self._kinds = [np.array([n]) for n in np.flatnonzero(alone)]
        if not alone.all():
            self._kinds.append(np.flatnonzero(~alone))
        self._within = [shares[kinds] / shares[kinds].sum() for kinds in self._kinds]
        self._shares = np.array([shares[kinds].sum() for kinds in self._kinds])
        self._jobs = jobs
        self.ways: list[list[float]] = [[] for _ in self._kinds]

    def order(self) -> list[int]:
        """The strata of all jobs, in an order in which each has its share all along."""
        counts = [max(FEW, round(self._jobs * share)) for share in self._shares.tolist()]
        places = [((k + 0.5) / count, n) for n, count in enumerate(counts) for k in range(count)]
        return [n for _, n in sorted(places)]

    def kind_of(self, stratum: int, rng: np.random.Generator) -> int:
        """A kind of jobs of a stratum, as often as it comes there."""
        return int(rng.choice(self._kinds[stratum], p=self._within[stratum]))

    @property
    def count(self) -> int:
        """Jobs so far."""
        return sum(map(len, self.ways))

    @property
    def is_enough(self) -> bool:
        """Whether each stratum has its few jobs, so that its spread is known."""
        return min(map(len, self.ways)) >= FEW

    @property
    def lower_limit(self) -> float:
        """The limit below the mean over all jobs; no less than nothing, as no way is."""
        counts = np.array([len(ways) for ways in self.ways])
        mean = float(self._shares @ [np.mean(ways) for ways in self.ways])
        parts = self._shares**2 * [np.var(ways, ddof=1) for ways in self.ways] / counts
        if parts.sum() <= 0.0:
            return mean
        return max(0.0, mean - float(stdtrit(counts.min() - 1, LIMIT)) * sqrt(parts.sum()))


def foreseen(arrays: Arrays, fault: int, rng: np.random.Generator) -> Foreseen:
    """One job with a fault: what every check would show, and how often it goes on after each fix."""
    states = [_drawn(table[fault], rng) for table in arrays.table]
    results = [_drawn(shows[states[g]], rng) for shows, g in zip(arrays.shows, arrays.condition, strict=True)]
    return Foreseen(np.array(results, dtype=np.int64), arrays.missed[:, fault] * arrays.detects[:, fault])


def _drawn(weights: FloatArray, rng: np.random.Generator) -> int:
    return int(rng.choice(len(weights), p=weights / weights.sum()))
