"""Which jobs are held out while the others teach: by job, by shop, by time."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from benchlore.jobs import Job
from benchlore.proof.errors import OneShopError, TooFewJobsError, UndatedError

LEAST_JOBS = 2
"""A job to learn from, and one to test on."""


class Split(StrEnum):
    """By what jobs are divided."""

    JOB = "job"
    SHOP = "shop"
    TIME = "time"


@dataclass(frozen=True, eq=False)
class Fold:
    """Indices of the jobs to learn from and of those held out; ``name`` says which these are."""

    name: str
    train: NDArray[np.int64]
    test: NDArray[np.int64]


def folds_of(
    jobs: Sequence[Job], complaint: str, split: Split, count: int, rng: np.random.Generator
) -> tuple[Fold, ...]:
    """Divide the jobs of a board; jobs with other complaints teach, but only this complaint's are held out.

    By job and by shop every job of the complaint is held out once. By time the jobs are cut into ``count +
    1`` spans, and each span but the first is held out while all that were opened before it teach; jobs of the
    first span and undated jobs are never held out, and the undated ones never teach.

    Raises
    ------
    TooFewJobsError, OneShopError, UndatedError
        If there is nothing to divide.
    """
    asked = np.array([k for k, job in enumerate(jobs) if job.complaint == complaint], dtype=np.int64)
    if len(asked) < LEAST_JOBS:
        raise TooFewJobsError(complaint, len(asked), LEAST_JOBS, "finished job")
    if split is Split.TIME:
        return _by_time(jobs, complaint, count)
    groups = _by_shop(jobs, asked, count) if split is Split.SHOP else _by_job(asked, count, rng)
    everyone = np.arange(len(jobs))
    return tuple(Fold(name, np.setdiff1d(everyone, out), np.intersect1d(out, asked)) for name, out in groups)


def _by_job(
    asked: NDArray[np.int64], count: int, rng: np.random.Generator
) -> list[tuple[str, NDArray[np.int64]]]:
    parts = np.array_split(rng.permutation(asked), min(count, len(asked)))
    return [(f"part {k + 1}", np.sort(part)) for k, part in enumerate(parts)]


def _by_shop(
    jobs: Sequence[Job], asked: NDArray[np.int64], count: int
) -> list[tuple[str, NDArray[np.int64]]]:
    """A held-out shop teaches nothing at all; where there are many, several are held out together."""
    sizes: dict[str, int] = {}
    for k in asked:
        sizes[jobs[k].shop] = sizes.get(jobs[k].shop, 0) + 1
    if len(sizes) < 2:
        raise OneShopError(next(iter(sizes)))
    parts: list[list[str]] = [[] for _ in range(min(count, len(sizes)))]
    for shop in sorted(sizes, key=lambda name: (-sizes[name], name)):
        min(parts, key=lambda part: sum(sizes[name] for name in part)).append(shop)
    return [
        (
            ", ".join(sorted(part)),
            np.array([k for k, job in enumerate(jobs) if job.shop in part], dtype=np.int64),
        )
        for part in parts
    ]


def _by_time(jobs: Sequence[Job], complaint: str, count: int) -> tuple[Fold, ...]:
    dated = [(job.opened, k) for k, job in enumerate(jobs) if job.opened is not None]
    days = sorted({opened for opened, k in dated if jobs[k].complaint == complaint})
    if len(days) < LEAST_JOBS:
        of_complaint = [job for job in jobs if job.complaint == complaint]
        raise UndatedError(sum(job.opened is not None for job in of_complaint), len(of_complaint), LEAST_JOBS)
    spans = [_span(jobs, complaint, part) for part in _spans(jobs, complaint, days, count)]
    return tuple(
        Fold(
            f"{first} to {last}",
            np.array([k for opened, k in dated if opened < first], dtype=np.int64),
            test,
        )
        for first, last, test in spans[1:]
    )


def _spans(jobs: Sequence[Job], complaint: str, days: Sequence[date], count: int) -> list[list[date]]:
    """Cut the days into spans with about as many jobs each."""
    on = dict.fromkeys(days, 0)
    for job in jobs:
        if job.complaint == complaint and job.opened is not None:
            on[job.opened] += 1
    before = np.cumsum([0, *(on[day] for day in days)])[:-1]
    place = before * min(count + 1, len(days)) // sum(on.values())
    if place[-1] == 0:  # nearly all jobs on the last day: that one is held out
        place[-1] = 1
    return [[day for day, p in zip(days, place, strict=True) if p == q] for q in np.unique(place)]


def _span(jobs: Sequence[Job], complaint: str, days: Sequence[date]) -> tuple[date, date, NDArray[np.int64]]:
    inside = set(days)
    held_out = [k for k, job in enumerate(jobs) if job.complaint == complaint and job.opened in inside]
    return days[0], days[-1], np.array(held_out, dtype=np.int64)
