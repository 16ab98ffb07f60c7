"""The planner: exact sizes and times, and how far the look-ahead stands from the optimum beside two habits.

Run: python benchmarks/bench_planner.py [problems]. Random board-like problems (faults × conditions × checks ×
fixes) from fixed seeds. Both habits are priced exactly on the same problems: fixes alone, best ratio of cure
to cost first; and the check that tells most for its cost, as long as it lowers the cost of fixes alone. The
last column is a habit's mean distance to the optimum over the look-ahead's.
"""

import sys
from collections.abc import Callable
from multiprocessing import get_context
from os import sysconf
from resource import RUSAGE_SELF, getrusage
from time import perf_counter
from typing import TypeAlias

import numpy as np

from benchlore.procedure import MEMORY, Effort, Instance, Limits, at_most, solve_anytime, solve_exact
from benchlore.procedure.anytime import limits_of
from benchlore.procedure.arrays import reduced
from benchlore.procedure.exact import bytes_of, states_of
from benchlore.procedure.habits import fixes_alone, most_telling
from random_instances import random_instance

Policy: TypeAlias = Callable[[Instance], float]

EXACT_SIZES = ((6, 4, 6, 4), (8, 6, 9, 6), (10, 8, 10, 8), (12, 8, 12, 6))
SHARE_OF_MEMORY = 0.6
SIZE_LIMITED = (8, 6, 8, 5)
LIMITS = (40, 25, 10)
SMALL = (7, 5, 7, 5)
LARGE = ((20, 15, 30, 15), (50, 40, 75, 40))
PROBLEMS = 100
KIB, MIB = 1 << 10, 1 << 20


def exact_sizes() -> None:
    """Print what the exact method takes: each size in a process of its own, for its peak of memory."""
    print(
        "exact method\n  problem                  states      time   states a second     MiB     peak   ratio"
    )
    context = get_context("spawn")
    for size in EXACT_SIZES:
        instance = random_instance(np.random.default_rng(1), size)
        small = reduced(instance).arrays
        states, needed = states_of(small), bytes_of(small)
        if needed > SHARE_OF_MEMORY * _free_memory():
            print(
                f"  {_named(size):<18} {states:>13,}  needs {needed / MIB:,.0f} MiB: left out on this machine"
            )
            continue
        with context.Pool(1) as pool:
            took, peak = pool.apply(_solve, (size,))
        print(
            f"  {_named(size):<18} {states:>13,} {took:>7.2f} s {states / took:>17,.0f} "
            f"{needed / MIB:>7,.0f} {peak / MIB:>8,.0f} {peak / needed:>7.2f}"
        )


def _solve(size: tuple[int, int, int, int]) -> tuple[float, int]:
    """Return how long the exact method takes, and by how many bytes it raises the peak of memory."""
    solve_exact(random_instance(np.random.default_rng(0), (3, 2, 3, 2)))  # the kernels are compiled first
    instance = random_instance(np.random.default_rng(1), size)
    before = _peak()
    start = perf_counter()
    solve_exact(instance, memory=1 << 40)
    return perf_counter() - start, _peak() - before


def _peak() -> int:
    return getrusage(RUSAGE_SELF).ru_maxrss * KIB


def _free_memory() -> int:
    return sysconf("SC_AVPHYS_PAGES") * sysconf("SC_PAGE_SIZE")


def size_limits() -> None:
    """Print what a limit of steps costs on problems whose optimum is known."""
    print(
        f"\nat most so many steps, 12 problems of {_named(SIZE_LIMITED)}\n"
        "  limit      mean   worst   time each"
    )
    instances = [random_instance(np.random.default_rng(500 + k), SIZE_LIMITED) for k in range(12)]
    optima = [solve_exact(instance) for instance in instances]
    for steps in LIMITS:
        start = perf_counter()
        found = [
            at_most(instance, solution, steps, memory=MEMORY).expected
            for instance, solution in zip(instances, optima, strict=True)
        ]
        took = (perf_counter() - start) / len(instances)
        lost = np.array(found) / [solution.expected for solution in optima] - 1
        print(f"  {steps:>5} {lost.mean():>9.3%} {lost.max():>7.3%} {took:>9.2f} s")


def distances(problems: int) -> None:
    """Print how far each way stands from the optimum, and the ratio to the look-ahead."""
    instances = [random_instance(np.random.default_rng(1000 + k), SMALL) for k in range(problems)]
    optima = np.array([solve_exact(instance).expected for instance in instances])
    ways: dict[str, Policy] = {
        "fixes alone": lambda instance: fixes_alone(instance).expected,
        "most telling check": lambda instance: most_telling(instance, rare=0.0).expected,
        **{f"look-ahead, {effort}": _lookahead(effort) for effort in (Effort.QUICK, Effort.NORMAL)},
    }
    gaps, times = {}, {}
    for name, way in ways.items():
        start = perf_counter()
        costs = np.array([way(instance) for instance in instances])
        times[name] = (perf_counter() - start) / problems
        gaps[name] = costs / optima - 1
    base = gaps[f"look-ahead, {Effort.NORMAL}"].mean()
    print(f"\ndistance to the proven optimum, {problems} problems of {_named(SMALL)}")
    print("  way                        mean    95 %    worst  optimal   time each   ratio")
    for name, gap in gaps.items():
        high, share = np.percentile(gap, 95), float((gap < 1e-9).mean())
        print(
            f"  {name:<22} {gap.mean():>8.2%} {high:>7.2%} {gap.max():>8.2%} {share:>8.0%} "
            f"{times[name]:>9.3f} s {gap.mean() / base:>7.1f}"
        )


def _lookahead(effort: Effort) -> Policy:
    limits = limits_of(effort, Limits())
    return lambda instance: solve_anytime(instance, limits=limits, leaf_states=0).expected


def large() -> None:
    """Print cost, gap and time where the optimum is out of reach."""
    print("\nlarge problems\n  problem             effort      cost    bound     gap   time     fixes alone")
    for size in LARGE:
        instance = random_instance(np.random.default_rng(3001), size)
        habit = fixes_alone(instance).expected
        for effort in (Effort.QUICK, Effort.NORMAL):
            start = perf_counter()
            found = solve_anytime(instance, limits=limits_of(effort, Limits()))
            took = perf_counter() - start
            print(
                f"  {_named(size):<19} {effort:<8} {found.expected:>8.2f} {found.bound:>8.2f} "
                f"{found.expected / found.bound - 1:>7.0%} {took:>5.1f} s {habit / found.expected:>8.2f} x"
            )


def _named(size: tuple[int, ...]) -> str:
    return " × ".join(map(str, size))


if __name__ == "__main__":
    exact_sizes()
    size_limits()
    distances(int(sys.argv[1]) if len(sys.argv) > 1 else PROBLEMS)
    large()
