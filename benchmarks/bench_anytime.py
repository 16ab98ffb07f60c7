"""The anytime search: cost and bound against time, beside two baselines on the same problems in the same run.

Run: python benchmarks/bench_anytime.py [seconds]. Random board-like problems (faults × conditions × checks ×
fixes) from fixed seeds, too large for the exact method. The baselines are fixes alone, best ratio of cure to
cost first, and one pass that follows one action, down to states that a thousandth of the jobs reach. The last
two columns are their costs over the search's at the end. Below, the distance to the proven optimum on small
problems, leaves and the exact method off.
"""

import sys
from dataclasses import replace
from functools import partial
from itertools import chain, islice
from time import perf_counter

import numpy as np

from benchlore.procedure import Instance, Limits, solve_anytime, solve_exact
from benchlore.procedure.anytime import passes
from benchlore.procedure.arrays import reduced
from benchlore.procedure.leaf import LEAF_STATES
from benchlore.procedure.lookahead import SLICE, Search
from benchlore.procedure.state import problem_of
from random_instances import random_instance

LARGE = ((20, 15, 30, 15), (50, 40, 75, 40), (100, 80, 150, 80), (200, 150, 300, 150))
SMALL = (7, 5, 7, 5)
RETURN = 300.0
COMEBACK = 440.0
"""A board that is worth a long search: so many faults cannot be found for less."""

PROBLEMS = 100
GRACE = 0.3
"""Seconds that a stopped search may take to bring its best policy up."""

TIMES = (1.0, 3.0, 10.0, 30.0)


def fixes_alone(instance: Instance) -> float:
    """Price the habit of trying fixes without a check."""
    return solve_anytime(instance, limits=Limits(nodes=0)).expected


def one_pass(instance: Instance) -> float:
    """Price one pass of the look-ahead that follows one action at each state."""
    search = Search(problem_of(reduced(instance).arrays), 1 << 30, 0)

    def allowed() -> int:
        return search.ranked + SLICE

    single = next(islice(passes(), 1, None))
    for _ in chain(search.compare(single.settings, allowed), search.deepen(single.deepest, allowed)):
        pass
    return search.expected


def large(seconds: float) -> None:
    """Print cost and bound after some seconds, and the ratios to the baselines."""
    times = [each for each in TIMES if each <= seconds]
    head = "".join(f"{f'{each:g} s':>18}" for each in times)
    print(f"large problems: cost (bound) after\n  problem               {head}   fixes alone   one pass")
    for size in LARGE:
        drawn = random_instance(np.random.default_rng(3001), size)
        instance = replace(drawn, give_up=RETURN, comeback=COMEBACK)
        told: list[tuple[float, float, float]] = []
        best = solve_anytime(
            instance,
            limits=Limits(seconds=times[-1]),
            progress=partial(_keep, told, perf_counter()),
        ).expected
        cells = "".join(_cell(told, each) for each in times)
        ratios = f"{fixes_alone(instance) / best:>12.2f} x {one_pass(instance) / best:>8.2f} x"
        print(f"  {_named(size):<22}{cells}{ratios}", flush=True)


def _keep(told: list[tuple[float, float, float]], start: float, _: float, cost: float, bound: float) -> None:
    told.append((perf_counter() - start, cost, bound))


def _cell(told: list[tuple[float, float, float]], seconds: float) -> str:
    """The last report by then; a search that ended by then counts with what it ended with."""
    _, cost, bound = [each for each in told if each[0] <= seconds + GRACE][-1]
    return f"{f'{cost:.2f} ({bound:.2f})':>18}"


def small(problems: int) -> None:
    """Print the distance to the proven optimum against time."""
    instances = [random_instance(np.random.default_rng(1000 + k), SMALL) for k in range(problems)]
    optima = np.array([solve_exact(instance).expected for instance in instances])
    habit = np.array([fixes_alone(instance) for instance in instances]) / optima - 1
    print(f"\ndistance to the proven optimum, {problems} problems of {_named(SMALL)}")
    print("  time each   leaves     mean    95 %    worst  optimal   fixes alone, mean over this mean")
    for seconds, leaves in ((0.05, 0), (0.1, 0), (0.4, 0), (0.4, LEAF_STATES)):
        limits = Limits(seconds=seconds)
        found = [solve_anytime(each, limits=limits, leaf_states=leaves).expected for each in instances]
        gap = np.array(found) / optima - 1
        high, share, ratio = np.percentile(gap, 95), float((gap < 1e-9).mean()), habit.mean() / gap.mean()
        print(
            f"  {seconds:>7.2f} s {'on' if leaves else 'off':>8} {gap.mean():>9.3%} {high:>7.3%} "
            f"{gap.max():>7.3%} {share:>8.0%} {ratio:>12.0f}",
            flush=True,
        )


def _named(size: tuple[int, ...]) -> str:
    return " × ".join(map(str, size))


if __name__ == "__main__":
    solve_anytime(random_instance(np.random.default_rng(0), SMALL), limits=Limits(nodes=500))  # kernels
    large(float(sys.argv[1]) if len(sys.argv) > 1 else TIMES[-1])
    small(PROBLEMS)
