"""The part of a procedure that is worth printing, and what is known where a job leaves it."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from heapq import heappop, heappush

from benchlore.procedure.values import RELEASE, Kind, Procedure, Step


@dataclass(frozen=True, slots=True)
class Done:
    """A check or fix that was done, and its result."""

    kind: Kind
    action: str
    result: str


@dataclass(frozen=True, slots=True)
class Exit:
    """A branch that leaves the sheet, from step ``step`` with ``result``; ``share`` of all jobs take it.

    ``known`` is what every way to that step has done before it, in order; ``is_only_way`` says that there is
    one way only, so that this is all that was done.
    """

    step: int
    result: str
    share: float
    known: tuple[Done, ...]
    is_only_way: bool


@dataclass(frozen=True)
class Excerpt:
    """The part of a procedure that is printed.

    ``steps`` keep their numbers. A branch to a number in ``cut`` leaves the sheet: where that is a return,
    the job ends; elsewhere the technician asks for the next step.
    """

    procedure: Procedure
    steps: tuple[Step, ...]
    cut: frozenset[int]

    @cached_property
    def exits(self) -> tuple[Exit, ...]:
        """The branches after which a job goes on without the sheet, in reading order."""
        ways = _ways(self.procedure)
        return tuple(
            Exit(step.number, result, step.reach * step.chances[result], *ways[step.number])
            for step in self.steps
            for result, target in step.branches.items()
            if target in self.cut and self.procedure.steps[target].kind is not Kind.RETURN
        )

    @property
    def beyond(self) -> float:
        """The probability that a job goes on without the sheet; a little more where it may come back."""
        return min(1.0, sum(way_out.share for way_out in self.exits))


def trimmed(procedure: Procedure, min_reach: float = 0.0, steps: int | None = None) -> Excerpt:
    """Keep the steps that most jobs reach, as far as they hang together.

    Parameters
    ----------
    procedure
        The whole.
    min_reach
        Steps that a smaller share of jobs reaches are left out.
    steps
        How many are kept at most, one or more; no limit where left out.
    """
    kept: set[int] = set()
    waiting = [(-procedure.steps[0].reach, 0)]
    seen = {0}
    while waiting and (steps is None or len(kept) < steps):
        number = heappop(waiting)[1]
        kept.add(number)
        for target in procedure.steps[number].branches.values():
            if target not in seen and target != RELEASE:
                seen.add(target)
                if procedure.steps[target].reach >= min_reach:
                    heappush(waiting, (-procedure.steps[target].reach, target))
    chosen = tuple(procedure.steps[number] for number in sorted(kept))
    onwards = {target for step in chosen for target in step.branches.values()}
    return Excerpt(procedure, chosen, frozenset(onwards - kept - {RELEASE}))


def _ways(procedure: Procedure) -> Mapping[int, tuple[tuple[Done, ...], bool]]:
    """What all ways to each step have in common, and whether there is only one."""
    known: dict[int, tuple[Done, ...]] = {0: ()}
    only = {0: True}
    for step in procedure.steps:
        if step.number in known:
            for target, done in _onwards(step):
                here = (*known[step.number], done)
                only[target] = only[step.number] and target not in known
                before = known.get(target, here)
                known[target] = tuple(each for each in before if each in here)
    return {number: (done, only[number]) for number, done in known.items()}


def _onwards(step: Step) -> Iterator[tuple[int, Done]]:
    for result, target in step.branches.items():
        if target != RELEASE:
            yield target, Done(step.kind, step.action, result)
