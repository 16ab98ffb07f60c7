"""When to decline, before a job and in the middle of it: where going on loses money at the price asked.

A procedure is planned with what a finished repair is worth. Charged less, a step that was worth taking may no
longer be: from there, what may still be earned less what going on costs is below the fee for a return. What
was spent before does not count. Steps are looked at from the last to the first, each with those behind it
that are no longer taken (backward induction: Bellman 1957), so a job ends at the first of them.
"""

from dataclasses import dataclass

import numpy as np

from benchlore.model import FloatArray
from benchlore.money.job_costs import SLACK, Ways, cash_of
from benchlore.procedure import RELEASE, Instance, Kind, Policy, Procedure
from benchlore.procedure.walk import Walk


@dataclass(frozen=True, slots=True)
class Stop:
    """A step before which to stop: the share of jobs that get there, and what going on would earn."""

    step: int
    action: str
    reach: float
    margin: float


@dataclass(frozen=True, slots=True)
class Decline:
    """Whether to take a job at a price, and where to stop in it.

    ``margin`` is the expected margin of a job that follows the procedure and stops at ``stops``. A job is
    ``declined`` if even so it earns less than nothing.
    """

    margin: float
    declined: bool
    stops: tuple[Stop, ...]


def decline_rule(
    procedure: Procedure, instance: Instance, ways: Ways, *, price: float, fee: float
) -> Decline:
    """Where a job that is paid so should stop.

    Every step has one answer, averaged over all ways that lead to it: who works from a printed procedure
    knows the step, not the way.
    """
    policy, numbers, walk = ways.policy, ways.numbers, ways.walk
    value = _own_margins(policy, walk, instance, price)
    order = np.argsort(numbers, kind="stable")
    begin = np.searchsorted(numbers[order], np.arange(len(procedure.steps) + 1))
    stops = []
    for step in reversed(procedure.steps):
        nodes = order[begin[step.number] : begin[step.number + 1]]
        reach = float(walk.reach[nodes].sum())
        results = int(policy.start[nodes[0] + 1] - policy.start[nodes[0]])
        onwards = policy.start[nodes][:, None] + np.arange(results)
        targets = policy.target[onwards]
        value[nodes] += np.where(targets == RELEASE, 0.0, value[targets]).sum(axis=1)
        going_on = float(value[nodes].sum())
        is_stop = step.kind is not Kind.RETURN and step.number > 0 and going_on < fee * reach - SLACK
        if is_stop:
            stops.append(Stop(step.number, step.action, reach, going_on / reach))
        if is_stop or step.kind is Kind.RETURN:
            value[nodes] = fee * walk.reach[nodes]
    margin = float(value[0])
    return Decline(margin, margin < -SLACK, _reached(procedure, tuple(reversed(stops))))


def _own_margins(policy: Policy, walk: Walk, instance: Instance, price: float) -> FloatArray:
    """What each node earns by itself, times the chance of getting there: the price of boards that go home."""
    value: FloatArray = -walk.reach * cash_of(policy, walk, instance) - walk.slips * instance.comeback
    fixes = np.flatnonzero(policy.action >= len(instance.checks))
    still = walk.reach[policy.target[policy.start[fixes]]]
    value[fixes] += price * np.maximum(walk.reach[fixes] - still, 0.0)
    return value


def _reached(procedure: Procedure, stops: tuple[Stop, ...]) -> tuple[Stop, ...]:
    """Keep the stops that a job can still get to, which all ways to the others have stopped before."""
    ends = {stop.step for stop in stops}
    seen: set[int] = set()
    stack = [0]
    while stack:
        number = stack.pop()
        if number in seen:
            continue
        seen.add(number)
        if number not in ends:
            stack += [target for target in procedure.steps[number].branches.values() if target >= 0]
    return tuple(stop for stop in stops if stop.step in seen)
