"""Finished jobs on the board that ``init`` writes, for whatever learns from jobs."""

import numpy as np

from benchlore.jobs import Attempt, Job, Outcome, Reading, Retest

FAULTS = {
    "c5-short": ("replace-c5", 4.0, 0.2),
    "u2-dead": ("replace-u2", 2200.0, 0.2),
    "f1-open": ("replace-f1", 2100.0, 2e6),
}


def finished_jobs(count, shop="Quay"):
    """Jobs as a bench does them: both resistances, then the fix that they point at."""
    rng = np.random.default_rng(1)
    return [_job(f"{k}", str(rng.choice(list(FAULTS))), shop) for k in range(count)]


def _job(number, fault, shop):
    fix, rail, fuse = FAULTS[fault]
    readings = (Reading("rail-ohms", 0, value=rail), Reading("fuse-ohms", 1, value=fuse))
    return Job(
        shop,
        number,
        "my-board",
        "no-power",
        readings=readings,
        attempts=(Attempt(fix, 2, Retest.GONE),),
        outcome=Outcome.REPAIRED,
        fault=fault,
        hands_on=90.0,
        waiting=0.0,
    )
