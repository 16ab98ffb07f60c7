"""Boards that share a fault nobody knows: how probable their readings are together, and which do share one.

A new fault has unknown probabilities ``theta`` of a condition's states, Dirichlet with counts ``alpha``.
Boards with it are independent given ``theta``, with readings of probability ``l[j, s]`` in state ``s``, so
together

``Z = sum_n DM(n | alpha) e_n``,  ``e_n = [z^n] prod_j sum_s l[j, s] z_s``,

where ``n`` are counts of states, ``DM(n | alpha) = Gamma(A) / Gamma(A + N) prod_s Gamma(alpha_s + n_s) /
Gamma(alpha_s)`` is the probability of one sequence of states with those counts, and ``e_n``, the sum over
all assignments of states with those counts, is a coefficient of a polynomial. That is exact, and polynomial
in the number of boards.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache
from itertools import combinations
from typing import Final, TypeAlias

import numpy as np
from scipy.special import gammaln

from benchlore.model import FloatArray

MOST_COUNTS: Final = 200_000
"""Count vectors up to which the sum is exact."""

Members: TypeAlias = tuple[int, ...]


@dataclass(frozen=True, eq=False)
class Shared:
    """``log_evidence`` is ``log Z``, ``states`` ``(S,)`` the mean of ``theta`` after the readings."""

    log_evidence: float
    states: FloatArray


def shared(logs: FloatArray, alpha: FloatArray) -> Shared:
    """Return what boards say together about one condition.

    Parameters
    ----------
    logs
        ``(N, S)``, ``log P(readings on the condition | state)`` of each board.
    alpha
        ``(S,)``, the counts of ``theta``; a state with count zero cannot be.

    Returns
    -------
    Shared
        Exact while there are at most ``MOST_COUNTS`` vectors of counts; beyond, boards are taken one after
        the other, and the belief about ``theta`` after each is replaced by a Dirichlet distribution of equal
        mean and summed second moment (assumed-density filtering: Minka 2001, "A family of algorithms for
        approximate Bayesian inference", chapter 3).
    """
    live = alpha > 0
    logs, counts = logs[:, live], alpha[live]
    high = logs.max(axis=1, keepdims=True, initial=-np.inf)
    if not np.isfinite(high).all():
        return Shared(-np.inf, alpha / alpha.sum())
    exact = (len(logs) + 1) ** (counts.size - 1) <= MOST_COUNTS
    found = (_exactly if exact else _one_by_one)(np.exp(logs - high), counts)
    states = np.zeros_like(alpha)
    states[live] = found.states
    return Shared(found.log_evidence + float(high.sum()), states)


def _exactly(likelihoods: FloatArray, alpha: FloatArray) -> Shared:
    """Sum over all counts; the last state's count is what the others leave."""
    boards, states = likelihoods.shape
    if states == 1:
        return Shared(0.0, np.ones(1))
    coefficients = np.zeros((boards + 1,) * (states - 1))
    coefficients[(0,) * (states - 1)] = 1.0
    for row in likelihoods:
        after = coefficients * row[-1]
        for s in range(states - 1):
            # no coefficient has as many boards as fit, so nothing comes round
            after += np.roll(coefficients, 1, axis=s) * row[s]
        coefficients = after
    inner = np.indices(coefficients.shape).reshape(states - 1, -1)
    counts = np.vstack([inner, boards - inner.sum(axis=0)]).T
    weights = coefficients.ravel()
    live = (counts[:, -1] >= 0) & (weights > 0)
    counts, weights = counts[live], weights[live]
    total = alpha.sum()
    logs = np.log(weights) + (gammaln(alpha + counts) - gammaln(alpha)).sum(axis=1)
    logs += gammaln(total) - gammaln(total + boards)
    high = float(logs.max())
    share = np.exp(logs - high)
    return Shared(
        high + float(np.log(share.sum())),
        (share / share.sum()) @ (alpha + counts) / (total + boards),
    )


def _one_by_one(likelihoods: FloatArray, alpha: FloatArray) -> Shared:
    """Take the boards in turn; the belief stays a Dirichlet with its mean and summed second moment."""
    counts, log_evidence = alpha.copy(), 0.0
    for row in likelihoods:
        total, joint = counts.sum(), counts * row
        log_evidence += float(np.log(joint.sum() / total))
        share = joint / joint.sum()
        mean = (counts + share) / (total + 1)
        second = (counts + 1) * (counts + 2 * share) / ((total + 1) * (total + 2))
        spread = float((second - mean**2).sum())
        counts = mean * (float((mean - second).sum()) / spread if spread > 0 else total + 1)
    return Shared(log_evidence, counts / counts.sum())


def agglomerate(
    items: int,
    evidence: Callable[[Members], float],
    alike: FloatArray,
    *,
    concentration: float = 1.0,
) -> tuple[Members, ...]:
    """Merge groups while one fault is likelier than two, the pair with the most for it first.

    What speaks for merging is the difference in log evidence, the Chinese-restaurant prior on partitions, and
    the mean of ``alike`` over the pairs that are brought together.

    Parameters
    ----------
    items
        How many there are.
    evidence
        ``log P(readings of the members | they share one fault)``.
    alike
        ``(items, items)``, log Bayes factors of other evidence that two of them belong together.
    concentration
        Of the Chinese-restaurant process: the larger, the more groups.
    """
    groups: list[Members] = [(j,) for j in range(items)]
    remembered = cache(evidence)

    @cache
    def gain(pair: tuple[Members, Members]) -> float:
        first, second = pair
        together, apart = remembered(_union(first, second)), remembered(first) + remembered(second)
        if not np.isfinite([together, apart]).all():
            return -np.inf
        told = float(alike[np.ix_(first, second)].mean())
        return together - apart + _seating(len(first), len(second), concentration) + told

    while len(groups) > 1:
        best = max(combinations(groups, 2), key=gain)
        if not gain(best) > 0:
            break
        groups = sorted([*(group for group in groups if group not in best), _union(*best)])
    return tuple(groups)


def _union(first: Members, second: Members) -> Members:
    return tuple(sorted((*first, *second)))


def _seating(first: int, second: int, concentration: float) -> float:
    """Log prior odds of one group against two: ``Gamma(n + m) / (c Gamma(n) Gamma(m))``."""
    return float(gammaln(first + second) - gammaln(first) - gammaln(second) - np.log(concentration))


def evidence_of(
    logs: Sequence[Sequence[FloatArray | None]], alphas: Sequence[FloatArray]
) -> Callable[[Members], float]:
    """Return the log evidence of any members; ``logs[j][g]`` is ``(S_g,)``, ``None`` where none was read."""

    def evidence(members: Members) -> float:
        return sum(
            shared(np.stack(here), alphas[g]).log_evidence
            for g in range(len(alphas))
            if (here := [row for j in members if (row := logs[j][g]) is not None])
        )

    return evidence
