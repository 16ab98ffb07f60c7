"""From an expert's chances to rows of Dirichlet counts."""

from collections.abc import Mapping, Sequence

import numpy as np

from benchlore.model.values import FloatArray
from benchlore.units import Chance

LEAST = 0.002
"""A book's probabilities stay this far from 0 and 1, so that a book's "100 %" can be unlearned."""

WEAK = 2.0
"""Boards behind a row about which the book says nothing."""


def kept_inside(row: FloatArray) -> FloatArray:
    """Keep every probability in ``[LEAST, 1 - LEAST]`` as nearly as a sum of one allows; last axis."""
    if row.shape[-1] == 1:
        return np.ones_like(row)
    clipped = np.clip(row, LEAST, 1 - LEAST)
    inside: FloatArray = clipped / clipped.sum(axis=-1, keepdims=True)
    return inside


def stated_row(
    names: Sequence[str], chances: Mapping[str, Chance], strength: float, *, rest: int | None = None
) -> FloatArray:
    """Return the counts of one row, shape ``(len(names),)``.

    A share that the chances leave out goes to ``names[rest]`` unless that is itself stated or ``rest`` is
    ``None``; then evenly to all names that are not stated. ``17 of 20`` puts 20 boards behind the row (the
    smallest such number if there are several), a bare chance puts ``strength``.
    """
    row = np.array([chances[name].probability if name in chances else 0.0 for name in names])
    silent = [k for k, name in enumerate(names) if name not in chances]
    takers = [rest] if rest in silent else silent
    if takers:
        row[takers] += max(0.0, 1.0 - row.sum()) / len(takers)
    boards = min((chance.of for chance in chances.values() if chance.of is not None), default=strength)
    return kept_inside(row / row.sum() if row.sum() > 0 else row) * boards


def untouched_row(states: int, by_chance: float, strength: float) -> FloatArray:
    """Return the counts of a condition that a fault does not cause, shape ``(states,)``."""
    row = np.full(states, by_chance / max(states - 1, 1))
    row[0] = 1 - by_chance
    return kept_inside(row) * strength


def weak_row(names: int) -> FloatArray:
    """Return the counts of a row about which nothing is known, shape ``(names,)``."""
    return np.full(names, WEAK / names)


def unlisted_row(rows: FloatArray, weights: FloatArray) -> FloatArray:
    """Return the counts of faults nobody knows: half the listed faults' mean ``(F-1, S)``, half uniform."""
    likely = weights @ (rows / rows.sum(axis=1, keepdims=True))
    row: FloatArray = WEAK * (likely / 2 + 1 / (2 * rows.shape[1]))
    return row
