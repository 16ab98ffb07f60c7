"""The unknowns that the complaints of one board share, as counts in padded arrays, and their expectations.

Every row of counts is a Dirichlet distribution ``D(a)``; entries that are zero are no part of it. Of a number
on the scale ``y`` in state ``s`` mean and precision are normal-gamma with ``mean, kappa, shape, scale``.
"""

from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np
from scipy import special

from benchlore.model.densities import frozen
from benchlore.model.packed import BoolArray
from benchlore.model.values import Densities, FloatArray, Model


class Parameters(NamedTuple):
    """Counts; padded with zeros.

    ``prior`` ``(M, F)``; ``states`` ``(G, S, F)``, rows along ``S``; ``results`` ``(C, R, S)``, rows along
    ``R``, zero for numeric checks; ``cures`` ``(A, F, 2)``; ``normal`` ``(4, C, S)``: mean, kappa, shape,
    scale, zero for named checks; ``over`` ``(C, S, 2)``.
    """

    prior: FloatArray
    states: FloatArray
    results: FloatArray
    cures: FloatArray
    normal: FloatArray
    over: FloatArray


class Weights(NamedTuple):
    """What the expectation step multiplies, below one where a count is small (Beal 2003, section 3.3).

    ``prior`` ``(M, F)``, ``states`` ``(G, S, F)``, ``cures`` ``(A, F, 2)`` are ``exp E log p``; ``results``
    ``(C, R, S)`` and ``over`` ``(C, S, 2)`` are ``E log p``. A number has ``E log N(y) = normal[0] -
    normal[1] (y - normal[2])²``, ``(3, C, S)``.
    """

    prior: FloatArray
    states: FloatArray
    cures: FloatArray
    results: FloatArray
    over: FloatArray
    normal: FloatArray


def parameters_of(models: Sequence[Model]) -> Parameters:
    """Return the counts of models that share everything but their prior."""
    model = models[0]
    checks, faults = model.checks, len(model.faults)
    depth = max((rows.shape[1] for rows in model.states), default=1)
    width = max((check.counts.shape[1] for check in checks), default=1)
    states = np.zeros((len(model.states), depth, faults))
    for g, rows in enumerate(model.states):
        states[g, : rows.shape[1]] = rows.T
    results = np.zeros((len(checks), width, depth))
    normal, over = np.zeros((4, len(checks), depth)), np.zeros((len(checks), depth, 2))
    for c, check in enumerate(checks):
        size, d = check.counts.shape[0], check.densities
        if d is None:
            results[c, : check.counts.shape[1], :size] = check.counts.T
        else:
            normal[:, c, :size] = d.mean, d.kappa, d.shape, d.scale
            over[c, :size] = d.over
    return Parameters(
        prior=np.array([model.prior for model in models]),
        states=states,
        results=results,
        cures=np.array([fix.cures for fix in model.fixes]).reshape(-1, faults, 2),
        normal=normal,
        over=over,
    )


def band_logs(model: Model) -> FloatArray:
    """Return ``log P(band | state)`` of numeric checks, ``(C, R, S)``.

    A band read in place of a number tells of the state and nothing of the densities.
    """
    depth = max((rows.shape[1] for rows in model.states), default=1)
    width = max((check.counts.shape[1] for check in model.checks), default=1)
    logs = np.zeros((len(model.checks), width, depth))
    with np.errstate(divide="ignore"):
        for c, check in enumerate(model.checks):
            if check.densities is not None:
                logs[c, : check.counts.shape[1], : check.counts.shape[0]] = np.log(check.probabilities.T)
    return logs


def weights_of(parameters: Parameters, bands: FloatArray, *, mean: bool = False) -> Weights:
    """Return the weights of an expectation step; with ``mean``, those of plain expectation–maximisation."""
    logs = mean_log if mean else expected_log
    p = parameters
    return Weights(
        prior=np.exp(logs(p.prior, 1)),
        states=np.exp(logs(p.states, 1)),
        cures=np.exp(logs(p.cures, 2)),
        results=np.where(is_numeric(p)[:, None, None], bands, logs(p.results, 1)),
        over=logs(p.over, 2),
        normal=_expected_normal(p.normal),
    )


def is_numeric(parameters: Parameters) -> BoolArray:
    """Tell which checks are numeric, shape ``(C,)``."""
    numeric: BoolArray = parameters.normal[1].any(axis=1)
    return numeric


def expected_log(counts: FloatArray, axis: int) -> FloatArray:
    """``E log p = psi(a) - psi(sum a)`` under a Dirichlet along ``axis``; ``-inf`` where ``a`` is zero."""
    total = counts.sum(axis=axis, keepdims=True)
    logs = special.psi(np.where(counts > 0, counts, 1.0)) - special.psi(np.where(total > 0, total, 1.0))
    return np.where(counts > 0, logs, -np.inf)


def mean_log(counts: FloatArray, axis: int) -> FloatArray:
    """``log E p`` under a Dirichlet along ``axis``; ``-inf`` where the count is zero."""
    total = counts.sum(axis=axis, keepdims=True)
    logs = np.log(np.where(counts > 0, counts, 1.0)) - np.log(np.where(total > 0, total, 1.0))
    return np.where(counts > 0, logs, -np.inf)


def _expected_normal(normal: FloatArray) -> FloatArray:
    """``E log N(y) = ½(psi(a) - log b - log 2π - 1/κ) - ½ (a/b)(y - m)²``, as coefficients ``(3, C, S)``."""
    mean, kappa, shape, scale = np.where(normal[1] > 0, normal, 1.0)
    constant = (special.psi(shape) - np.log(scale) - np.log(2 * np.pi) - 1 / kappa) / 2
    return np.array([constant, shape / scale / 2, mean])


def ties(parameters: Parameters) -> FloatArray:
    """Which states of a check show the same, ``(C, S, S)`` of ones and zeros.

    States whose densities start equal (a book's "like normal") are one density: what is learned of one is
    learned of all, so that chance cannot tell them apart.
    """
    shown = np.concatenate([np.moveaxis(parameters.normal, 0, -1), parameters.over], axis=-1)
    same: FloatArray = (shown[:, :, None] == shown[:, None]).all(axis=-1).astype(np.float64)
    return same


def divergence(posterior: Parameters, prior: Parameters) -> float:
    """Kullback–Leibler divergence of the posterior counts from the prior counts, in nats.

    Of states that show the same, one counts.
    """
    first = ties(prior).argmax(axis=1) == np.arange(prior.over.shape[1])
    rows = (
        (posterior.prior, prior.prior, 1),
        (posterior.states, prior.states, 1),
        (posterior.results, prior.results, 1),
        (posterior.cures, prior.cures, 2),
        (posterior.over[first], prior.over[first], 1),
    )
    normal = _normal_divergence(posterior.normal[:, first], prior.normal[:, first])
    return sum(_dirichlet_divergence(*row) for row in rows) + normal


def _dirichlet_divergence(counts: FloatArray, before: FloatArray, axis: int) -> float:
    """Sum over rows of KL(D(counts) | D(before)); both have the same zeros."""
    live = before > 0
    a, b = np.where(live, counts, 1.0), np.where(live, before, 1.0)
    total_a = np.where(live, counts, 0.0).sum(axis=axis, keepdims=True)
    total_b = np.where(live, before, 0.0).sum(axis=axis, keepdims=True)
    some = total_b > 0
    total_a, total_b = np.where(some, total_a, 1.0), np.where(some, total_b, 1.0)
    heads = special.gammaln(total_a) - special.gammaln(total_b)
    tails = special.gammaln(b) - special.gammaln(a) + (a - b) * (special.psi(a) - special.psi(total_a))
    return float(heads.sum() + np.where(live, tails, 0.0).sum())


def _normal_divergence(posterior: FloatArray, prior: FloatArray) -> float:
    live = prior[1] > 0
    m, k, a, b = posterior[:, live]
    m0, k0, a0, b0 = prior[:, live]
    gamma = (
        (a - a0) * special.psi(a)
        - special.gammaln(a)
        + special.gammaln(a0)
        + a0 * np.log(b / b0)
        + a * (b0 - b) / b
    )
    normal = (np.log(k / k0) + k0 / k - 1 + k0 * a / b * (m - m0) ** 2) / 2
    return float((gamma + normal).sum())


def densities_after(densities: Densities, normal: FloatArray, over: FloatArray) -> Densities:
    """Return densities with new counts ``normal`` ``(4, S)`` and ``over`` ``(S, 2)``."""
    mean, kappa, shape, scale = normal
    return replace(
        densities,
        mean=frozen(mean),
        kappa=frozen(kappa),
        shape=frozen(shape),
        scale=frozen(scale),
        over=frozen(over),
    )
