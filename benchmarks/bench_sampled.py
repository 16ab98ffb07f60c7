"""The sampled bound: what it adds to the proven ones, and what it takes beside them.

Run: python benchmarks/bench_sampled.py [problems] [jobs]. Random board-like problems (faults × conditions ×
checks × fixes) from fixed seeds. On the small ones the optimum is solved beside, and bounds are given as
shares of it; on the large ones, in money. The last column is the sample's time over the proven bounds'.
"""

import sys
from time import perf_counter

import numpy as np

from benchlore.procedure import Instance, lower_bound, sampled_bound, solve_exact
from random_instances import random_instance

SMALL = (7, 5, 7, 5)
LARGE = ((12, 10, 15, 10), (20, 15, 30, 15), (50, 40, 75, 40), (100, 80, 150, 80))
STATES = 1
"""The relaxed sweep is the optimum itself where all fits its table; it is left out."""


def compared(instance: Instance, jobs: int) -> tuple[float, float, float]:
    """The proven bound, the sampled one, and how many times as long it took."""
    start = perf_counter()
    proven = lower_bound(instance, states=STATES).value
    between = perf_counter()
    sampled = sampled_bound(instance, jobs)
    took = perf_counter() - between
    return proven, proven if sampled is None else max(proven, sampled.value), took / (between - start)


def main(problems: int = 20, jobs: int = 200) -> None:
    """Print both tables."""
    compared(random_instance(np.random.default_rng(0), SMALL), jobs)  # compiles the kernels
    rows = []
    for seed in range(problems):
        instance = random_instance(np.random.default_rng(seed), SMALL)
        optimum = solve_exact(instance).expected
        proven, sampled, ratio = compared(instance, jobs)
        rows.append((proven / optimum, sampled / optimum, ratio))
    most = max(sampled for _, sampled, _ in rows)
    proven, sampled, ratio = np.mean(rows, axis=0)
    print(f"{problems} problems of {_named(SMALL)}, {jobs} jobs each, shares of the optimum")
    print(f"  proven {proven:.1%}, sampled {sampled:.1%} (at most {most:.1%}), {ratio:.1f} x the time")
    print(f"problem               proven  sampled    ratio of times, {jobs} jobs")
    for size in LARGE:
        proven, sampled, ratio = compared(random_instance(np.random.default_rng(1), size), jobs)
        print(f"{_named(size):<20} {proven:>7.2f} {sampled:>8.2f} {ratio:>8.1f}", flush=True)


def _named(size: tuple[int, ...]) -> str:
    return " × ".join(map(str, size))


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
