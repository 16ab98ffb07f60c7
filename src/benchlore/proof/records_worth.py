"""What more records of one unknown would be worth: the expected value of sample information, nearly exact.

The expected cost of following a procedure is affine in every row of probabilities (each check and each fix
is used once on the way), and rows are independent. So what a procedure costs, given records of one row, is
its cost under the model with that row's expectation in place, and the preposterior analysis of Raiffa &
Schlaifer (1961, "Applied statistical decision theory", chapter 4) can be done outcome by outcome, without
regression on costs. ``docs/proof.md``, "Sensitivity", derives it.

``J`` choices of a pool, ``K`` draws, ``d`` features of an unknown, ``n`` outcomes of its records.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from math import lgamma
from typing import Final, Literal, TypeAlias

import numpy as np
from scipy.sparse import csr_array
from scipy.stats import betabinom

from benchlore.model import FloatArray, Model
from benchlore.procedure.arrays import Arrays, IntArray
from benchlore.procedure.instance import Instance
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
from benchlore.proof.estimate import Estimate
from benchlore.proof.work import Run

Of: TypeAlias = Literal["check", "fix", "faults"]

KNOWN: Final = 1e-3
"""A probability whose standard deviation is below this is as good as known: it is not looked at."""

LEAST: Final = 1e-4
"""Worth, as a share of the procedure's cost, below which an unknown is not worked out."""

SAVES: Final = 1e-9
"""A saving of less than this is rounding."""

MASS: Final = 0.995
"""Share of the outcomes' probability that is worked out, the most probable outcomes first."""

REPEATS: Final = 2
"""Outcomes of records of the faults' frequencies simulated for each draw."""

TWO_SIDED: Final = 1.959963984540054
"""Standard errors on either side of an interval at the level of ``Estimate``."""


@dataclass(frozen=True, slots=True)
class RecordsWorth:
    """What so many ``records`` are ``worth`` a job, in the shop's currency.

    ``of`` says of what: readings of the check ``action`` on boards with ``fault``; tries of the fix
    ``action`` on boards with ``fault``; or boards with a confirmed fault (``action`` and ``fault`` are then
    ``""``).
    """

    of: Of
    action: str
    fault: str
    records: int
    worth: Estimate


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
        saved: FloatArray = const + features @ slope - found.expected
        saved[saved <= SAVES] = 0.0
        return saved, found.chosen

    def affine(self, unknown: Unknown, choices: IntArray) -> tuple[float, FloatArray]:
        """The cost of a policy as a function of the features: a constant and a slope ``(d,)``."""
        slope: FloatArray = np.asarray(unknown.coefficients[choices].sum(axis=0)).ravel()
        return float(unknown.const[choices].sum()), slope

    @cached_property
    def _weights(self) -> Weights:
        return weights_of(self.pool, self.arrays)


@dataclass(frozen=True, eq=False)
class _Task:
    """One check, or all fixes and the faults' frequencies where ``check`` is ``None``."""

    model: Model
    instance: Instance
    pool: Pool
    drawn: Drawn
    records: int
    seed: np.random.SeedSequence
    check: int | None


def records_worth(
    model: Model,
    instance: Instance,
    pool: Pool,
    drawn: Drawn,
    records: int,
    seed: np.random.SeedSequence,
    run: Run,
) -> list[RecordsWorth]:
    """What so many records of each unknown are worth; 0 where that is too little to be worked out."""
    checks = [c for c in instance.open_checks if np.any(pool.done[:, c] >= 0)]
    tasks = [_Task(model, instance, pool, drawn, records, seed, check) for check in (None, *checks)]
    return [one for some in run(_looked_at, tasks) for one in some]


def _looked_at(task: _Task) -> list[RecordsWorth]:
    basis, model = Basis(task.pool, task.instance), task.model
    if task.check is not None:
        name = task.instance.checks[task.check].name
        return [
            RecordsWorth("check", name, model.faults[fault], task.records, worth)
            for fault, worth in check_records(basis, task.check, task.drawn, task.records)
        ]
    rng = np.random.default_rng(task.seed)
    boards = fault_records(basis, model, task.drawn, task.records, rng)
    found = [RecordsWorth("faults", "", "", task.records, boards)]
    usable = {task.instance.fixes[a].name for a in task.instance.open_fixes}
    for a, fix in enumerate(model.fixes):
        for fault, name in enumerate(model.faults) if fix.name in usable else ():
            worth = fix_records(basis, model, a, fault, task.records)
            if worth is not None:
                found.append(RecordsWorth("fix", fix.name, name, task.records, worth))
    return found


def fault_records(
    basis: Basis, model: Model, drawn: Drawn, records: int, rng: np.random.Generator
) -> Estimate:
    """What records of so many confirmed boards are worth: how often each fault is the cause.

    Outcomes are simulated; each saves what it saves, so the mean is unbiased.
    """
    unknown = frequencies(basis)
    counts = rng.multinomial(records, np.repeat(drawn.prior, REPEATS, axis=0))
    features = (model.prior + counts) / (model.prior.sum() + records)
    savings, _ = basis.savings(unknown, features)
    return mean_with_error(savings.reshape(-1, REPEATS).mean(axis=1))


def frequencies(basis: Basis) -> Unknown:
    """The faults' probabilities; the features are ``P(f)``."""
    prior = basis.arrays.prior
    share = np.where(prior > 0, basis.by_fault / np.where(prior > 0, prior, 1.0), 0.0)
    return Unknown(np.zeros(len(share)), csr_array(share), prior)


def fix_records(basis: Basis, model: Model, fix: int, fault: int, records: int) -> Estimate | None:
    """What so many tries of a model's fix on boards with a fault are worth; ``None``: as good as known.

    The outcomes are beta-binomial, all of them are worked out, and the figure has no sampling error.
    """
    cured, missed = model.fixes[fix].cures[fault].tolist()
    if min(cured, missed) <= 0 or basis.arrays.prior[fault] <= 0:
        return None
    total = cured + missed
    if cured * missed / (total * total * (total + 1)) < KNOWN**2:
        return None
    counts = np.arange(records + 1)
    chances = betabinom.pmf(counts, records, cured, missed)
    features = ((missed + records - counts) / (total + records))[:, None]
    savings, _ = basis.savings(cure(basis, model.fixes[fix].name, fault), features)
    worth = float(chances @ savings)
    return Estimate(worth, worth, worth)


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


def check_records(basis: Basis, check: int, drawn: Drawn, records: int) -> Iterator[tuple[int, Estimate]]:
    """What so many readings of a check on boards with each fault are worth, where they are not known yet.

    The state behind a reading is hidden, so what is believed after an outcome is the mean of the draws,
    weighted by how well each foretold it. The policy for each outcome is chosen by one half of the draws and
    scored on the other, and the other way round.
    """
    readings = Readings(basis, check)
    for fault in np.flatnonzero(basis.arrays.prior > 0).tolist():
        features = readings.features(drawn, fault)
        results = np.einsum("ks,ksr->kr", drawn.table[:, readings.condition, fault], drawn.shows[:, check])
        if results.std(axis=0).max() < KNOWN:
            continue
        yield fault, _crossed(basis, readings.unknown(fault), features, results, records)


def _crossed(
    basis: Basis, unknown: Unknown, features: FloatArray, results: FloatArray, records: int
) -> Estimate:
    """Choose on one half of the draws, score on the other; 0 where no outcome could save enough."""
    live = results.max(axis=0) > 0
    extremes = records * np.eye(int(live.sum()), dtype=np.int64)
    likely = _likelihoods(extremes, results[:, live])
    savings, _ = basis.savings(unknown, _weighted(likely, features))
    # The saving is convex in the features: what lies between the extremes saves no more than they do.
    if float(results[:, live].mean(axis=0) @ savings) < basis.least:
        return Estimate(0.0, 0.0, 0.0)
    outcomes = _compositions(records, int(live.sum()))
    likely = _likelihoods(outcomes, results[:, live])
    likely = likely[_most_probable(likely.mean(axis=1))]
    saved = np.zeros(len(features))
    even = np.arange(len(features)) % 2 == 0
    for half in (even, ~even):
        saved[~half] = _scored(basis, unknown, features, likely, half)
    return mean_with_error(saved)


def _scored(
    basis: Basis, unknown: Unknown, features: FloatArray, likely: FloatArray, half: IntArray
) -> FloatArray:
    """What each draw outside a half saves by what that half would choose."""
    savings, chosen = basis.savings(unknown, _weighted(likely[:, half], features[half]))
    const, slope = basis.affine(unknown, basis.now)
    scored = features[~half]
    saved = np.zeros(len(scored))
    known: dict[bytes, tuple[float, FloatArray]] = {}  # neighbouring outcomes often choose alike
    for outcome in np.flatnonzero(savings).tolist():
        choices = followed(basis.pool, chosen[outcome])
        key = choices.tobytes()
        if key not in known:
            known[key] = basis.affine(unknown, choices)
        other, tilt = known[key]
        saved += likely[outcome, ~half] * (const - other + scored @ (slope - tilt))
    return saved


def _weighted(likely: FloatArray, features: FloatArray) -> FloatArray:
    """The features' expectation after each outcome, ``(n, d)``; where no draw foretold one, before it."""
    total = likely.sum(axis=1, keepdims=True)
    weights = np.where(total > 0, likely / np.where(total > 0, total, 1.0), 1 / likely.shape[1])
    expected: FloatArray = weights @ features
    return expected


def _likelihoods(outcomes: IntArray, results: FloatArray) -> FloatArray:
    """Multinomial probability of each outcome under each draw, ``(n, K)``."""
    ways = np.array([lgamma(row.sum() + 1) - sum(lgamma(k + 1) for k in row) for row in outcomes])
    logs = np.log(np.maximum(results, 1e-300))
    likely: FloatArray = np.exp(ways[:, None] + outcomes @ logs.T)
    return likely


def _compositions(records: int, results: int) -> IntArray:
    """All ways to share records among results, ``(n, R)``."""
    if results == 1:
        return np.array([[records]])
    rows = [
        np.column_stack([np.full(len(rest), first), rest])
        for first in range(records + 1)
        for rest in [_compositions(records - first, results - 1)]
    ]
    return np.concatenate(rows)


def _most_probable(chances: FloatArray) -> IntArray:
    order = np.argsort(-chances, kind="stable")
    count = int(np.searchsorted(np.cumsum(chances[order]), MASS * chances.sum())) + 1
    kept: IntArray = order[:count]
    return kept


def mean_with_error(saved: FloatArray) -> Estimate:
    """A mean with its normal interval (central limit theorem)."""
    mean = float(saved.mean())
    error = float(saved.std(ddof=1)) / len(saved) ** 0.5
    return Estimate(mean, mean - TWO_SIDED * error, mean + TWO_SIDED * error)


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


def _per_likelihood(by_fault: FloatArray, likelihood: FloatArray) -> FloatArray:
    """Costs without what the condition's readings say of each fault; 0 where they exclude it."""
    per: FloatArray = np.where(likelihood > 0, by_fault / np.where(likelihood > 0, likelihood, 1.0), 0.0)
    return per
