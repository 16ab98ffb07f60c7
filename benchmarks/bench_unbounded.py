"""What a procedure costs in time where only its cost is wanted: searching without a bound beside with one.

Run: python benchmarks/bench_unbounded.py [PROBLEMS]. Random problems of 20 x 15 x 30 x 15 at quick effort.
"""

import sys
from time import process_time

from numpy.random import default_rng

from benchlore.procedure import Effort, Instance, Limits, solve_anytime
from benchlore.procedure.anytime import limits_of
from random_instances import random_instance

SIZE = (20, 15, 30, 15)
QUICK = limits_of(Effort.QUICK, Limits())


def timed(instance: Instance, *, bounded: bool) -> tuple[float, float]:
    """Seconds of the processor, and the cost found."""
    start = process_time()
    found = solve_anytime(instance, limits=QUICK, bounds=None if bounded else iter(()))
    return process_time() - start, found.expected


def main() -> None:
    """Compare both on the same problems."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 10
    instances = [random_instance(default_rng(seed), SIZE) for seed in range(count + 1)]
    timed(instances.pop(), bounded=True)  # compile
    pairs = [(timed(each, bounded=True), timed(each, bounded=False)) for each in instances]
    (bounded, _), (alone, _) = (map(sum, zip(*column, strict=True)) for column in zip(*pairs, strict=True))
    dearer = [cost / least - 1 for (_, least), (_, cost) in pairs]
    print(
        f"{count} problems: with a bound {bounded:.1f} s, without {alone:.1f} s, ratio {bounded / alone:.1f}"
    )
    print(f"without it they cost {sum(dearer) / count:.2%} more on average, {max(dearer):.2%} at most")


if __name__ == "__main__":
    main()
