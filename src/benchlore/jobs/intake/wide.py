"""Wide tables: a row a job."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any

from benchlore.book import Book
from benchlore.jobs.intake.cells import MOST_IN_CELL, Cell, Column, left_out
from benchlore.jobs.intake.mapping import CheckColumn, FixColumn, Order, Unreadable
from benchlore.jobs.intake.readers import FixReader, Readers, judge_by_outcome, make_job
from benchlore.jobs.intake.rows import Row
from benchlore.jobs.intake.sieve import Sieve
from benchlore.jobs.intake.verdicts import Judged, Remarks, RowVerdict, Verdict
from benchlore.jobs.values import Attempt, Job, Outcome, Reading


@dataclass(frozen=True, slots=True)
class _Plan:
    """A board's columns of checks, whose readings know their steps, and of fixes with their first steps."""

    checks: tuple[Column, ...]
    fixes: tuple[tuple[FixReader, int], ...]
    is_from_outcome: bool


class WideReader:
    """Turns rows into jobs, one by one, and remembers the job numbers that it saw.

    A reading's step is its column's place among checks and fixes, whether or not cells before it are empty:
    a later copy of the table, with more cells filled in, then gives the same steps.
    """

    def __init__(self, readers: Readers) -> None:
        self._readers = readers
        self._sieve = Sieve(readers)
        self._plans: dict[str, _Plan] = {}
        self._seen: dict[str, tuple[int, Job]] = {}
        self._leaves_out = readers.mapping.unreadable is Unreadable.LEAVE_OUT

    def read(self, rows: Iterable[Row]) -> Iterator[Judged]:
        """Give each row, with its job if it is taken."""
        for row in rows:
            totals = self._sieve.totals(row)
            yield Judged((totals,)) if totals else self._row(row)

    def _row(self, row: Row) -> Judged:
        remarks = Remarks()
        self._sieve.troubles(row, remarks)
        fields = self._fields(row.cells, remarks)
        number = str(fields.get("number") or "")
        if remarks.refused or remarks.left_out:
            return Judged((remarks.verdict(row.number, number, row.cells),))
        job = make_job(self._readers.mapping.shop, fields)
        if number in self._seen:
            return Judged((self._again(row, job, remarks),))
        self._seen[number] = (row.number, job)
        return Judged((remarks.verdict(row.number, number, row.cells),), job)

    def _fields(self, cells: tuple[str, ...], remarks: Remarks) -> dict[str, Any]:
        readers = self._readers
        number = _needed(readers.number(cells), readers.job[0], "job number", remarks)
        board = _needed(readers.board.read(cells), readers.board, "board", remarks)
        fields: dict[str, Any] = {"number": number, "board": board}
        for name, column in readers.fields.items():
            cell = column.read(cells)
            if cell.reason is not None:
                remarks.note((cell,))
            if cell.value is not None:
                fields[name] = cell.value
        if board is not None:
            self._add_what_depends_on_board(fields, cells, remarks)
        if readers.extra:
            extra = ((name, column.read(cells).value) for name, column in readers.extra)
            fields["extra"] = {name: value for name, value in extra if value}
        return fields

    def _add_what_depends_on_board(
        self, fields: dict[str, Any], cells: tuple[str, ...], remarks: Remarks
    ) -> None:
        readers = self._readers.for_board(fields["board"])
        fields["complaint"] = _needed(readers.complaint.read(cells), readers.complaint, "complaint", remarks)
        if readers.fault is not None:
            cell = readers.fault.read(cells)
            remarks.note((cell,))
            fields["fault"] = cell.value
        plan = self._plans.get(readers.book.board.name) or self._make_plan(readers.book)
        fields["readings"] = self._readings(plan, cells, remarks)
        fields["attempts"] = _attempts(plan, cells, remarks, Outcome(fields.get("outcome") or Outcome.OPEN))

    def _readings(self, plan: _Plan, cells: tuple[str, ...], remarks: Remarks) -> tuple[Reading, ...]:
        readings = []
        for column in plan.checks:
            cell = column.read(cells)
            if cell.value is not None:
                readings.append(cell.value)
            if cell.reason is not None:
                remarks.note((left_out(cell) if self._leaves_out else cell,))
        return tuple(readings)

    def _again(self, row: Row, job: Job, remarks: Remarks) -> RowVerdict:
        """Judge a row whose job number stood in a row above."""
        first_row, first = self._seen[job.number]
        column = self._readers.job[0]
        message = f"job {job.number} stands in row {first_row} already"
        if job == first:
            remarks.refuse(column.name, column.text(row.cells), message)
            return RowVerdict(row.number, job.number, Verdict.ALREADY_THERE, tuple(remarks.refused))
        advice = "give each job a number of its own, or use 'layout: long' if a job may have several rows"
        remarks.refuse(column.name, column.text(row.cells), f"{message}, with other contents", advice)
        return remarks.verdict(row.number, job.number, row.cells)

    def _make_plan(self, book: Book) -> _Plan:
        mapping, table = self._readers.mapping, self._readers.table
        checks_by_place = sorted(mapping.checks, key=lambda each: table.place(each.column) or 0)
        columns: list[CheckColumn | FixColumn] = [*checks_by_place, *mapping.fixes]
        if mapping.order is Order.AS_COLUMNS:
            columns.sort(key=lambda each: table.place(_header(each)) or 0)
        checks: list[Column] = []
        fixes: list[tuple[FixReader, int]] = []
        step = 1
        for column in columns:
            if isinstance(column, CheckColumn):
                checks.append(self._check(book, column, step))
                step += 1
            else:
                fixes.append((self._readers.fix(column, book), step))
                step += MOST_IN_CELL
        is_from_outcome = any(fix.retest is not None and fix.retest.source is None for fix in mapping.fixes)
        plan = self._plans[book.board.name] = _Plan(tuple(checks), tuple(fixes), is_from_outcome)
        return plan

    def _check(self, book: Book, column: CheckColumn, step: int) -> Column:
        parse, names = self._readers.reading(book, column.check, column.names, column.unit, step)
        return self._readers.at(column.column, parse, names)


def _needed(cell: Cell, column: Column, what: str, remarks: Remarks) -> Any:
    """Return the cell's value; refuse the row if the cell says nothing."""
    remarks.note((cell,))
    if cell.value is None and cell.reason is None:
        remarks.refuse(column.name, "", f"there is no {what}", "write one")
    return cell.value


def _attempts(plan: _Plan, cells: tuple[str, ...], remarks: Remarks, outcome: Outcome) -> tuple[Attempt, ...]:
    attempts: list[Attempt] = []
    for reader, step in plan.fixes:
        found, doubtful = reader.read(cells, step)
        attempts.extend(found)
        remarks.note(doubtful)
    if plan.is_from_outcome:
        return judge_by_outcome(attempts, outcome)
    return tuple(attempts)


def _header(column: CheckColumn | FixColumn) -> str:
    return column.column if isinstance(column, CheckColumn) else column.source.columns[0]
