"""What several rows say about one job, made into one value."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from benchlore.jobs.intake.cells import Column, State
from benchlore.jobs.intake.rows import Row
from benchlore.jobs.intake.verdicts import Remarks
from benchlore.jobs.values import Outcome


@dataclass(slots=True)
class Line:
    """A row of a job, and what is remarkable about it."""

    row: Row
    remarks: Remarks = field(default_factory=Remarks)


def gather(name: str, column: Column, lines: Sequence[Line]) -> Any:
    """Return what the rows say of one field.

    That is the earliest date, the first technician, all notes, else what they agree on. A row that denies
    what an earlier one says is refused.
    """
    said = []
    for line in lines:
        cell = column.read(line.row.cells)
        line.remarks.note((cell,))
        if cell.value is not None and cell.value != "":
            said.append((line, cell.value))
    if not said:
        return None
    values = [value for _, value in said]
    if name == "opened":
        return min(values)
    if name == "technician":
        return values[0]
    if name == "notes":
        return "; ".join(dict.fromkeys(values))
    return _agreed(name, column, said)


def gather_needed(name: str, column: Column, lines: Sequence[Line], job: str) -> Any:
    """Return what the rows say of a field that a job must have; refuse all of them if none says it."""
    passed = next((line for line in lines if column.read(line.row.cells).state is State.LEFT_OUT), None)
    value = gather(name, column, lines)
    if passed is not None:
        message = f"job {job} is left out because of its {name} in row {passed.row.number}"
        for line in lines:
            if not line.remarks.left_out:
                line.remarks.leave_out(column.name, message)
        return None
    if value is None:
        for line in lines:
            if not any(reason.column == column.name for reason in line.remarks.refused):
                line.remarks.refuse(
                    column.name, "", f"no row of job {job} has a {name} that can be read", "write it in one"
                )
    return value


def add_up(column: Column, lines: Sequence[Line]) -> float | None:
    """Return the sum of what the rows say."""
    cells = [column.read(line.row.cells) for line in lines]
    for line, cell in zip(lines, cells, strict=True):
        line.remarks.note((cell,))
    found = [cell.value for cell in cells if cell.value is not None]
    return sum(found) if found else None


def _agreed(name: str, column: Column, said: list[tuple[Line, Any]]) -> Any:
    strong = [(line, value) for line, value in said if _claim(name, value) is not None]
    if not strong:
        return said[0][1]
    first, value = strong[0]
    for line, other in strong[1:]:
        if _claim(name, other) != _claim(name, value):
            was, now = column.text(first.row.cells).strip(), column.text(line.row.cells).strip()
            message = f"row {first.row.number} says '{was[:60]}' of the same job, and this one '{now[:60]}'"
            line.remarks.refuse(
                column.name, now, message, "let them agree, or give this job a number of its own"
            )
    return value


def _claim(name: str, value: Any) -> Any:
    """Return what two rows must agree on: an open outcome and a fault that nobody confirmed claim nothing."""
    if name == "fault":
        return value[0]
    return None if name == "outcome" and value == Outcome.OPEN else value
