"""What a job costs the shop in cash: the whole distribution, exact or simulated.

A procedure's expected cost counts what a return *loses*: the worth of the repair that did not come about,
less the diagnostic fee. That is a chance missed and no money spent, so it is left out here; everything else
in the cost is the shop's money: time at work and of waiting, parts, retests, and provisions for ruin and
comebacks.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np
from numba import njit

from benchlore.model import FloatArray
from benchlore.procedure import Instance, Policy, Procedure, simulate
from benchlore.procedure.arrays import BoolArray, IntArray
from benchlore.procedure.costing import unfolded, unfolded_size
from benchlore.procedure.policy import RETURN
from benchlore.procedure.walk import Walk, own_costs, walked

MOST_NODES: Final = 300_000
"""States of evidence up to which the distribution is exact; a procedure seldom has a tenth of that."""
DRAWS: Final = 100_000
"""Jobs that are simulated above that."""
SAME: Final = 9
"""Decimals to which two ways must cost the same to be merged."""
SLACK: Final = 1e-9
"""A price is not short of a cost by rounding errors."""


@dataclass(frozen=True, eq=False)
class JobCosts:
    """The distribution of a job's cash cost: ``N`` values, no two the same for the same end.

    ``cost (N,)`` rises; ``chance (N,)`` sums to one; ``released (N,)`` is whether the board goes home, which
    is when a repair is paid for. ``forgone`` is what a return loses beyond cash, by the procedure's own
    reckoning. ``draws`` is how many jobs were simulated, 0 where the distribution is exact.
    """

    cost: FloatArray
    chance: FloatArray
    released: BoolArray
    forgone: float
    draws: int = 0

    @cached_property
    def mean(self) -> float:
        """Expected cash cost of a job."""
        return float(self.cost @ self.chance)

    @cached_property
    def returned(self) -> float:
        """Share of jobs in which the device goes back unrepaired."""
        return float(self.chance[~self.released].sum())

    @property
    def expected(self) -> float:
        """What the procedure calls its expected cost: cash, and the worth that returns lose."""
        return self.mean + self.forgone * self.returned

    @cached_property
    def deviation(self) -> float:
        """The standard deviation of a job's cash cost."""
        return float(np.sqrt(np.maximum(((self.cost - self.mean) ** 2) @ self.chance, 0.0)))

    @cached_property
    def sums(self) -> FloatArray:
        """Chance that a job costs at most each of the values."""
        found: FloatArray = np.cumsum(self.chance)
        return found

    def quantile(self, share: float) -> float:
        """The least value that at least this share of jobs does not exceed."""
        place = int(np.searchsorted(self.sums, share - SLACK))
        return float(self.cost[min(place, len(self.cost) - 1)])


@dataclass(frozen=True, eq=False)
class Ways:
    """A procedure unfolded into its states of evidence, and the chance of each.

    ``numbers (N,)`` is the step that each of the ``N`` states is. Prices are no part of it: what a shop's
    hour costs moves neither the ways nor their chances.
    """

    policy: Policy
    numbers: IntArray
    walk: Walk


def ways_through(procedure: Procedure, instance: Instance, *, most: int = MOST_NODES) -> Ways | None:
    """Unfold a procedure; ``None`` where it has more than ``most`` states of evidence.

    Raises
    ------
    KeyError
        If the instance lacks something that the procedure does or sees.
    """
    if unfolded_size(procedure) > most:
        return None
    policy, numbers = unfolded(procedure, instance)
    return Ways(policy, numbers, walked(policy, instance))


def job_costs(
    procedure: Procedure, instance: Instance, *, ways: Ways | None, draws: int = DRAWS, seed: int = 1
) -> JobCosts:
    """The distribution of what a job costs that follows a procedure.

    Each way through the procedure is a sum of the steps on it, and its chance is that of the evidence on it;
    ways that cost the same are merged. Where ``ways`` is ``None``, ``draws`` jobs are simulated instead. The
    ways may be those of another instance that differs in prices alone.
    """
    if ways is None:
        return _simulated(procedure, instance, draws, seed)
    return costs_of(ways.policy, ways.walk, instance)


def costs_of(policy: Policy, walk: Walk, instance: Instance) -> JobCosts:
    """The exact distribution for a policy that was walked on the instance."""
    own = cash_of(policy, walk, instance)
    spent = _along(policy.start, policy.target, own)
    is_return = policy.action == RETURN
    fixes = np.flatnonzero(policy.action >= len(instance.checks))
    still = walk.reach[policy.target[policy.start[fixes]]]
    gone, slips = np.maximum(walk.reach[fixes] - still, 0.0), walk.slips[fixes]
    return _merged(
        [spent[is_return], spent[fixes], spent[fixes] + instance.comeback],
        [walk.reach[is_return], np.maximum(gone - slips, 0.0), slips],
        instance.give_up,
    )


def cash_of(policy: Policy, walk: Walk, instance: Instance) -> FloatArray:
    """What each node costs in cash with its setups; a return costs none."""
    own = own_costs(policy, instance, walk.missing)
    own[policy.action == RETURN] = 0.0
    return own


@njit(cache=True)
def _along(start: IntArray, target: IntArray, own: FloatArray) -> FloatArray:
    """What is spent by the end of each node's action; parents come before children."""
    spent = own.copy()
    for n in range(len(own)):
        for k in range(start[n], start[n + 1]):
            if target[k] >= 0:
                spent[target[k]] += spent[n]
    return spent


def _merged(costs: Sequence[FloatArray], chances: Sequence[FloatArray], forgone: float) -> JobCosts:
    """Merge ways that cost the same; the first of the groups are returns, the others go home."""
    released = np.concatenate([np.full(len(group), k > 0) for k, group in enumerate(costs)])
    cost, chance = np.concatenate(costs), np.concatenate(chances)
    live = chance > 0
    keys = np.stack([np.round(cost[live], SAME), released[live]], axis=1)
    values, place = np.unique(keys, axis=0, return_inverse=True)
    weights = np.bincount(place.ravel(), weights=chance[live], minlength=len(values))
    # The merged value is the mean of its ways, so that rounding does not move the expected cost.
    means = np.bincount(place.ravel(), weights=chance[live] * cost[live], minlength=len(values)) / weights
    total = weights.sum()
    return JobCosts(means, weights / total, values[:, 1] > 0, forgone)


def _simulated(procedure: Procedure, instance: Instance, draws: int, seed: int) -> JobCosts:
    jobs = simulate(procedure, instance, np.random.default_rng(seed), draws)
    cash = jobs.cost - np.where(jobs.released, 0.0, instance.give_up)
    found = _merged(
        [cash[~jobs.released], cash[jobs.released]],
        [np.ones(int((~jobs.released).sum())), np.ones(int(jobs.released.sum()))],
        instance.give_up,
    )
    return JobCosts(found.cost, found.chance, found.released, found.forgone, draws)
