"""What the page of a job on the bench shows, ready for its template."""

from dataclasses import dataclass
from typing import Final

from benchlore.book import CAUTIONS, Check, Fix
from benchlore.library import (
    JobView,
    alike_said,
    conflict_said,
    cost_text,
    go_on_said,
    held_back_said,
    option_name,
    soak_offers,
    stop_said,
    why_said,
)
from benchlore.library.advice_words import SAID
from benchlore.library.desk_entries import LONGEST_SOAK
from benchlore.library.sheet import (
    hazards_of,
    minutes,
    parts_of_fix,
    retest_text,
    setup_sentence,
    standing_sentence,
    wire_text,
    works_of,
)
from benchlore.model import Model
from benchlore.press.place import Place, Size, place_of
from benchlore.press.river import LETTERS, river
from benchlore.press.scale import Scale, scale_of
from benchlore.procedure import Kind, Option
from benchlore.units import example_of, format_duration, money, share
from benchlore.web.journal import Line, journal_of

NARROW: Final = 340
MOST_OTHERS: Final = 4
LEAST_CHANCE: Final = 0.005
LEAST_CURED: Final = 0.5
"""Below this chance a board is rather not cured, and its page does not propose to close the job."""


@dataclass(frozen=True, slots=True)
class Suspect:
    """A suspect: its place and letter in the river, its title, and its share as words and as a number."""

    place: int
    letter: str
    name: str
    title: str
    share: str
    part: float


@dataclass(frozen=True, slots=True)
class Result:
    """What a result of the step would lead to: the first suspect then, and its share before and after."""

    name: str
    chance: str
    leader: str
    moved: str


@dataclass(frozen=True, slots=True)
class Offered:
    """A soak that may be begun: how long, why, and after it, if clean, cured and back within 30 days."""

    minutes: float
    text: str
    why: str
    cured: str
    back: str
    chosen: bool


@dataclass(frozen=True, eq=False)
class Card:
    """One step to do now: a check, a fix, or the return.

    ``proposed`` is whether it is the best step; ``scale`` the number line of a check that gives a number.
    ``soak`` is the soak in minutes that is best after a fix.
    """

    kind: Kind
    name: str
    title: str
    proposed: bool
    setups: tuple[str, ...]
    setup_names: tuple[str, ...]
    standing: str
    how: str
    time: str
    retest: str
    soak: float
    parts: tuple[str, ...]
    wire: str
    cautions: tuple[str, ...]
    results: tuple[str, ...]
    measures: str
    place: Place | None
    scale: Scale | None
    why: tuple[str, ...]
    go_on: tuple[str, ...]
    outlooks: tuple[Result, ...]


@dataclass(frozen=True, eq=False)
class JobPage:
    """A job's page."""

    view: JobView
    card: Card | None
    retest_cautions: tuple[str, ...]
    suspects: tuple[Suspect, ...]
    others_share: str
    river: str
    notices: tuple[str, ...]
    alternatives: tuple[tuple[str, str, str], ...]
    looks_cheaper: str
    checks: tuple[tuple[str, str], ...]
    again: tuple[tuple[str, str], ...]
    fixes: tuple[tuple[str, str], ...]
    setups: tuple[tuple[str, str], ...]
    equipment: tuple[str, ...]
    journal: tuple[Line, ...]
    comes_and_goes: bool = False
    offers: tuple[Offered, ...] = ()
    doubt: str = ""
    soak_on: float = 0.0


def job_page(view: JobView, size: Size, *, check: str | None = None, fix: str | None = None) -> JobPage:
    """Lay out a job's page; ``check`` or ``fix`` asks for another card than the best step's."""
    read = {each.check for each in view.readings if not each.replaced}
    tried = {each.fix for each in view.tried}
    return JobPage(
        view=view,
        card=_card(view, size, check, fix),
        retest_cautions=_retest_cautions(view),
        suspects=_suspects(view),
        others_share=share(view.history[-1].others)
        if view.history and view.history[-1].others > 1e-9
        else "",
        river=_river(view),
        notices=_notices(view),
        alternatives=_alternatives(view),
        looks_cheaper=SAID["looks cheaper"] if any(more < 0 for _, more in _others(view)) else "",
        checks=tuple(
            (c.name, c.title) for c in view.book.checks.values() if view.asked is None or c.name not in read
        ),
        again=tuple(
            (c.name, c.title) for c in view.book.checks.values() if c.measures is not None and c.name in read
        ),
        fixes=tuple((f.name, f.title) for f in view.book.fixes.values() if f.name not in tried),
        setups=tuple((s.name, s.title) for s in view.book.setups.values() if s.name not in view.bench.setups),
        equipment=tuple(sorted(view.shop.equipment - set(view.bench.without))),
        journal=journal_of(view),
        comes_and_goes=bool(view.model.every.any()),
        offers=_offers(view),
        doubt=_doubt(view),
        soak_on=_soak_on(view),
    )


def _offers(view: JobView) -> tuple[Offered, ...]:
    """The soaks that may be begun; the one nearest to the plan is chosen."""
    if view.due is None or view.due.soak is not None:
        return ()
    found = [offer for offer in soak_offers(view) if offer.minutes <= LONGEST_SOAK]
    planned = view.due.planned_soak
    nearest = min(found, key=lambda offer: abs(offer.minutes - planned), default=None)
    return tuple(
        Offered(
            offer.minutes,
            format_duration(offer.minutes),
            offer.why,
            share(offer.verdict.clean.cured),
            share(offer.verdict.comebacks[0].chance),
            offer is nearest,
        )
        for offer in found
    )


def _doubt(view: JobView) -> str:
    """Why the job should not be closed yet although the complaint is gone; empty where it may be."""
    cured = view.cured
    if cured is None or cured.cured >= LEAST_CURED:
        return ""
    advice = "soak it on, or go on looking" if _soak_on(view) else "go on looking for the fault"
    return (
        f"It is more likely that the board is not cured: the chance of a cure is {share(cured.cured)}. Do "
        f"not let it go home yet: {advice}."
    )


def _soak_on(view: JobView) -> float:
    """Minutes that a board in doubt may soak on; 0 where the complaint always shows, so that none would tell.

    It is the mean time between events of the rarest fault or, where the board soaked longer, as long again.
    """
    if view.cured is None or not view.model.every.any():
        return 0.0
    return min(LONGEST_SOAK, max(float(view.model.every.max()), view.cured.minutes))


def _retest_cautions(view: JobView) -> tuple[str, ...]:
    retest = view.book.complaints[view.job.complaint].retest
    return tuple(CAUTIONS[hazard] for hazard in hazards_of([retest]))


def _card(view: JobView, size: Size, check: str | None, fix: str | None) -> Card | None:
    if view.job.closed:
        return None
    if check in view.book.checks:
        return _chosen_card(view, size, Kind.CHECK, str(check))
    if fix in view.book.fixes:
        return _chosen_card(view, size, Kind.FIX, str(fix))
    if view.asked is None:
        return None
    best = view.asked.advice.best
    if best.kind is Kind.RETURN:
        return _return_card(view, best)
    return _work_card(view, size, best.kind, best.action, best, proposed=True)


def _chosen_card(view: JobView, size: Size, kind: Kind, name: str) -> Card:
    """A card that was asked for; it was weighed only where a step is due."""
    options = view.asked.advice.options if view.asked is not None else ()
    option = next((each for each in options if (each.kind, each.action) == (kind, name)), None)
    return _work_card(view, size, kind, name, option, proposed=bool(options) and option is options[0])


def _work_card(
    view: JobView, size: Size, kind: Kind, name: str, option: Option | None, *, proposed: bool
) -> Card:
    book = view.book
    entry: Check | Fix = book.fixes[name] if kind is Kind.FIX else book.checks[name]
    made_now = option.setups if option else ()
    fix = entry if isinstance(entry, Fix) else None
    soak = option.soak if option else view.model.retest.waits
    complaint = book.complaints[view.model.complaint]
    return Card(
        kind=kind,
        name=name,
        title=entry.title,
        proposed=proposed,
        setups=tuple(setup_sentence(book.setups[setup]) for setup in made_now),
        setup_names=made_now,
        standing=standing_sentence(book, entry, made_now),
        how=entry.how,
        time=minutes(entry.work),
        retest=retest_text(complaint, soak) if fix else "",
        soak=soak,
        parts=parts_of_fix(fix, book.currency) if fix else (),
        wire=wire_text(fix) if fix else "",
        cautions=tuple(
            CAUTIONS[hazard] for hazard in hazards_of(works_of(book, entry, view.model.complaint))
        ),
        results=entry.results if isinstance(entry, Check) else (),
        measures=example_of(entry.measures) if isinstance(entry, Check) and entry.measures else "",
        place=place_of(entry, size),
        scale=_scale(view.model, name) if kind is Kind.CHECK else None,
        why=_why(view, option, proposed=proposed),
        go_on=(),
        outlooks=_outlooks(view, option),
    )


def _why(view: JobView, option: Option | None, *, proposed: bool) -> tuple[str, ...]:
    asked = view.asked
    if asked is None:
        return ()
    if proposed:
        return tuple(why_said(asked))
    if option is None:
        return (SAID["not weighed"],)
    currency = asked.shop.currency
    more = money(asked.advice.beyond(option), currency)
    return (
        SAID["costs"].format(cost=cost_text(option.cost, currency)),
        SAID["more"].format(more=more),
    )


def _return_card(view: JobView, best: Option) -> Card:
    asked = view.asked
    assert asked is not None
    return Card(
        kind=Kind.RETURN,
        name="",
        title=option_name(best).capitalize(),
        proposed=True,
        setups=(),
        setup_names=(),
        standing="",
        how="",
        time="",
        retest="",
        soak=0.0,
        parts=(),
        wire="",
        cautions=(),
        results=(),
        measures="",
        place=None,
        scale=None,
        why=tuple(stop_said(asked)),
        go_on=tuple(go_on_said(asked)),
        outlooks=(),
    )


def _scale(model: Model, name: str) -> Scale | None:
    check = next(check for check in model.checks if check.name == name)
    return scale_of(check, model.conditions[check.condition].states)


def _outlooks(view: JobView, option: Option | None) -> tuple[Result, ...]:
    if option is None or view.asked is None:
        return ()
    titles = _titles(view)
    before = dict(view.asked.advice.suspects)
    found = []
    for each in option.outlooks:
        if each.chance < LEAST_CHANCE:
            continue
        fault, chance = each.suspects[0] if each.suspects else ("", 0.0)
        moved = f"{share(before.get(fault, 0.0))} → {share(chance)}" if fault else ""
        found.append(Result(each.result, share(each.chance), titles.get(fault, ""), moved))
    return tuple(found)


def _titles(view: JobView) -> dict[str, str]:
    return dict(zip(view.model.faults, view.model.fault_titles, strict=True))


def _suspects(view: JobView) -> tuple[Suspect, ...]:
    """The suspects, the strongest now first; a letter stays that of its band."""
    if not view.history:
        return ()
    titles, now = _titles(view), view.history[-1].shares
    found = [
        Suspect(place, LETTERS[place], name, titles[name], share(part), part)
        for place, (name, part) in enumerate(zip(view.suspects, now, strict=True))
    ]
    return tuple(sorted(found, key=lambda each: -each.part))


def _river(view: JobView) -> str:
    titles = _titles(view)
    return river(
        [titles[name] for name in view.suspects],
        [each.shares for each in view.history],
        [f"{each.title} {each.text}" if each.place else "At the start" for each in view.history],
        NARROW,
    )


def _notices(view: JobView) -> tuple[str, ...]:
    said: list[str] = [view.trouble] if view.trouble else []
    said += [f"Entry {each.entry.place} does not count: {each.reason}" for each in view.unread]
    if view.asked is not None:
        said += [conflict_said(view.asked), *alike_said(view.asked), *held_back_said(view.asked)]
    return tuple(text for text in said if text)


def _others(view: JobView) -> list[tuple[Option, float]]:
    """The next best options, each with what it would cost more than the best one."""
    if view.asked is None:
        return []
    advice = view.asked.advice
    return [(option, advice.beyond(option)) for option in advice.options[1 : 1 + MOST_OTHERS]]


def _alternatives(view: JobView) -> tuple[tuple[str, str, str], ...]:
    """(kind, name, text) of the next best options."""
    return tuple(
        (
            option.kind.value,
            option.action,
            f"{option_name(option)}: {_signed(more, view.shop.currency)}",
        )
        for option, more in _others(view)
    )


def _signed(amount: float, currency: str) -> str:
    return f"{'−' if amount < 0 else '+'}{money(abs(amount), currency)}"
