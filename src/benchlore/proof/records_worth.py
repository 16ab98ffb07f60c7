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
from math import lgamma
from typing import Final, Literal, TypeAlias

import numpy as np
from scipy.special import betaln

from benchlore.jobs import UNLISTED
from benchlore.model import FloatArray, Model
from benchlore.procedure.arrays import IntArray
from benchlore.procedure.instance import Instance
from benchlore.procedure.pool import (
    Pool,
    followed,
)
from benchlore.proof.drawn import Drawn
from benchlore.proof.estimate import Estimate
from benchlore.proof.unknowns import Basis, Readings, Unknown, cure, frequencies
from benchlore.proof.work import Run

Of: TypeAlias = Literal["check", "fix", "faults"]

KNOWN: Final = 1e-3
"""A probability whose standard deviation is below this is as good as known: it is not looked at."""

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
        for fault in _recordable(task.instance) if fix.name in usable else ():
            worth = fix_records(basis, model, a, fault, task.records)
            if worth is not None:
                found.append(RecordsWorth("fix", fix.name, model.faults[fault], task.records, worth))
    return found


def _recordable(instance: Instance) -> list[int]:
    """Faults that a board can be confirmed to have: ``unlisted`` stands for many."""
    return [f for f, name in enumerate(instance.faults) if name != UNLISTED and instance.prior[f] > 0]


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


def fix_records(basis: Basis, model: Model, fix: int, fault: int, records: int) -> Estimate | None:
    """What so many tries of a model's fix on boards with a fault are worth; ``None``: as good as known.

    The outcomes are beta-binomial, all of them are worked out, and the figure has no sampling error.
    """
    cured, missed = model.fixes[fix].cures[fault].tolist()
    if min(cured, missed) <= 0:
        return None
    total = cured + missed
    if cured * missed / (total * total * (total + 1)) < KNOWN**2:
        return None
    counts = np.arange(records + 1)
    ways = -np.log1p(records) - betaln(records - counts + 1, counts + 1)
    chances = np.exp(ways + betaln(counts + cured, records - counts + missed) - betaln(cured, missed))
    features = ((missed + records - counts) / (total + records))[:, None]
    savings, _ = basis.savings(cure(basis, model.fixes[fix].name, fault), features)
    worth = float(chances @ savings)
    return Estimate(worth, worth, worth)


def check_records(basis: Basis, check: int, drawn: Drawn, records: int) -> Iterator[tuple[int, Estimate]]:
    """What so many readings of a check on boards with each fault are worth, where they are not known yet.

    The state behind a reading is hidden, so what is believed after an outcome is the mean of the draws,
    weighted by how well each foretold it. The policy for each outcome is chosen by one half of the draws and
    scored on the other, and the other way round.
    """
    readings = Readings(basis, check)
    for fault in _recordable(basis.instance):
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
