"""Better soaks for a whole policy: each fix step gets the variant that costs least, all else unchanged.

The look-ahead chooses a soak by an estimate of what follows a failure. Once a policy is complete, what
follows is known for every fault, and it does not depend on the soak before it; so the choice is exact at each
step, and taking the best one never makes the policy dearer.
"""

from dataclasses import replace
from typing import Final

import numpy as np
from numba import njit

from benchlore.model import FloatArray
from benchlore.procedure.arrays import Arrays, BoolArray, IntArray
from benchlore.procedure.instance import Instance
from benchlore.procedure.policy import Policy
from benchlore.procedure.rows import put_row, put_rows
from benchlore.procedure.walk import condition_on, levels_of, own_costs, setups_missing, whole

ROUNDS: Final = 4
"""Times that all soaks are chosen again: another soak above changes what is believed below."""

TIE: Final = 1e-12
"""Relative difference below which a soak stays."""


def resoaked(policy: Policy, instance: Instance) -> Policy:
    """Return the policy with better soaks; it never costs more, and the same where no fix has variants."""
    if len({fix.name for fix in instance.fixes}) == len(instance.fixes):
        return policy
    arrays = whole(instance)
    usable = np.zeros(len(instance.fixes), dtype=np.bool_)
    usable[list(instance.open_fixes)] = True
    for _ in range(ROUNDS):
        missing = setups_missing(arrays, policy.action, policy.start, policy.target)
        own = own_costs(policy, instance, missing)
        action = _choose(arrays, policy.action, policy.start, policy.target, own, usable)
        if np.array_equal(action, policy.action):
            break
        policy = replace(policy, action=action)
    return policy


@njit(cache=True)
def _choose(
    arrays: Arrays, action: IntArray, start: IntArray, target: IntArray, own: FloatArray, usable: BoolArray
) -> IntArray:
    """Choose the variant of every fix step, from the ends up; return the new actions.

    A row of each array belongs to a level of the tree: ``read`` is ``P(readings | fault)``, ``left`` what the
    fixes have left of each fault, ``after`` what the steps below cost, by fault, times ``read``.
    """
    checks, faults = len(arrays.condition), len(arrays.prior)
    deepest = levels_of(start, target).max() + 2
    read, left, after = np.ones((deepest, faults)), np.ones((deepest, faults)), np.zeros((deepest, faults))
    seen = np.ones((deepest, arrays.table.shape[0], arrays.table.shape[2]))
    action = action.copy()
    stack = [(0, 0, -1, 0, False)]
    while len(stack) > 0:
        n, level, done, result, leaving = stack.pop()
        if leaving:
            cost = own[n]
            if action[n] >= checks:
                weights = arrays.prior * left[level]
                best = _best_variant(
                    arrays, action[n] - checks, weights, read[level], after[level + 1], usable
                )
                cost += arrays.fix_cost[best] - arrays.fix_cost[action[n] - checks]
                action[n] = checks + best
                uncured = arrays.missed[best]
                escaped = uncured * (1.0 - arrays.detects[best]) * arrays.comeback
                caught = uncured * arrays.detects[best]
                more = read[level] * (cost + escaped) + caught * after[level + 1]
            else:
                more = read[level] * cost + after[level + 1]
            put_row(after[level], after[level] + more)
            continue
        if level > 0:
            put_row(read[level], read[level - 1])
            put_row(left[level], left[level - 1])
            put_rows(seen[level], seen[level - 1])
            if done < checks:
                condition_on(arrays, done, result, seen[level], read[level - 1], read[level])
            else:
                caught = arrays.missed[done - checks] * arrays.detects[done - checks]
                put_row(left[level], left[level] * caught)
        after[level + 1] = 0.0
        stack.append((n, level, done, result, True))
        for k in range(start[n + 1] - 1, start[n] - 1, -1):
            if target[k] >= 0:
                stack.append((target[k], level + 1, action[n], k - start[n], False))  # noqa: PERF401 numba
    return action


@njit(cache=True)
def _best_variant(
    arrays: Arrays, current: int, weights: FloatArray, read: FloatArray, after: FloatArray, usable: BoolArray
) -> int:
    """The variant of a fix that costs least where ``after (F,)`` follows a failure."""
    best, lowest = current, np.inf
    reach = (weights * read).sum()
    for a in range(-1, len(arrays.fix_cost)):
        variant = current if a < 0 else a
        if arrays.fix_group[variant] == arrays.fix_group[current] and usable[variant]:
            uncured = weights * arrays.missed[variant]
            caught = arrays.detects[variant]
            cost = reach * arrays.fix_cost[variant]
            cost += (uncured * ((1.0 - caught) * arrays.comeback * read + caught * after)).sum()
            if cost < lowest * (1.0 - TIE):
                best, lowest = variant, cost
    return best
