"""An invented board whose truth is known, and benches that work on it and write down what they see."""

from datetime import date, timedelta

import numpy as np

from benchlore.jobs import Attempt, Job, Outcome, Reading, Retest
from benchlore.model import Work, exact_densities, fix_of, model_of, named_check, numeric_check, simulate
from benchlore.shop import Shop
from benchlore.units import Measure

SHOP = Shop(name="bench", currency="EUR", hour=60.0, waiting_hour=6.0, worth_otherwise=120.0, comeback=180.0)
FAULTS = ("joint", "via", "plug", "unlisted")


def a_model(weight=1e6, *, detects=1.0, complaint="complaint"):
    """Three faults, three conditions, four checks of which one gives numbers; one fix a fault."""
    states = [
        [[0.1, 0.9], [0.95, 0.05], [0.9, 0.1], [0.6, 0.4]],
        [[0.9, 0.1], [0.15, 0.85], [0.95, 0.05], [0.6, 0.4]],
        [[0.9, 0.1], [0.8, 0.2], [0.1, 0.9], [0.5, 0.5]],
    ]
    rail = exact_densities(Measure.VOLTAGE, [3.75, 3.3], [0.05, 0.12])
    checks = [
        numeric_check("rail", 0, rail, work=Work(3.0)),
        named_check(
            "press", 1, [[0.95, 0.05], [0.2, 0.8]], results=("calm", "jumps"), work=Work(2.0), weight=weight
        ),
        named_check(
            "look", 2, [[0.9, 0.1], [0.1, 0.9]], results=("clean", "green"), work=Work(4.0), weight=weight
        ),
        named_check(
            "warm", 2, [[0.8, 0.2], [0.3, 0.7]], results=("cold", "warm"), work=Work(1.0), weight=weight
        ),
    ]
    cures = 0.9 * np.eye(4)[:3]
    fixes = [
        fix_of(f"fix-{name}", cures[f], work=Work(20.0 + 5 * f, 4.0), parts=15.0 + 4.0 * f, weight=weight)
        for f, name in enumerate(FAULTS[:-1])
    ]
    return model_of(
        [0.45, 0.3, 0.2, 0.05],
        states,
        checks,
        fixes,
        faults=FAULTS,
        weight=weight,
        detects=detects,
        retest=Work(5.0),
        complaint=complaint,
    )


def recorded_jobs(truth, seed, count, *, share=0.8, shops=("north", "south"), confirmed=1.0):
    """Jobs as benches write them down: some checks, then fixes from the likeliest on until one is seen to help."""
    rng = np.random.default_rng(seed)
    drawn = simulate(truth, rng, count)
    return [_job(truth, rng, drawn, k, share, shops, confirmed) for k in range(count)]


def _job(truth, rng, drawn, k, share, shops, confirmed):
    fault, step, minutes, attempts = int(drawn.faults[k]), 0, 0.0, []
    readings = []
    for c, check in enumerate(truth.checks):
        if rng.random() < share:
            number = check.densities is not None
            result = None if number else check.results[drawn.results[k, c]]
            readings.append(Reading(check.name, step, result, float(drawn.values[k, c]) if number else None))
            step, minutes = step + 1, minutes + check.work.takes
    outcome, comeback = Outcome.RETURNED, None
    for a in rng.permutation(len(truth.fixes)):
        fix = truth.fixes[a]
        cured = rng.random() < fix.cure_probabilities[fault]
        seen = not cured and rng.random() < truth.detects[fault]
        attempts.append(Attempt(fix.name, step, Retest.STILL_THERE if seen else Retest.GONE))
        step, minutes = step + 1, minutes + fix.work.takes + truth.retest.takes
        if not seen:
            outcome, comeback = Outcome.REPAIRED, not cured
            break
    return Job(
        shop=shops[k % len(shops)],
        number=f"{k:04d}",
        board="board",
        complaint=truth.complaint,
        opened=date(2026, 1, 1) + timedelta(days=k),
        readings=tuple(readings),
        attempts=tuple(attempts),
        outcome=outcome,
        fault=truth.faults[fault] if rng.random() < confirmed else None,
        hands_on=minutes,
        waiting=4.0 * len(attempts),
        comeback=comeback,
    )
