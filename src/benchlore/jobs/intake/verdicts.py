"""What becomes of each row, and why."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from enum import StrEnum
from typing import NamedTuple

from benchlore.jobs.intake.cells import Cell, Reason, State
from benchlore.jobs.values import Job


class Verdict(StrEnum):
    """What becomes of a row."""

    TAKEN = "taken"
    DOUBTFUL = "read with a doubt"
    ALREADY_THERE = "already there"
    LEFT_OUT = "left out"
    REFUSED = "refused"


@dataclass(frozen=True, slots=True)
class RowVerdict:
    """What becomes of one row; ``job`` is its job number, empty where there is none.

    ``cells`` are its cells as they stand; a preview keeps them only for the rows that a file of refused rows
    needs.
    """

    row: int
    job: str
    verdict: Verdict
    reasons: tuple[Reason, ...] = ()
    cells: tuple[str, ...] = ()


class Judged(NamedTuple):
    """The rows of one job, or of none, and the job that they make."""

    rows: tuple[RowVerdict, ...]
    job: Job | None = None


@dataclass(slots=True)
class Remarks:
    """Collects what a row's cells gave reason for."""

    refused: list[Reason] = field(default_factory=list)
    doubts: list[Reason] = field(default_factory=list)
    left_out: list[Reason] = field(default_factory=list)

    def note(self, cells: Iterable[Cell]) -> None:
        """Keep the reasons of cells that are not clear."""
        for cell in cells:
            if cell.reason is not None:
                self._list(cell.state).append(cell.reason)

    def refuse(self, column: str, cell: str, message: str, suggestion: str = "") -> None:
        """Refuse the row."""
        self.refused.append(Reason(column, cell, message, suggestion))

    def leave_out(self, column: str, message: str) -> None:
        """Leave the row out."""
        self.left_out.append(Reason(column, "", message))

    def verdict(self, row: int, job: str, cells: tuple[str, ...]) -> RowVerdict:
        """Judge the row: a row to be left out is left out whatever else is wrong with it."""
        if self.left_out:
            return RowVerdict(row, job, Verdict.LEFT_OUT, tuple(self.left_out), cells)
        if self.refused:
            return RowVerdict(row, job, Verdict.REFUSED, (*self.refused, *self.doubts), cells)
        return RowVerdict(
            row, job, Verdict.DOUBTFUL if self.doubts else Verdict.TAKEN, tuple(self.doubts), cells
        )

    def _list(self, state: State) -> list[Reason]:
        if state is State.LEFT_OUT:
            return self.left_out
        return self.refused if state is State.REFUSED else self.doubts
