"""A procedure as text for an 80-column terminal: numbered steps with references to each other."""

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property

from benchlore.book import CAUTIONS, GENERAL_CAUTION, Book, Check, Complaint, Fix, Hazard, Setup, Work
from benchlore.cli.text import columns, counted, money, share, two_ends, wrapped
from benchlore.library import Planned
from benchlore.procedure import RELEASE, Excerpt, Kind, Procedure, Step, trimmed
from benchlore.units import format_duration

INDENT = 4


@dataclass(frozen=True)
class ProcedureText:
    """Prints one procedure with its book; rarer steps than ``min_reach`` are left to the bench.

    Steps are numbered as they are printed. A caution stands whole beside the first step that needs it, and in
    short, with that step's number, beside the others.
    """

    procedure: Procedure
    book: Book
    min_reach: float = 0.02

    @cached_property
    def excerpt(self) -> Excerpt:
        """The part that is printed."""
        return trimmed(self.procedure, self.min_reach)

    @cached_property
    def numbers(self) -> Mapping[int, int]:
        """The printed number of each printed step."""
        return {step.number: k for k, step in enumerate(self.excerpt.steps, start=1)}

    @cached_property
    def first_warned(self) -> Mapping[Hazard, int]:
        """The printed number of the first step that has a hazard."""
        warned: dict[Hazard, int] = {}
        for step in self.excerpt.steps:
            for hazard in self.hazards(step):
                warned.setdefault(hazard, self.numbers[step.number])
        return warned

    def lines(self) -> list[str]:
        """Return the whole text, line by line."""
        steps = [line for step in self.excerpt.steps for line in (*self.step(step), "")]
        return [*self.head(), "", *steps, *self.tail()]

    def head(self) -> list[str]:
        """Say what it is for, what it costs, and how sure that is."""
        complaint = self.book.complaints[self.procedure.complaint]
        return [
            *two_ends(complaint.title, self.book.board.title),
            f"for {self.procedure.shop}",
            "",
            *cost_lines(self.procedure),
        ]

    def step(self, step: Step) -> list[str]:
        """Print one step: what to do, with what, at what cost, and where each result leads."""
        title = f"{self.numbers[step.number]:>2}. {self.title(step)}"
        reached = "every job" if step.reach > 1 - 1e-9 else f"{share(step.reach)} of jobs"
        body = [] if step.kind is Kind.RETURN else [*self.work_lines(step), *self.branch_lines(step)]
        return [*two_ends(title, reached), *body]

    def title(self, step: Step) -> str:
        """Name what a step does."""
        if step.kind is Kind.RETURN:
            return f"Return the device unrepaired ({money(step.cost.total, self.procedure.currency)})"
        entry = self.entry(step)
        named = entry.title if entry.title == entry.name else f"{entry.title} ({entry.name})"
        return f"Fix: {named}" if step.kind is Kind.FIX else named

    def entry(self, step: Step) -> Check | Fix:
        """Return what the book says of a step's action."""
        return self.book.fixes[step.action] if step.kind is Kind.FIX else self.book.checks[step.action]

    def hazards(self, step: Step) -> tuple[Hazard, ...]:
        """Return the hazards of a step, of every setup that it stands on, and of its retest, each once."""
        if step.kind is Kind.RETURN:
            return ()
        return hazards_of(works_of(self.book, self.entry(step), self.procedure.complaint))

    def work_lines(self, step: Step) -> list[str]:
        """Print setups, instruction, cautions, minutes and cost."""
        entry = self.entry(step)
        lines = [line for name in step.setups for line in setup_lines(self.book.setups[name])]
        lines += standing_lines(self.book, entry, step.setups)
        lines += wrapped(entry.how, indent=INDENT)
        for hazard in self.hazards(step):
            first = self.first_warned[hazard]
            lines += caution_lines(hazard, None if first == self.numbers[step.number] else first)
        if step.cost.total == 0:
            return [*lines, *wrapped("Costs nothing.", indent=INDENT)]
        cost = f"{minutes(entry.work)}; this step {money(step.cost.total, self.procedure.currency)}"
        return [*lines, *wrapped(cost, indent=INDENT)]

    def branch_lines(self, step: Step) -> list[str]:
        """Print where each result leads."""
        ask: list[str] = []
        if step.kind is Kind.FIX:
            complaint = self.book.complaints[self.procedure.complaint]
            ask = wrapped(retest_text(complaint, step.soak), indent=INDENT)
        rows = [(name, share(step.chances[name]), self.target(to)) for name, to in step.branches.items()]
        return [*ask, *columns(rows, align="<><", indent=INDENT + 2, gap=3)]

    def target(self, number: int) -> str:
        """Say where a branch leads."""
        if number == RELEASE:
            return "release"
        if number in self.numbers:
            return f"step {self.numbers[number]}"
        if self.procedure.steps[number].kind is Kind.RETURN:
            return "return unrepaired"
        return "not printed: ask (see below)"

    def tail(self) -> list[str]:
        """Say what was left out, and the general caution."""
        hidden = len(self.procedure.steps) - len(self.excerpt.steps)
        if not hidden:
            return wrapped(GENERAL_CAUTION)
        command = f"benchlore next {self.procedure.board} {self.procedure.complaint} CHECK=READING …"
        left_out = (
            f"Not printed: {counted(hidden, 'step')} more, each reached in less than {share(self.min_reach)} "
            f"of jobs; {share(self.excerpt.beyond)} of jobs get to one of them. There, and wherever you left "
            f"the procedure, ask: {command}"
        )
        return [*wrapped(left_out), "", *wrapped(GENERAL_CAUTION)]


def cost_lines(procedure: Procedure) -> list[str]:
    """State the expected cost, and whether it is proven or how far from the best possible it may be."""
    cost = f"Expected cost of a job: {money(procedure.expected, procedure.currency)}"
    if procedure.proof == "optimal":
        return [f"{cost}, optimal, proven."]
    return wrapped(
        f"{cost}, within {100 * procedure.gap:.0f} % of the best possible: no procedure costs less than "
        f"{money(procedure.bound, procedure.currency)} ({procedure.bound_method})."
    )


def learned_lines(planned: Planned) -> list[str]:
    """Say what was learned from, and that some stored jobs teach nothing."""
    if not planned.stored:
        return ["Learned from the book; no jobs of this board are recorded yet."]
    text = f"Learned from the book and {counted(planned.jobs, 'recorded job')} of this board."
    if silent := planned.stored - planned.jobs:
        text += (
            f" {silent:,} more say nothing yet: still open (is 'outcome' in the mapping?), without readings "
            f"and fixes, or with a complaint that the book does not know."
        )
    return wrapped(text)


def works_of(book: Book, entry: Check | Fix, complaint: str) -> list[Work]:
    """Return the work of an entry with every setup that it stands on and, for a fix, the retest after it."""
    works = [*(book.setups[name].work for name in entry.work.setups), entry.work]
    return [*works, book.complaints[complaint].retest] if isinstance(entry, Fix) else works


def standing_lines(book: Book, entry: Check | Fix, made_now: Collection[str]) -> list[str]:
    """Print the setups that must still stand from earlier; closing or powering may have ended them."""
    standing = [book.setups[name].title for name in entry.work.setups if name not in made_now]
    if not standing:
        return []
    return wrapped(f"Must still stand: {', '.join(standing)}. If not, make it again first.", indent=INDENT)


def hazards_of(works: Iterable[Work]) -> tuple[Hazard, ...]:
    """Return the hazards of some work, each once, in the order in which they come."""
    return tuple(dict.fromkeys(hazard for work in works for hazard in work.cautions))


def caution_lines(hazard: Hazard, told_at: int | None = None) -> list[str]:
    """Print a caution whole, or its first sentence and the number of the step that has all of it."""
    text = CAUTIONS[hazard]
    if told_at is not None:
        text = f"{text.split('. ')[0].rstrip('.')} (more in step {told_at})."
    return wrapped(f"Caution! {text}", indent=INDENT, hang=9)


def setup_lines(setup: Setup) -> list[str]:
    """Print what must stand first."""
    how = f": {setup.how}" if setup.how else ""
    return wrapped(f"First {setup.title} ({minutes(setup.work)}){how}", indent=INDENT)


def retest_text(complaint: Complaint, soak: float) -> str:
    """Say how to try a complaint again after a fix, and how long to let the board run first."""
    hands_on = format_duration(complaint.retest.takes)
    again = f"try the complaint again ({hands_on}). {complaint.retest_how}"
    return f"Soak {format_duration(soak)}, then {again}" if soak else f"Then {again}"


def minutes(work: Work) -> str:
    """Print hands-on and waiting time: ``3 min and 1 h waiting``."""
    hands_on = format_duration(work.takes)
    return f"{hands_on} and {format_duration(work.waits)} waiting" if work.waits else hands_on
