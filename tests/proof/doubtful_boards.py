"""A known model of an invented board, jobs drawn from it, and mistakes planted in them."""

from dataclasses import replace

import numpy as np

from benchlore.jobs import UNLISTED, Attempt, Job, Outcome, Reading, Retest
from benchlore.model import (
    cases_from_jobs,
    exact_densities,
    fix_of,
    model_of,
    named_check,
    numeric_check,
    simulate,
)
from benchlore.units import Measure

FAULTS = ("joint", "via", "plug", "core", "unlisted")


def board_model(unlisted_share=0.02):
    """Four faults, each with two conditions of six that it upsets; eight checks, half of them numbers."""
    odd = {0: (0, 1), 1: (1, 2), 2: (3, 4), 3: (4, 5)}
    states = []
    for g in range(6):
        rows = [[0.05, 0.95] if g in odd.get(f, ()) else [0.97, 0.03] for f in range(4)]
        states.append([*rows, [0.6, 0.4]])
    rail = exact_densities(Measure.VOLTAGE, [3.75, 3.3], [0.04, 0.08])
    core = exact_densities(Measure.VOLTAGE, [0.9, 0.7], [0.01, 0.04])
    ohms = exact_densities(Measure.RESISTANCE, np.log([4200, 9]), [0.15, 0.5], log_normal=True)
    pull = exact_densities(Measure.RESISTANCE, np.log([47e3, 2e3]), [0.05, 0.3], log_normal=True)
    look = [[0.95, 0.05], [0.1, 0.9]]
    checks = [
        numeric_check("rail", 0, rail),
        named_check("press", 1, look, results=("calm", "jumps")),
        numeric_check("sense", 2, core),
        named_check("look-plug", 3, look, results=("clean", "green")),
        numeric_check("ohms", 4, ohms),
        numeric_check("pull-up", 5, pull),
        named_check("warm", 5, look, results=("cold", "warm")),
        named_check("log", 2, look, results=("short", "long")),
    ]
    prior = [*np.full(4, (1 - unlisted_share) / 4), unlisted_share]
    fixes = [fix_of(f"fix-{name}", np.eye(5)[f] * 0.9) for f, name in enumerate(FAULTS[:-1])]
    return model_of(prior, states, checks, fixes, faults=FAULTS)


def drawn_jobs(model, seed, count, *, share=0.9, confirmed=0.8):
    """Jobs on boards drawn from the model, with readings in the order of the checks; none was repaired."""
    rng = np.random.default_rng(seed)
    drawn = simulate(model, rng, count)
    jobs = []
    for j in range(count):
        done = [c for c in range(len(model.checks)) if rng.random() < share]
        readings = tuple(_reading(model, c, drawn, j, step) for step, c in enumerate(done))
        fault = model.faults[drawn.faults[j]] if rng.random() < confirmed else None
        jobs.append(job_of(f"{j:03d}", readings, fault))
    return jobs


def _reading(model, c, drawn, j, step):
    check = model.checks[c]
    if check.densities is None:
        return Reading(check.name, step, result=check.results[drawn.results[j, c]])
    return Reading(check.name, step, value=float(drawn.values[j, c]))


def job_of(number, readings, fault, **kinds):
    return Job(
        "bench",
        number,
        "board",
        "complaint",
        readings=readings,
        fault=fault,
        outcome=kinds.pop("outcome", Outcome.RETURNED),
        **kinds,
    )


def with_reading(job, check, **changes):
    """The job with one reading changed."""
    readings = tuple(replace(one, **changes) if one.check == check else one for one in job.readings)
    return replace(job, readings=readings)


def value_of(job, check):
    return next((one.value for one in job.readings if one.check == check), None)


def cases_of(model, jobs):
    return cases_from_jobs([model], jobs)


def repaired_with(job, fix):
    attempt = Attempt(fix, 99, Retest.GONE)
    return replace(job, outcome=Outcome.REPAIRED, attempts=(attempt,))


__all__ = [
    "FAULTS",
    "UNLISTED",
    "board_model",
    "cases_of",
    "drawn_jobs",
    "job_of",
    "repaired_with",
    "value_of",
    "with_reading",
]
