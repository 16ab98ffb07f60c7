"""The compiled part of the dependence tests: tables of two checks' results, and shuffles within strata."""

from typing import Final

import numba
import numpy as np

from benchlore.model import FloatArray
from benchlore.model.packed import IntArray

ENOUGH: Final = 20
"""So many shuffles that are at least as dependent settle that a pair is not remarkable."""

TIES: Final = 1e-9
"""Sums that differ by less than this are equal: they were added in another order."""


@numba.njit(cache=True)
def table_information(first: IntArray, second: IntArray, starts: IntArray, sizes: IntArray) -> float:
    """Conditional mutual information of two columns in bits, plug-in.

    Stratum ``z`` is ``starts[z]:starts[z + 1]`` of the columns, which hold results below ``sizes`` ``(2,)``.
    With counts ``n``, it is ``(sum n_xyz log n_xyz + sum n_z log n_z - sum n_xz log n_xz - sum n_yz log n_yz)
    / n``.
    """
    total = 0.0
    for z in range(starts.size - 1):
        table = np.zeros((sizes[0], sizes[1]))
        for j in range(starts[z], starts[z + 1]):
            table[first[j], second[j]] += 1.0
        total += _entropy_sum(table.ravel()) + _entropy_sum(np.array([table.sum()]))
        total -= _entropy_sum(table.sum(axis=1)) + _entropy_sum(table.sum(axis=0))
    return float(max(total, 0.0) / max(first.size, 1) / np.log(2.0))


@numba.njit(cache=True)
def _entropy_sum(counts: FloatArray) -> float:
    total = 0.0
    for count in counts:
        if count > 0:
            total += count * np.log(count)
    return total


@numba.njit(cache=True)
def shuffles(
    first: IntArray,
    second: IntArray,
    starts: IntArray,
    sizes: IntArray,
    most: int,
    least: int,
    rng: np.random.Generator,
) -> tuple[int, int, float]:
    """Shuffle ``second`` within each stratum, again and again.

    Return how many shuffles were made, how many had at least the information of what was seen, and their mean
    information in bits. After ``least`` shuffles they stop as soon as ``ENOUGH`` were at least as dependent.
    """
    seen = table_information(first, second, starts, sizes)
    moved, total, made, beyond = second.copy(), 0.0, 0, 0
    while made < most and (made < least or beyond < ENOUGH):
        for z in range(starts.size - 1):
            for j in range(starts[z + 1] - 1, starts[z], -1):
                k = starts[z] + int(rng.random() * (j - starts[z] + 1))
                moved[j], moved[k] = moved[k], moved[j]
        here = table_information(first, moved, starts, sizes)
        total += here
        beyond += here >= seen - TIES
        made += 1
    return made, beyond, total / max(made, 1)
