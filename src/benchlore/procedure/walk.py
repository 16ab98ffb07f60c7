"""Follow a policy through all its states: setups to make, probability of each node, suspects, expected cost.

This computes from the instance alone, node by node, and shares nothing with the solvers, so that the cost
which a procedure shows is checked against the one that its solver promised.
"""

from dataclasses import dataclass

import numpy as np
from numba import njit

from benchlore.model import FloatArray
from benchlore.procedure.arrays import Arrays, IntArray, arrays_of
from benchlore.procedure.instance import Instance
from benchlore.procedure.policy import Policy
from benchlore.procedure.rows import put_row, put_rows


@dataclass(frozen=True, eq=False)
class Walk:
    """What a policy does at each of its ``N`` nodes.

    ``missing (N,)`` are the setups to make there, ``reach (N,)`` the probability of getting there, ``slips
    (N,)`` the probability of getting there and then releasing the board uncured, ``total (N,)`` the expected
    cost from there to the end times ``reach``.
    """

    missing: IntArray
    reach: FloatArray
    slips: FloatArray
    total: FloatArray


def walked(policy: Policy, instance: Instance) -> Walk:
    """Weigh every node of a policy."""
    arrays = whole(instance)
    assert _keeps_gates(arrays, policy.action, policy.start, policy.target), "a gate was passed unopened"
    missing = setups_missing(arrays, policy.action, policy.start, policy.target)
    groups = np.zeros(policy.size, dtype=np.int64)
    _, reach, slips = _weigh(arrays, policy.action, policy.start, policy.target, groups, 1)
    own = own_costs(policy, instance, missing)
    total = reach * own + slips * instance.comeback
    _add_up(policy.start, policy.target, total)
    return Walk(missing, reach, slips, total)


def group_weights(policy: Policy, instance: Instance, groups: IntArray, count: int) -> FloatArray:
    """``P(here, fault)`` summed over the nodes of each group, ``(count, F)``."""
    weights, _, _ = _weigh(whole(instance), policy.action, policy.start, policy.target, groups, count)
    return weights


def whole(instance: Instance) -> Arrays:
    """Arrays of an instance with nothing left out."""
    return arrays_of(
        instance,
        tuple(range(len(instance.checks))),
        tuple(range(len(instance.fixes))),
        tuple((f,) for f in range(len(instance.faults))),
    )


def own_costs(policy: Policy, instance: Instance, missing: IntArray) -> FloatArray:
    """What each node costs by itself, with its setups, without comebacks."""
    prices = [check.cost.total for check in instance.checks] + [fix.cost.total for fix in instance.fixes]
    by_code = np.array([*prices, 0.0, instance.give_up])  # codes -2 and -1: finished, return
    own = by_code[policy.action]
    for k, setup in enumerate(instance.setups):
        own += setup.cost.total * (missing >> k & 1)
    return own


@njit(cache=True)
def setups_missing(arrays: Arrays, action: IntArray, start: IntArray, target: IntArray) -> IntArray:
    """Setups to make at each node; parents come before children."""
    checks = len(arrays.check_setups)
    standing = np.full(len(action), arrays.standing)
    missing = np.zeros(len(action), dtype=np.int64)
    for n in range(len(action)):
        if action[n] >= 0:
            needs = (
                arrays.check_setups[action[n]]
                if action[n] < checks
                else arrays.fix_setups[action[n] - checks]
            )
            missing[n] = needs & ~standing[n]
            for k in range(start[n], start[n + 1]):
                if target[k] >= 0:
                    standing[target[k]] = standing[n] | needs
    return missing


@njit(cache=True)
def levels_of(start: IntArray, target: IntArray) -> IntArray:
    """How many actions stand before each node; parents come before children."""
    level = np.zeros(len(start) - 1, dtype=np.int64)
    for n in range(len(level)):
        for k in range(start[n], start[n + 1]):
            if target[k] >= 0:
                level[target[k]] = level[n] + 1
    return level


@njit(cache=True)
def column_of(arrays: Arrays, action: int) -> int:
    """The number of a check or fix, the same for all variants of a fix."""
    checks = len(arrays.condition)
    return action if action < checks else int(checks + arrays.fix_group[action - checks])


@njit(cache=True)
def _keeps_gates(arrays: Arrays, action: IntArray, start: IntArray, target: IntArray) -> bool:
    """Whether every action's gates are open where the policy takes it, and no check or fix comes twice.

    In preorder the row of the level above a node is that of its parent.
    """
    level = levels_of(start, target)
    done = np.zeros((level.max() + 2, len(arrays.condition) + len(arrays.fix_cost)), dtype=np.int64)
    result = np.zeros(len(action), dtype=np.int64)
    above = np.full(level.max() + 1, -1)
    for n in range(len(action)):
        here = done[level[n]]
        if level[n] > 0:
            put_row(here, done[level[n] - 1])
            here[column_of(arrays, above[level[n] - 1])] = result[n] + 1
        if action[n] < 0:
            continue
        if here[column_of(arrays, action[n])] > 0:
            return False
        for k in range(arrays.gate_check.shape[1]):
            check = arrays.gate_check[action[n], k]
            if check >= 0 and (here[check] == 0 or not arrays.gate_open[action[n], k, here[check] - 1]):
                return False
        above[level[n]] = action[n]
        for k in range(start[n], start[n + 1]):
            if target[k] >= 0:
                result[target[k]] = k - start[n]
    return True


@njit(cache=True)
def condition_on(
    arrays: Arrays, check: int, result: int, seen: FloatArray, old: FloatArray, new: FloatArray
) -> None:
    """Turn weights ``P(e, f)`` and state likelihoods ``seen (G, S)`` into those after one more reading."""
    g = arrays.condition[check]
    states = seen.shape[1]
    for f in range(len(old)):
        new[f] = 0.0
        if old[f] > 0.0:
            before, after = 0.0, 0.0
            for s in range(states):
                mass = arrays.table[g, f, s] * seen[g, s]
                before += mass
                after += mass * arrays.shows[check, s, result]
            if before > 0.0:
                new[f] = old[f] * after / before
    for s in range(states):
        seen[g, s] *= arrays.shows[check, s, result]


@njit(cache=True)
def _weigh(
    arrays: Arrays, action: IntArray, start: IntArray, target: IntArray, groups: IntArray, count: int
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Sum weights by group; probability of each node, and of releasing the board uncured there."""
    checks, faults = len(arrays.condition), len(arrays.prior)
    levels = levels_of(start, target).max() + 1
    weights = np.empty((levels, faults))
    seen = np.ones((levels, arrays.table.shape[0], arrays.table.shape[2]))
    grouped = np.zeros((count, faults))
    reach, slips = np.zeros(len(action)), np.zeros(len(action))
    stack = [(0, 0, -1, 0)]
    while len(stack) > 0:
        n, level, done, result = stack.pop()
        if level == 0:
            put_row(weights[0], arrays.prior)
        else:
            put_rows(seen[level], seen[level - 1])
            if done < checks:
                condition_on(arrays, done, result, seen[level], weights[level - 1], weights[level])
            else:
                a = done - checks
                for f in range(faults):
                    weights[level, f] = weights[level - 1, f] * arrays.missed[a, f] * arrays.detects[a, f]
        here = weights[level]
        for f in range(faults):
            grouped[groups[n], f] += here[f]
        reach[n] = here.sum()
        if action[n] >= checks:
            a = action[n] - checks
            slips[n] = (here * arrays.missed[a] * (1.0 - arrays.detects[a])).sum()
        for k in range(start[n + 1] - 1, start[n] - 1, -1):
            if target[k] >= 0:
                stack.append((target[k], level + 1, action[n], k - start[n]))  # noqa: PERF401 numba
    return grouped, reach, slips


@njit(cache=True)
def _add_up(start: IntArray, target: IntArray, total: FloatArray) -> None:
    """Add what comes after to each node's own cost, children first."""
    for n in range(len(total) - 1, -1, -1):
        for k in range(start[n], start[n + 1]):
            if target[k] >= 0:
                total[n] += total[target[k]]


def cost_of(policy: Policy, instance: Instance) -> float:
    """The exact expected cost of following a policy."""
    return float(walked(policy, instance).total[0])
