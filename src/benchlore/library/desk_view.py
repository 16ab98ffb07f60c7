"""A job on the bench as pages show it."""

from collections.abc import Iterable
from dataclasses import replace
from datetime import datetime

from benchlore.jobs import Entry, EntryKind, OpenJob, Retest, standing
from benchlore.library.asking import Asked, Companion
from benchlore.library.bench import Bench
from benchlore.library.desk_belief import Ends, chance_cured, ends_of, history_of, proves
from benchlore.library.desk_clock import Trial, clock_of, soaked_of, trial_of
from benchlore.library.desk_standing import Standing, fix_of, standing_of
from benchlore.library.desk_values import Ahead, Clock, Due, JobLine, JobView, Proves, Spent, Tried
from benchlore.library.errors import ReadingError
from benchlore.model import Model
from benchlore.procedure import exchange_rate, worth_of


def view_of(
    companion: Companion, job: OpenJob, entries: tuple[Entry, ...], now: datetime, *, trouble: str = ""
) -> JobView:
    """Say how a job stands."""
    model, counting = companion.model, standing(entries)
    stands = standing_of(model, companion.shop, counting)
    trial, clock = trial_of(counting, now), clock_of(entries, now)
    waits = job.closed or (trial is not None and trial.held)
    asked = None if waits else companion.ask(stands.bench)
    due = None if job.closed else _due(companion, counting, stands, trial)
    cured = _cured(model, stands, trial)
    spent = _spent(companion, counting, clock)
    suspects, history = history_of(model, stands.moves)
    return JobView(
        job=job,
        book=companion.book,
        model=model,
        shop=companion.shop,
        entries=entries,
        counting=counting,
        bench=stands.bench,
        asked=asked,
        due=due,
        cured=cured,
        readings=stands.readings,
        tried=stands.tried,
        soaked=soaked_of(counting, now),
        suspects=suspects,
        history=history,
        clock=clock,
        spent=spent,
        ahead=None if job.closed else _ahead(companion, stands, spent, asked, due or cured),
        unread=stands.unread,
        trouble=trouble,
    )


def line_of(job: OpenJob, entries: tuple[Entry, ...], now: datetime) -> JobLine:
    """Say in one line how a job stands; this needs no book."""
    trial = trial_of(standing(entries), now)
    waits = trial is not None and trial.due and not job.closed
    return JobLine(
        job,
        len(entries),
        entries[-1].at if entries else job.opened,
        clock_of(entries, now),
        str(trial.entry.data["fix"]) if waits and trial else "",
        trial.soak if waits and trial else None,
    )


def _due(
    companion: Companion, counting: tuple[Entry, ...], stands: Standing, trial: Trial | None
) -> Due | None:
    """The retest that is due, with what the soak proves."""
    if trial is None or not trial.due:
        return None
    model = companion.model
    fixes, soak = _unjudged(model, stands.tried), trial.soak
    name = str(trial.entry.data["fix"])
    said = trial.entry.data.get("soak")
    planned = float(said) if isinstance(said, int | float) else 0.0
    to_the_end = trial.soaked - soak.ran + soak.minutes if soak else max(planned, trial.soaked)
    return Due(
        place=trial.entry.place,
        fix=name,
        title=next((fix.title for fix in model.fixes if fix.name == name), name),
        planned_soak=planned,
        soak=soak,
        soaked=trial.soaked,
        before=chance_cured(model, stands.bench, fixes),
        sofar=proves(model, stands.bench, fixes, trial.soaked),
        planned=proves(model, stands.bench, fixes, to_the_end),
        otherwise=companion.ask(_still_there(companion, counting).bench),
    )


def _still_there(companion: Companion, counting: tuple[Entry, ...]) -> Standing:
    """Where the job would stand if the retest showed the complaint."""
    retest = replace(counting[-1], kind=EntryKind.RETEST, data={"result": str(Retest.STILL_THERE)})
    return standing_of(companion.model, companion.shop, (*counting, retest))


def _cured(model: Model, stands: Standing, trial: Trial | None) -> Proves | None:
    """What the retest proved that showed nothing."""
    if trial is None or trial.due or trial.retest is not Retest.GONE:
        return None
    return proves(model, stands.bench, _unjudged(model, stands.tried), trial.soaked)


def _unjudged(model: Model, tried: Iterable[Tried]) -> list[int]:
    """The fixes that may have cured the board."""
    return [fix_of(model, each.fix) for each in tried if each.retest is not Retest.STILL_THERE]


def _spent(companion: Companion, counting: tuple[Entry, ...], clock: Clock) -> Spent:
    model, shop = companion.model, companion.shop
    parts = 0.0
    for entry in counting:
        if entry.kind is EntryKind.FIX:
            parts += _parts(model, str(entry.data["fix"]))
    rate = exchange_rate(model, shop, "a part") if parts else 1.0
    return Spent(clock.hands_on * shop.hour / 60, clock.waiting * shop.waiting_hour / 60, parts * rate)


def _parts(model: Model, fix: str) -> float:
    try:
        return model.fixes[fix_of(model, fix)].parts
    except ReadingError:
        return 0.0


def _ahead(
    companion: Companion, stands: Standing, spent: Spent, asked: Asked | None, retest: Due | Proves | None
) -> Ahead:
    """What the rest is expected to cost: after the best option, the retest that is due, or a release."""
    ends = companion.instance
    if asked is not None:
        to_finish = asked.advice.best.expected
    elif isinstance(retest, Due):
        to_finish = _rest_of_retest(companion, stands, retest)
    else:
        assert retest is not None
        to_finish = (1.0 - retest.cured) * ends.comeback
    return Ahead(to_finish, ends.give_up, spent.total + to_finish)


def _rest_of_retest(companion: Companion, stands: Standing, due: Due) -> float:
    trying, ends = retest_of(companion, stands.bench, stands.tried, due)
    return (
        trying
        + ends.caught * due.otherwise.advice.best.expected
        + ends.overlooked * companion.instance.comeback
    )


def retest_of(companion: Companion, bench: Bench, tried: Iterable[Tried], due: Due) -> tuple[float, Ends]:
    """What the retest that is due costs with the rest of its soak, and how it may end."""
    model, shop = companion.model, companion.shop
    planned = due.planned.minutes
    ends = ends_of(model, bench, _unjudged(model, tried), due.soaked, planned)
    trying = model.retest.takes * shop.hour / 60 + model.retest.ruins * worth_of(model, shop)
    return trying + (planned - due.soaked) * shop.waiting_hour / 60, ends
