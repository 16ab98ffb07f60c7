"""How often intervals of the proof hold the truth, beside the ones that textbooks and papers give first.

python benchmarks/bench_intervals.py [samples, 200 unless told; docs/proof.md has the rates of 1000]
"""

import sys

import numpy as np
from scipy.special import expit

from benchlore.proof.abundance import Abundance
from benchlore.proof.coverage import coverage_of, sample_coverage
from benchlore.proof.estimate import Estimate, Z, percentiles
from benchlore.proof.scores import WORST_LOG, ratio, resamples

SAMPLES = int(sys.argv[1]) if len(sys.argv) > 1 else 200
COMMUNITIES = {
    "a few faults and rare ones": [50, 30, 15, 1, 1, 1, 1, 1],
    "a core and a tail": [30, 20, 15, 10, 8, *[1] * 17],
    "each half as frequent": 0.5 ** np.arange(20),
    "each three quarters as frequent": 0.75 ** np.arange(30),
    "one over the rank": 1 / np.arange(1, 41),
    "all alike": np.ones(25),
    "three and dust": [400, 250, 150, *[1] * 200],
}


def main() -> None:
    """Print all tables."""
    rng = np.random.default_rng(1)
    print("sample coverage: ours · Esty's ± · bootstrap ± (Chao et al. 2014)")
    for boards in (20, 50, 100, 200):
        for name, weights in COMMUNITIES.items():
            print(f"  {boards:4} boards, {name:32}", *sample_rates(rng, np.array(weights), boards))
    print("curve of coverage up to twice the boards: coverage; faults along it; boards until 95 %")
    for boards in (20, 50, 100, 200):
        for name, weights in COMMUNITIES.items():
            print(f"  {boards:4} boards, {name:32}", *curve_rates(rng, np.array(weights), boards))
    print("log score of too sure forecasts: ours · percentiles of resampled jobs")
    for jobs in (10, 20, 50, 200):
        print(f"  {jobs:4} jobs of 3 forecasts", *score_rates(rng, jobs))


def sample_rates(rng: np.random.Generator, weights: np.ndarray, boards: int) -> list[str]:
    """Shares of samples whose interval holds the true coverage."""
    chances = weights / weights.sum()
    held = np.zeros(3)
    for _ in range(SAMPLES):
        sizes = rng.multinomial(boards, chances)
        truth = float(chances[sizes > 0].sum())
        found = Abundance(sizes[sizes > 0])
        good = found.once / boards
        esty = np.sqrt(good * (1 - good) / boards + 2 * found.twice / boards**2)
        drawn = np.std([found.draw(rng).unseen for _ in range(100)], ddof=1) if found.unseen else 0.0
        ours = sample_coverage(found)
        held += [
            ours.low <= truth <= ours.high,
            abs(1 - found.unseen - truth) <= Z * esty,
            abs(1 - found.unseen - truth) <= Z * drawn,
        ]
    return [f"{share:.3f}" for share in held / SAMPLES]


def curve_rates(rng: np.random.Generator, weights: np.ndarray, boards: int) -> list[str]:
    """The same along the curve, where the truth is what is expected of so many boards."""
    chances = weights / weights.sum()
    held: dict[str, list[bool]] = {"coverage": [], "faults": [], "until": []}
    for _ in range(SAMPLES // 10):
        sizes = rng.multinomial(boards, chances)
        found = coverage_of({str(place): int(size) for place, size in enumerate(sizes)}, [], rng=rng)
        for point in found.curve[4::5]:
            missed = (1 - chances) ** point.boards
            held["coverage"].append(holds(point.coverage, 1 - float(chances @ missed)))
            held["faults"].append(holds(point.faults, float(np.sum(1 - missed))))
        if found.until[0].more:
            held["until"].append(holds(found.until[0].more, until(chances, boards)))
    return [f"{name} {np.mean(rates):.3f}" if rates else f"{name} -" for name, rates in held.items()]


def until(chances: np.ndarray, boards: int) -> int:
    """How many more boards truly take the expected coverage to 95 per cent."""
    more = 0
    while chances @ (1 - chances) ** (boards + more) > 0.05:
        more += 1
    return more


def holds(found: Estimate, truth: float) -> bool:
    """Whether an interval holds the truth."""
    return found.low - 1e-9 <= truth <= found.high + 1e-9


def score_rates(rng: np.random.Generator, jobs: int) -> list[str]:
    """Shares of samples of jobs whose interval holds the mean score of all jobs."""

    def scores(count: int) -> np.ndarray:
        odds = np.repeat(rng.normal(3, 1.5, count), 3)
        right = rng.random(3 * count) < expit(odds)
        given = expit(1.3 * odds)
        return -np.log(np.where(right, given, 1 - given).clip(1e-6)).reshape(count, 3).sum(axis=1)

    truth = scores(300_000).mean() / 3
    held = np.zeros(2)
    for _ in range(SAMPLES):
        mine, sizes, draws = scores(jobs), np.full(jobs, 3.0), resamples(jobs, rng)
        low, high = percentiles((draws @ mine) / (draws @ sizes))
        held += [holds(ratio(mine, sizes, draws, (0.0, WORST_LOG)), truth), low <= truth <= high]
    return [f"{share:.3f}" for share in held / SAMPLES]


if __name__ == "__main__":
    main()
