"""What held-out and recorded jobs answer beside their cost."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from benchlore.jobs import Job
from benchlore.model import Cases, Model, cases_from_jobs
from benchlore.proof.calibration import Calibration, calibration_of
from benchlore.proof.candidates import Candidate
from benchlore.proof.outliers import Outlier, outliers_in
from benchlore.proof.trial import DOUBTS, HeldOut
from benchlore.proof.work import Run, Told, all_told, seeds


@dataclass(frozen=True, eq=False)
class Record:
    """All of a complaint's jobs as its learned model reads them."""

    model: Model
    jobs: tuple[Job, ...]

    @cached_property
    def cases(self) -> Cases:
        """The jobs as cases."""
        return cases_from_jobs([self.model], self.jobs)

    def met(self, candidates: Sequence[Candidate]) -> tuple[Mapping[str, int], list[int]]:
        """How many boards had each fault that the book lists for the complaint, and each that it does not.

        Boards with an unlisted fault that belong to no candidate count as a fault each.
        """
        counts = np.bincount(self.cases.faults[self.cases.faults >= 0], minlength=len(self.model.faults))
        *listed, unlisted = zip(self.model.faults, counts.tolist(), strict=True)
        groups = [candidate.confirmed for candidate in candidates if candidate.confirmed]
        alone = max(0, unlisted[1] - sum(groups))
        chances = dict(zip(self.model.faults, self.model.fault_probabilities, strict=True))
        return {name: count for name, count in listed if chances[name] > 0}, [*groups, *[1] * alone]


def calibrated_faults(trial: HeldOut, rng: np.random.Generator) -> Calibration | None:
    """How well beliefs in faults hold after a job's readings and failed fixes, beside those before them."""
    told = np.flatnonzero(trial.faults >= 0)
    return calibration_of(
        [trial.foreseen[k].belief for k in told],
        trial.faults[told].tolist(),
        told,
        rng=rng,
        base=[trial.foreseen[k].beliefs[0] for k in told],
    )


def calibrated_readings(trial: HeldOut, rng: np.random.Generator) -> Calibration | None:
    """How well each reading is foretold by those before it in the same job."""
    forecasts = [forecast for each in trial.foreseen for forecast in each.forecasts]
    shown = [result for each in trial.foreseen for result in each.shown]
    jobs = np.repeat(np.arange(len(trial.foreseen)), [len(each.shown) for each in trial.foreseen])
    return calibration_of(forecasts, shown, jobs, rng=rng)


@dataclass(frozen=True, eq=False)
class _Part:
    """A held-out part, and models that have not seen it."""

    model: Model
    jobs: tuple[Job, ...]
    seed: np.random.SeedSequence


def odd_jobs(trial: HeldOut, seed: int, run: Run, told: Told) -> tuple[Outlier, ...]:
    """Jobs that a model which has not seen them finds nearly impossible, the most surprising first."""
    parts = [
        _Part(model, tuple(job for job, fold in zip(trial.jobs, trial.fold, strict=True) if fold == k), each)
        for k, (model, each) in enumerate(
            zip(trial.models, seeds(seed, DOUBTS, len(trial.models)), strict=True)
        )
    ]
    found = all_told(run(_odd_in, parts), "Looking for odd jobs", len(parts), told)
    return tuple(
        sorted(
            (outlier for part in found for outlier in part),
            key=lambda one: (one.surprise, one.shop, one.number, one.kind),
        )
    )


def _odd_in(part: _Part) -> tuple[Outlier, ...]:
    cases = cases_from_jobs([part.model], part.jobs)
    return outliers_in(part.model, cases, part.jobs, rng=np.random.default_rng(part.seed))
