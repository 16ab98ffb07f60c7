"""A procedure as text for an 80-column terminal: numbered steps with references to each other."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

from benchlore.book import CAUTIONS, GENERAL_CAUTION, Book, Check, Fix, Hazard, Setup
from benchlore.cli.text import columns, command_lines, two_ends, wrapped
from benchlore.library import Planned
from benchlore.library.sheet import (
    cost_sentence,
    entry_of,
    hazards_of,
    in_short,
    reached_by,
    retest_text,
    setup_sentence,
    standing_sentence,
    step_cost,
    step_title,
    works_of,
)
from benchlore.procedure import RELEASE, Done, Excerpt, Exit, Kind, Procedure, Step, trimmed
from benchlore.units import counted, share

INDENT = 4
READING = "READING"
"""Stands in a printed command for what the technician reads."""


@dataclass(frozen=True)
class ProcedureText:
    """Prints one procedure with its book: at most ``most`` steps, none rarer than ``min_reach``.

    Where a job leaves what is printed stands the command to ask for the next step; ``shop`` is the file that
    it names, where that is not the library's own. Steps are numbered as they are printed. A caution stands
    whole beside the first step that needs it, and in short, with that step's number, beside the others.
    """

    procedure: Procedure
    book: Book
    min_reach: float = 0.02
    most: int | None = None
    shop: Path | None = None

    @cached_property
    def excerpt(self) -> Excerpt:
        """The part that is printed."""
        return trimmed(self.procedure, self.min_reach, self.most)

    @cached_property
    def numbers(self) -> Mapping[int, int]:
        """The printed number of each printed step."""
        return {step.number: k for k, step in enumerate(self.excerpt.steps, start=1)}

    @cached_property
    def exits(self) -> Mapping[int, tuple[Exit, ...]]:
        """The branches by which each step leaves what is printed."""
        found: dict[int, tuple[Exit, ...]] = {}
        for way_out in self.excerpt.exits:
            found[way_out.step] = (*found.get(way_out.step, ()), way_out)
        return found

    @cached_property
    def first_warned(self) -> Mapping[Hazard, int]:
        """The printed number of the first step that has a hazard."""
        warned: dict[Hazard, int] = {}
        for step in self.excerpt.steps:
            for hazard in self.hazards(step):
                warned.setdefault(hazard, self.numbers[step.number])
        return warned

    def lines(self, remarks: Sequence[str] = ()) -> list[str]:
        """Return the whole text, line by line; ``remarks`` stand at its end, before the general caution."""
        steps = [line for step in self.excerpt.steps for line in (*self.step(step), "")]
        tail = [block for block in (self.left_out(), remarks) if block]
        return [
            *self.head(),
            "",
            *steps,
            *(line for block in tail for line in (*block, "")),
            *wrapped(GENERAL_CAUTION),
        ]

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
        reached = reached_by(step)
        body = [] if step.kind is Kind.RETURN else [*self.work_lines(step), *self.branch_lines(step)]
        return [*two_ends(title, reached), *body]

    def title(self, step: Step) -> str:
        """Name what a step does."""
        return step_title(self.book, step, self.procedure.currency)

    def entry(self, step: Step) -> Check | Fix:
        """Return what the book says of a step's action."""
        return entry_of(self.book, step)

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
        return [*lines, *wrapped(step_cost(step, entry, self.procedure.currency), indent=INDENT)]

    def branch_lines(self, step: Step) -> list[str]:
        """Print where each result leads."""
        ask: list[str] = []
        if step.kind is Kind.FIX:
            complaint = self.book.complaints[self.procedure.complaint]
            ask = wrapped(retest_text(complaint, step.soak), indent=INDENT)
        rows = [(name, share(step.chances[name]), self.target(to)) for name, to in step.branches.items()]
        table = columns(rows, align="<><", indent=INDENT + 2, gap=3)
        return [*ask, *table, *self.exit_lines(step)]

    def exit_lines(self, step: Step) -> list[str]:
        """Print the command to ask from where a step's branches leave what is printed."""
        exits = self.exits.get(step.number, ())
        if not exits:
            return []
        words = ["benchlore", "next", self.procedure.board, self.procedure.complaint]
        here = Done(step.kind, step.action, exits[0].result if len(exits) == 1 else READING)
        known = (*exits[0].known, here)
        words += [f"{done.action}={done.result}" for done in known if done.kind is Kind.CHECK]
        words += [] if exits[0].is_only_way else [f"CHECK={READING}"]
        for done in known:
            words += ["--tried", done.action] if done.kind is Kind.FIX else []
        words += ["--shop", str(self.shop)] if self.shop else []
        return ["    From here ask:", *command_lines(words, indent=INDENT)]

    def target(self, number: int) -> str:
        """Say where a branch leads."""
        if number == RELEASE:
            return "release"
        if number in self.numbers:
            return f"step {self.numbers[number]}"
        if self.procedure.steps[number].kind is Kind.RETURN:
            return "return unrepaired"
        return "from here ask"

    def left_out(self) -> list[str]:
        """Say what is not printed, and what to do there."""
        hidden = len(self.procedure.steps) - len(self.excerpt.steps)
        if not hidden:
            return []
        rare = f", each reached in less than {share(self.min_reach)} of jobs" if self.most is None else ""
        text = f"Not printed: {counted(hidden, 'step')} more{rare}."
        if self.excerpt.exits:
            text += (
                f" {share(self.excerpt.beyond)} of jobs leave this sheet: then, and wherever you left the "
                f"procedure, ask as printed beside the step. In the command, write what you read for "
                f"{READING}; CHECK={READING} stands where several ways lead to the step: name each check "
                f"that was made."
            )
        return wrapped(text)


def cost_lines(procedure: Procedure) -> list[str]:
    """State the expected cost, and whether it is proven or how far from the best possible it may be."""
    return wrapped(cost_sentence(procedure))


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


def standing_lines(book: Book, entry: Check | Fix, made_now: Collection[str]) -> list[str]:
    """Print the setups that must still stand from earlier; closing or powering may have ended them."""
    return wrapped(standing_sentence(book, entry, made_now), indent=INDENT)


def caution_lines(hazard: Hazard, told_at: int | None = None) -> list[str]:
    """Print a caution whole, or its first sentence and the number of the step that has all of it."""
    text = CAUTIONS[hazard]
    if told_at is not None:
        text = f"{in_short(text).rstrip('.')} (more in step {told_at})."
    return wrapped(f"Caution! {text}", indent=INDENT, hang=9)


def setup_lines(setup: Setup) -> list[str]:
    """Print what must stand first."""
    return wrapped(setup_sentence(setup), indent=INDENT)
