"""Random models, evidence and cases for the tests of this folder."""

import numpy as np

from benchlore.model import (
    Cases,
    Evidence,
    Model,
    densities_of,
    fix_of,
    model_of,
    named_check,
    numeric_check,
    simulate,
)
from benchlore.units import Measure


def random_model(seed, *, faults=5, conditions=4, checks=7, fixes=3, zeros=False, numbers=True, weight=20.0):
    """Every third check is numeric; with ``zeros``, some probabilities of states are exactly zero."""
    rng = np.random.default_rng(seed)
    sizes = rng.integers(2, 4, conditions)
    states = [rng.dirichlet(np.ones(size), faults) for size in sizes]
    if zeros:
        for table in states:
            table[rng.random(table.shape) < 0.3] = 0.0
            table[table.sum(axis=1) == 0] = 1.0
    made = []
    for c in range(checks):
        g = int(rng.integers(conditions))
        if numbers and c % 3 == 0:
            log_normal = bool(rng.integers(2))
            measure = Measure.RESISTANCE if log_normal else Measure.VOLTAGE
            mean, sd = rng.normal(3, 2, sizes[g]), rng.uniform(0.2, 1.0, sizes[g])
            over = rng.uniform(0.001, 0.3, sizes[g])
            densities = densities_of(measure, mean, sd, over, log_normal=log_normal)
            made.append(numeric_check(f"c{c}", g, densities))
        else:
            table = rng.dirichlet(np.ones(rng.integers(2, 5)), sizes[g])
            made.append(named_check(f"c{c}", g, table, weight=weight))
    tried = [
        fix_of(f"a{a}", rng.random(faults) * (rng.random(faults) < 0.7), weight=weight) for a in range(fixes)
    ]
    prior = rng.dirichlet(np.ones(faults))
    return model_of(prior, states, made, tried, detects=rng.uniform(0.3, 1.0, faults), weight=weight)


def random_evidence(model: Model, seed, *, share=0.6, numbers=True):
    """What a board drawn from the model shows on some of the checks, and fixes that were tried on it."""
    rng = np.random.default_rng(seed)
    board = simulate(model, rng, 1)
    done = [c for c in range(len(model.checks)) if rng.random() < share]
    numeric = [c for c in done if numbers and model.checks[c].densities is not None]
    fixes = rng.permutation(len(model.fixes))[: rng.integers(len(model.fixes) + 1)].tolist()
    half = len(fixes) // 2
    return Evidence(
        readings=tuple((c, int(board.results[0, c])) for c in done if c not in numeric),
        values=tuple((c, float(board.values[0, c])) for c in numeric),
        failed=tuple(fixes[half:]),
        passed=tuple(fixes[:half]),
    )


def random_cases(models, seed, *, jobs=60, share=0.6, confirmed=0.5, digits=None, outcomes=3, soaked=0.0):
    """Jobs drawn from the first model: some checks read, at most one fix tried, some faults confirmed."""
    rng = np.random.default_rng(seed)
    model = models[0]
    drawn = simulate(model, rng, jobs)
    job, check = np.nonzero(rng.random((jobs, len(model.checks))) < share)
    numeric = np.array([one.densities is not None for one in model.checks], dtype=bool)[check]
    values = np.where(numeric, drawn.values[job, check], 0.0)
    if digits is not None:
        values = np.round(values, digits)
    tried = np.flatnonzero(rng.random(jobs) < 0.7) if model.fixes else np.empty(0, dtype=np.int64)
    return Cases(
        complaints=rng.integers(0, len(models), jobs),
        faults=np.where(rng.random(jobs) < confirmed, drawn.faults, -1),
        reading_jobs=job,
        reading_checks=check,
        reading_results=np.where(numeric, -1, drawn.results[job, check]),
        reading_values=values,
        attempt_jobs=tried,
        attempt_fixes=rng.integers(0, max(len(model.fixes), 1), len(tried)),
        attempt_outcomes=rng.integers(0, outcomes, len(tried)),
        attempt_soaked=np.where(
            rng.random(len(tried)) < soaked, np.round(rng.uniform(0, 300, len(tried))), np.nan
        ),
    )
