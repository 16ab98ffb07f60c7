"""One way in: a book's models, a board's jobs and a shop become a proof."""

from dataclasses import dataclass, replace
from typing import Final

from benchlore.model import Model
from benchlore.procedure import Procedure
from benchlore.proof.calibration import Calibration
from benchlore.proof.candidates import Candidate, candidates_of
from benchlore.proof.compare import Difference, difference
from benchlore.proof.coverage import Coverage, coverage_of
from benchlore.proof.dependence import Dependence, dependence_of
from benchlore.proof.examples import Example, examples_of
from benchlore.proof.folds import Split, folds_of
from benchlore.proof.outliers import Outlier
from benchlore.proof.questions import Record, calibrated_faults, calibrated_readings, odd_jobs
from benchlore.proof.replay import Replay, replayed
from benchlore.proof.sensitivity import Sensitivity, sensitivity_of
from benchlore.proof.standing import Graded, graded
from benchlore.proof.trial import Subject, held_out, held_out_as, usable_jobs
from benchlore.proof.work import Run, Told, generator, in_turn, untold

MOST_JOBS: Final = 2_000
"""Jobs that are held out at most; more would hardly narrow an interval and take long."""

FOLDS, BOOTSTRAP, FAULTS, READINGS, COVERAGE, DEPENDENCE, COMPARED, CHOICE = range(10, 18)
"""Stages of the work, each with a random generator of its own."""


@dataclass(frozen=True, slots=True)
class Settings:
    """How to prove: what jobs are divided by and into how many parts, completions of each, the seed."""

    split: Split = Split.JOB
    folds: int = 5
    draws: int = 20
    seed: int = 1


@dataclass(frozen=True, slots=True)
class HeldOutPart:
    """A part of the jobs that was held out: ``learned_from`` so many, ``tested`` on so many."""

    name: str
    learned_from: int
    tested: int


@dataclass(frozen=True, slots=True)
class Proof:
    """How a procedure did on recorded jobs that it was not made from, and how complete its book is.

    ``recorded`` finished jobs have this complaint, ``confirmed`` of those held out have a confirmed fault.
    ``faults`` is how well beliefs in faults hold after a job's readings, ``readings`` how well single
    readings are foretold.
    """

    board: str
    complaint: str
    title: str
    shop: str
    currency: str
    settings: Settings
    recorded: int
    confirmed: int
    parts: tuple[HeldOutPart, ...]
    standing: Graded
    replay: Replay
    faults: Calibration | None
    readings: Calibration | None
    coverage: Coverage
    sensitivity: Sensitivity | None
    dependences: tuple[Dependence, ...]
    outliers: tuple[Outlier, ...]
    candidates: tuple[Candidate, ...]
    examples: tuple[Example, ...]
    difference: Difference | None


@dataclass(frozen=True, eq=False)
class Against:
    """What to compare with: another version of the book, or the same planned otherwise."""

    name: str
    subject: Subject


def prove(
    subject: Subject,
    *,
    settings: Settings = Settings(),
    procedure: Procedure | None = None,
    against: Against | None = None,
    run: Run = in_turn,
    told: Told = untold,
) -> Proof:
    """Prove a book's procedure for one complaint in one shop.

    Parameters
    ----------
    subject
        The book's models, the complaint, the shop, and the board's jobs; unusable ones are left out.
    settings
        How to divide the jobs, how often to complete them, the seed. Equal seeds give equal proofs.
    procedure
        The procedure that all jobs taught, for its sensitivity; that is left out without it.
    against
        What to compare with on the same jobs.
    run
        Who does the pieces of the work.
    told
        Told how far the work is.

    Raises
    ------
    ProofError
        If there are too few jobs, or they cannot be divided so.
    PlanningError
        If no plan can be made for the shop.
    """
    seed = settings.seed
    subject = _limited(subject, seed)
    folds = folds_of(subject.jobs, subject.name, settings.split, settings.folds, generator(seed, FOLDS))
    trial = held_out(subject, folds, draws=settings.draws, seed=seed, run=run, told=told)
    asked = tuple(job for job in subject.jobs if job.complaint == subject.name)
    model = trial.learned
    replay = replayed(
        tuple((job.shop, job.number) for job in trial.jobs),
        trial.trips,
        trial.faults >= 0,
        trial.promised,
        generator(seed, BOOTSTRAP),
    )
    outliers = odd_jobs(trial, seed, run, told)
    record = Record(model, asked)
    candidates = candidates_of(model, record.cases, asked, outliers=outliers)
    coverage = coverage_of(*record.met(candidates), rng=generator(seed, COVERAGE))
    faults = calibrated_faults(trial, generator(seed, FAULTS))
    confirmed = int((trial.faults >= 0).sum())
    return Proof(
        board=model.board,
        complaint=model.complaint,
        title=model.title,
        shop=subject.shop.name,
        currency=subject.shop.currency,
        settings=settings,
        recorded=len(asked),
        confirmed=confirmed,
        parts=tuple(HeldOutPart(fold.name, len(fold.train), len(fold.test)) for fold in folds),
        standing=graded(confirmed, replay, faults, coverage),
        replay=replay,
        faults=faults,
        readings=calibrated_readings(trial, generator(seed, READINGS)),
        coverage=coverage,
        sensitivity=_sensitivity(subject, model, procedure, seed, run, told),
        dependences=dependence_of(model, record.cases, rng=generator(seed, DEPENDENCE)),
        outliers=outliers,
        candidates=candidates,
        examples=examples_of(trial.jobs, trial.faults, trial.foreseen, trial.fold, trial.models),
        difference=_difference(subject, against, settings, run, told),
    )


def _limited(subject: Subject, seed: int) -> Subject:
    """The subject with usable jobs, and of its complaint no more than can be held out in reasonable time."""
    jobs = usable_jobs(subject.models, subject.jobs)
    asked = [k for k, job in enumerate(jobs) if job.complaint == subject.name]
    if len(asked) > MOST_JOBS:
        kept = generator(seed, CHOICE).choice(asked, size=MOST_JOBS, replace=False)
        left_out = set(asked) - set(kept.tolist())
        jobs = tuple(job for k, job in enumerate(jobs) if k not in left_out)
    return replace(subject, jobs=jobs)


def _sensitivity(
    subject: Subject, model: Model, procedure: Procedure | None, seed: int, run: Run, told: Told
) -> Sensitivity | None:
    if procedure is None:
        return None
    return sensitivity_of(
        model,
        subject.shop,
        procedure,
        seed=seed,
        run=run,
        progress=lambda share: told("Weighing what is not known", round(100 * share), 100),
    )


def _difference(
    subject: Subject, against: Against | None, settings: Settings, run: Run, told: Told
) -> Difference | None:
    """Try both on the same parts of the same jobs, completed by what the other makes of them."""
    if against is None:
        return None
    seed = settings.seed
    other = _limited(against.subject, seed)
    folds = [
        folds_of(each.jobs, each.name, settings.split, settings.folds, generator(seed, FOLDS))
        for each in (subject, other)
    ]
    theirs = held_out(other, folds[1], draws=settings.draws, seed=seed, run=run, told=told)
    mine = held_out_as(subject, folds[0], theirs, seed=seed, run=run, told=told)
    return difference(mine, theirs, against.name, generator(seed, COMPARED))
