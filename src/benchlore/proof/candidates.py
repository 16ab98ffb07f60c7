"""Candidates for new faults: jobs of no known fault that look like one another.

``docs/proof.md`` has the method.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import log
from typing import Final

import numpy as np
from scipy.special import rel_entr

from benchlore.jobs import UNLISTED, Job
from benchlore.model import Cases, CasesError, FloatArray, Model
from benchlore.proof.groups import Members, agglomerate, evidence_of, shared
from benchlore.proof.joblogs import Seen, seen_in
from benchlore.proof.outliers import Outlier
from benchlore.proof.reasons import Odd
from benchlore.proof.tails import by_fault
from benchlore.proof.texts import alike, shared_words

STRENGTH: Final = 2.0
"""Boards behind what is expected of a new fault: little, for it may do anything."""

WORTH_SAYING: Final = 0.1
"""Relative entropy in bits from which a condition sets a candidate apart."""

MOST_SIGNS: Final = 6


@dataclass(frozen=True, slots=True)
class Sign:
    """What a candidate does to a condition: ``state`` with ``probability``, on other boards ``usual``.

    ``boards`` of the candidate say something of the condition.
    """

    condition: str
    state: str
    probability: float
    usual: float
    boards: int


@dataclass(frozen=True, slots=True)
class Candidate:
    """Jobs that may share a fault which the book does not know.

    ``jobs`` are ``(shop, number)``, of which ``confirmed`` were recorded as no known fault. ``words`` stand
    in the texts of more than one, ``signs`` set it apart from the known faults, the strongest first.
    ``nearest`` is the known fault that explains the readings best, and 10 to ``evidence`` how much better a
    new one does (``None``: no known fault can explain them at all).
    """

    jobs: tuple[tuple[str, str], ...]
    confirmed: int
    words: tuple[str, ...]
    signs: tuple[Sign, ...]
    nearest: str | None
    evidence: float | None


def candidates_of(
    model: Model,
    cases: Cases,
    jobs: Sequence[Job],
    *,
    outliers: Sequence[Outlier] = (),
    singles: bool = False,
    concentration: float = 1.0,
) -> tuple[Candidate, ...]:
    """Group jobs that no known fault explains, the largest group first.

    Parameters
    ----------
    model
        Learned.
    cases
        Jobs of the model's complaint.
    jobs
        The jobs that the cases were made of, one for each.
    outliers
        What was found odd: jobs that may be a new fault are taken beside those confirmed as ``unlisted``.
    singles
        Whether a job that no other resembles is a candidate.
    concentration
        Of the Chinese-restaurant process that partitions the jobs: the larger, the more groups.

    Raises
    ------
    CasesError
        If there is not one job for each case.
    """
    if len(jobs) != len(cases.faults):
        raise CasesError("jobs", len(jobs), f"{len(cases.faults)} jobs, one for each case,")
    odd = {(one.shop, one.number) for one in outliers if one.kind is Odd.NEW_FAULT}
    unlisted = len(model.faults) - 1
    seen = [
        (job, one)
        for job, one in zip(jobs, seen_in(model, cases), strict=True)
        if one.fault == unlisted or (job.shop, job.number) in odd
    ]
    taken, read = [job for job, _ in seen], [one for _, one in seen]
    logs = [_condition_logs(model, one) for one in read]
    alphas = [rows[-1] * STRENGTH for rows in model.state_probabilities]
    groups = agglomerate(len(seen), evidence_of(logs, alphas), alike(taken), concentration=concentration)
    wanted = [group for group in groups if singles or len(group) > 1]
    found = [_candidate(model, group, taken, read, logs, alphas) for group in wanted]
    return tuple(sorted(found, key=lambda one: (-len(one.jobs), one.jobs)))


def _condition_logs(model: Model, one: Seen) -> list[FloatArray | None]:
    """``log P(readings | state)`` of each condition that was read."""
    logs: list[FloatArray | None] = [None] * len(model.conditions)
    for check, here in one.logs.items():
        g = model.checks[check].condition
        before = logs[g]
        logs[g] = here[0] if before is None else before + here[0]
    return logs


def _candidate(
    model: Model,
    group: Members,
    jobs: Sequence[Job],
    read: Sequence[Seen],
    logs: Sequence[Sequence[FloatArray | None]],
    alphas: Sequence[FloatArray],
) -> Candidate:
    together = evidence_of(logs, alphas)(group)
    known = np.sum([by_fault(model, read[j].logs)[0, :-1] for j in group], axis=0)
    known = np.where(model.fault_probabilities[:-1] > 0, known, -np.inf)
    nearest = int(known.argmax()) if known.size and np.isfinite(known).any() else None
    ahead = None if nearest is None else float(together - known[nearest]) / log(10)
    return Candidate(
        jobs=tuple((jobs[j].shop, jobs[j].number) for j in group),
        confirmed=sum(jobs[j].fault == UNLISTED for j in group),
        words=shared_words([jobs[j] for j in group]),
        signs=_signs(model, [logs[j] for j in group]),
        nearest=None if nearest is None else model.faults[nearest],
        evidence=ahead,
    )


def _signs(model: Model, logs: Sequence[Sequence[FloatArray | None]]) -> tuple[Sign, ...]:
    """Compare the states that a group shows with those that the known faults of the complaint show.

    What the known faults show is expected here too, so that a state stands out only where readings speak for
    it.
    """
    weights = model.fault_probabilities[:-1]
    found: list[tuple[float, Sign]] = []
    for g, condition in enumerate(model.conditions):
        here = [row for one in logs if (row := one[g]) is not None]
        if not here or not weights.sum() > 0:
            continue
        usual = weights @ model.state_probabilities[g][:-1] / weights.sum()
        states = shared(np.stack(here), STRENGTH * usual).states
        parts = rel_entr(states, usual) / log(2)
        s = int(parts.argmax())
        sign = Sign(condition.name, condition.states[s], float(states[s]), float(usual[s]), len(here))
        if (apart := float(np.minimum(parts.sum(), 1e9))) >= WORTH_SAYING:
            found.append((apart, sign))
    ordered = sorted(found, key=lambda one: (-one[0] * one[1].boards, one[1].condition))
    return tuple(sign for _, sign in ordered[:MOST_SIGNS])
