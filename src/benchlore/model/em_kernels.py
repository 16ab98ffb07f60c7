"""Compiled inner loops of learning; they assume that all indices are valid.

``states`` ``(G, S, F)`` are laid out so that faults run fastest. Sums over faults may be taken in any order
(``reassoc``), always the same one.
"""

from math import inf, isinf, log, pi
from typing import NamedTuple

import numba
import numpy as np

from benchlore.model.densities import FARTHEST
from benchlore.model.grouping import Grouped
from benchlore.model.packed import IntArray
from benchlore.model.parameters import Weights
from benchlore.model.values import FloatArray

SMALL = 1e-250
"""A product over blocks that falls below this is done again in logarithms."""

LOG_ROOT_2_PI = log(2 * pi) / 2


class Step(NamedTuple):
    """What one expectation step multiplies.

    ``prior`` ``(M, F)``; ``states`` ``(G, S, F)``; ``attempts`` ``(T, F)``; each block's
    ``likelihoods`` ``(B, S)``, over its largest, whose logarithm is in ``highs`` ``(B,)``.
    """

    prior: FloatArray
    states: FloatArray
    attempts: FloatArray
    likelihoods: FloatArray
    highs: FloatArray


class Tally(NamedTuple):
    """Expected counts in the making.

    ``prior`` ``(M, F)``; ``states`` ``(G, S, F)``; ``seen`` ``(B, S)``: states of blocks; ``tried``
    ``(T, F)``: tries of jobs with a hidden fault; ``results`` ``(C, R, S)``; ``over``
    ``(C, S, 2)``; ``moments`` ``(3, C, S)``: numbers that are no blunder, their sum and sum of squares.
    """

    prior: FloatArray
    states: FloatArray
    seen: FloatArray
    tried: FloatArray
    results: FloatArray
    over: FloatArray
    moments: FloatArray


_FAST = {"reassoc", "contract", "nsz"}


@numba.njit(cache=True)
def reading_logs(
    groups: Grouped, weights: Weights, slip: FloatArray, logs: FloatArray, share: FloatArray
) -> None:
    """Set ``logs`` ``(U, S)`` to each reading's expected log-likelihood.

    ``share`` ``(U, S)`` becomes the probability that it is no blunder, given the state. ``slip`` is
    ``(C, 3)``: mean, deviation, probability.
    """
    for u in range(groups.reading_checks.size):
        c, r, y = groups.reading_checks[u], groups.reading_results[u], groups.reading_ys[u]
        for s in range(logs.shape[1]):
            if r >= 0:
                logs[u, s] = weights.results[c, r, s]
            elif isinf(y):
                logs[u, s] = weights.over[c, s, 1]
            else:
                gap = y - weights.normal[2, c, s]
                body = weights.normal[0, c, s] - weights.normal[1, c, s] * gap * gap
                body += np.log1p(-slip[c, 2])
                z = min(abs(y - slip[c, 0]) / slip[c, 1], FARTHEST)
                blunder = log(slip[c, 2] / slip[c, 1]) - LOG_ROOT_2_PI - z * z / 2
                odds = np.exp(-abs(body - blunder))
                share[u, s] = (1.0 if body > blunder else odds) / (1 + odds)
                logs[u, s] = weights.over[c, s, 0] + max(body, blunder) + np.log1p(odds)


@numba.njit(cache=True)
def block_likelihoods(
    groups: Grouped, state_counts: IntArray, logs: FloatArray, out: FloatArray, highs: FloatArray
) -> None:
    """Set ``out`` ``(B, S)`` to the likelihood of each block's readings over its largest, ``exp(highs)``."""
    for b in range(groups.block_conditions.size):
        count = state_counts[groups.block_conditions[b]]
        for s in range(out.shape[1]):
            out[b, s] = 0.0 if s < count else -inf
        for k in range(groups.blocks.starts[b], groups.blocks.starts[b + 1]):
            for s in range(count):
                out[b, s] += logs[groups.blocks.items[k], s]
        highs[b] = out[b].max()
        for s in range(out.shape[1]):
            out[b, s] = np.exp(out[b, s] - highs[b]) if highs[b] > -inf else 0.0


@numba.njit(cache=True, fastmath=_FAST)
def known_blocks(groups: Grouped, step: Step, tally: Tally) -> tuple[float, float]:
    """Add the expected states of (block, fault) pairs to ``tally.states`` and ``tally.seen``.

    Returns the log-likelihood, and the number of pairs that are impossible and were left out.
    """
    total = impossible = 0.0
    for k in range(groups.known_counts.size):
        b, f, times = groups.known[k, 0], groups.known[k, 1], groups.known_counts[k]
        g = groups.block_conditions[b]
        likelihood = 0.0
        for s in range(step.likelihoods.shape[1]):
            likelihood += step.states[g, s, f] * step.likelihoods[b, s]
        if likelihood <= 0:
            impossible += times
            continue
        total += times * (log(likelihood) + step.highs[b])
        for s in range(step.likelihoods.shape[1]):
            expected = times * step.states[g, s, f] * step.likelihoods[b, s] / likelihood
            tally.states[g, s, f] += expected
            tally.seen[b, s] += expected
    return total, impossible


@numba.njit(cache=True, fastmath=_FAST)
def _job_likelihoods(groups: Grouped, j: int, step: Step, out: FloatArray) -> int:
    """Set ``out[k]`` ``(F,)`` to ``sum_s P(s | f) P(block k | s)``; return the number of blocks.

    Places are written out instead of sliced: on few faults, making slices would take most of the time.
    """
    first, last = groups.jobs.starts[j], groups.jobs.starts[j + 1]
    theta, weights = step.states, step.likelihoods
    for k in range(last - first):
        b = groups.jobs.items[first + k]
        g = groups.block_conditions[b]
        for f in range(out.shape[1]):
            out[k, f] = theta[g, 0, f] * weights[b, 0]
        for s in range(1, weights.shape[1]):
            for f in range(out.shape[1]):
                out[k, f] += theta[g, s, f] * weights[b, s]
    return int(last - first)


@numba.njit(cache=True)
def _log_belief(likelihoods: FloatArray, attempts: FloatArray, prior: FloatArray, out: FloatArray) -> float:
    """Set ``out`` ``(F,)`` to the belief without underflow; return the log of its sum before."""
    for f in range(out.size):
        out[f] = log(prior[f]) if prior[f] > 0 else -inf
        for row in likelihoods:
            out[f] += log(row[f]) if row[f] > 0 else -inf
        for row in attempts:
            out[f] += log(row[f]) if row[f] > 0 else -inf
    high = out.max()
    if high == -inf:
        return -inf
    for f in range(out.size):
        out[f] = np.exp(out[f] - high)
    total = out.sum()
    out /= total
    return float(high + log(total))


@numba.njit(cache=True, fastmath=_FAST)
def _product_belief(
    likelihoods: FloatArray, attempts: FloatArray, prior: FloatArray, out: FloatArray
) -> float:
    """Set ``out`` ``(F,)`` to the belief; return its sum before, which is too small if digits were lost."""
    for f in range(out.size):
        out[f] = prior[f]
    for k in range(len(likelihoods)):
        for f in range(out.size):
            out[f] *= likelihoods[k, f]
    for k in range(len(attempts)):
        for f in range(out.size):
            out[f] *= attempts[k, f]
    total = 0.0
    for f in range(out.size):
        total += out[f]
    if total > SMALL:
        for f in range(out.size):
            out[f] /= total
    return total


@numba.njit(cache=True, fastmath=_FAST)
def _add_job(
    groups: Grouped, j: int, step: Step, belief: FloatArray, likelihoods: FloatArray, tally: Tally
) -> None:
    """Add the states of one group of jobs to the tally.

    ``belief`` ``(F,)`` is times the number of jobs; ``likelihoods`` are overwritten.
    """
    first = groups.jobs.starts[j]
    theta, weights, states, seen = step.states, step.likelihoods, tally.states, tally.seen
    for k in range(groups.jobs.starts[j + 1] - first):
        b = groups.jobs.items[first + k]
        g = groups.block_conditions[b]
        for f in range(belief.size):
            likelihoods[k, f] = belief[f] / likelihoods[k, f] if likelihoods[k, f] > 0 else 0.0
        for s in range(weights.shape[1]):
            total = 0.0
            for f in range(belief.size):
                expected = likelihoods[k, f] * theta[g, s, f] * weights[b, s]
                states[g, s, f] += expected
                total += expected
            seen[b, s] += total


@numba.njit(cache=True)
def hidden_jobs(groups: Grouped, step: Step, tally: Tally) -> tuple[float, float]:
    """Add jobs with a hidden fault to ``tally.prior``, ``states``, ``seen`` and ``tried``.

    Returns the log-likelihood, and the number of jobs that are impossible and were left out.
    """
    belief = np.empty(step.prior.shape[1])
    likelihoods = np.empty((_longest(groups.jobs.starts), belief.size))
    factors = np.empty((_longest(groups.job_attempts.starts), belief.size))
    total = impossible = 0.0
    for j in range(groups.job_counts.size):
        m, times = groups.job_complaints[j], groups.job_counts[j]
        count = _job_likelihoods(groups, j, step, likelihoods)
        scale = 0.0
        for k in range(groups.jobs.starts[j], groups.jobs.starts[j + 1]):
            scale += step.highs[groups.jobs.items[k]]
        codes = groups.job_attempts.items[groups.job_attempts.starts[j] : groups.job_attempts.starts[j + 1]]
        for k in range(codes.size):
            for f in range(belief.size):
                factors[k, f] = step.attempts[codes[k], f]
        plain = _product_belief(likelihoods[:count], factors[: codes.size], step.prior[m], belief)
        if plain > SMALL:
            evidence = log(plain)
        else:
            evidence = _log_belief(likelihoods[:count], factors[: codes.size], step.prior[m], belief)
        if evidence == -inf or scale == -inf:
            impossible += times
            continue
        total += times * (evidence + scale)
        for f in range(belief.size):
            belief[f] *= times
            tally.prior[m, f] += belief[f]
            for code in codes:
                tally.tried[code, f] += belief[f]
        _add_job(groups, j, step, belief, likelihoods, tally)
    return total, impossible


@numba.njit(cache=True)
def _longest(starts: IntArray) -> int:
    longest = 0
    for k in range(starts.size - 1):
        longest = max(longest, starts[k + 1] - starts[k])
    return longest


@numba.njit(cache=True)
def readings_seen(groups: Grouped, seen: FloatArray, out: FloatArray) -> None:
    """Add each block's expected states ``seen`` ``(B, S)`` to its readings, ``out`` ``(U, S)``."""
    for b in range(groups.block_conditions.size):
        for k in range(groups.blocks.starts[b], groups.blocks.starts[b + 1]):
            for s in range(out.shape[1]):
                out[groups.blocks.items[k], s] += seen[b, s]


@numba.njit(cache=True)
def count_readings(
    groups: Grouped, readings: FloatArray, share: FloatArray, centre: FloatArray, tally: Tally
) -> None:
    """Add expected ``readings`` ``(U, S)`` to ``tally.results``, ``over`` and ``moments``.

    Sums of numbers are taken around ``centre`` ``(C, S)``.
    """
    for u in range(groups.reading_checks.size):
        c, r, y = groups.reading_checks[u], groups.reading_results[u], groups.reading_ys[u]
        for s in range(readings.shape[1]):
            if r >= 0:
                tally.results[c, r, s] += readings[u, s]
            elif isinf(y):
                tally.over[c, s, 1] += readings[u, s]
            else:
                tally.over[c, s, 0] += readings[u, s]
                times, gap = readings[u, s] * share[u, s], y - centre[c, s]
                if times > 0:
                    tally.moments[0, c, s] += times
                    tally.moments[1, c, s] += times * gap
                    tally.moments[2, c, s] += times * gap * gap
