"""A million simulated jobs along a procedure's action table, against a loop in plain Python.

Both follow the same procedure from the same instance. The script stops if either mean is further from the
exact expected cost than four standard errors.

    python benchmarks/bench_simulate.py [--jobs 1000000 --plain 20000]
"""

import argparse
import random
from itertools import accumulate
from statistics import fmean, stdev
from time import perf_counter

import numpy as np

from benchlore.procedure import RELEASE, Instance, Kind, Procedure, simulate, solve_exact
from benchlore.procedure.graph import Title, procedure_of
from random_instances import random_instance

SIZE = (8, 6, 9, 6)
ERRORS = 4


def plain_jobs(procedure: Procedure, instance: Instance, jobs: int) -> list[float]:
    """Return the cost of each of so many jobs, one result drawn after the other."""
    rng = random.Random(1)
    checks = {check.name: check for check in instance.checks}
    fixes = {fix.name: (fix.cures.tolist(), fix.detects.tolist()) for fix in instance.fixes}
    faults = list(accumulate(instance.prior.tolist()))
    states = [[list(accumulate(row)) for row in table.tolist()] for table in instance.tables]
    shows = {name: [list(accumulate(row)) for row in check.table.tolist()] for name, check in checks.items()}
    own = [step.cost.total - step.cost.comeback for step in procedure.steps]
    costs = []
    for _ in range(jobs):
        fault, cost, number = drawn(rng, faults), 0.0, 0
        known: dict[int, int] = {}
        while number != RELEASE:
            step = procedure.steps[number]
            cost += own[number]
            if step.kind is Kind.RETURN:
                break
            if step.kind is Kind.CHECK:
                check = checks[step.action]
                if check.condition not in known:
                    known[check.condition] = drawn(rng, states[check.condition][fault])
                result = drawn(rng, shows[step.action][known[check.condition]])
                number = step.branches[check.results[result]]
            else:
                cures, detects = fixes[step.action]
                cured = rng.random() < cures[fault]
                caught = not cured and rng.random() < detects[fault]
                cost += 0.0 if cured or caught else instance.comeback
                number = step.branches["still there" if caught else "gone"]
        costs.append(cost)
    return costs


def drawn(rng: random.Random, sums: list[float]) -> int:
    """Return the first place whose sum exceeds a random share of the total."""
    level = rng.random() * sums[-1]
    return next(place for place, total in enumerate(sums) if total > level)


def main() -> None:
    """Print times, means and the ratio."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--jobs", type=int, default=1_000_000)
    parser.add_argument("--plain", type=int, default=20_000)
    options = parser.parse_args()
    instance = random_instance(np.random.default_rng(1), SIZE)
    procedure = procedure_of(instance, solve_exact(instance), Title("board", "complaint", "shop", "EUR"))
    print(f"{' × '.join(map(str, SIZE))}: {len(procedure.steps)} steps, exact cost {procedure.expected:.3f}")
    simulate(procedure, instance, np.random.default_rng(0), 10)  # the kernels are compiled first
    start = perf_counter()
    jobs = simulate(procedure, instance, np.random.default_rng(0), options.jobs)
    fast = perf_counter() - start
    start = perf_counter()
    costs = plain_jobs(procedure, instance, options.plain)
    slow = perf_counter() - start
    for name, count, took, mean, error in (
        ("action table", options.jobs, fast, jobs.mean, jobs.standard_error),
        ("plain Python", options.plain, slow, fmean(costs), stdev(costs) / options.plain**0.5),
    ):
        apart = abs(mean - procedure.expected) / error
        print(
            f"  {name}: {count:>9,} jobs in {took:6.3f} s, mean {mean:.3f}, {apart:.1f} standard errors off"
        )
        if apart > ERRORS:
            raise SystemExit(f"{name}: more than {ERRORS} standard errors from the exact cost")
    print(f"  ratio, job for job: {slow / options.plain / (fast / options.jobs):.0f}")


if __name__ == "__main__":
    main()
