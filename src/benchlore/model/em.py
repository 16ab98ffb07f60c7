"""The two steps of variational expectation–maximisation, on grouped cases.

With ``w = exp E log p`` for every probability, the expectation step is exact: ``Z_j``, the sum over
everything hidden in job ``j`` of the product of its weights, and with it the expected counts. The
maximisation step adds them to the counts from before.
"""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from benchlore.model.cases import Tried
from benchlore.model.em_kernels import (
    Step,
    Tally,
    block_likelihoods,
    count_readings,
    hidden_jobs,
    known_blocks,
    reading_logs,
    readings_seen,
)
from benchlore.model.grouping import Grouped, Tries
from benchlore.model.packed import IntArray
from benchlore.model.parameters import Parameters, Weights, band_logs, parameters_of, ties
from benchlore.model.retests import uncured_chances
from benchlore.model.values import FloatArray, Model


class Fixed(NamedTuple):
    """What stays as it is while learning.

    ``uncured`` ``(T, F)``: the chance of what each try's retest showed, if its board is not cured.
    """

    groups: Grouped
    before: Parameters
    bands: FloatArray
    slip: FloatArray
    uncured: FloatArray
    state_counts: IntArray


class Expected(NamedTuple):
    """Expected counts of one step, shaped as in :class:`Parameters`; ``moments`` ``(3, C, S)`` of numbers."""

    log_likelihood: float
    impossible: float
    prior: FloatArray
    states: FloatArray
    results: FloatArray
    cures: FloatArray
    over: FloatArray
    moments: FloatArray


def fixed_of(models: Sequence[Model], groups: Grouped) -> Fixed:
    """Return what stays as it is while the models learn from grouped cases.

    Confirmed faults are known, so their counts belong to the prior from the start.
    """
    model, before = models[0], parameters_of(models)
    slip = np.ones((len(model.checks), 3))
    for c, check in enumerate(model.checks):
        if (d := check.densities) is not None:
            slip[c] = d.slip_mean, d.slip_sd, d.slip
    return Fixed(
        groups=groups,
        before=before._replace(prior=before.prior + groups.confirmed),
        bands=band_logs(model),
        slip=slip,
        uncured=_uncured(models, groups.tries),
        state_counts=np.array([rows.shape[1] for rows in model.states], dtype=np.int64),
    )


def _uncured(models: Sequence[Model], tries: Tries) -> FloatArray:
    chances = np.empty((len(tries.fixes), len(models[0].faults)))
    for m, model in enumerate(models):
        mine = tries.complaints == m
        chances[mine] = uncured_chances(model, tries.outcomes[mine], tries.soaked[mine])
    return chances


def expect(fixed: Fixed, weights: Weights) -> Expected:
    """Do the expectation step: the counts to expect in the cases under ``weights``."""
    groups, tally = fixed.groups, _empty_tally(fixed)
    likelihoods, highs, share = _block_likelihoods(fixed, weights)
    factors, cured = _attempt_factors(weights.cures, fixed)
    step = Step(weights.prior, weights.states, factors, likelihoods, highs)
    tried, log_tried, impossible_attempts = _known_attempts(groups, factors)
    known, impossible_blocks = known_blocks(groups, step, tally)
    hidden, impossible_jobs = hidden_jobs(groups, step, tally)
    readings = np.zeros_like(share)
    readings_seen(groups, tally.seen, readings)
    count_readings(groups, readings, share, fixed.before.normal[0], tally)
    return Expected(
        log_likelihood=known + log_tried + hidden,
        impossible=impossible_blocks + impossible_attempts + impossible_jobs,
        prior=tally.prior,
        states=tally.states,
        results=tally.results,
        cures=_cure_counts(tried + tally.tried, cured, fixed),
        over=tally.over,
        moments=tally.moments,
    )


def _empty_tally(fixed: Fixed) -> Tally:
    before = fixed.before
    return Tally(
        prior=np.zeros_like(before.prior),
        states=np.zeros_like(before.states),
        seen=np.zeros((len(fixed.groups.block_conditions), before.states.shape[1])),
        tried=np.zeros_like(fixed.groups.known_attempts),
        results=np.zeros_like(before.results),
        over=np.zeros_like(before.over),
        moments=np.zeros((3, *before.normal.shape[1:])),
    )


def _block_likelihoods(fixed: Fixed, weights: Weights) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return each block's likelihood over its largest ``(B, S)``, the log of that ``(B,)``, and the share
    of each reading that is no blunder ``(U, S)``.
    """  # noqa: D205  one sentence
    groups, depth = fixed.groups, fixed.before.states.shape[1]
    logs = np.zeros((len(groups.reading_checks), depth))
    share = np.zeros_like(logs)
    reading_logs(groups, weights, fixed.slip, logs, share)
    likelihoods, highs = (
        np.empty((len(groups.block_conditions), depth)),
        np.empty(len(groups.block_conditions)),
    )
    block_likelihoods(groups, fixed.state_counts, logs, likelihoods, highs)
    return likelihoods, highs, share


def _attempt_factors(cures: FloatArray, fixed: Fixed) -> tuple[FloatArray, FloatArray]:
    """Return the likelihood of each try's outcome, and its share with a cure, ``(T, F)``."""
    tries = fixed.groups.tries
    stays = cures[tries.fixes, :, 1] * fixed.uncured
    cured = np.where((tries.outcomes == Tried.PASSED)[:, None], cures[tries.fixes, :, 0], 0.0)
    factors = cured + stays
    share = np.divide(cured, factors, out=np.zeros_like(factors), where=factors > 0)
    return factors, share


def _known_attempts(groups: Grouped, factors: FloatArray) -> tuple[FloatArray, float, float]:
    """Return the tries in confirmed jobs ``(T, F)``, their log-likelihood, and how many cannot be."""
    possible = factors > 0
    tried = np.where(possible, groups.known_attempts, 0.0)
    logs = np.log(np.where(possible, factors, 1.0))
    return tried, float((tried * logs).sum()), float((groups.known_attempts - tried).sum())


def _cure_counts(tried: FloatArray, cured: FloatArray, fixed: Fixed) -> FloatArray:
    """Turn counts of tries into counts of [cured, not cured], ``(A, F, 2)``."""
    counts = np.zeros_like(fixed.before.cures)
    np.add.at(counts, fixed.groups.tries.fixes, np.stack([tried * cured, tried * (1 - cured)], axis=-1))
    return counts


def maximise(before: Parameters, expected: Expected) -> Parameters:
    """Do the maximisation step: add the expected counts to those from before."""
    mean, kappa, shape, scale = before.normal
    same = ties(before)
    times, total, squares = np.einsum("kcs,cst->kct", expected.moments, same)
    over = np.einsum("csj,cst->ctj", expected.over, same)
    after = kappa + times
    safe = np.where(after > 0, after, 1.0)
    live = before.results.any(axis=1, keepdims=True)
    return Parameters(
        prior=before.prior + np.where(before.prior > 0, expected.prior, 0.0),
        states=before.states + expected.states,
        results=before.results + np.where(live, expected.results, 0.0),
        cures=before.cures + expected.cures,
        normal=np.array(
            [mean + total / safe, after, shape + times / 2, scale + (squares - total**2 / safe) / 2]
        ),
        over=before.over + np.where(before.over.any(axis=2, keepdims=True), over, 0.0),
    )
