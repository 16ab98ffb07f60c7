"""One fold: learn from some jobs, plan, and follow every way through the jobs that were held out."""

from collections.abc import Sequence
from dataclasses import dataclass

from benchlore.jobs import Job
from benchlore.model import Model, cases_from_jobs, learn
from benchlore.procedure import Effort, Limits
from benchlore.proof.heldout import Foreseen, foreseen
from benchlore.proof.ways import Trip, Way, trips
from benchlore.proof.worlds import World, boards_of
from benchlore.shop import Shop


@dataclass(frozen=True, slots=True)
class Planning:
    """How hard each fold's procedure is looked for, and how many steps it may have."""

    effort: Effort = Effort.QUICK
    limits: Limits = Limits()  # noqa: RUF009 a frozen value
    steps: int | None = None


@dataclass(frozen=True, eq=False)
class FoldTask:
    """What one fold needs: the book's models, jobs to learn from, jobs held out and their completions."""

    models: tuple[Model, ...]
    complaint: int
    shop: Shop
    train: tuple[Job, ...]
    test: tuple[Job, ...]
    worlds: tuple[World, ...]
    planning: Planning


@dataclass(frozen=True, eq=False)
class FoldDone:
    """What came of a fold: the model that was learned, each way's trip, the procedure's promised cost."""

    model: Model
    trips: dict[Way, Trip]
    promised: float
    foreseen: tuple[Foreseen, ...]


def learned_from(models: Sequence[Model], jobs: Sequence[Job]) -> tuple[Model, ...]:
    """The models with what the jobs teach."""
    cases = cases_from_jobs(models, jobs)
    return learn(models, cases)[0] if len(cases.complaints) else tuple(models)


def do_fold(task: FoldTask) -> FoldDone:
    """Learn, plan and follow; everything random in it is in the task's worlds."""
    models = learned_from(task.models, task.train)
    model = models[task.complaint]
    boards = boards_of(task.worlds, model)
    planning = task.planning
    done, procedure = trips(
        model,
        task.shop,
        boards,
        len(task.worlds),
        effort=planning.effort,
        limits=planning.limits,
        steps=planning.steps,
    )
    return FoldDone(model, done, procedure.expected, foreseen(model, cases_from_jobs(models, task.test)))
