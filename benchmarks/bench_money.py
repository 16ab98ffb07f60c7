"""Time a quote's exact unfolding against simulation at equal error, and a fund plan of 200 candidates.

Run: python benchmarks/bench_money.py. Seconds are of one processor. The error is that of the mean: simulation
needs ``(deviation / (0.001 mean))²`` jobs to know it to a thousandth; unfolding knows it to rounding.
"""

from collections.abc import Callable
from time import process_time

import numpy as np

from benchlore.money import Candidate, Pot, choose, curve, highest_fee, how_often, job_costs, ways_through
from benchlore.procedure import Title, simulate, solve_exact
from benchlore.procedure.graph import procedure_of
from random_instances import random_instance

SIZES = ((6, 4, 7, 5), (8, 5, 9, 6))
TITLE = Title("board", "complaint", "shop", "EUR")
ERROR = 0.001
RATES = 5
DRAWS = 20_000
CANDIDATES = 200


def timed(act: Callable[[], object], times: int = 1) -> float:
    """The least seconds of several goes."""
    found = []
    for _ in range(times):
        begin = process_time()
        act()
        found.append(process_time() - begin)
    return min(found)


def quotes() -> None:
    """Compare on random boards, the larger with thousands of states of evidence."""
    for seed, size in enumerate(SIZES):
        instance = random_instance(np.random.default_rng(seed), size, gates=0.2)
        procedure = procedure_of(instance, solve_exact(instance), TITLE)
        ways = ways_through(procedure, instance)
        costs = job_costs(procedure, instance, ways=ways)
        simulate(procedure, instance, np.random.default_rng(1), 10)
        once = timed(lambda p=procedure, i=instance: ways_through(p, i), 5)
        merge = timed(lambda p=procedure, i=instance, w=ways: job_costs(p, i, ways=w), 5)
        drawn = timed(lambda p=procedure, i=instance: simulate(p, i, np.random.default_rng(1), DRAWS))
        needed = (costs.deviation / (ERROR * costs.mean)) ** 2
        ratio = drawn * needed / DRAWS / (once + merge)
        reuse = (RATES + 3) * (once + merge) / (once + RATES * merge)
        print(f"{len(ways.numbers):,} states: exact {1000 * (once + merge):.1f} ms; as exact to 0.1 %")
        print(f"  {needed:,.0f} simulated jobs take {ratio:,.0f} times as long")
        print(f"  five rates and two rules: unfolding once is {reuse:.1f} times as fast as eight times")


def fund() -> None:
    """Time a plan of 200 candidates with hours, groups and two that must be in it."""
    rng = np.random.default_rng(1)
    candidates = [
        Candidate(
            name=f"c{k}",
            benefit=float(rng.lognormal(9, 0.8)),
            cost=float(rng.uniform(1000, 8000)),
            hours=float(rng.uniform(20, 200)),
            who=f"p{k % 12}",
            must=k < 2,
            group=f"g{k // 3}" if k >= 150 else "",
            hours_spread=0.3,
            benefit_spread=0.4,
        )
        for k in range(CANDIDATES)
    ]
    pot = Pot(150_000, {f"p{k}": 900.0 for k in range(12)})
    one = timed(lambda: choose(candidates, pot), 3)
    print(f"{CANDIDATES} candidates: the best set {1000 * one:.0f} ms")
    for what, act in (
        ("20 of 200 highest fees", lambda: [highest_fee(candidates, pot, k) for k in range(0, 200, 10)]),
        ("the curve of 41 budgets", lambda: curve(candidates, pot)),
        ("20 of 200 draws", lambda: how_often(candidates, pot, draws=20)),
    ):
        took = timed(act)
        print(f"  {what}: {took:.1f} s, {took / one:.0f} best sets")


if __name__ == "__main__":
    quotes()
    fund()
