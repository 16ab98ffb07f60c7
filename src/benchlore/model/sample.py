"""Draws: of a model from what is known of it, and of boards from a model."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from benchlore.model.bands import band_counts
from benchlore.model.densities import (
    from_scale,
    frozen,
    over_probabilities,
    predictive_scale,
)
from benchlore.model.make import CERTAIN, counts_of
from benchlore.model.packed import IntArray
from benchlore.model.values import Check, Densities, FloatArray, Model


@dataclass(frozen=True, eq=False)
class Draws:
    """``n`` boards with the complaint.

    ``faults`` ``(n,)``, ``states`` ``(n, G)``, ``results`` ``(n, C)`` are indices; ``values`` ``(n, C)`` are
    the numbers of numeric checks (``inf``: over range), NaN for named ones.
    """

    faults: IntArray
    states: IntArray
    results: IntArray
    values: FloatArray


def sample(model: Model, rng: np.random.Generator) -> Model:
    """Draw a model from the distributions of all rows and densities.

    The draw is all but certain of its own probabilities; zeros stay zeros. Bands and gates stay as they are,
    so that one procedure can be followed under many draws.
    """
    return replace(
        model,
        prior=counts_of(_dirichlet(model.prior, rng)),
        states=tuple(counts_of(_dirichlet(rows, rng)) for rows in model.states),
        checks=tuple(_sample_check(check, rng) for check in model.checks),
        fixes=tuple(replace(fix, cures=counts_of(_dirichlet(fix.cures, rng))) for fix in model.fixes),
    )


def _dirichlet(counts: FloatArray, rng: np.random.Generator) -> FloatArray:
    """Draw each row (last axis) from its Dirichlet distribution.

    A gamma variate of a small shape ``a`` underflows, but ``G(a) = G(a + 1) U^(1/a)`` (Marsaglia & Tsang
    2000, section 8) does not in logarithms.
    """
    live = counts > 0
    shapes = np.where(live, counts, 1.0)
    logs = np.log(rng.standard_gamma(shapes + 1)) + np.log1p(-rng.random(counts.shape)) / shapes
    logs = np.where(live, logs, -np.inf)
    high = logs.max(axis=-1, keepdims=True)
    drawn = np.exp(logs - np.where(np.isfinite(high), high, 0.0))
    total = drawn.sum(axis=-1, keepdims=True)
    row: FloatArray = np.where(total > 0, drawn / np.where(total > 0, total, 1.0), 1 / counts.shape[-1])
    return row


def _sample_check(check: Check, rng: np.random.Generator) -> Check:
    d = check.densities
    if d is None:
        return replace(check, counts=counts_of(_dirichlet(check.counts, rng)))
    drawn = _sample_densities(d, rng)
    counts = band_counts(drawn, check.edges, has_over_range=check.has_over_range)
    return replace(check, densities=drawn, counts=counts)


def _sample_densities(d: Densities, rng: np.random.Generator) -> Densities:
    variance = d.scale / rng.standard_gamma(d.shape)
    shape = np.full(d.mean.shape, CERTAIN / 2)
    return replace(
        d,
        mean=frozen(d.mean + rng.standard_normal(d.mean.shape) * np.sqrt(variance / d.kappa)),
        kappa=frozen(2 * shape),
        shape=frozen(shape),
        scale=frozen(shape * variance),
        over=counts_of(_dirichlet(d.over, rng)),
    )


def simulate(model: Model, rng: np.random.Generator, n: int) -> Draws:
    """Draw ``n`` boards with everything that every check would show on them."""
    faults = choose(np.broadcast_to(model.fault_probabilities, (n, len(model.faults))), rng)
    states = _columns(n, [choose(rows[faults], rng) for rows in model.state_probabilities])
    return Draws(faults, states, *shown(model, states, rng))


def shown(model: Model, states: IntArray, rng: np.random.Generator) -> tuple[IntArray, FloatArray]:
    """Draw what every check would show given the states ``(n, G)``; the two are as in :class:`Draws`."""
    results = np.empty((len(states), len(model.checks)), dtype=np.int64)
    values = np.full(results.shape, np.nan)
    for c, check in enumerate(model.checks):
        state = states[:, check.condition]
        if check.densities is None:
            results[:, c] = choose(check.probabilities[state], rng)
        else:
            values[:, c] = draw_values(check.densities, state, rng)
            results[:, c] = results_of(check, values[:, c])
    return results, values


def draw_values(densities: Densities, states: IntArray, rng: np.random.Generator) -> FloatArray:
    """Draw one reading for each board, ``(n,)``, given its state, from the predictive distribution."""
    d = densities
    ys = d.mean[states] + predictive_scale(d)[states] * rng.standard_t(2 * d.shape[states])
    blunders = rng.random(states.shape) < d.slip
    ys = np.where(blunders, rng.normal(d.slip_mean, d.slip_sd, states.shape), ys)
    over = rng.random(states.shape) < over_probabilities(d)[states]
    return np.where(over, np.inf, from_scale(d, ys))


def results_of(check: Check, values: FloatArray) -> IntArray:
    """Return the result that each number falls into, ``(n,)``; see :func:`result_of`."""
    bands = np.searchsorted(np.array(check.edges), values, side="right")
    return np.where(np.isinf(values) & check.has_over_range, len(check.results) - 1, bands)


def _columns(n: int, columns: Sequence[IntArray]) -> IntArray:
    return np.stack(columns, axis=1) if columns else np.empty((n, 0), dtype=np.int64)


def choose(rows: FloatArray, rng: np.random.Generator) -> IntArray:
    """Draw one index from each row of probabilities in the last axis; never one of probability zero."""
    below = np.cumsum(rows, axis=-1)
    marks = rng.random((*rows.shape[:-1], 1)) * below[..., -1:]
    chosen: IntArray = (marks >= below).sum(axis=-1)
    return chosen
