"""What a complaint's procedure costs when it is compiled from some of the records.

The procedure is compiled from the book and some jobs alone, and then priced under the model of all jobs: a
wrong model that promises much is worth what its procedure really does. Both have the bands of the model of
all jobs, for a step can only be followed where the results are the same, and one choice of soaks.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from benchlore.jobs import Job
from benchlore.model import Model, cases_from_jobs, learn
from benchlore.model.bands import band_counts
from benchlore.money.job_costs import job_costs, ways_through
from benchlore.procedure import Effort, instance_of, plan
from benchlore.procedure.pricing import menu_of
from benchlore.shop import Shop

LEARNING_STEPS = 50


@dataclass(frozen=True, eq=False)
class Coalition:
    """Jobs from which the complaints at ``places`` among the models are to be compiled.

    ``models`` are the book's, of every complaint; ``full`` are those models after all jobs.
    """

    models: tuple[Model, ...]
    full: tuple[Model, ...]
    jobs: tuple[Job, ...]
    places: tuple[int, ...]
    shop: Shop
    effort: Effort


def taught(models: Sequence[Model], jobs: Iterable[Job]) -> tuple[Model, ...]:
    """The models of a board's complaints after some jobs; as they are where no job says anything."""
    cases = cases_from_jobs(models, jobs)
    if not len(cases.complaints):
        return tuple(models)
    return learn(models, cases, iterations=LEARNING_STEPS)[0]


def coalition_costs(coalition: Coalition) -> tuple[float, ...]:
    """The expected cost of a job by the procedure of each complaint asked for, under the full model."""
    models = taught(coalition.models, coalition.jobs)
    return tuple(_cost(coalition, models[place], coalition.full[place]) for place in coalition.places)


def _cost(coalition: Coalition, model: Model, full: Model) -> float:
    soaks = menu_of(full, coalition.shop)
    procedure = plan(
        on_bands_of(model, full),
        coalition.shop,
        effort=coalition.effort,
        bounded=False,
        soaks=soaks,
    )
    instance = instance_of(full, coalition.shop, soaks=soaks)
    return job_costs(procedure, instance, ways=ways_through(procedure, instance)).expected


def cost_of_declining(model: Model, shop: Shop) -> float:
    """What a job costs that is not taken: the worth that is not earned, less the diagnostic fee."""
    return instance_of(model, shop).give_up


def on_bands_of(model: Model, full: Model) -> Model:
    """A model with the bands of another of the same board, and the gates that they open."""
    checks = []
    for own, other in zip(model.checks, full.checks, strict=True):
        counts = own.counts
        if own.densities is not None:
            counts = band_counts(own.densities, other.edges, has_over_range=other.has_over_range)
        checks.append(
            replace(
                own,
                results=other.results,
                edges=other.edges,
                has_over_range=other.has_over_range,
                counts=counts,
                gates=other.gates,
            )
        )
    fixes = (replace(own, gates=other.gates) for own, other in zip(model.fixes, full.fixes, strict=True))
    return replace(model, checks=tuple(checks), fixes=tuple(fixes))
