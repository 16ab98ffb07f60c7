"""Compiled inner loops of the posterior; they assume that indices are valid and arrays fit.

``p`` is a :class:`~benchlore.model.packed.Packed`. Evidence is ``checks, results, numbers`` of equal length:
``results[k]`` is a result's index, or -1 where ``numbers[k]`` is a raw number.
"""

from math import inf, log

import numba
import numpy as np

from benchlore.model.densities import FARTHEST
from benchlore.model.packed import BoolArray, IntArray, Packed
from benchlore.model.values import FloatArray

SMALL = 1e-290
"""Below this a sum of products may have lost digits to underflow and is done again in logarithms."""


@numba.njit(cache=True)
def number_log_likelihood(p: Packed, check: int, s: int, number: float) -> float:
    """``log p(number | s)`` as :func:`benchlore.model.densities.log_likelihoods` defines it."""
    student = p.student[check]
    if number == inf:
        return float(student[5, s])
    if p.numeric[check, 1] and number <= 0:
        return float(p.log_results[check, 0, s])
    y = log(number) if p.numeric[check, 1] else number
    t = min(abs(y - student[0, s]) / student[1, s], FARTHEST)
    body = student[4, s] - student[2, s] * np.log1p(t * t / student[3, s])
    z = min(abs(y - p.slip[check, 0]) / p.slip[check, 1], FARTHEST)
    blunder = p.log_number[check, s] + p.slip[check, 2] - z * z / 2
    high = max(body, blunder)
    if high == -inf:  # a state that never shows a number
        return -inf
    return float(high + np.log1p(np.exp(min(body, blunder) - high)))


@numba.njit(cache=True)
def add_reading(p: Packed, check: int, result: int, number: float, logs: FloatArray) -> None:
    """Add one reading's log-likelihood to ``logs`` ``(S,)``."""
    for s in range(p.state_counts[p.conditions[check]]):
        if result >= 0:
            logs[s] += p.log_results[check, result, s]
        else:
            logs[s] += number_log_likelihood(p, check, s, number)


@numba.njit(cache=True)
def state_logs(p: Packed, checks: IntArray, results: IntArray, numbers: FloatArray) -> FloatArray:
    """Return ``log P(readings | s)`` of every condition ``(G, S)``; zero where nothing was read."""
    logs = np.zeros((p.states.shape[0], p.states.shape[1]))
    for k in range(checks.size):
        add_reading(p, checks[k], results[k], numbers[k], logs[p.conditions[checks[k]]])
    return logs


@numba.njit(cache=True)
def condition_given_fault(p: Packed, g: int, logs: FloatArray, total: FloatArray, out: FloatArray) -> None:
    """Set ``out`` ``(S, F)`` to ``P(s | f, readings on g)`` and add ``log L_g(f)`` to ``total`` ``(F,)``.

    ``logs`` ``(S,)`` are the readings' log-likelihoods. Where no state allows the readings, ``out`` is zero.
    """
    count, faults = p.state_counts[g], total.size
    high = logs[:count].max()
    out[count:] = 0.0
    if high == -inf:
        out[:] = 0.0
        total[:] = -inf
        return
    likelihood = np.zeros(faults)
    for s in range(count):
        weight = np.exp(logs[s] - high)
        for f in range(faults):
            out[s, f] = p.states[g, s, f] * weight
            likelihood[f] += out[s, f]
    for f in range(faults):
        if likelihood[f] > SMALL:
            total[f] += high + log(likelihood[f])
        else:
            total[f] += _in_logarithms(p, g, f, logs, out)
            likelihood[f] = 1.0
    for s in range(count):
        for f in range(faults):
            out[s, f] /= likelihood[f]


@numba.njit(cache=True)
def _in_logarithms(p: Packed, g: int, f: int, logs: FloatArray, out: FloatArray) -> float:
    """Do one fault of :func:`condition_given_fault` without underflow."""
    count = p.state_counts[g]
    joint = np.full(count, -inf)
    for s in range(count):
        if p.states[g, s, f] > 0:
            joint[s] = log(p.states[g, s, f]) + logs[s]
    high = joint.max()
    if high == -inf:
        for s in range(count):
            out[s, f] = 0.0
        return -inf
    total = np.exp(joint - high).sum()
    for s in range(count):
        out[s, f] = np.exp(joint[s] - high) / total
    return float(high + log(total))


@numba.njit(cache=True)
def infer(
    p: Packed, checks: IntArray, results: IntArray, numbers: FloatArray, failed: IntArray, passed: IntArray
) -> tuple[FloatArray, IntArray, FloatArray]:
    """Return ``log P(evidence | f)`` ``(F,)`` and what the conditions' states are given fault and evidence.

    That is the place of each condition among those read ``(G,)``, -1 if not read, and
    ``P(s | f, evidence)`` of those read ``(T, S, F)``.
    """
    conditions, depth, faults = p.states.shape
    place = np.full(conditions, -1)
    logs = np.zeros((min(checks.size, conditions), depth))
    read = np.empty(min(checks.size, conditions), dtype=np.int64)
    count = 0
    for k in range(checks.size):
        g = p.conditions[checks[k]]
        if place[g] < 0:
            place[g] = count
            read[count] = g
            count += 1
        add_reading(p, checks[k], results[k], numbers[k], logs[place[g]])
    total = np.zeros(faults)
    given = np.empty((count, depth, faults))
    for t in range(count):
        condition_given_fault(p, read[t], logs[t], total, given[t])
    for a in failed:
        for f in range(faults):
            total[f] += _log((1 - p.cures[a, f]) * p.detects[f])
    for a in passed:
        for f in range(faults):
            total[f] += _log(p.cures[a, f] + (1 - p.cures[a, f]) * (1 - p.detects[f]))
    return total, place, given


@numba.njit(cache=True)
def _log(chance: float) -> float:
    return log(chance) if chance > 0 else -inf


@numba.njit(cache=True)
def _condition_table(
    p: Packed, g: int, belief: FloatArray, given: FloatArray, undone: BoolArray, out: FloatArray
) -> None:
    """Fill ``out[c]`` for the checks of one condition; ``given`` is ``P(s | f, evidence)`` ``(S, F)``."""
    first, last = p.starts[g], p.starts[g + 1]
    if first == last:
        return
    count, faults, width = p.state_counts[g], belief.size, out.shape[1]
    joint = np.empty((count, faults))
    for s in range(count):
        for f in range(faults):
            joint[s, f] = given[s, f] * belief[f]
    for c in p.order[first:last]:
        for r in range(width):
            row = out[c, r]
            row[:] = 0.0
            if not undone[c] or r >= p.result_counts[c]:
                continue
            for s in range(count):
                chance = p.results[c, r, s]
                for f in range(faults):
                    row[f] += joint[s, f] * chance


@numba.njit(cache=True)
def table_serial(
    p: Packed, belief: FloatArray, place: IntArray, given: FloatArray, undone: BoolArray
) -> FloatArray:
    """``P(f, result r of check c | evidence)``, shape ``(C, R, F)``; zero for checks that are done."""
    out = np.empty((p.results.shape[0], p.results.shape[1], belief.size))
    for g in range(place.size):
        if place[g] < 0:
            _condition_table(p, g, belief, p.states[g], undone, out)
        else:
            _condition_table(p, g, belief, given[place[g]], undone, out)
    return out


@numba.njit(cache=True, parallel=True)
def table_parallel(
    p: Packed, belief: FloatArray, place: IntArray, given: FloatArray, undone: BoolArray
) -> FloatArray:
    """Do what :func:`table_serial` does, on all cores."""
    out = np.empty((p.results.shape[0], p.results.shape[1], belief.size))
    for g in numba.prange(place.size):
        if place[g] < 0:
            _condition_table(p, g, belief, p.states[g], undone, out)
        else:
            _condition_table(p, g, belief, given[place[g]], undone, out)
    return out
