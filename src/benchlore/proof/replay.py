"""What held-out jobs would have cost, and how they would have ended, done in each of several ways."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from benchlore.model import FloatArray
from benchlore.proof.estimate import Estimate, between_percentiles, proportion, wilson
from benchlore.proof.ways import HANDS_ON, MONEY, WAITING, Bench, Trip, Way
from benchlore.proof.worlds import BoolArray

REPLICATES = 2000
DIGITS = 9
"""Decimals that figures keep: what is beyond them is rounding, and no difference."""


@dataclass(frozen=True, slots=True)
class Account:
    """What a way does on the held-out jobs.

    ``cost`` is money, ``hands_on`` and ``waiting`` minutes a job. ``more`` is the cost above this procedure's
    on the same jobs, ``more_minutes`` the minutes at work. ``repaired``, ``came_back`` and ``returned`` are
    shares of jobs; ``named`` is how often, among those with a confirmed fault, that was the one most
    suspected at the end. ``costs`` and
    ``minutes`` (at work) are each job's, over all completions, in the order of the replay's jobs; ``None``
    where the record does not say.
    """

    way: Way
    jobs: int
    cost: Estimate
    hands_on: Estimate
    waiting: Estimate
    more: Estimate | None
    more_minutes: Estimate | None
    repaired: Estimate
    came_back: Estimate
    returned: Estimate
    named: Estimate | None
    costs: tuple[float | None, ...]
    minutes: tuple[float | None, ...]


@dataclass(frozen=True, slots=True)
class Replay:
    """``jobs`` are the (shop, number) of those held out; ``draws`` how often each was completed.

    ``faults_drawn`` of the jobs have no confirmed fault. ``drawn`` is the share of results and retests on the
    way of this procedure that no job recorded. ``promised`` is what the folds' procedures should have cost.
    ``clock`` is the minutes that benches took over those that the book reckons for what they recorded.
    """

    jobs: tuple[tuple[str, str], ...]
    draws: int
    faults_drawn: int
    drawn: float
    promised: float
    clock: Estimate | None
    accounts: tuple[Account, ...]

    def of(self, way: Way) -> Account | None:
        """The account of one way; none of the bench's own where no job's minutes were recorded."""
        return next((account for account in self.accounts if account.way is way), None)


@dataclass(frozen=True, eq=False)
class Trips:
    """Each computed way's trip on all ``J`` held-out jobs in ``D`` worlds, and the bench's own."""

    by_way: Mapping[Way, Trip]
    bench: Bench


def joined(parts: list[Mapping[Way, Trip]]) -> dict[Way, Trip]:
    """The trips of all folds as one."""
    return {
        way: Trip(
            **{
                name: np.concatenate([getattr(part[way], name) for part in parts])
                for name in Trip.__dataclass_fields__
            }
        )
        for way in parts[0]
    }


class Resampled:
    """Jobs drawn with replacement, all in one completion drawn at random: a replicate of a replay.

    A completion has one drawn model for all its jobs, so it must be drawn for all of them together; bootstrap
    after imputation in this order gives honest intervals (Schomaker & Heumann 2018, "Bootstrap inference when
    using multiple imputation", Statistics in Medicine 37, method "MI boot pooled").
    """

    def __init__(self, jobs: int, draws: int, rng: np.random.Generator) -> None:
        self._jobs = rng.integers(jobs, size=(REPLICATES, jobs))
        self._draws = rng.integers(draws, size=REPLICATES)

    def mean(self, table: FloatArray | BoolArray) -> Estimate:
        """The mean of a table ``(J, D)`` over jobs and completions."""
        found = self.mean_among(table.astype(np.float64), np.ones(len(table), dtype=np.bool_))
        assert found is not None
        return found

    def mean_among(self, table: FloatArray, among: BoolArray) -> Estimate | None:
        """The mean over some jobs of a table ``(J, D)``, or ``(J, 1)``; none where there are no such jobs."""
        if not among.any():
            return None
        weighted = table * among[:, None]
        draws = self._draws if table.shape[1] > 1 else np.zeros_like(self._draws)
        sums = weighted[self._jobs, draws[:, None]].sum(axis=1)
        counts = among[self._jobs].sum(axis=1)
        filled = counts > 0
        value = float(weighted.mean(axis=1).sum() / among.sum())
        found = between_percentiles(value, sums[filled] / counts[filled], jobs=int(among.sum()))
        return Estimate(*(round(figure, DIGITS) for figure in (found.value, found.low, found.high)))

    def share_among(self, table: BoolArray, among: BoolArray) -> Estimate | None:
        """A share of some jobs: never surer than so many jobs can be, even where all completions agree."""
        found = self.mean_among(table.astype(np.float64), among)
        if found is None:
            return None
        least = wilson(found.value, float(among.sum()))
        return Estimate(found.value, min(found.low, least.low), max(found.high, least.high))

    def share(self, table: BoolArray) -> Estimate:
        """A share of all jobs."""
        found = self.share_among(table, np.ones(len(table), dtype=np.bool_))
        assert found is not None
        return found


def replayed(
    jobs: tuple[tuple[str, str], ...],
    trips: Trips,
    faults_known: BoolArray,
    promised: float,
    rng: np.random.Generator,
) -> Replay:
    """Sum up what every way did on the held-out jobs."""
    own = trips.by_way[Way.PROCEDURE]
    draws = own.released.shape[1]
    resampled = Resampled(len(jobs), draws, rng)
    bench = _bench_account(trips.bench, own, resampled)
    accounts = [_account(way, trip, own, resampled, faults_known) for way, trip in trips.by_way.items()]
    return Replay(
        jobs=jobs,
        draws=draws,
        faults_drawn=int((~faults_known).sum()),
        drawn=float(own.drawn.sum() / max(1, own.outcomes.sum())),
        promised=promised,
        clock=_clock(trips.bench, rng),
        accounts=(*accounts, *([] if bench is None else [bench])),
    )


def _account(way: Way, trip: Trip, own: Trip, resampled: Resampled, faults_known: BoolArray) -> Account:
    mean = resampled.mean
    more = trip.spent - own.spent
    is_own = way is Way.PROCEDURE
    return Account(
        way=way,
        jobs=len(trip.spent),
        cost=mean(trip.spent[:, :, MONEY]),
        hands_on=mean(trip.spent[:, :, HANDS_ON]),
        waiting=mean(trip.spent[:, :, WAITING]),
        more=None if is_own else mean(more[:, :, MONEY]),
        more_minutes=None if is_own else mean(more[:, :, HANDS_ON]),
        repaired=resampled.share(trip.released & trip.cured),
        came_back=resampled.share(trip.released & ~trip.cured),
        returned=resampled.share(~trip.released),
        named=resampled.share_among(trip.named, faults_known),
        costs=tuple(trip.spent[:, :, MONEY].mean(axis=1).tolist()),
        minutes=tuple(trip.spent[:, :, HANDS_ON].mean(axis=1).tolist()),
    )


def _bench_account(bench: Bench, own: Trip, resampled: Resampled) -> Account | None:
    """The bench's own way, on the jobs whose minutes are known."""
    timed, spent = bench.timed, bench.spent[:, None, :]
    means = [resampled.mean_among(spent[:, :, column], timed) for column in (MONEY, HANDS_ON, WAITING)]
    more = [resampled.mean_among((spent - own.spent)[:, :, column], timed) for column in (MONEY, HANDS_ON)]
    if means[0] is None or means[1] is None or means[2] is None:
        return None
    jobs = int(timed.sum())
    return Account(
        way=Way.BENCH,
        jobs=jobs,
        cost=means[0],
        hands_on=means[1],
        waiting=means[2],
        more=more[0],
        more_minutes=more[1],
        repaired=proportion(int(bench.repaired[timed].sum()), jobs),
        came_back=proportion(int(bench.came_back[timed].sum()), jobs),
        returned=proportion(int(bench.returned[timed].sum()), jobs),
        named=None,
        costs=tuple(_where(timed, bench.spent[:, MONEY])),
        minutes=tuple(_where(timed, bench.spent[:, HANDS_ON])),
    )


def _clock(bench: Bench, rng: np.random.Generator) -> Estimate | None:
    """Minutes that benches took for each that the book reckons; none where nobody wrote any down."""
    took = bench.spent[bench.timed, HANDS_ON]
    reckoned = bench.reckoned[bench.timed]
    if not reckoned.sum() > 0:
        return None
    rows = rng.integers(len(took), size=(REPLICATES, len(took)))
    below = reckoned[rows].sum(axis=1)
    ratios = took[rows].sum(axis=1)[below > 0] / below[below > 0]
    return between_percentiles(float(took.sum() / reckoned.sum()), ratios, jobs=len(took))


def _where(known: BoolArray, column: FloatArray) -> list[float | None]:
    return [float(value) if is_known else None for value, is_known in zip(column, known, strict=True)]
