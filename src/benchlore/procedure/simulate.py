"""Walk simulated jobs through a procedure: the spread of its cost, and a check on its expected cost."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from benchlore.model import FloatArray
from benchlore.procedure.arrays import IntArray
from benchlore.procedure.instance import Instance
from benchlore.procedure.policy import GONE, STILL_THERE
from benchlore.procedure.values import RELEASE, Kind, Procedure, Step


@dataclass(frozen=True, eq=False)
class SimulatedJobs:
    """``n`` jobs: the fault that each had, what it cost, where it ended.

    ``last (n,)`` is the number of the last step, ``released (n,)`` whether the board went home, ``cured
    (n,)`` whether its fault was gone then. A comeback costs where a board went home uncured. The risk of
    ruining a board is in the cost as its expectation, because a ruined board is priced, not followed.
    """

    fault: IntArray
    cost: FloatArray
    last: IntArray
    released: NDArray[np.bool_]
    cured: NDArray[np.bool_]

    @property
    def mean(self) -> float:
        """The mean cost of a job."""
        return float(self.cost.mean())

    @property
    def standard_error(self) -> float:
        """How far the mean may be from the expected cost, one standard deviation."""
        return float(self.cost.std(ddof=1) / np.sqrt(len(self.cost)))


def simulate(
    procedure: Procedure, instance: Instance, rng: np.random.Generator, jobs: int = 10_000
) -> SimulatedJobs:
    """Draw jobs from the instance and follow the procedure; its actions are found by name.

    Branches only lead onwards, so one pass over the steps moves all jobs.
    """
    walk = _Walk(instance, rng, jobs)
    for step in procedure.steps:
        here = np.flatnonzero(walk.at == step.number)
        if len(here):
            walk.take(step, here)
    return SimulatedJobs(walk.fault, walk.cost, walk.last, walk.released, walk.cured)


class _Walk:
    """Where every simulated job is."""

    def __init__(self, instance: Instance, rng: np.random.Generator, jobs: int) -> None:
        self._instance = instance
        self._rng = rng
        self._checks = {check.name: check for check in instance.checks}
        self._fixes = {(fix.name, fix.soak): fix for fix in instance.fixes}
        self.fault = rng.choice(len(instance.faults), size=jobs, p=instance.prior / instance.prior.sum())
        self._states = [_drawn(rng, table[self.fault]) for table in instance.tables]
        self.at = np.zeros(jobs, dtype=np.int64)
        self.last = np.zeros(jobs, dtype=np.int64)
        self.cost = np.zeros(jobs)
        self.released = np.zeros(jobs, dtype=np.bool_)
        self.cured = np.zeros(jobs, dtype=np.bool_)

    def take(self, step: Step, here: IntArray) -> None:
        """Let the jobs that are here do the step."""
        self.cost[here] += replace(step.cost, comeback=0.0).total
        self.last[here] = step.number
        if step.kind is Kind.CHECK:
            check = self._checks[step.action]
            results = _drawn(self._rng, check.table[self._states[check.condition][here]])
            self.at[here] = np.array([step.branches[name] for name in check.results])[results]
        elif step.kind is Kind.FIX:
            self._fix(step, here)

    def _fix(self, step: Step, here: IntArray) -> None:
        fault = self.fault[here]
        fix = self._fixes[step.action, step.soak]
        cured = self._rng.random(len(here)) < fix.cures[fault]
        caught = ~cured & (self._rng.random(len(here)) < fix.detects[fault])
        self.at[here] = np.where(caught, step.branches[STILL_THERE], step.branches[GONE])
        self.cured[here] = cured
        self.released[here] = self.at[here] == RELEASE
        self.cost[here[~cured & ~caught]] += self._instance.comeback


def _drawn(rng: np.random.Generator, rows: FloatArray) -> IntArray:
    """Draw one column for each row of probabilities ``(n, k)``."""
    edges = rows.cumsum(axis=1)[:, :-1]
    drawn: IntArray = (rng.random(len(rows))[:, None] >= edges).sum(axis=1)
    return drawn
