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
    logs, table = _terms(first.size), np.zeros((sizes[0], sizes[1]), dtype=np.int64)
    total = _joint_sum(first, second, starts, table, logs) - _margin_sum(first, second, starts, sizes, logs)
    return _in_bits(total, first.size)


@numba.njit(cache=True)
def _in_bits(total: float, boards: int) -> float:
    return float(max(total, 0.0) / max(boards, 1) / np.log(2.0))


@numba.njit(cache=True)
def _terms(most: int) -> FloatArray:
    """``n log n`` of each number up to ``most``."""
    terms = np.zeros(most + 1)
    for count in range(2, most + 1):
        terms[count] = count * np.log(count)
    return terms


@numba.njit(cache=True)
def _joint_sum(
    first: IntArray, second: IntArray, starts: IntArray, table: IntArray, terms: FloatArray
) -> float:
    """``sum n_xyz log n_xyz``; ``table`` is room to count in."""
    total = 0.0
    for z in range(starts.size - 1):
        table[:] = 0
        for j in range(starts[z], starts[z + 1]):
            table[first[j], second[j]] += 1
        for row in table:
            for count in row:
                total += terms[count]
    return total


@numba.njit(cache=True)
def _margin_sum(
    first: IntArray, second: IntArray, starts: IntArray, sizes: IntArray, terms: FloatArray
) -> float:
    """``sum n_xz log n_xz + sum n_yz log n_yz - sum n_z log n_z``."""
    total = 0.0
    for z in range(starts.size - 1):
        rows, columns = np.zeros(sizes[0], dtype=np.int64), np.zeros(sizes[1], dtype=np.int64)
        for j in range(starts[z], starts[z + 1]):
            rows[first[j]] += 1
            columns[second[j]] += 1
        total += terms[rows].sum() + terms[columns].sum() - terms[starts[z + 1] - starts[z]]
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
    terms, table = _terms(first.size), np.zeros((sizes[0], sizes[1]), dtype=np.int64)
    margins = _margin_sum(first, second, starts, sizes, terms)  # no shuffle changes them
    seen = _joint_sum(first, second, starts, table, terms)
    moved, total, made, beyond = second.copy(), 0.0, 0, 0
    while made < most and (made < least or beyond < ENOUGH):
        for z in range(starts.size - 1):
            for j in range(starts[z + 1] - 1, starts[z], -1):
                k = starts[z] + int(rng.random() * (j - starts[z] + 1))
                moved[j], moved[k] = moved[k], moved[j]
        here = _joint_sum(first, moved, starts, table, terms)
        total += _in_bits(here - margins, first.size)
        beyond += here >= seen - TIES
        made += 1
    return made, beyond, total / max(made, 1)
