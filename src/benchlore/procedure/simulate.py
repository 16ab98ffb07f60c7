"""Walk simulated jobs through a procedure: the spread of its cost, and a check on its expected cost."""

from dataclasses import dataclass, replace
from typing import Final, NamedTuple

import numpy as np
from numba import njit
from numpy.typing import NDArray

from benchlore.model import FloatArray
from benchlore.procedure.actions import CHECKS, FIXES, RETURNS, actions_of
from benchlore.procedure.arrays import BoolArray, IntArray
from benchlore.procedure.instance import Instance
from benchlore.procedure.values import Procedure
from benchlore.procedure.walk import whole

LONE_CHECKS: Final = 2


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
    """Draw jobs from the instance and follow the procedure; actions are found by name, and fixes by soak."""
    drawn = _Jobs(
        fault=np.zeros(jobs, dtype=np.int64),
        cost=np.zeros(jobs),
        last=np.zeros(jobs, dtype=np.int64),
        released=np.zeros(jobs, dtype=np.bool_),
        cured=np.zeros(jobs, dtype=np.bool_),
    )
    table = _action_table(procedure, instance)
    _follow(table, np.cumsum(instance.prior), instance.comeback, rng, drawn)
    return SimulatedJobs(*drawn)


class _Jobs(NamedTuple):
    """The columns of :class:`SimulatedJobs`."""

    fault: IntArray
    cost: FloatArray
    last: IntArray
    released: BoolArray
    cured: BoolArray


class _Table(NamedTuple):
    """A procedure of ``N`` steps as numbers; sums of probabilities stand for probabilities.

    ``kind``, ``row``, ``start`` and ``target`` are those of :class:`Actions`; a check that no other of its
    condition shares is one of ``LONE_CHECKS``. ``cost (N,)`` is a step's own cost without comebacks.
    ``condition (C,)``; ``states (G, F, S)``; ``shows (C, S, R)``; ``expects (C, F, R)`` is ``P(result |
    fault)``; ``cures (A, F)``; ``detects (A, F)``.
    """

    kind: IntArray
    row: IntArray
    cost: FloatArray
    start: IntArray
    target: IntArray
    condition: IntArray
    states: FloatArray
    shows: FloatArray
    expects: FloatArray
    cures: FloatArray
    detects: FloatArray


def _action_table(procedure: Procedure, instance: Instance) -> _Table:
    arrays = whole(instance)
    kind, row, start, target = actions_of(procedure, instance)
    is_check = kind == CHECKS
    readers = np.bincount(arrays.condition[np.unique(row[is_check])], minlength=len(instance.tables))
    alone = is_check.copy()
    alone[is_check] = readers[arrays.condition[row[is_check]]] == 1
    return _Table(
        kind=np.where(alone, LONE_CHECKS, kind),
        row=row,
        cost=np.array([replace(step.cost, comeback=0.0).total for step in procedure.steps]),
        start=start,
        target=target,
        condition=arrays.condition,
        states=arrays.table.cumsum(axis=2),
        shows=arrays.shows.cumsum(axis=2),
        expects=np.einsum("cfs,csr->cfr", arrays.table[arrays.condition], arrays.shows).cumsum(axis=2),
        cures=1 - arrays.missed,
        detects=arrays.detects,
    )


@njit(cache=True)
def _drawn(sums: FloatArray, level: float) -> int:
    """The first place whose sum of probabilities exceeds ``level`` of their total."""
    place = 0
    level *= sums[-1]
    if level >= sums[-1]:
        level = 0.0  # rounded up to the total: as rare as it is, no place is beyond that
    while sums[place] <= level:
        place += 1
    return place


@njit(cache=True)
def _follow(
    table: _Table,
    faults: FloatArray,
    comeback: float,
    rng: np.random.Generator,
    jobs: _Jobs,
) -> None:
    """Walk every job to its end. A condition's state is drawn when a check first reads it."""
    conditions = table.states.shape[0]
    state, known_of = np.zeros(conditions, dtype=np.int64), np.full(conditions, -1)
    for job in range(len(jobs.fault)):
        f = _drawn(faults, rng.random())
        jobs.fault[job] = f
        n = 0
        while n >= 0:
            jobs.last[job] = n
            jobs.cost[job] += table.cost[n]
            kind, row, first = table.kind[n], table.row[n], table.start[n]
            if kind == RETURNS:
                break
            if kind == FIXES:
                cured = rng.random() < table.cures[row, f]
                caught = not cured and rng.random() < table.detects[row, f]
                jobs.cured[job], jobs.released[job] = cured, not caught
                if not cured and not caught:
                    jobs.cost[job] += comeback
                n = table.target[first] if caught else table.target[first + 1]
            elif kind == LONE_CHECKS:
                n = table.target[first + _drawn(table.expects[row, f], rng.random())]
            else:
                g = table.condition[row]
                if known_of[g] != job:
                    state[g], known_of[g] = _drawn(table.states[g, f], rng.random()), job
                n = table.target[first + _drawn(table.shows[row, state[g]], rng.random())]
