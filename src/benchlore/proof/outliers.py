"""Jobs that the model finds nearly impossible or that contradict themselves, and what may be behind it.

``docs/proof.md`` has the method.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from benchlore.jobs import Job, Outcome
from benchlore.model import Cases, CasesError, Model, Tried
from benchlore.proof.chance_finds import shares_of_chance
from benchlore.proof.joblogs import Seen, seen_in, without_blunders
from benchlore.proof.reasons import Misreading, Odd, Rival, Suspicion, suspicion
from benchlore.proof.tails import tails

FALSE_SHARE: Final = 0.05
"""At most this share of the jobs whose readings are called odd are expected to be odd by chance."""

LOOKS: Final = ((1.0, 1_000), (0.05, 10_000))
"""With so many boards a job is compared if its tail probability is so far at most that."""

LAST_LOOK: Final = 0.002
"""A job with at most this tail probability is compared with as many boards as it takes."""

BOARDS_PER_JOB: Final = 50
"""Boards for each job in the last look: enough for one job among all to stand out."""

FEWEST_BOARDS, MOST_BOARDS = 20_000, 100_000


@dataclass(frozen=True, slots=True)
class Outlier:
    """A job and what is odd about it.

    ``fault`` is the recorded one, ``surprise`` the tail probability of the job's readings and ``q`` the share
    of chance finds among all jobs that are as surprising (Benjamini & Hochberg 1995). ``misread`` are
    readings without which the rest is ordinary, ``rival`` a fault that explains the readings better than the
    recorded one; what does not go with ``kind`` is second best. ``fix`` is the one that cannot have cured.
    """

    shop: str
    number: str
    kind: Odd
    fault: str | None
    surprise: float
    q: float
    misread: tuple[Misreading, ...] = ()
    rival: Rival | None = None
    fix: str | None = None


def outliers_in(
    model: Model,
    cases: Cases,
    jobs: Sequence[Job],
    *,
    rng: np.random.Generator,
    false_share: float = FALSE_SHARE,
) -> tuple[Outlier, ...]:
    """Find the jobs that a person should look at again, the most surprising first.

    Parameters
    ----------
    model
        Learned.
    cases
        Jobs of the model's complaint.
    jobs
        The jobs that the cases were made of, one for each.
    rng
        Where chance comes from.
    false_share
        The share of chance finds to allow among jobs with odd readings.

    Returns
    -------
    tuple
        A job with odd readings stands once; one whose record contradicts itself may stand again for that.

    Raises
    ------
    CasesError
        If there is not one job for each case.
    """
    if len(jobs) != len(cases.faults):
        raise CasesError("jobs", len(jobs), f"{len(cases.faults)} jobs, one for each case,")
    seen = seen_in(model, cases)
    strict = without_blunders(model)
    surprises = _surprises(strict, seen, rng)
    shares = shares_of_chance(surprises)
    found: list[Outlier] = []
    for job, one, surprise, q in zip(jobs, seen, surprises, shares, strict=True):
        if q <= false_share:
            why = suspicion(model, strict, one, job, rng)
            found.append(_outlier(model, job, one, why, surprise, float(q)))
        found.extend(_contradictions(model, one, job, surprise, float(q)))
    return tuple(sorted(found, key=lambda one: (one.surprise, one.shop, one.number, one.kind)))


def _surprises(strict: Model, seen: Sequence[Seen], rng: np.random.Generator) -> list[float]:
    """Return each job's tail probability: roughly, and with more boards where that is small."""
    boards = int(np.clip(BOARDS_PER_JOB * len(seen), FEWEST_BOARDS, MOST_BOARDS))
    found = [1.0] * len(seen)
    for most, drawn in (*LOOKS, (LAST_LOOK, boards)):
        again = [j for j, surprise in enumerate(found) if surprise <= most]
        here = [seen[j] for j in again]
        closer = tails(strict, [one.fault for one in here], [one.strict for one in here], drawn, rng)
        for j, surprise in zip(again, closer, strict=True):
            found[j] = surprise
    return found


def _outlier(model: Model, job: Job, one: Seen, why: Suspicion, surprise: float, q: float) -> Outlier:
    fault = model.faults[one.fault] if one.fault >= 0 else None
    return Outlier(job.shop, job.number, why.kind, fault, surprise, q, misread=why.misread, rival=why.rival)


def _contradictions(model: Model, one: Seen, job: Job, surprise: float, q: float) -> Iterator[Outlier]:
    """Yield what the record says against itself, whatever the readings are.

    The book says of no fix that it cures ``unlisted``, which does not mean that none does.
    """
    repaired = job.outcome is Outcome.REPAIRED
    if repaired and job.comeback and job.fault is not None:
        yield Outlier(job.shop, job.number, Odd.CAME_BACK, job.fault, surprise, q)
    if repaired and 0 <= one.fault < len(model.faults) - 1:
        for fix, outcome, _ in one.attempts:
            if outcome == Tried.PASSED and model.fixes[fix].cures[one.fault, 0] == 0:
                name = model.fixes[fix].name
                yield Outlier(job.shop, job.number, Odd.CANNOT_CURE, job.fault, surprise, q, fix=name)
