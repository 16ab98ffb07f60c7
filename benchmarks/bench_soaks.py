"""What choosing the soak saves, and how close the planner comes where the table of all soaks is too large.

Run: python benchmarks/bench_soaks.py [problems]. Random board-like problems (7 faults, 5 conditions, 6
checks, 4 fixes) from fixed seeds whose complaint comes and goes, every 10 to 60 minutes by fault. The
baseline is the optimum with a soak of one hour after every fix; the ratio is its mean cost over that of each
way to choose.
"""

import sys
from collections.abc import Callable
from dataclasses import replace
from time import perf_counter
from typing import Final

import numpy as np

from benchlore.procedure import Instance, solve_exact, solve_lookahead
from benchlore.procedure.exact import MEMORY
from benchlore.procedure.one_soak import solve_one_soak
from random_instances import random_instance

SIZE: Final = (7, 5, 6, 4)
HOUR: Final = 60.0
MENU: Final = (10.0, 30.0, HOUR)
WAITING: Final = (0.05, 0.15, 0.5)
"""Prices of a minute of waiting; a minute of hands-on work costs about 1."""

PROBLEMS: Final = 40


def board(seed: int, soaks: tuple[float, ...], waiting: float) -> Instance:
    """Make a problem whose fixes come with these soaks."""
    rng = np.random.default_rng(seed)
    plain = random_instance(rng, SIZE)
    every = rng.uniform(10, 60, SIZE[0])
    fixes = tuple(
        replace(
            fix,
            cost=replace(fix.cost, retest=fix.cost.retest + soak * waiting),
            detects=-np.expm1(-soak / every),
            soak=soak,
        )
        for fix in plain.fixes
        for soak in soaks
    )
    return replace(plain, fixes=fixes)


def one_soak(instance: Instance) -> float:
    """Price the way that needs no table of all soaks."""
    found = solve_one_soak(instance, memory=MEMORY)
    assert found is not None
    return found.expected


def costs_of(way: Callable[[Instance], float], instances: list[Instance]) -> tuple[np.ndarray, float]:
    """Return what each problem costs, and the seconds for one."""
    way(instances[0])  # the kernels are compiled first
    start = perf_counter()
    costs = np.array([way(instance) for instance in instances])
    return costs, (perf_counter() - start) / len(instances)


def main(problems: int) -> None:
    """Print a table for each price of waiting."""
    ways: dict[str, Callable[[Instance], float]] = {
        "all soaks, exact": lambda each: solve_exact(each).expected,
        "one soak, then the best": one_soak,
        "look-ahead": lambda each: solve_lookahead(each).expected,
    }
    for waiting in WAITING:
        fixed = [board(seed, (HOUR,), waiting) for seed in range(problems)]
        free = [board(seed, MENU, waiting) for seed in range(problems)]
        base, took = costs_of(ways["all soaks, exact"], fixed)
        print(f"waiting {waiting:.2f} a minute, {problems} problems")
        print("  way                          cost   above optimum   time each   ratio")
        optimum, _ = costs_of(ways["all soaks, exact"], free)
        rows = {"one hour always, exact": (base, took)}
        rows |= {name: costs_of(way, free) for name, way in ways.items()}
        for name, (costs, seconds) in rows.items():
            gap = (costs / optimum - 1).mean()
            ratio = base.mean() / costs.mean()
            print(f"  {name:<24} {costs.mean():>8.2f} {gap:>14.2%} {seconds:>9.3f} s {ratio:>7.3f}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else PROBLEMS)
