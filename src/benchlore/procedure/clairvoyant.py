"""Kernel: the cheapest way of a job that knows its fault and what every check would show.

Whether it goes on after a fix it does not know: what comes after counts as often as that happens. It pays the
residuals of what it does (:mod:`benchlore.procedure.residual`), which are never negative, so that Dijkstra's
algorithm ("A note on two problems in connexion with graphs", Numerische Mathematik 1, 1959) finds it, and
what it has come to when it is stopped is no more than the whole way.
"""

import heapq
from typing import Final, NamedTuple

import numpy as np
from numba import njit, types
from numba.typed import Dict

from benchlore.model import FloatArray
from benchlore.procedure.arrays import BoolArray, IntArray
from benchlore.procedure.residual import Certificate, point_of, put_residuals
from benchlore.procedure.state import Problem, State
from benchlore.procedure.tree import FIRST_KEY, Tree

END: Final = -2
"""The action that stands for the end of a job."""


class Foreseen(NamedTuple):
    """One job: ``results (C,)`` of all checks, from 0, and how often it ``goes_on (A,)`` after each fix."""

    results: IntArray
    goes_on: FloatArray


@njit(cache=True, nogil=True)
def cheapest_way(
    p: Problem, cert: Certificate, tree: Tree, first: State, job: Foreseen, most: int, halt: BoolArray
) -> float:
    """The least expected sum of residuals to the end of a job.

    It is less if ``most`` states do not suffice, or where another thread sets ``halt (1,)``.
    """
    faults, checks, fixes = len(first.b), len(first.digits), len(first.failed)
    b, digits = np.empty((most, faults)), np.empty((most, checks), dtype=np.int64)
    failed, standing = np.empty((most, fixes), dtype=np.bool_), np.empty(most, dtype=np.int64)
    keys, often = np.empty(most, dtype=np.uint64), np.empty(most)
    residuals = np.empty(checks + fixes + 1)
    nearest = Dict.empty(types.uint64, types.float64)
    nearest[FIRST_KEY] = 0.0
    waiting = [(0.0, -1, -1)]
    end, looked = np.inf, 0
    while True:
        so_far, before, action = heapq.heappop(waiting)
        if action == END or looked == most or halt[0]:
            return so_far
        n = looked
        if before < 0:
            b[n], digits[n], failed[n], standing[n] = first.b, first.digits, first.failed, first.standing
            keys[n], often[n] = FIRST_KEY, 1.0
        else:
            keys[n] = _key_after(tree, keys[before], job, action, checks)
            if so_far > nearest[keys[n]]:
                continue
            b[n], digits[n], failed[n], standing[n] = (
                b[before],
                digits[before],
                failed[before],
                standing[before],
            )
            standing[n] |= _do(p, cert, job, action, b[n], digits[n], failed[n])
            often[n] = often[before] * (job.goes_on[action - checks] if action >= checks else 1.0)
        looked += 1
        point = point_of(p, cert, tree, State(b[n], first.seen, digits[n], failed[n], standing[n]))
        b[n] = point.b
        put_residuals(p, cert, tree, point, residuals)
        for k in range(len(residuals)):
            along = so_far + often[n] * max(0.0, residuals[k])
            if along >= end:
                continue
            if k == checks + fixes or (k >= checks and job.goes_on[k - checks] <= 0.0):
                end = along
                heapq.heappush(waiting, (along, n, END))
                continue
            key = _key_after(tree, keys[n], job, k, checks)
            if key not in nearest or along < nearest[key]:
                nearest[key] = along
                heapq.heappush(waiting, (along, n, k))


@njit(cache=True)
def _key_after(tree: Tree, key: np.uint64, job: Foreseen, action: int, checks: int) -> np.uint64:
    """The key of the state that an action leads to."""
    word = (
        tree.check_words[action, job.results[action]] if action < checks else tree.fix_words[action - checks]
    )
    after: np.uint64 = key ^ word
    return after


@njit(cache=True, error_model="numpy")
def _do(
    p: Problem,
    cert: Certificate,
    job: Foreseen,
    action: int,
    b: FloatArray,
    digits: IntArray,
    failed: BoolArray,
) -> int:
    """Change a state to that after an action; return the setups made."""
    arrays = p.arrays
    if action >= len(digits):
        a = action - len(digits)
        failed[a] = True
        for f in range(len(b)):
            b[f] *= arrays.missed[a, f] * arrays.detects[a, f]
        return int(arrays.fix_setups[a])
    row = cert.begin[arrays.condition[action]]
    for c in range(len(digits)):
        if arrays.condition[c] == arrays.condition[action]:
            row += digits[c] * cert.stride[c]
    digits[action] = job.results[action] + 1
    after = row + digits[action] * cert.stride[action]
    for f in range(len(b)):
        b[f] *= cert.own[after, f] / cert.own[row, f] if b[f] > 0.0 else 0.0
    return int(arrays.check_setups[action])
