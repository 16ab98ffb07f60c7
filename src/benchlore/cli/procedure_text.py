"""A procedure as text for an 80-column terminal: numbered steps with references to each other."""

from dataclasses import dataclass

from benchlore.book import CAUTIONS, GENERAL_CAUTION, Book, Hazard, Work
from benchlore.cli.text import columns, money, share, two_ends, wrapped
from benchlore.procedure import RELEASE, Kind, Procedure, Step
from benchlore.units import format_duration

INDENT = 4


@dataclass(frozen=True)
class ProcedureText:
    """Prints one procedure with its book; rarer steps than ``min_reach`` are left to the bench."""

    procedure: Procedure
    book: Book
    min_reach: float = 0.02

    def lines(self) -> list[str]:
        """The whole text, line by line."""
        return [*self.head(), "", *self.steps(), *self.tail()]

    def head(self) -> list[str]:
        """What it is for, what it costs, and how sure that is."""
        complaint = self.book.complaints[self.procedure.complaint]
        return [
            *two_ends(complaint.title, self.book.board.title),
            f"for {self.procedure.shop}",
            "",
            *cost_lines(self.procedure),
        ]

    def steps(self) -> list[str]:
        """Every step that is reached often enough."""
        lines: list[str] = []
        for step in self.shown():
            lines += [*self.step(step), ""]
        return lines

    def shown(self) -> tuple[Step, ...]:
        """The steps that are printed."""
        return tuple(
            step for step in self.procedure.steps if step.reach >= self.min_reach or step.number == 0
        )

    def step(self, step: Step) -> list[str]:
        """One step: what to do, with what, at what cost, and where each result leads."""
        title = f"{step.number + 1:>2}. {self.title(step)}"
        reached = "every job" if step.reach > 1 - 1e-9 else f"{share(step.reach)} of jobs"
        body = [] if step.kind is Kind.RETURN else [*self.work_lines(step), *self.branch_lines(step)]
        return [*two_ends(title, reached), *body]

    def title(self, step: Step) -> str:
        """Name what a step does."""
        if step.kind is Kind.RETURN:
            return f"Return the device unrepaired ({money(step.cost.total, self.procedure.currency)})"
        if step.kind is Kind.FIX:
            return f"Fix: {self.book.fixes[step.action].title}"
        return self.book.checks[step.action].title

    def work_lines(self, step: Step) -> list[str]:
        """Setups, instruction, cautions, minutes and cost."""
        entry = self.book.fixes[step.action] if step.kind is Kind.FIX else self.book.checks[step.action]
        works = [*(self.book.setups[name].work for name in step.setups), entry.work]
        lines = [line for name in step.setups for line in self.setup_lines(name)]
        lines += wrapped(entry.how, indent=INDENT)
        lines += caution_lines(works)
        cost = f"{minutes(entry.work)}; this step {money(step.cost.total, self.procedure.currency)}"
        return [*lines, *wrapped(cost, indent=INDENT)]

    def setup_lines(self, name: str) -> list[str]:
        """What must stand first."""
        setup = self.book.setups[name]
        how = f": {setup.how}" if setup.how else ""
        return wrapped(f"First {setup.title} ({minutes(setup.work)}){how}", indent=INDENT)

    def branch_lines(self, step: Step) -> list[str]:
        """Where each result leads."""
        if step.kind is Kind.FIX:
            retest = self.book.complaints[self.procedure.complaint]
            ask = wrapped(
                f"Then try the complaint again ({minutes(retest.retest)}). {retest.retest_how}", indent=INDENT
            )
        else:
            ask = []
        shown = {shown.number for shown in self.shown()}
        rows = [
            (result, share(step.chances[result]), self.target(target, shown))
            for result, target in step.branches.items()
        ]
        return [*ask, *columns(rows, align="<><", indent=INDENT + 2, gap=3)]

    def target(self, number: int, shown: set[int]) -> str:
        """Say where a branch leads."""
        if number == RELEASE:
            return "release"
        step = self.procedure.steps[number]
        if step.kind is Kind.RETURN:
            return "return unrepaired"
        return f"step {number + 1}" if number in shown else "rare: ask 'benchlore next'"

    def tail(self) -> list[str]:
        """What was left out, and the general caution."""
        hidden = len(self.procedure.steps) - len(self.shown())
        lines = []
        if hidden:
            lines = wrapped(
                f"{hidden:,} rarer steps (each in less than {share(self.min_reach)} of jobs) are not "
                f"printed. Where the text says so, or whenever you left the procedure, ask: benchlore next "
                f"{self.procedure.board} {self.procedure.complaint} CHECK=READING …"
            )
        return [*lines, *([""] if lines else []), *wrapped(GENERAL_CAUTION)]


def cost_lines(procedure: Procedure) -> list[str]:
    """State the expected cost, and whether it is proven or how far from the best possible it may be."""
    cost = f"Expected cost of a job: {money(procedure.expected, procedure.currency)}"
    if procedure.proof == "optimal":
        return [f"{cost}, optimal, proven."]
    return wrapped(
        f"{cost}, within {100 * procedure.gap:.0f} % of the best possible: no procedure costs less than "
        f"{money(procedure.bound, procedure.currency)} ({procedure.bound_method})."
    )


def caution_lines(works: list[Work]) -> list[str]:
    """Each hazard once, in the words that stand beside it everywhere."""
    seen: dict[Hazard, None] = dict.fromkeys(hazard for work in works for hazard in work.cautions)
    return [
        line for hazard in seen for line in wrapped(f"Caution! {CAUTIONS[hazard]}", indent=INDENT, hang=9)
    ]


def minutes(work: Work) -> str:
    """Print hands-on and waiting time: ``3 min and 1 h waiting``."""
    hands_on = format_duration(work.takes)
    return f"{hands_on} and {format_duration(work.waits)} waiting" if work.waits else hands_on
