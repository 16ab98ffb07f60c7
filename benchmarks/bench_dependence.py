"""Permutation tests of dependence: compiled shuffles beside plain numpy on the same pairs.

Run: python benchmarks/bench_dependence.py. 30 checks × 400 jobs × 12 faults, all pairs of checks, 1,000
permutations of each; numpy does the first pairs and is extrapolated.
"""

from itertools import combinations
from time import perf_counter

import numpy as np

from benchlore.model import FloatArray
from benchlore.model.packed import IntArray
from benchlore.proof.dependence_kernels import shuffles

CHECKS, JOBS, FAULTS, RESULTS = 30, 400, 12, 3
PERMUTATIONS = 1_000
BY_NUMPY = 5


def joint_sum(first: IntArray, second: IntArray, faults: IntArray) -> float:
    """``sum n log n`` over the cells of fault × first × second."""
    cells = np.bincount((faults * RESULTS + first) * RESULTS + second)
    live: FloatArray = cells[cells > 0].astype(np.float64)
    return float((live * np.log(live)).sum())


def by_numpy(first: IntArray, second: IntArray, faults: IntArray, rng: np.random.Generator) -> int:
    """Count the shuffles within faults that are at least as dependent; boards are in the order of faults."""
    seen, beyond = joint_sum(first, second, faults), 0
    for _ in range(PERMUTATIONS):
        order = np.lexsort((rng.random(JOBS), faults))
        beyond += joint_sum(first, second[order], faults) >= seen - 1e-9
    return beyond


def main() -> None:
    """Time both and print the ratio."""
    rng = np.random.default_rng(0)
    faults = np.sort(rng.integers(0, FAULTS, JOBS))
    results = rng.integers(0, RESULTS, (CHECKS, JOBS))
    starts = np.append(np.unique(faults, return_index=True)[1], JOBS)
    sizes = np.array([RESULTS, RESULTS])
    pairs = list(combinations(range(CHECKS), 2))
    shuffles(results[0], results[1], starts, sizes, 1, 1, rng)  # compile
    start = perf_counter()
    tails = [
        shuffles(results[a], results[b], starts, sizes, PERMUTATIONS, PERMUTATIONS, rng)[1] for a, b in pairs
    ]
    compiled = perf_counter() - start
    start = perf_counter()
    slow = [by_numpy(results[a], results[b], faults, rng) for a, b in pairs[:BY_NUMPY]]
    plain = (perf_counter() - start) / BY_NUMPY * len(pairs)
    print(f"{len(pairs)} pairs × {PERMUTATIONS} permutations: {compiled:.2f} s, numpy {plain:.1f} s")
    print(f"ratio {plain / compiled:.0f}; tails of the first pairs {tails[:BY_NUMPY]}, numpy {slow}")


if __name__ == "__main__":
    main()
