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
from benchlore.proof.groups_kernels import states_shared, together

MOST_COUNTS: Final = 10_000
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
    evidence, states = states_shared(np.ascontiguousarray(logs), alpha, MOST_COUNTS)
    return Shared(float(evidence), states)


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
    sizes = np.array([len(alpha) for alpha in alphas], dtype=np.int64)
    shape = (len(logs), len(alphas), int(sizes.max(initial=1)))
    table, read, counts = np.zeros(shape), np.zeros(shape[:2], dtype=np.bool_), np.zeros(shape[1:])
    for g, alpha in enumerate(alphas):
        counts[g, : sizes[g]] = alpha
        for j, one in enumerate(logs):
            if (row := one[g]) is not None:
                table[j, g, : sizes[g]], read[j, g] = row, True

    def evidence(members: Members) -> float:
        return float(together(table, read, counts, sizes, np.array(members, dtype=np.int64), MOST_COUNTS))

    return evidence
