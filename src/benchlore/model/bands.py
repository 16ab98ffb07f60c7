"""Bands of a numeric check: the edges that keep most of what a number says about the state.

The information of bands ``b`` about the state is, with state weights ``w_s``,

``I = sum_b sum_s w_s P(b|s) log(P(b|s) / sum_t w_t P(b|t))``.

It is a sum over bands, so the best edges among candidate cuts follow from dynamic programming over intervals
(Kurkoski & Yagi 2014, "Quantization of binary-input discrete memoryless channels", section III, for two
states; for more states the bands are the best *intervals*). Where neighbouring densities cross is a worse
place for an edge than it looks.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy import special

from benchlore.model.densities import (
    band_probabilities,
    cumulative,
    from_scale,
    frozen,
    over_probabilities,
    predictive_scale,
)
from benchlore.model.values import Check, Densities, FloatArray
from benchlore.units import Measure, format_quantity

MOST_BANDS = 4
"""More bands than a technician wants to tell apart; over range is one more."""

WORTH_A_BAND = 0.01
"""Share of the full information that one more band must add."""

LOST_TO_ROUNDING = 0.005
"""Share of the full information that rounding the edges may cost."""

CUTS = 300
GRID = 100

OL_MEASURES = frozenset({Measure.RESISTANCE, Measure.DIODE_DROP})
"""Measures whose meters show ``OL`` in everyday work."""

SHOWS_OVER_RANGE = 0.5
"""A state whose over-range probability is above this makes ``OL`` a result of its check."""


@dataclass(frozen=True, slots=True)
class Bands:
    """Edges in SI units, written with ``digits``; the information in nats that they keep and a number has."""

    edges: tuple[float, ...]
    has_over_range: bool
    digits: int
    information: float
    full_information: float


def choose_bands(densities: Densities, weights: FloatArray, *, most: int = MOST_BANDS) -> Bands:
    """Choose at most ``most`` bands for states of ``weights`` ``(S,)``, which sum to one."""
    has_over = _has_over_range(densities)
    cuts = _candidate_cuts(densities, weights)
    below = _below(densities, cuts, has_over)
    gains = _interval_information(below, weights)
    beyond = 0.0
    if has_over:
        beyond = float(_information(over_probabilities(densities)[None, :], weights)[0])
    full = beyond + float(np.diagonal(gains, offset=1).sum())
    totals, places = _best_partitions(gains, most)
    count = _useful_count(totals, WORTH_A_BAND * full)
    chosen = cuts[np.array(places[count - 1], dtype=np.intp) - 1]
    edges, digits = _rounded(densities, chosen, weights, has_over, slack=LOST_TO_ROUNDING * full)
    return Bands(edges, has_over, digits, _kept(densities, edges, weights, has_over), full)


def band_names(bands: Bands, measure: Measure) -> tuple[str, ...]:
    """Name the bands as a technician would: ``below 12 ohm``, ``12 ohm to 3.1 kohm``, ``above 3.1 kohm``."""
    marks = [format_quantity(edge, measure, max(3, bands.digits)) for edge in bands.edges]
    names = [f"{low} to {high}" for low, high in pairwise(marks)]
    names = [f"below {marks[0]}", *names, f"above {marks[-1]}"] if marks else ["any value"]
    return tuple(names + ["OL"] * bands.has_over_range)


def banded(check: Check, densities: Densities, weights: FloatArray) -> Check:
    """Return the numeric check with ``densities``, and with bands chosen anew from them."""
    bands = choose_bands(densities, weights)
    return replace(
        check,
        densities=densities,
        results=band_names(bands, densities.measure),
        edges=bands.edges,
        has_over_range=bands.has_over_range,
        counts=band_counts(densities, bands.edges, has_over_range=bands.has_over_range),
    )


def half_uniform(marginal: FloatArray) -> FloatArray:
    """Mix state probabilities half with equal ones, so that bands also tell rare states apart."""
    mixed: FloatArray = marginal / 2 + 1 / (2 * marginal.size)
    return mixed


def band_counts(densities: Densities, edges: Sequence[float], *, has_over_range: bool) -> FloatArray:
    """Band probabilities times the evidence behind each state, shape ``(S, R)``."""
    rows = band_probabilities(densities, edges, has_over_range=has_over_range)
    return frozen(rows * densities.kappa[:, None])


def information_lost(check: Check, weights: FloatArray | None = None) -> float:
    """Share of the information in a number that its band does not keep, between 0 and 1.

    ``weights`` ``(S,)`` are of the states; equal ones where left out. A named check loses nothing.
    """
    d = check.densities
    if d is None:
        return 0.0
    if weights is None:
        weights = np.full(d.mean.size, 1 / d.mean.size)
    has_over = check.has_over_range
    fine = from_scale(d, _candidate_cuts(d, weights))
    full = _kept(d, np.union1d(fine, np.asarray(check.edges)).tolist(), weights, has_over)
    return max(0.0, 1 - _kept(d, check.edges, weights, has_over) / full) if full > 0 else 0.0


def _has_over_range(densities: Densities) -> bool:
    shown = over_probabilities(densities).max() > SHOWS_OVER_RANGE
    return densities.measure in OL_MEASURES or bool(shown)


def _below(densities: Densities, cuts: FloatArray, has_over: bool) -> FloatArray:
    """Probability of all bands below nothing, below each cut, and in all, shape ``(len(cuts) + 2, S)``."""
    number = 1 - over_probabilities(densities)
    top = number if has_over else np.ones_like(number)
    return np.concatenate([0 * number[None], cumulative(densities, cuts) * number, top[None]])


def _candidate_cuts(densities: Densities, weights: FloatArray) -> FloatArray:
    """Increasing cuts in ``y``, about 300: quantiles of each state's numbers, and a grid over all.

    Quantiles alone would leave the gaps between states empty, where the best edges often are.
    """
    d = densities
    share = weights / 2 + 1 / (2 * weights.size)
    levels = [np.linspace(0, 1, max(3, round(part * (CUTS - GRID))) + 2)[1:-1] for part in share]
    spread = zip(levels, 2 * d.shape, d.mean, predictive_scale(d), strict=True)
    quantiles = [m + w * special.stdtrit(dof, level) for level, dof, m, w in spread]
    grid = np.linspace(d.slip_mean - d.slip_sd, d.slip_mean + d.slip_sd, GRID)
    return np.unique(np.concatenate([*quantiles, grid]))


def _information(probabilities: FloatArray, weights: FloatArray) -> FloatArray:
    """Information of outcomes with ``P(outcome | state)`` in the last axis, one number for each outcome."""
    kept, total = np.zeros(probabilities.shape[:-1]), np.zeros(probabilities.shape[:-1])
    for state, weight in enumerate(weights):  # all outcomes at once: a sum over few states is slow
        shown = probabilities[..., state]
        joint = shown * weight
        kept += special.xlogy(joint, shown)
        total += joint
    gains: FloatArray = kept - special.xlogy(total, total)
    return gains


def _interval_information(below: FloatArray, weights: FloatArray) -> FloatArray:
    """Information of the band from cut ``i`` to cut ``j > i``, shape ``(N, N)``; zero elsewhere."""
    low, high = np.triu_indices(len(below), 1)
    inside = np.array([np.maximum(state[high] - state[low], 0.0) for state in below.T])
    gains = np.zeros((len(below), len(below)))
    gains[low, high] = _information(inside.T, weights)
    return gains


def _best_partitions(gains: FloatArray, most: int) -> tuple[list[float], list[list[int]]]:
    """Best total information of 1, 2, … ``most`` bands and the cuts between them (indices into ``gains``)."""
    last = len(gains) - 1
    upper = np.where(np.triu(np.ones_like(gains, dtype=bool), 1), gains, -np.inf)
    best, totals = upper[0], [float(upper[0, last])]
    places: list[list[int]] = [[]]
    back: list[NDArray[np.intp]] = []
    for _ in range(1, min(most, last)):
        options = best[:, None] + upper
        back.append(options.argmax(axis=0))
        best = options.max(axis=0)
        totals.append(float(best[last]))
        places.append(list(_trace(back, last))[::-1])
    return totals, places


def _trace(back: list[NDArray[np.intp]], last: int) -> Iterator[int]:
    place = last
    for step in reversed(back):
        place = int(step[place])
        yield place


def _useful_count(totals: list[float], least: float) -> int:
    """Return the number of bands: from the most down, while the last one adds less than ``least``."""
    count = len(totals)
    while count > 1 and totals[count - 1] - totals[count - 2] <= max(least, 1e-12):
        count -= 1
    return count


def _kept(densities: Densities, edges: Sequence[float], weights: FloatArray, has_over: bool) -> float:
    rows = band_probabilities(densities, edges, has_over_range=has_over)
    return float(_information(rows.T, weights).sum())


def _rounded(
    densities: Densities, cuts: FloatArray, weights: FloatArray, has_over: bool, *, slack: float
) -> tuple[tuple[float, ...], int]:
    """Return the edges with as few significant digits as lose at most ``slack`` of their information."""
    exact = from_scale(densities, cuts).tolist()
    wanted = _kept(densities, exact, weights, has_over) - slack
    for digits in range(2, 8):
        edges = tuple(float(f"{edge:.{digits - 1}e}") + 0.0 for edge in exact)
        increasing = all(low < high for low, high in pairwise(edges))
        if increasing and _kept(densities, edges, weights, has_over) >= wanted:
            return edges, digits
    return tuple(exact), 17
