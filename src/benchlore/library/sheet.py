"""A procedure in sentences: the steps that most jobs reach, numbered as they stand on a sheet, with cautions.

Screens, pages and drawings show these values; none of them words a step anew.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Final, Literal

from benchlore.book import CAUTIONS, Book, Check, Complaint, Fix, Hazard, Setup, Work
from benchlore.procedure import RELEASE, Kind, Procedure, Step, trimmed
from benchlore.units import counted, format_duration, money, share

STANDING: Final = "Must still stand: {names}; else make it again."


@dataclass(frozen=True, slots=True)
class Onward:
    """Where a result leads: to a ``step`` of the sheet, or to an end.

    ``end`` is ``release``, ``return`` (which may have a step too) or ``ask``: the sheet does not go on there.
    """

    result: str
    chance: float
    step: int | None
    end: Literal["", "release", "return", "ask"]

    @property
    def words(self) -> str:
        """Say where it leads."""
        if self.step is not None and not self.end:
            return f"step {self.step}"
        return {"release": "release", "return": "return unrepaired", "ask": "from here ask"}.get(self.end, "")


@dataclass(frozen=True, slots=True)
class SheetStep:
    """A step in words; ``first`` are the setups to make, ``cautions`` stand whole."""

    number: int
    kind: Kind
    title: str
    reach: float
    reached: str
    first: tuple[str, ...]
    standing: str
    how: str
    cautions: tuple[str, ...]
    cost: str
    retest: str
    onward: tuple[Onward, ...]


@dataclass(frozen=True, slots=True)
class Sheet:
    """The printed part of a procedure: what it costs, its steps, and what is left out."""

    cost: str
    steps: tuple[SheetStep, ...]
    hidden: int
    beyond: float
    min_reach: float

    @property
    def left_out(self) -> str:
        """Say what is not shown; ``""`` where nothing is missing."""
        if not self.hidden:
            return ""
        return (
            f"Not shown: {counted(self.hidden, 'step')} more, each reached in less than "
            f"{share(self.min_reach)} of jobs. {share(self.beyond)} of jobs leave what is shown: then "
            f"ask for the next step."
        )


def sheet_of(procedure: Procedure, book: Book, *, min_reach: float = 0.02) -> Sheet:
    """Word a procedure's steps that no smaller share of jobs reaches; the book must have all its steps."""
    excerpt = trimmed(procedure, min_reach)
    numbers = {step.number: k for k, step in enumerate(excerpt.steps, start=1)}
    return Sheet(
        cost=cost_sentence(procedure),
        steps=tuple(_step(procedure, book, step, numbers) for step in excerpt.steps),
        hidden=len(procedure.steps) - len(excerpt.steps),
        beyond=excerpt.beyond,
        min_reach=min_reach,
    )


def cost_sentence(procedure: Procedure) -> str:
    """State the expected cost, and whether it is proven or how far from the best possible it may be."""
    cost = f"Expected cost of a job: {money(procedure.expected, procedure.currency)}"
    if procedure.limit is not None:
        return f"{cost}, {_limited(procedure)}"
    if procedure.proof == "optimal":
        return f"{cost}, optimal, proven."
    return f"{cost}, {_bounded(procedure)}"


def step_title(book: Book, step: Step, currency: str) -> str:
    """Name what a step does."""
    if step.kind is Kind.RETURN:
        return f"Return the device unrepaired ({money(step.cost.total, currency)})"
    entry = entry_of(book, step)
    named = entry.title if entry.title == entry.name else f"{entry.title} ({entry.name})"
    return f"Fix: {named}" if step.kind is Kind.FIX else named


def reached_by(step: Step) -> str:
    """Say how many jobs come to a step."""
    return "every job" if step.reach > 1 - 1e-9 else f"{share(step.reach)} of jobs"


def entry_of(book: Book, step: Step) -> Check | Fix:
    """Return what the book says of a step's action."""
    return book.fixes[step.action] if step.kind is Kind.FIX else book.checks[step.action]


def works_of(book: Book, entry: Check | Fix, complaint: str) -> list[Work]:
    """Return the work of an entry with every setup that it stands on and, for a fix, the retest after it."""
    works = [*(book.setups[name].work for name in entry.work.setups), entry.work]
    return [*works, book.complaints[complaint].retest] if isinstance(entry, Fix) else works


def hazards_of(works: Iterable[Work]) -> tuple[Hazard, ...]:
    """Return the hazards of some work, each once, in the order in which they come."""
    return tuple(dict.fromkeys(hazard for work in works for hazard in work.cautions))


def setup_sentence(setup: Setup) -> str:
    """Say what must stand first."""
    how = f": {setup.how}" if setup.how else ""
    return f"{setup_in_short(setup)}{how}"


def setup_in_short(setup: Setup) -> str:
    """Name what must stand first, where how it is made is told elsewhere."""
    return f"First {setup.title} ({minutes(setup.work)})"


def standing_sentence(book: Book, entry: Check | Fix, made_now: Iterable[str]) -> str:
    """Name the setups that must still stand from earlier; closing or powering may have ended them."""
    now = set(made_now)
    standing = [book.setups[name].title for name in entry.work.setups if name not in now]
    return STANDING.format(names=", ".join(standing)) if standing else ""


def step_cost(step: Step, entry: Check | Fix, currency: str) -> str:
    """Say what a step costs by itself."""
    if step.cost.total == 0:
        return "Costs nothing."
    return f"{minutes(entry.work)}; this step {money(step.cost.total, currency)}"


def retest_text(complaint: Complaint, soak: float) -> str:
    """Say how to try a complaint again after a fix, and how long to let the board run first."""
    hands_on = format_duration(complaint.retest.takes)
    again = f"try the complaint again ({hands_on}). {complaint.retest_how}"
    return f"Soak {format_duration(soak)}, then {again}" if soak else f"Then {again}"


def minutes(work: Work) -> str:
    """Print hands-on and waiting time: ``3 min and 1 h waiting``."""
    hands_on = format_duration(work.takes)
    return f"{hands_on} and {format_duration(work.waits)} waiting" if work.waits else hands_on


def wire_text(fix: Fix) -> str:
    """Say how a fix's jumper runs and what it must carry; ``""`` for a fix without one."""
    if fix.wire is None:
        return ""
    drop = "" if fix.wire.may_drop is None else f", and may drop {1000 * fix.wire.may_drop:.3g} mV"
    return f"Wire from {fix.wire.start} to {fix.wire.end}; it carries {1000 * fix.wire.carries:.3g} mA{drop}."


def parts_of_fix(fix: Fix, currency: str) -> tuple[str, ...]:
    """Name the parts that a fix uses up, with their prices."""
    return tuple(f"{part.title} ({money(part.price, currency)})" for part in fix.parts)


def in_short(caution: str) -> str:
    """Give a caution's first sentence, which stands where the whole is told elsewhere."""
    return f"{caution.partition('. ')[0].rstrip('.')}."


def _step(procedure: Procedure, book: Book, step: Step, numbers: Mapping[int, int]) -> SheetStep:
    is_return, is_fix = step.kind is Kind.RETURN, step.kind is Kind.FIX
    entry = None if is_return else entry_of(book, step)
    hazards = () if entry is None else hazards_of(works_of(book, entry, procedure.complaint))
    complaint = book.complaints[procedure.complaint]
    return SheetStep(
        number=numbers[step.number],
        kind=step.kind,
        title=step_title(book, step, procedure.currency),
        reach=step.reach,
        reached=reached_by(step),
        first=tuple(setup_sentence(book.setups[name]) for name in step.setups),
        standing="" if entry is None else standing_sentence(book, entry, step.setups),
        how="" if entry is None else entry.how,
        cautions=tuple(CAUTIONS[hazard] for hazard in hazards),
        cost="" if entry is None else step_cost(step, entry, procedure.currency),
        retest=retest_text(complaint, step.soak) if is_fix else "",
        onward=tuple(
            _onward(procedure, result, step.chances[result], to, numbers)
            for result, to in step.branches.items()
        ),
    )


def _onward(
    procedure: Procedure, result: str, chance: float, target: int, numbers: Mapping[int, int]
) -> Onward:
    if target == RELEASE:
        return Onward(result, chance, None, "release")
    if procedure.steps[target].kind is Kind.RETURN:
        return Onward(result, chance, numbers.get(target), "return")
    if target in numbers:
        return Onward(result, chance, numbers[target], "")
    return Onward(result, chance, None, "ask")


def _limited(procedure: Procedure) -> str:
    """State what the limit of steps costs."""
    unlimited, limit = procedure.unlimited or 0.0, counted(procedure.limit or 0, "step")
    apart = procedure.expected - unlimited
    if apart <= 1e-9 * unlimited:
        known = "optimal, proven" if procedure.proof == "optimal" else _bounded(procedure).rstrip(".")
        return f"{known}. It fits the limit of {limit} at no cost."
    more = f"{100 * apart / unlimited:.1f} % more" if unlimited > 0 else "more"
    text = f"limited to {limit}, instead of {money(unlimited, procedure.currency)} without the limit: {more}"
    if procedure.bound >= unlimited * (1 - 1e-12):
        return f"{text}. Without the limit it is the proven optimum."
    return f"{text}; {_bounded(procedure)}"


def _bounded(procedure: Procedure) -> str:
    """Say how far from the best possible it may be."""
    return (
        f"within {100 * procedure.gap:.0f} % of the best possible: no procedure costs less than "
        f"{money(procedure.bound, procedure.currency)} ({procedure.bound_method})."
    )
