"""Models straight from exact probabilities, for tests, examples and planning problems.

A probability ``p`` becomes the count ``p × CERTAIN``, so the rows are all but known; zeros stay zeros.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike

from benchlore.model.bands import banded
from benchlore.model.densities import densities_of, frozen
from benchlore.model.values import (
    Check,
    Condition,
    Densities,
    Fix,
    FloatArray,
    Gate,
    Model,
    Setup,
    Work,
    normalised,
)
from benchlore.units import Measure

CERTAIN = 1e6
"""The number of boards behind a probability that is taken as known."""

_MINUTE = Work(1.0)


def counts_of(probabilities: ArrayLike, weight: float = CERTAIN) -> FloatArray:
    """Return rows of probabilities as read-only counts that sum to ``weight``."""
    return frozen(normalised(np.asarray(probabilities, dtype=np.float64)) * weight)


def named_check(
    name: str,
    condition: int,
    table: ArrayLike,
    *,
    results: Sequence[str] = (),
    work: Work = _MINUTE,
    gates: Sequence[Gate] = (),
    weight: float = CERTAIN,
) -> Check:
    """Make a check from ``P(result | state)``, shape ``(S, R)``."""
    counts = counts_of(table, weight)
    names = tuple(results) or tuple(f"r{k}" for k in range(counts.shape[1]))
    return Check(name, name, condition, names, work, counts, tuple(gates))


def numeric_check(
    name: str,
    condition: int,
    densities: Densities,
    *,
    weights: ArrayLike | None = None,
    work: Work = _MINUTE,
    gates: Sequence[Gate] = (),
) -> Check:
    """Make a check of numbers with the best bands under state ``weights`` ``(S,)`` (equal if left out)."""
    states = densities.mean.size
    share = np.full(states, 1 / states) if weights is None else normalised(np.asarray(weights, np.float64))
    bare = Check(name, name, condition, (), work, frozen(np.ones((states, 0))), tuple(gates))
    return banded(bare, densities, share)


def exact_densities(
    measure: Measure, mean: ArrayLike, sd: ArrayLike, *, over: ArrayLike = 0.0, log_normal: bool = False
) -> Densities:
    """Make densities whose means and deviations (on the scale of ``y``) are taken as known."""
    overs = np.broadcast_to(np.asarray(over, dtype=np.float64), np.shape(mean))
    return densities_of(measure, mean, sd, overs, log_normal=log_normal, strength=CERTAIN)


def fix_of(
    name: str,
    cures: ArrayLike,
    *,
    work: Work = _MINUTE,
    parts: float = 0.0,
    gates: Sequence[Gate] = (),
    weight: float = CERTAIN,
) -> Fix:
    """Make a fix from ``rho``, shape ``(F,)``."""
    rho = np.asarray(cures, dtype=np.float64)
    return Fix(name, name, work, parts, counts_of(np.stack([rho, 1 - rho], axis=1), weight), tuple(gates))


def model_of(  # noqa: PLR0913  one argument for each part of a model
    prior: ArrayLike,
    states: Sequence[ArrayLike],
    checks: Sequence[Check] = (),
    fixes: Sequence[Fix] = (),
    *,
    faults: Sequence[str] = (),
    detects: ArrayLike = 1.0,
    every: ArrayLike = 0.0,
    setups: Sequence[Setup] = (),
    retest: Work = _MINUTE,
    worth: float | None = None,
    weight: float = CERTAIN,
    complaint: str = "complaint",
) -> Model:
    """Make a model from ``P(f)``, shape ``(F,)``, and ``P(state | f)`` of each condition, ``(F, S_g)``.

    Names that are left out are ``f0`` … and, last, ``unlisted``; ``g0`` … with states ``s0`` ….
    """
    chances = np.asarray(prior, dtype=np.float64)
    names = tuple(faults) or (*(f"f{k}" for k in range(chances.size - 1)), "unlisted")
    rows = tuple(counts_of(table, weight) for table in states)
    return Model(
        board="board",
        complaint=complaint,
        title=complaint,
        currency="EUR",
        worth=worth,
        faults=names,
        fault_titles=names,
        setups=tuple(setups),
        conditions=tuple(
            Condition(f"g{k}", f"g{k}", tuple(f"s{s}" for s in range(table.shape[1])))
            for k, table in enumerate(rows)
        ),
        checks=tuple(checks),
        fixes=tuple(fixes),
        prior=counts_of(chances, weight),
        states=rows,
        retest=retest,
        detects=frozen(np.broadcast_to(np.asarray(detects, dtype=np.float64), chances.shape)),
        every=frozen(np.broadcast_to(np.asarray(every, dtype=np.float64), chances.shape)),
    )
