"""The compiled part of the evidence for a shared fault; ``groups`` has the formulas."""

from math import exp, inf, lgamma, log

import numba
import numpy as np

from benchlore.model import FloatArray
from benchlore.model.packed import BoolArray, IntArray


@numba.njit(cache=True)
def together(
    logs: FloatArray, read: BoolArray, alphas: FloatArray, sizes: IntArray, members: IntArray, most: int
) -> float:
    """``log P(readings of the members | one fault)``.

    ``logs`` ``(J, G, S)`` are log-likelihoods of states where ``read`` ``(J, G)``; ``alphas`` ``(G, S)``;
    condition ``g`` has ``sizes[g]`` states.
    """
    total = 0.0
    for g in range(sizes.size):
        rows = np.empty((members.size, sizes[g]))
        count = 0
        for j in members:
            if read[j, g]:
                rows[count] = logs[j, g, : sizes[g]]
                count += 1
        if count:
            total += states_shared(rows[:count], alphas[g, : sizes[g]], most)[0]
    return total


@numba.njit(cache=True)
def states_shared(logs: FloatArray, alpha: FloatArray, most: int) -> tuple[float, FloatArray]:
    """Return ``log Z`` of boards ``(N, S)`` and the mean of the states' probabilities ``(S,)``.

    Exact while at most ``most`` counts are to be added up, else by filtering.
    """
    live = np.flatnonzero(alpha > 0)
    boards, counts = logs.shape[0], alpha[live]
    likelihoods, offset = np.empty((boards, live.size)), 0.0
    for j in range(boards):
        row = logs[j][live]
        high = row.max()
        if high == -inf:
            return -inf, alpha / alpha.sum()
        likelihoods[j] = np.exp(row - high)
        offset += high
    mean = np.zeros(alpha.size)
    if float(boards + 1) ** (live.size - 1) <= most:
        evidence, known = _counted(likelihoods, counts)
    else:
        evidence, known = _filtered(likelihoods, counts)
    mean[live] = known
    return evidence + offset, mean


@numba.njit(cache=True)
def _counted(likelihoods: FloatArray, alpha: FloatArray) -> tuple[float, FloatArray]:
    """Add up over all counts."""
    boards, states = likelihoods.shape
    coefficients, rising, total = _coefficients(likelihoods), _rising(alpha, boards), alpha.sum()
    high, sum_of, mean = -inf, 0.0, np.zeros(states)
    digits = np.empty(states, dtype=np.int64)
    for place in range(coefficients.size):
        if coefficients[place] <= 0:
            continue
        _read_off(place, boards, digits)
        weight = log(coefficients[place])
        for s in range(states):
            weight += rising[s, digits[s]]
        if weight > high:
            shrink = exp(high - weight)
            sum_of *= shrink
            mean *= shrink
            high = weight
        share = exp(weight - high)
        sum_of += share
        mean += share * (alpha + digits)
    evidence = high + log(sum_of) + lgamma(total) - lgamma(total + boards)
    return evidence, mean / sum_of / (total + boards)


@numba.njit(cache=True)
def _coefficients(likelihoods: FloatArray) -> FloatArray:
    """``e_n`` in one row: counts of all states but the last are the digits of a place, to the base N + 1."""
    boards, states = likelihoods.shape
    base = boards + 1
    coefficients = np.zeros(base ** (states - 1))
    coefficients[0] = 1.0
    for j in range(boards):
        for place in range(coefficients.size - 1, -1, -1):
            value, stride = coefficients[place] * likelihoods[j, states - 1], 1
            for s in range(states - 1):
                # where the digit is zero this borrows from one that is full, which no board has yet filled
                if place >= stride:
                    value += coefficients[place - stride] * likelihoods[j, s]
                stride *= base
            coefficients[place] = value
    return coefficients


@numba.njit(cache=True)
def _rising(alpha: FloatArray, boards: int) -> FloatArray:
    """``log Gamma(alpha_s + k) / Gamma(alpha_s)``, shape ``(S, N + 1)``."""
    rising = np.zeros((alpha.size, boards + 1))
    for s in range(alpha.size):
        for k in range(boards + 1):
            rising[s, k] = lgamma(alpha[s] + k) - lgamma(alpha[s])
    return rising


@numba.njit(cache=True)
def _read_off(place: int, boards: int, digits: IntArray) -> None:
    """Fill in the counts of all states that a place stands for; the last state has what is left."""
    rest, left = place, boards
    for s in range(digits.size - 1):
        digits[s] = rest % (boards + 1)
        rest //= boards + 1
        left -= digits[s]
    digits[digits.size - 1] = left


@numba.njit(cache=True)
def _filtered(likelihoods: FloatArray, alpha: FloatArray) -> tuple[float, FloatArray]:
    """Take the boards in turn; the belief stays a Dirichlet with its mean and summed second moment."""
    counts, evidence = alpha.copy(), 0.0
    for j in range(likelihoods.shape[0]):
        total, joint = counts.sum(), counts * likelihoods[j]
        evidence += log(joint.sum() / total)
        share = joint / joint.sum()
        mean = (counts + share) / (total + 1)
        second = (counts + 1) * (counts + 2 * share) / ((total + 1) * (total + 2))
        spread = (second - mean**2).sum()
        counts = mean * ((mean - second).sum() / spread if spread > 0 else total + 1)
    return evidence, counts / counts.sum()
