"""A policy becomes a procedure: equal parts shared, steps in reading order, everything priced."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from benchlore.model import FloatArray
from benchlore.procedure.arrays import IntArray
from benchlore.procedure.instance import Instance
from benchlore.procedure.policy import FINISHED, GONE, RETURN, STILL_THERE, Policy, Solution
from benchlore.procedure.values import RELEASE, Cost, Kind, Procedure, Step
from benchlore.procedure.walk import Walk, group_weights, walked

SUSPECTS: Final = 5
"""How many suspects a step names."""


@dataclass(frozen=True, slots=True)
class Title:
    """Whose procedure it is."""

    board: str
    complaint: str
    shop: str
    currency: str


@dataclass(frozen=True, eq=False)
class _Merged:
    """A policy with equal sub-policies shared: what each of ``K`` groups of nodes does, and where it leads.

    ``member`` is the group of every node. ``reach``, ``slips`` and ``total`` are sums over the group;
    ``flows[k]`` are the probabilities of its branches, times ``reach``.
    """

    member: IntArray
    action: list[int]
    missing: list[int]
    branches: list[tuple[int, ...]]
    flows: list[FloatArray]
    reach: FloatArray
    slips: FloatArray
    total: FloatArray


def procedure_of(instance: Instance, solution: Solution, title: Title) -> Procedure:
    """Write a solution as a procedure."""
    policy = solution.policy
    walk = walked(policy, instance)
    merged = _merged(policy, walk)
    weights = group_weights(policy, instance, merged.member, len(merged.action))
    order = _reading_order(merged)
    number = {group: k for k, group in enumerate(order)}
    steps = tuple(_step(instance, merged, weights[group], group, number) for group in order)
    expected = steps[0].expected
    return Procedure(
        board=title.board,
        complaint=title.complaint,
        shop=title.shop,
        currency=title.currency,
        steps=steps,
        expected=expected,
        bound=min(solution.bound, expected),
        proof=solution.proof,
        method=solution.method,
        bound_method=solution.bound_method,
    )


def _merged(policy: Policy, walk: Walk) -> _Merged:
    """Share sub-policies that are equal step for step (as a decision diagram does), from the leaves up."""
    known: dict[tuple[int, int, tuple[int, ...]], int] = {}
    member = np.empty(policy.size + 1, dtype=np.int64)
    member[RELEASE] = RELEASE
    for n in range(policy.size - 1, -1, -1):
        onwards = policy.target[policy.start[n] : policy.start[n + 1]]
        key = (int(policy.action[n]), int(walk.missing[n]), tuple(member[onwards].tolist()))
        member[n] = known.setdefault(key, len(known))
    member = member[:-1]
    count = len(known)
    reach, slips, total = (
        np.bincount(member, weights=column, minlength=count).astype(np.float64)
        for column in (walk.reach, walk.slips, walk.total)
    )
    keys = list(known)
    return _Merged(
        member=member,
        action=[key[0] for key in keys],
        missing=[key[1] for key in keys],
        branches=[key[2] for key in keys],
        flows=_flows(policy, walk, member, keys),
        reach=reach,
        slips=slips,
        total=total,
    )


def _flows(
    policy: Policy, walk: Walk, member: IntArray, keys: Sequence[tuple[int, int, tuple[int, ...]]]
) -> list[FloatArray]:
    flows = [np.zeros(len(key[2])) for key in keys]
    for n in range(policy.size):
        flow = flows[member[n]]
        left = walk.reach[n]
        for k, target in enumerate(policy.next_of(n)):
            if target == RELEASE:
                flow[k] += max(0.0, left)
            else:
                flow[k] += walk.reach[target]
                left -= walk.reach[target]
    return flows


def _reading_order(merged: _Merged) -> list[int]:
    """Groups so that branches only lead onwards, and the most probable branch follows at once where it can.

    That is the reverse of the order in which a depth-first search leaves its nodes, least probable branch
    first.
    """
    root = int(merged.member[0])
    left: list[int] = []
    entered = {root}
    stack = [(root, iter(_by_rising_flow(merged, root)))]
    while stack:
        group, onwards = stack[-1]
        child = next((g for g in onwards if g not in entered), None)
        if child is None:
            left.append(group)
            stack.pop()
        else:
            entered.add(child)
            stack.append((child, iter(_by_rising_flow(merged, child))))
    return left[::-1]


def _by_rising_flow(merged: _Merged, group: int) -> list[int]:
    flows = merged.flows[group]
    order = sorted(range(len(flows)), key=lambda k: (flows[k], -k))
    return [merged.branches[group][k] for k in order if merged.branches[group][k] != RELEASE]


def _step(
    instance: Instance, merged: _Merged, weights: FloatArray, group: int, number: dict[int, int]
) -> Step:
    action, reach = merged.action[group], float(merged.reach[group])
    kind, name, results = described(instance, action)
    cost = _own_cost(instance, action, merged.missing[group])
    if reach > 0 and merged.slips[group] > 0:
        cost = replace(cost, comeback=instance.comeback * float(merged.slips[group]) / reach)
    onwards = [RELEASE if g == RELEASE else number[g] for g in merged.branches[group]]
    chances = merged.flows[group] / reach if reach > 0 else merged.flows[group]
    return Step(
        number=number[group],
        kind=kind,
        action=name,
        setups=instance.setups_in(merged.missing[group]),
        cost=cost,
        expected=float(merged.total[group]) / reach if reach > 0 else cost.total,
        reach=reach,
        branches=dict(zip(results, onwards, strict=True)),
        chances=dict(zip(results, chances.tolist(), strict=True)),
        suspects=suspects_of(instance.faults, weights),
        soak=instance.fixes[action - len(instance.checks)].soak if kind is Kind.FIX else 0.0,
    )


def described(instance: Instance, action: int) -> tuple[Kind, str, tuple[str, ...]]:
    """Kind, name and results of an action code."""
    if action in (RETURN, FINISHED):
        return Kind.RETURN, "", ()
    if action < len(instance.checks):
        check = instance.checks[action]
        return Kind.CHECK, check.name, check.results
    return Kind.FIX, instance.fixes[action - len(instance.checks)].name, (STILL_THERE, GONE)


def _own_cost(instance: Instance, action: int, missing: int) -> Cost:
    if action == FINISHED:
        return Cost()
    if action == RETURN:
        return Cost(lost_worth=instance.give_up)
    return own_cost(instance, action, missing)


def own_cost(instance: Instance, action: int, missing: int) -> Cost:
    """What a check or fix costs with the setups that it still needs, without comebacks."""
    checks = len(instance.checks)
    option = instance.checks[action] if action < checks else instance.fixes[action - checks]
    setups = instance.setup_cost(missing)
    return replace(option.cost, setups=setups.setups, risk=option.cost.risk + setups.risk)


def suspects_of(
    faults: Sequence[str], weights: FloatArray, most: int = SUSPECTS
) -> tuple[tuple[str, float], ...]:
    """The most probable faults with their probabilities; none where nothing is possible."""
    total = float(weights.sum())
    if total <= 0:
        return ()
    order = np.argsort(-weights, kind="stable")[:most]
    return tuple((faults[f], float(weights[f]) / total) for f in order if weights[f] > 0)


@dataclass(frozen=True, slots=True)
class Excerpt:
    """The part of a procedure that is worth printing.

    ``steps`` keep their numbers. A branch to a number in ``cut`` leaves the sheet: there the technician asks
    for the next step. ``beyond`` is the probability that a job leaves the sheet.
    """

    procedure: Procedure
    steps: tuple[Step, ...]
    cut: frozenset[int]
    beyond: float


def trimmed(procedure: Procedure, min_reach: float) -> Excerpt:
    """Keep the steps that at least this share of jobs reaches, as far as they hang together."""
    kept: list[Step] = []
    wanted, cut, beyond = {0}, set[int](), 0.0
    for step in procedure.steps:
        if step.number not in wanted:
            continue
        kept.append(step)
        for result, target in step.branches.items():
            if target == RELEASE:
                continue
            if procedure.steps[target].reach >= min_reach:
                wanted.add(target)
            else:
                cut.add(target)
                beyond += step.reach * step.chances[result]
    return Excerpt(procedure, tuple(kept), frozenset(cut), beyond)
