"""Rows copied within kernels: a loop runs as fast as an assignment to a slice and compiles far sooner."""

from numba import njit

from benchlore.model import FloatArray
from benchlore.procedure.arrays import BoolArray, IntArray


@njit(cache=True)
def put_row(target: FloatArray | IntArray | BoolArray, source: FloatArray | IntArray | BoolArray) -> None:
    """Copy a row ``(N,)``."""
    for i in range(len(source)):
        target[i] = source[i]


@njit(cache=True)
def put_rows(target: FloatArray | IntArray, source: FloatArray | IntArray) -> None:
    """Copy a table ``(M, N)``."""
    for i in range(source.shape[0]):
        for j in range(source.shape[1]):
            target[i, j] = source[i, j]
