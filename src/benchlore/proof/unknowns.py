"""How what a procedure costs hangs on one thing that is not known well.

Costs of choices are affine in every row of probabilities, because each check and each fix is used once on the
way to a state. So a few features of an unknown say all: ``docs/proof.md``, "Sensitivity", derives it.

``J`` choices of a pool, ``K`` draws, ``d`` features of an unknown.
"""

from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np
from scipy.sparse import csr_array

from benchlore.model import FloatArray
from benchlore.procedure import Instance
from benchlore.procedure.arrays import Arrays, IntArray
from benchlore.procedure.pool import (
    Pool,
    Weights,
    cheapest,
    costs_by_fault,
    followed,
    slips_of,
    weights_of,
)
from benchlore.procedure.walk import whole
from benchlore.proof.drawn import Drawn

LEAST: Final = 1e-4
"""Worth, as a share of the procedure's cost, below which an unknown is not worked out."""

SAVES: Final = 1e-9
"""A saving of less than this is rounding."""


@dataclass(frozen=True, eq=False)
class Unknown:
    """How the choices' costs hang on an unknown: ``const (J,)`` plus ``coefficients (J, d)`` times features.

    ``mean (d,)`` are the features under the model.
    """

    const: FloatArray
    coefficients: csr_array
    mean: FloatArray

    def costs(self, features: FloatArray) -> FloatArray:
        """The choices' costs under rows of features, ``(n, J)``."""
        costs: FloatArray = self.const + (self.coefficients @ features.T).T
        return np.ascontiguousarray(costs)


@dataclass(frozen=True, eq=False)
class Basis:
    """The pool under the model, prepared to be asked about any unknown."""

    pool: Pool
    instance: Instance

    @cached_property
    def arrays(self) -> Arrays:
        """The whole instance's arrays."""
        return whole(self.instance)

    @cached_property
    def by_fault(self) -> FloatArray:
        """The choices' costs, split by fault, ``(J, F)``."""
        return costs_by_fault(self.pool, self.arrays, self._weights)

    @cached_property
    def seen(self) -> FloatArray:
        """Likelihood of the readings before each choice, ``(J, G, S)``."""
        return self._weights.seen[self.pool.state]

    @cached_property
    def faults(self) -> FloatArray:
        """``P(state, fault)`` where each choice stands, ``(J, F)``."""
        return self._weights.faults[self.pool.state]

    @cached_property
    def now(self) -> IntArray:
        """The choices of the mixture that is cheapest by present knowledge."""
        costs = self.by_fault.sum(axis=1)
        return followed(self.pool, cheapest(self.pool, costs).chosen[0])

    @cached_property
    def least(self) -> float:
        """The worth below which an unknown is not worked out."""
        return LEAST * float(self.by_fault[self.now].sum())

    def savings(self, unknown: Unknown, features: FloatArray) -> tuple[FloatArray, IntArray]:
        """What choosing anew saves under rows of features ``(n,)``, and the choices ``(n, N)``."""
        found = cheapest(self.pool, unknown.costs(features))
        const, slope = self.affine(unknown, self.now)
        saved = const + features @ slope - found.expected
        return np.asarray(np.where(saved > SAVES, saved, 0.0), dtype=np.float64), found.chosen

    def affine(self, unknown: Unknown, choices: IntArray) -> tuple[float, FloatArray]:
        """The cost of a policy as a function of the features: a constant and a slope ``(d,)``."""
        slope = np.asarray(unknown.coefficients[choices].sum(axis=0), dtype=np.float64).ravel()
        return float(unknown.const[choices].sum()), slope

    @cached_property
    def _weights(self) -> Weights:
        return weights_of(self.pool, self.arrays)


def frequencies(basis: Basis) -> Unknown:
    """The faults' probabilities; the features are ``P(f)``."""
    prior = basis.arrays.prior
    share = np.where(prior > 0, basis.by_fault / np.where(prior > 0, prior, 1.0), 0.0)
    return Unknown(np.zeros(len(share)), csr_array(share), prior)


def cure(basis: Basis, name: str, fault: int) -> Unknown:
    """The chance that a fix does not cure a fault, the one feature; the same with every soak."""
    pool, arrays = basis.pool, basis.arrays
    checks = len(arrays.condition)
    variants = [a for a, option in enumerate(basis.instance.fixes) if option.name == name]
    missed = float(arrays.missed[variants[0], fault])
    tried = np.any(pool.done[:, [checks + a for a in variants]] >= 0, axis=1)[pool.state]
    slope = np.where(tried, basis.by_fault[:, fault], 0.0)
    trying = np.flatnonzero(np.isin(pool.action, [checks + a for a in variants]))
    slips = slips_of(arrays)[pool.action[trying] - checks, fault]
    slope[trying] = arrays.comeback * slips * basis.faults[trying, fault]
    const = basis.by_fault.sum(axis=1) - slope
    return Unknown(const, csr_array((slope / missed)[:, None]), np.array([missed]))


class Readings:
    """How costs hang on one check's rows and, for one fault, on its condition's row.

    For a choice after result ``r`` of the check the cost is ``sum_s z_s (u_s phi[s, r] + v M[s, r])``. Here
    ``phi`` is ``P(r | s)``, ``M`` the expectation of ``P(s | fault) phi``, ``z`` the likelihood of the
    condition's other readings, ``u`` what the other faults bring, ``v`` the fault's weight. After other
    readings of the condition it is a constant plus ``sum_s P(s | fault) z_s v``. The features are ``phi``,
    ``M`` and ``P(s | fault)``, flat.
    """

    def __init__(self, basis: Basis, check: int) -> None:
        arrays, pool = basis.arrays, basis.pool
        self._check = check
        self.condition = int(arrays.condition[check])
        self._rows, self._shows = arrays.table[self.condition], arrays.shows[check]
        self._cost = basis.by_fault.sum(axis=1)
        result = pool.done[pool.state, check]
        read = np.any(
            pool.done[:, : len(arrays.condition)][:, arrays.condition == self.condition] >= 0, axis=1
        )
        self._after = np.flatnonzero(result >= 0)
        self._beside = np.flatnonzero((result < 0) & read[pool.state])
        self._result = result[self._after]
        seen = basis.seen[:, self.condition]
        shown = self._shows[:, self._result].T
        self._others = np.where(shown > 0, seen[self._after] / np.where(shown > 0, shown, 1.0), 0.0)
        self._seen = seen[self._beside]
        self._weight_after = _per_likelihood(basis.by_fault[self._after], seen[self._after] @ self._rows.T)
        self._weight_beside = _per_likelihood(basis.by_fault[self._beside], self._seen @ self._rows.T)
        self._by_fault_beside = basis.by_fault[self._beside]
        self._brought = self._weight_after @ self._rows

    def features(self, drawn: Drawn, fault: int) -> FloatArray:
        """The features of each draw, ``(K, d)``."""
        rows, shows = drawn.table[:, self.condition, fault], drawn.shows[:, self._check]
        both = rows[:, :, None] * shows
        return np.concatenate([shows.reshape(len(rows), -1), both.reshape(len(rows), -1), rows], axis=1)

    def slopes(self) -> FloatArray:
        """How the cost of all choices together hangs on ``P(r | s)``, with any fault, ``(S, R)``."""
        slopes = np.zeros(self._shows.shape)
        np.add.at(slopes.T, self._result, self._others * self._brought)
        return slopes

    def unknown(self, fault: int) -> Unknown:
        """The check's readings on boards with a fault."""
        states, results = self._shows.shape
        row = self._rows[fault]
        weight = self._weight_after[:, fault]
        brought = self._others * (self._brought - weight[:, None] * row)
        beside = self._seen * self._weight_beside[:, fault][:, None]
        state = np.arange(states)
        columns = state * results + self._result[:, None]
        parts = (
            (self._after, columns, brought),
            (self._after, columns + states * results, self._others * weight[:, None]),
            (self._beside, np.broadcast_to(2 * states * results + state, beside.shape), beside),
        )
        const = self._cost.copy()
        const[self._after] = 0.0
        const[self._beside] -= self._by_fault_beside[:, fault]
        both = row[:, None] * self._shows
        return Unknown(
            const,
            csr_array(
                (
                    np.concatenate([values.ravel() for _, _, values in parts]),
                    (
                        np.concatenate([np.repeat(rows, states) for rows, _, _ in parts]),
                        np.concatenate([columns.ravel() for _, columns, _ in parts]),
                    ),
                ),
                shape=(len(const), 2 * states * results + states),
            ),
            np.concatenate([self._shows.ravel(), both.ravel(), row]),
        )


def slopes_of_states(basis: Basis, condition: int) -> FloatArray:
    """How the cost of all choices together hangs on ``P(s | f)`` of a condition, ``(F, S)``.

    Where the condition was not read the states' shares sum to one, so they do not matter there.
    """
    arrays, pool = basis.arrays, basis.pool
    readers = np.flatnonzero(arrays.condition == condition)
    rows = np.flatnonzero(np.any(pool.done[:, readers] >= 0, axis=1)[pool.state])
    seen = basis.seen[rows, condition]
    weight = _per_likelihood(basis.by_fault[rows], seen @ arrays.table[condition].T)
    slopes: FloatArray = weight.T @ seen
    return slopes


def _per_likelihood(by_fault: FloatArray, likelihood: FloatArray) -> FloatArray:
    """Costs without what the condition's readings say of each fault; 0 where they exclude it."""
    per: FloatArray = np.where(likelihood > 0, by_fault / np.where(likelihood > 0, likelihood, 1.0), 0.0)
    return per
