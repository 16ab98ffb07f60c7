"""The soak shelf: boards that run after a fix, since when, what is to go, and what each further hour adds."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Final, Literal, TypeAlias

import numpy as np

from benchlore.book import Book
from benchlore.jobs import Entry, OpenJob, Retest, standing
from benchlore.library.asking import Companion
from benchlore.library.bench import Bench
from benchlore.library.desk_belief import proves
from benchlore.library.desk_clock import trial_of
from benchlore.library.desk_standing import fix_of, standing_of
from benchlore.library.desk_values import JobLine, JobView, Soak, Tried
from benchlore.library.errors import NoRateError
from benchlore.library.soaking import SoakAsked, SoakPlan, soak_after
from benchlore.model import Model
from benchlore.shop import Shop
from benchlore.soak import Standing, Verdict

State: TypeAlias = Literal["runs", "off", "over", "shown"]
"""It runs; the device is off; the planned time is done; the complaint showed itself."""
AHEAD: Final = (60.0, 120.0, 240.0, 480.0, 960.0)
"""Minutes ahead for which the chance of a cure is told."""
POINTS: Final = 40


@dataclass(frozen=True, slots=True)
class Offer:
    """A soak that could be begun: minutes, why one would choose it, and what it proves if clean."""

    minutes: float
    why: str
    verdict: Verdict


@dataclass(frozen=True, eq=False)
class Shelved:
    """A board that soaks.

    ``soaked`` are the minutes since the fix, earlier soaks included; ``planned`` those at the planned end.
    ``ahead`` has rows of minutes from now and the chance of a cure if nothing shows up to then; ``curve`` the
    same against all minutes of soak. ``plan`` is what ``benchlore soak plan`` says of the same bench;
    ``None`` where the complaint always shows. ``stands`` is where the counting test stands.
    """

    job: OpenJob
    book: Book
    last: int
    fix: str
    title: str
    soak: Soak
    soaked: float
    planned: float
    state: State
    ahead: tuple[tuple[float, float], ...]
    curve: tuple[tuple[float, float], ...]
    plan: SoakPlan | None
    stands: Standing | None

    @property
    def left(self) -> float:
        """Minutes still to go by the plan, with the device on."""
        return max(0.0, self.planned - self.soaked)

    @property
    def rings(self) -> bool:
        """Whether somebody should come: the planned time is done, or the complaint showed itself."""
        return self.state in {"over", "shown"}

    @property
    def cured(self) -> float:
        """The chance that the board is cured now, if nothing showed; none is left once something did."""
        return 0.0 if self.soak.shown else self.ahead[0][1]


@dataclass(frozen=True, eq=False)
class Shelf:
    """All boards that soak; ``unread`` are those whose book cannot be read, so that nothing is computed."""

    boards: tuple[Shelved, ...]
    unread: tuple[JobLine, ...] = ()


def state_of(soak: Soak) -> State:
    """Tell what a soak does; that the complaint showed itself comes before all else."""
    if soak.shown:
        return "shown"
    if soak.over:
        return "over"
    return "off" if soak.paused else "runs"


def shelved(companion: Companion, job: OpenJob, entries: tuple[Entry, ...], now: datetime) -> Shelved | None:
    """Say how a board's soak stands; ``None`` where none was begun, or it was ended."""
    counting = standing(entries)
    trial = trial_of(counting, now)
    if job.closed or trial is None or trial.soak is None:
        return None
    model, soak = companion.model, trial.soak
    stands = standing_of(model, companion.shop, counting)
    fixes = unjudged(model, stands.tried)
    planned = trial.soaked - soak.ran + soak.minutes
    plan = _plan(companion.book, model, companion.shop, stands.bench, fixes, trial.soaked)
    name = str(trial.entry.data["fix"])
    test = None if plan is None else plan.test
    return Shelved(
        job=job,
        book=companion.book,
        last=len(entries),
        fix=name,
        title=next((fix.title for fix in model.fixes if fix.name == name), name),
        soak=soak,
        soaked=trial.soaked,
        planned=planned,
        state=state_of(soak),
        ahead=_ahead(model, stands.bench, fixes, trial.soaked, planned),
        curve=_curve(model, stands.bench, fixes, max(planned, trial.soaked) + AHEAD[0]),
        plan=plan,
        stands=None if test is None else test.standing(np.array(soak.shown), soak.ran)[0],
    )


def unjudged(model: Model, tried: Iterable[Tried]) -> list[int]:
    """The fixes that may have cured the board."""
    return [fix_of(model, each.fix) for each in tried if each.retest is not Retest.STILL_THERE]


def soak_offers(view: JobView) -> tuple[Offer, ...]:
    """The soaks that may be begun after the last fix, the shortest first, each with its reason.

    The planner's own comes with them; equal lengths are one. Empty where the complaint always shows.
    """
    due = view.due
    if due is None:
        return ()
    fixes = unjudged(view.model, view.tried)
    plan = _plan(view.book, view.model, view.shop, view.bench, fixes, due.planned_soak or None)
    if plan is None or plan.after is None:
        return ()
    reasons: dict[float, Offer] = {}
    for row in plan.after.rows:
        minutes = float(round(row.minutes))
        why = "as planned" if row.why == "done" else row.why
        if minutes > 0:
            known = reasons.get(minutes)
            both = why if known is None else f"{known.why}, {why}"
            reasons[minutes] = Offer(minutes, both, row.verdict)
    return tuple(reasons[minutes] for minutes in sorted(reasons))


def _plan(
    book: Book, model: Model, shop: Shop, bench: Bench, fixes: Sequence[int], soaked: float | None
) -> SoakPlan | None:
    try:
        return soak_after(book, model, shop, bench, fixes, SoakAsked(soaked=soaked))
    except NoRateError:
        return None


def _ahead(
    model: Model, bench: Bench, fixes: Sequence[int], soaked: float, planned: float
) -> tuple[tuple[float, float], ...]:
    left = max(0.0, planned - soaked)
    steps = sorted({0.0, *(step for step in AHEAD if step < left), left, left + AHEAD[0]})
    return tuple((step, proves(model, bench, fixes, soaked + step).cured) for step in steps)


def _curve(model: Model, bench: Bench, fixes: Sequence[int], end: float) -> tuple[tuple[float, float], ...]:
    times = np.linspace(0.0, end, POINTS).tolist()
    return tuple((time, proves(model, bench, fixes, time).cured) for time in times)
