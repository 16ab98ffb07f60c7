"""A book and a board's jobs: learned and planned on some, tried on the others, until all were held out."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from benchlore.jobs import UNLISTED, Job, Outcome
from benchlore.model import Model, cases_from_jobs
from benchlore.proof.fold import FoldDone, FoldTask, Planning, do_fold, learned_from
from benchlore.proof.folds import Fold
from benchlore.proof.heldout import Foreseen
from benchlore.proof.replay import Trips, joined
from benchlore.proof.translate import translated
from benchlore.proof.ways import bench_of
from benchlore.proof.work import Run, Told, all_told, seeds
from benchlore.proof.worlds import IntArray, World, completed
from benchlore.shop import Shop

WORLDS, DOUBTS = range(2)
"""Stages of which each task has a seed of its own."""


@dataclass(frozen=True, eq=False)
class Subject:
    """What is tried: a book's models before learning, one complaint, a shop, a board's finished jobs."""

    models: tuple[Model, ...]
    complaint: int
    shop: Shop
    jobs: tuple[Job, ...]
    planning: Planning = Planning()  # noqa: RUF009 a frozen value

    @property
    def name(self) -> str:
        """The complaint's name."""
        return self.models[self.complaint].complaint


@dataclass(frozen=True, eq=False)
class HeldOut:
    """All ``J`` held-out jobs, and what came of them.

    ``faults (J,)`` are the confirmed ones, or -1. ``fold (J,)`` is the place of a job's fold in ``models``,
    which are what the folds learned. ``learned`` is the complaint's model after all jobs, by which the jobs
    were completed into ``worlds``.
    """

    jobs: tuple[Job, ...]
    faults: IntArray
    fold: IntArray
    models: tuple[Model, ...]
    learned: Model
    worlds: tuple[World, ...]
    trips: Trips
    promised: float
    foreseen: tuple[Foreseen, ...]


def usable_jobs(models: Sequence[Model], jobs: Sequence[Job]) -> tuple[Job, ...]:
    """The finished jobs of the models' board and complaints, in the order of shop and number.

    A confirmed fault that the book does not list counts as unlisted, which is what that means.
    """
    model, complaints = models[0], {other.complaint for other in models}
    found = [
        job
        for job in jobs
        if job.board == model.board and job.complaint in complaints and job.outcome is not Outcome.OPEN
    ]
    known = set(model.faults)
    return tuple(
        job if job.fault is None or job.fault in known else replace(job, fault=UNLISTED)
        for job in sorted(found, key=lambda job: (job.shop, job.number))
    )


def held_out(
    subject: Subject, folds: Sequence[Fold], *, draws: int, seed: int, run: Run, told: Told
) -> HeldOut:
    """Try a book on every fold; equal seeds give equal figures whoever does the work."""
    learned = _learned(subject, told)
    cases = cases_from_jobs([learned], _tested(subject, folds))
    complete = partial(completed, learned, cases)
    worlds = all_told(run(complete, seeds(seed, WORLDS, draws)), "Completing jobs", draws, told)
    return _tried(subject, folds, learned, tuple(worlds), run, told)


def held_out_as(
    subject: Subject, folds: Sequence[Fold], other: HeldOut, *, seed: int, run: Run, told: Told
) -> HeldOut:
    """As :func:`held_out`, on the same jobs completed by what another book made of them."""
    learned, draws = _learned(subject, told), len(other.worlds)
    cases = cases_from_jobs([learned], _tested(subject, folds))
    worlds = tuple(
        translated(world, other.learned, learned, cases, each)
        for world, each in zip(other.worlds, seeds(seed, WORLDS, draws), strict=True)
    )
    return _tried(subject, folds, learned, worlds, run, told)


def _learned(subject: Subject, told: Told) -> Model:
    told("Learning", 0, 1)
    learned = learned_from(subject.models, subject.jobs)
    told("Learning", 1, 1)
    return learned[subject.complaint]


def _tested(subject: Subject, folds: Sequence[Fold]) -> tuple[Job, ...]:
    return tuple(subject.jobs[k] for fold in folds for k in fold.test)


def _tried(
    subject: Subject,
    folds: Sequence[Fold],
    learned: Model,
    worlds: tuple[World, ...],
    run: Run,
    told: Told,
) -> HeldOut:
    """Learn, plan and follow, fold by fold."""
    jobs = _tested(subject, folds)
    fold_of = np.repeat(np.arange(len(folds)), [len(fold.test) for fold in folds])
    tasks = [_task(subject, fold, worlds, np.flatnonzero(fold_of == k)) for k, fold in enumerate(folds)]
    done: list[FoldDone] = all_told(run(do_fold, tasks), "Trying on held-out jobs", len(tasks), told)
    return HeldOut(
        jobs=jobs,
        faults=cases_from_jobs([learned], jobs).faults,
        fold=fold_of,
        models=tuple(each.model for each in done),
        learned=learned,
        worlds=worlds,
        trips=Trips(joined([each.trips for each in done]), bench_of(learned, subject.shop, jobs)),
        promised=float(np.mean([done[k].promised for k in fold_of])),
        foreseen=tuple(each for part in done for each in part.foreseen),
    )


def _task(subject: Subject, fold: Fold, worlds: Sequence[World], places: IntArray) -> FoldTask:
    return FoldTask(
        models=subject.models,
        complaint=subject.complaint,
        shop=subject.shop,
        train=tuple(subject.jobs[k] for k in fold.train),
        test=tuple(subject.jobs[k] for k in fold.test),
        worlds=tuple(world.some(places) for world in worlds),
        planning=subject.planning,
    )
