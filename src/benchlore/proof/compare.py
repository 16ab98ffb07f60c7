"""Two books, or two procedures of one book, on the same jobs."""

from dataclasses import dataclass

import numpy as np

from benchlore.model import Model
from benchlore.proof.estimate import Estimate
from benchlore.proof.replay import Resampled
from benchlore.proof.trial import HeldOut
from benchlore.proof.ways import HANDS_ON, MONEY, WAITING, Way


@dataclass(frozen=True, slots=True)
class Difference:
    """What the other one spends above this one on the same ``jobs``: above zero where this one saves.

    ``cost`` is money, ``hands_on`` and ``waiting`` minutes a job, ``repaired`` the other's share of repaired
    jobs less this one's. ``other`` says what was compared with; ``strangers`` are faults, checks and fixes
    that only one of the two knows.
    """

    other: str
    jobs: int
    cost: Estimate
    hands_on: Estimate
    waiting: Estimate
    repaired: Estimate
    strangers: tuple[str, ...] = ()


def difference(this: HeldOut, other: HeldOut, name: str, rng: np.random.Generator) -> Difference:
    """The paired difference, over the jobs that both held out and the completions of each.

    Both stand on the same completions, which are the other's: what this one saves is then not what it merely
    believes of results that nobody recorded.
    """
    places = {(job.shop, job.number): k for k, job in enumerate(other.jobs)}
    pairs = [
        (k, places[job.shop, job.number])
        for k, job in enumerate(this.jobs)
        if (job.shop, job.number) in places
    ]
    mine, theirs = np.array(pairs, dtype=np.int64).reshape(-1, 2).T
    own, others = this.trips.by_way[Way.PROCEDURE], other.trips.by_way[Way.PROCEDURE]
    more = others.spent[theirs] - own.spent[mine]
    repaired = (own.released & own.cured).astype(np.float64)
    theirs_repaired = (others.released & others.cured).astype(np.float64)
    resampled = Resampled(len(pairs), more.shape[1], rng)
    return Difference(
        other=name,
        jobs=len(pairs),
        cost=resampled.mean(more[:, :, MONEY]),
        hands_on=resampled.mean(more[:, :, HANDS_ON]),
        waiting=resampled.mean(more[:, :, WAITING]),
        repaired=resampled.mean(theirs_repaired[theirs] - repaired[mine]),
        strangers=tuple(sorted(_names(this.learned) ^ _names(other.learned))),
    )


def _names(model: Model) -> set[str]:
    return {*model.faults, *(check.name for check in model.checks), *(fix.name for fix in model.fixes)}
