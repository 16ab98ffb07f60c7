"""Long tables: a row a reading or a fix tried, several rows a job."""

from collections.abc import Iterable, Iterator, Sequence
from typing import Any

from benchlore.book import Book
from benchlore.jobs.intake.cells import State
from benchlore.jobs.intake.gather import Line, add_up, gather, gather_needed
from benchlore.jobs.intake.readers import BoardReaders, Readers, judge_by_outcome, make_job
from benchlore.jobs.intake.rows import Row
from benchlore.jobs.intake.sieve import Sieve
from benchlore.jobs.intake.steps import StepReader
from benchlore.jobs.intake.verdicts import Judged
from benchlore.jobs.values import Attempt, Job, Outcome, Reading


class LongReader:
    """Gathers the rows of each job and turns them into jobs.

    What a row says about its job counts even if its own reading or fix refuses it: the job's other rows need
    it, and the mended row will say the same. Retests that follow from the outcome, and minutes that are added
    up, wait until no row is refused.
    """

    def __init__(self, readers: Readers) -> None:
        self._readers = readers
        self._sieve = Sieve(readers)
        self._steps = StepReader(readers)
        mapping = readers.mapping
        times = {"hands_on": mapping.hands_on, "waiting": mapping.waiting}
        self._added_up = {name for name, source in times.items() if source and source.per_row}

    def read(self, rows: Iterable[Row]) -> Iterator[Judged]:
        """Give each job's rows, and first those that belong to no job."""
        groups: dict[str, list[Line]] = {}
        current = ""
        for row in rows:
            if totals := self._sieve.totals(row):
                yield Judged((totals,))
                continue
            line = Line(row)
            current = self._number(line, current)
            if current:
                groups.setdefault(current, []).append(line)
            else:
                yield Judged((line.remarks.verdict(row.number, "", row.cells),))
        for number, lines in groups.items():
            job = self._job(number, lines)
            yield Judged(
                tuple(line.remarks.verdict(line.row.number, number, line.row.cells) for line in lines), job
            )

    def _number(self, line: Line, above: str) -> str:
        """Return a row's job number, or the one above it; empty, with the row refused, if there is none."""
        self._sieve.troubles(line.row, line.remarks)
        cell = self._readers.number(line.row.cells)
        line.remarks.note((cell,))
        if cell.value is not None:
            return str(cell.value)
        if cell.state is State.REFUSED:
            return ""
        if not above:
            advice = "write one; a row without one belongs to the job in the row above"
            line.remarks.refuse(self._readers.job[0].name, "", "there is no job number", advice)
        return above

    def _job(self, number: str, lines: Sequence[Line]) -> Job | None:
        """Judge one job's rows, and make the job of those that are good."""
        board = gather_needed("board", self._readers.board, lines, number)
        if board is None:
            return None
        readers = self._readers.for_board(board)
        everyone = lines
        lines = [line for line in lines if self._readers.board.read(line.row.cells).value in {None, board}]
        complaint = gather_needed("complaint", readers.complaint, lines, number)
        if complaint is None:
            return None
        fields: dict[str, Any] = {"number": number, "board": board, "complaint": complaint}
        fields |= self._fields(lines, readers)
        readings, attempts = self._what_was_done(lines, readers.book)
        if all(line.remarks.refused for line in everyone):
            return None
        if any(line.remarks.refused for line in everyone):
            fields = {name: value for name, value in fields.items() if name not in self._added_up}
        elif self._steps.is_from_outcome:
            attempts = judge_by_outcome(attempts, Outcome(fields.get("outcome") or Outcome.OPEN))
        return make_job(self._readers.mapping.shop, fields | {"readings": readings, "attempts": attempts})

    def _fields(self, lines: Sequence[Line], readers: BoardReaders) -> dict[str, Any]:
        columns = dict(self._readers.fields)
        if readers.fault is not None:
            columns["fault"] = readers.fault
        found = {
            name: add_up(column, lines) if name in self._added_up else gather(name, column, lines)
            for name, column in columns.items()
        }
        extra = {name: gather("notes", column, lines) for name, column in self._readers.extra}
        found["extra"] = {name: value for name, value in extra.items() if value}
        return {name: value for name, value in found.items() if value is not None}

    def _what_was_done(
        self, lines: Sequence[Line], book: Book
    ) -> tuple[tuple[Reading, ...], tuple[Attempt, ...]]:
        """Read the rows in order; those that are refused keep their steps and give nothing."""
        readings: list[Reading] = []
        attempts: list[Attempt] = []
        step = 1
        for line in self._in_order(lines):
            found = self._steps.read(book, line.row.cells, step)
            step = found.next_step
            line.remarks.note(found.remarks)
            if not line.remarks.refused:
                readings += found.readings
                attempts += found.attempts
        return tuple(readings), tuple(attempts)

    def _in_order(self, lines: Sequence[Line]) -> list[Line]:
        """Sort rows by their step numbers; one without a number follows the row above it."""
        keys: list[float] = []
        for line in lines:
            cell = self._steps.order(line.row.cells)
            line.remarks.note((cell,))
            keys.append(cell.value if cell.value is not None else (keys[-1] if keys else 0.0))
        places = sorted(range(len(lines)), key=lambda place: keys[place])
        return [lines[place] for place in places]
