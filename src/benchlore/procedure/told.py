"""Kernels for perfect information: what a job costs once the fault is known."""

from typing import Final

import numpy as np
from numba import njit

from benchlore.model import FloatArray
from benchlore.procedure.arrays import IntArray
from benchlore.procedure.state import Problem, setups_cost

MOST_CURES: Final = 12
"""Fixes of one fault up to which all orders are weighed; beyond, setups are ignored: a lower bound still."""


@njit(cache=True)
def told_costs(p: Problem, standing: int, without: int) -> FloatArray:
    """Least expected cost ``(F,)`` if the fault is known, with setups standing and a fix used up (-1: none).

    ``without`` is a number in ``fix_group``. Fixes that do not cure the fault only cost. Gates are taken as
    open.
    """
    arrays = p.arrays
    costs = np.empty(len(arrays.prior))
    for f in range(len(costs)):
        cures = np.array(
            [
                g
                for g in range(len(p.begin) - 1)
                if g != without and arrays.missed[p.member[p.begin[g]], f] < 1.0
            ]
        )
        if arrays.identify:
            costs[f] = 0.0
        elif len(cures) <= MOST_CURES:
            costs[f] = _best_order(p, f, cures, standing)
        else:
            costs[f] = _without_setups(p, f, cures)
    return costs


@njit(cache=True)
def _best_order(p: Problem, f: int, cures: IntArray, standing: int) -> float:
    """Dynamic programming over the sets of fixes tried."""
    arrays = p.arrays
    sets = 1 << len(cures)
    cost = np.full(sets, arrays.give_up)
    for done in range(sets - 1, -1, -1):
        made = standing
        for k in range(len(cures)):
            if done >> k & 1:
                made |= arrays.fix_setups[p.member[p.begin[cures[k]]]]
        for k in range(len(cures)):
            if not done >> k & 1:
                for a in p.member[p.begin[cures[k]] : p.begin[cures[k] + 1]]:
                    own = arrays.fix_cost[a] + setups_cost(p, arrays.fix_setups[a] & ~made)
                    caught = arrays.missed[a, f] * arrays.detects[a, f]
                    slips = arrays.missed[a, f] - caught
                    rest = slips * arrays.comeback + caught * cost[done | 1 << k]
                    cost[done] = min(cost[done], own + rest)
    return float(cost[0])


@njit(cache=True)
def _without_setups(p: Problem, f: int, cures: IntArray) -> float:
    """Fixes in rising order of (cost + comebacks) / (1 - chance to go on): an interchange argument.

    Variants of one fix count as so many fixes, which can only lower the cost.
    """
    arrays = p.arrays
    variants = np.array([a for g in cures for a in p.member[p.begin[g] : p.begin[g + 1]]])
    caught = np.array([arrays.missed[a, f] * arrays.detects[a, f] for a in variants])
    own = np.array([arrays.fix_cost[a] for a in variants])
    for k in range(len(variants)):
        own[k] += (arrays.missed[variants[k], f] - caught[k]) * arrays.comeback
    cost = arrays.give_up
    for k in np.argsort(own / (1.0 - caught))[::-1]:
        cost = min(cost, own[k] + caught[k] * cost)
    return float(cost)


@njit(cache=True)
def first_losses(p: Problem) -> FloatArray:
    """Least cost ``(A + 1, F)`` of a fix first, the fault being known once it failed; last, the return."""
    arrays = p.arrays
    fixes = len(arrays.fix_cost)
    loss = np.full((fixes + 1, len(arrays.prior)), arrays.give_up)
    for a in range(fixes):
        own = arrays.fix_cost[a] + setups_cost(p, arrays.fix_setups[a] & ~arrays.standing)
        after = told_costs(p, arrays.standing | arrays.fix_setups[a], arrays.fix_group[a])
        for f in range(len(arrays.prior)):
            caught = arrays.missed[a, f] * arrays.detects[a, f]
            loss[a, f] = own + (arrays.missed[a, f] - caught) * arrays.comeback + caught * after[f]
    return loss
