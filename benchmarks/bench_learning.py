"""Learning from many jobs, against a loop over jobs in plain numpy.

Half of the faults are confirmed, half of the checks are numeric, and a fix was tried on every board. The loop
does one expectation step on some of the jobs and must find the same counts; the script stops if it does not.

    python benchmarks/bench_learning.py [--jobs 100000 --read 8]
"""

import argparse
import time
from dataclasses import replace

import numpy as np

from benchlore.model import (
    Cases,
    Check,
    FloatArray,
    Model,
    counts_of,
    exact_densities,
    fix_of,
    learn,
    model_of,
    named_check,
    normalised,
    numeric_check,
    simulate,
)
from benchlore.model.em import Expected, Fixed, expect, fixed_of
from benchlore.model.grouping import group
from benchlore.model.parameters import Weights, weights_of
from benchlore.units import Measure

FAULTS, CONDITIONS, CHECKS, STATES = 20, 18, 30, 3


def make_truth(rng: np.random.Generator) -> Model:
    """Make a board whose every second check is numeric."""
    states = [rng.dirichlet(np.full(STATES, 0.4), FAULTS) for _ in range(CONDITIONS)]
    checks = []
    for c in range(CHECKS):
        if c % 2:
            checks.append(named_check(f"c{c}", c % CONDITIONS, rng.dirichlet(np.full(STATES, 0.3), STATES)))
        else:
            shown = exact_densities(
                Measure.VOLTAGE, rng.normal(3, 1, STATES), [0.1] * STATES, over=[0.002] * STATES
            )
            checks.append(numeric_check(f"c{c}", c % CONDITIONS, shown))
    fixes = [fix_of(f"a{a}", rng.random(FAULTS)) for a in range(4)]
    return model_of(rng.dirichlet(np.full(FAULTS, 2.0)), states, checks, fixes, detects=0.8)


def as_known_by_a_book(truth: Model) -> Model:
    """Return the truth as an expert with ten boards for each row would have it, and unsure of it."""
    return replace(
        truth,
        prior=_unsure(truth.prior),
        states=tuple(_unsure(rows) for rows in truth.states),
        checks=tuple(_unsure_check(check) for check in truth.checks),
        fixes=tuple(replace(fix, cures=_unsure(fix.cures)) for fix in truth.fixes),
    )


def _unsure(counts: FloatArray) -> FloatArray:
    return counts_of(0.7 * normalised(counts) + 0.3 / counts.shape[-1], 10.0)


def _unsure_check(check: Check) -> Check:
    if (d := check.densities) is None:
        return replace(check, counts=_unsure(check.counts))
    few = 1e-5
    fewer = replace(d, kappa=d.kappa * few, shape=d.shape * few, scale=d.scale * few, over=d.over * few)
    return replace(check, densities=fewer)


def draw_cases(truth: Model, jobs: int, read: int, digits: int | None, rng: np.random.Generator) -> Cases:
    """Draw jobs with ``read`` readings each; meters show ``digits`` decimals (``None``: all of them)."""
    boards = simulate(truth, rng, jobs)
    check = np.argsort(rng.random((jobs, CHECKS)), axis=1)[:, :read].ravel()
    job = np.repeat(np.arange(jobs), read)
    numeric = np.array([one.densities is not None for one in truth.checks])[check]
    values = np.where(numeric, boards.values[job, check], 0.0)
    return Cases(
        complaints=np.zeros(jobs, dtype=np.int64),
        faults=np.where(rng.random(jobs) < 0.5, boards.faults, -1),
        reading_jobs=job,
        reading_checks=check,
        reading_results=np.where(numeric, -1, boards.results[job, check]),
        reading_values=values if digits is None else np.round(values, digits),
        attempt_jobs=np.arange(jobs),
        attempt_fixes=rng.integers(0, len(truth.fixes), jobs),
        attempt_outcomes=np.zeros(jobs, dtype=np.int64),
        attempt_soaked=np.full(jobs, np.nan),
    )


def first(cases: Cases, jobs: int) -> Cases:
    """Return the first jobs of the cases."""
    mine, tried = cases.reading_jobs < jobs, cases.attempt_jobs < jobs
    return Cases(
        complaints=cases.complaints[:jobs],
        faults=cases.faults[:jobs],
        reading_jobs=cases.reading_jobs[mine],
        reading_checks=cases.reading_checks[mine],
        reading_results=cases.reading_results[mine],
        reading_values=cases.reading_values[mine],
        attempt_jobs=cases.attempt_jobs[tried],
        attempt_fixes=cases.attempt_fixes[tried],
        attempt_outcomes=cases.attempt_outcomes[tried],
        attempt_soaked=cases.attempt_soaked[tried],
    )


def loop_over_jobs(model: Model, fixed: Fixed, weights: Weights, cases: Cases) -> tuple[FloatArray, float]:
    """Do the expectation step job by job: expected counts of states ``(G, S, F)`` and the log-likelihood."""
    states, total = np.zeros_like(weights.states), 0.0
    starts = np.searchsorted(cases.reading_jobs, np.arange(len(cases.complaints) + 1))
    for j, fault in enumerate(cases.faults):
        logs: dict[int, FloatArray] = {}
        for k in range(starts[j], starts[j + 1]):
            check = model.checks[cases.reading_checks[k]]
            g = check.condition
            logs[g] = logs.get(g, 0.0) + reading_log(fixed, weights, cases, k)
        joint = weights.prior[0].copy() if fault < 0 else np.eye(FAULTS)[fault]
        joint *= weights.cures[cases.attempt_fixes[j], :, 1] * model.detects  # every fix failed
        parts = {g: weights.states[g] * np.exp(log)[:, None] for g, log in logs.items()}
        for part in parts.values():
            joint *= part.sum(axis=0)
        total += np.log(joint.sum())
        belief = joint / joint.sum()
        for g, part in parts.items():
            states[g] += part / part.sum(axis=0) * belief
    return states, total


def reading_log(fixed: Fixed, weights: Weights, cases: Cases, k: int) -> FloatArray:
    """Return one reading's expected log-likelihood, ``(S,)``."""
    c, value = cases.reading_checks[k], cases.reading_values[k]
    if cases.reading_results[k] >= 0:
        return weights.results[c, cases.reading_results[k]]
    if np.isinf(value):
        return weights.over[c, :, 1]
    constant, precision, mean = weights.normal[:, c]
    centre, width, slip = fixed.slip[c]
    blunder = np.log(slip / width / np.sqrt(2 * np.pi)) - ((value - centre) / width) ** 2 / 2
    body = np.log1p(-slip) + constant - precision * (value - mean) ** 2
    return weights.over[c, :, 0] + np.logaddexp(body, blunder)


def compare_with_loop(model: Model, cases: Cases, jobs: int) -> float:
    """Return how many times longer the loop takes for each job; stop if it finds something else."""
    some = first(cases, jobs)
    fixed = fixed_of([model], group([model], some))
    weights = weights_of(fixed.before, fixed.bands)
    start = time.process_time()
    states, total = loop_over_jobs(model, fixed, weights, some)
    loop = (time.process_time() - start) / jobs
    ours: Expected = expect(fixed, weights)
    assert np.allclose(ours.states, states, rtol=1e-9, atol=1e-9)
    assert abs(ours.log_likelihood - total) <= 1e-9 * abs(total)
    everything = fixed_of([model], group([model], cases))
    start = time.process_time()
    expect(everything, weights)
    return loop / ((time.process_time() - start) / len(cases.complaints))


def main() -> None:
    """Learn from meters that show two decimals, and from raw numbers of which no two are equal."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--jobs", type=int, default=100_000)
    parser.add_argument("--read", type=int, default=8)
    sizes = parser.parse_args()
    rng = np.random.default_rng(1)
    truth = make_truth(rng)
    model = as_known_by_a_book(truth)
    learn([model], draw_cases(truth, 100, sizes.read, 2, rng))  # compiles
    for digits, meters in ((2, "meters with two decimals"), (None, "no two numbers equal")):
        cases = draw_cases(truth, sizes.jobs, sizes.read, digits, rng)
        start, cpu = time.perf_counter(), time.process_time()
        _, report = learn([model], cases)
        seconds, cpu = time.perf_counter() - start, time.process_time() - cpu
        print(
            f"{sizes.jobs} jobs × {sizes.read} readings, {meters}: {seconds:.2f} s ({cpu:.2f} s of a core), "
            f"{len(report.bound)} steps, converged: {report.converged}; "
            f"an expectation step is {compare_with_loop(model, cases, 1000):.0f} × as fast as the loop"
        )


if __name__ == "__main__":
    main()
