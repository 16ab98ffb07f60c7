"""Kernels that say what an action's results would do: beliefs after each, and what the rest would cost."""

import numpy as np
from numba import njit

from benchlore.model import FloatArray
from benchlore.procedure.arrays import IntArray
from benchlore.procedure.estimate import estimate, fixes_only, usable_fixes
from benchlore.procedure.state import Problem, State, information, results_of


@njit(cache=True, error_model="numpy")
def after_check(p: Problem, state: State, check: int, told: float) -> tuple[FloatArray, FloatArray]:
    """``P(state, fault, result)`` ``(R, F)``, and the estimated cost after each result times its chance."""
    joint = np.zeros((p.arrays.shows.shape[2], len(state.b)))
    rest = np.zeros(len(joint))
    results_of(p, state, check, joint)
    digits = state.digits.copy()
    standing = state.standing | p.arrays.check_setups[check]
    sequence = np.empty(len(state.failed), dtype=np.int64)
    for r in range(p.arrays.results[check]):
        digits[check] = r + 1
        usable = usable_fixes(p, digits, state.failed)
        rest[r] = estimate(p, joint[r], usable, standing, told, sequence)
    return joint, rest


@njit(cache=True, error_model="numpy")
def after_fix(p: Problem, state: State, fix: int, told: float) -> tuple[FloatArray, FloatArray]:
    """``P(state, fault, result)`` ``(2, F)`` of the retest, still there and gone; costs as of a check."""
    joint, rest = np.zeros((2, len(state.b))), np.zeros(2)
    joint[0] = state.b * p.arrays.missed[fix] * p.arrays.detects[fix]
    joint[1] = state.b - joint[0]
    failed = state.failed.copy()
    failed[fix] = True
    standing = state.standing | p.arrays.fix_setups[fix]
    sequence = np.empty(len(failed), dtype=np.int64)
    usable = usable_fixes(p, state.digits, failed)
    rest[0] = estimate(p, joint[0], usable, standing, told, sequence)
    return joint, rest


@njit(cache=True, error_model="numpy")
def told_by(p: Problem, state: State, actions: IntArray) -> FloatArray:
    """Mutual information of fault and result of each of some actions, in bits."""
    checks, total = len(state.digits), state.b.sum()
    joint = np.empty((p.arrays.shows.shape[2], len(state.b)))
    bits = np.zeros(len(actions))
    for k in range(len(actions)):
        action = actions[k]
        if action < checks:
            results_of(p, state, action, joint)
            bits[k] = information(p, state, action, joint) / total
        else:
            bits[k] = _told_by_fix(p, state, action - checks)
    bits /= np.log(2.0)
    return bits


@njit(cache=True, error_model="numpy")
def _told_by_fix(p: Problem, state: State, fix: int) -> float:
    total = state.b.sum()
    caught = (state.b * p.arrays.missed[fix] * p.arrays.detects[fix]).sum() / total
    gain = 0.0
    for share in (caught, 1.0 - caught):
        gain -= share * np.log(share) if share > 0.0 else 0.0
    for f in range(len(state.b)):
        still = p.arrays.missed[fix, f] * p.arrays.detects[fix, f]
        for share in (still, 1.0 - still):
            gain += state.b[f] / total * share * np.log(share) if share > 0.0 else 0.0
    return max(gain, 0.0)


@njit(cache=True, error_model="numpy")
def known_faults(p: Problem, state: State, groups: FloatArray) -> tuple[FloatArray, IntArray, IntArray]:
    """Fixes alone, then the return, if only the faults of a group were possible.

    ``groups (N, F)`` has ones at its faults. Returns the cost of each group times its probability ``(N,)``,
    the fixes in order ``(N, A)`` and how many of them are worth trying ``(N,)``.
    """
    fixes = len(state.failed)
    usable = usable_fixes(p, state.digits, state.failed)
    cost, length = np.zeros(len(groups)), np.zeros(len(groups), dtype=np.int64)
    order = np.full((len(groups), fixes), -1)
    for k in range(len(groups)):
        cost[k], length[k] = fixes_only(p, state.b * groups[k], usable, state.standing, 0.0, order[k])
    return cost, order, length
