"""Candidates for the fund plan: what a table of them says, line by line, and what is asked of a plan."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from math import log, sqrt
from pathlib import Path
from typing import Final

from benchlore.jobs.intake import read_table
from benchlore.library.cells import CellReader, cells_of
from benchlore.library.errors import CandidatesRefusedError
from benchlore.library.folder import Library
from benchlore.library.researching import own_demand
from benchlore.money import AmountError
from benchlore.notation import Position, Problem, listed

COLUMNS: Final = (
    *("device", "complaint", "board", "category", "jobs a year", "jobs high", "source", "gain", "coverage"),
    *("hours", "hours low", "hours high", "fee", "rate", "who", "must", "either-or"),
)
MOST_ROWS: Final = 500
NINETY: Final = 1.6448536269514722
"""Standard deviations from the middle to the twentieth part at either end of a normal law."""


@dataclass(frozen=True, slots=True)
class Row:
    """A line of the table, as it was read; ``jobs`` a year over all shops that would use the book."""

    line: int
    device: str
    complaint: str
    board: str
    category: str
    jobs: float
    jobs_high: float | None
    source: str
    gain: float
    coverage: float
    hours: float
    hours_spread: float
    fee: float | None
    rate: float
    who: str
    must: bool
    group: str

    @property
    def name(self) -> str:
        """The candidate's name."""
        return f"{self.device}, {self.complaint}"


@dataclass(frozen=True, slots=True)
class FundTerms:
    """What is asked of a fund plan; names in ``must`` and ``left_out`` are devices with complaints."""

    budget: float
    capacity: Mapping[str, float] = field(default_factory=dict)
    rate: float = 0.0
    years: int = 5
    discount: float = 0.05
    must: tuple[str, ...] = ()
    left_out: tuple[str, ...] = ()
    draws: int = 200
    seed: int = 1


def read_candidates(library: Library, path: Path, terms: FundTerms) -> tuple[Row, ...]:
    """Read a CSV or XLSX table of candidates; raises ``CandidatesRefusedError`` with every mistake."""
    problems: list[Problem] = []
    rows = []
    for line, cells in cells_in(path):
        row, wrong = read_row(library, cells, file=str(path), line=line, rate=terms.rate)
        problems += wrong
        rows.append(row)
    unknown = [name for name in (*terms.must, *terms.left_out) if name not in {row.name for row in rows}]
    for name in unknown if not problems else ():
        message = f"no candidate '{name}'; there are {'; '.join(row.name for row in rows)}"
        problems.append(Problem(str(path), None, "no-candidate", message))
    if problems:
        raise CandidatesRefusedError(tuple(problems))
    kept = [row for row in rows if row.name not in terms.left_out]
    return tuple(replace(row, must=row.must or row.name in terms.must) for row in kept)


def cells_in(path: Path) -> tuple[tuple[int, Mapping[str, str]], ...]:
    """Give each line's number and its cells by column, ``""`` for a column that is not there.

    Raises ``CandidatesRefusedError`` where a column is missing that must be there, or rows are too many.
    """
    table = read_table(path)
    missing = [column for column in ("device", "complaint", "gain") if table.place(column) is None]
    if missing:
        message = f"no column {listed(missing, 'or')}; the columns are {', '.join(COLUMNS)}"
        raise CandidatesRefusedError((Problem(str(path), Position(1, 1), "no-column", message),))
    found = tuple(cells_of(table, COLUMNS))
    if len(found) > MOST_ROWS:
        at = Position(found[MOST_ROWS][0], 1)
        message = f"more than {MOST_ROWS} candidates; leave some out"
        raise CandidatesRefusedError((Problem(str(path), at, "too-many", message),))
    return found


def read_row(
    library: Library, cells: Mapping[str, str], *, file: str, line: int, rate: float = 0.0
) -> tuple[Row, tuple[Problem, ...]]:
    """Read a line's cells, one for each of ``COLUMNS``; a number that means nothing is zero in the row."""
    reader = CellReader(file, line, cells)
    row = _row(reader, library, rate)
    return row, tuple(reader.problems)


def _row(reader: CellReader, library: Library, default_rate: float) -> Row:
    board, complaint = reader.cells["board"], reader.text("complaint")
    device, gain = reader.text("device"), reader.number("gain")
    if gain is None:
        reader.wrong("empty", "'gain' is empty; write what the book saves or earns in a job")
    jobs, source = reader.number("jobs a year"), reader.cells["source"]
    if jobs is None:
        own = own_demand(library, board, complaint) if board else None
        if own is None or own.jobs == 0:
            message = "'jobs a year' is empty, and the library has no dated jobs of this board and complaint"
            reader.wrong("no-demand", f"{message}; write them, with their source")
        else:
            jobs, source = own.a_year, source or f"{own.jobs} recorded jobs"
    elif not source:
        reader.wrong("no-source", "'jobs a year' has no 'source'; write where the figure comes from")
    high = reader.number("jobs high")
    if high is not None and jobs is not None and high <= jobs:
        reader.wrong("range", f"'jobs high' of {high:g} is not above 'jobs a year' of {jobs:g}")
        high = None
    hours, spread = _hours(reader)
    coverage = reader.number("coverage", most=1.0)
    rate = reader.number("rate")
    return Row(
        line=reader.line,
        device=device,
        complaint=complaint,
        board=board,
        category=reader.cells["category"],
        jobs=jobs or 0.0,
        jobs_high=high,
        source=source,
        gain=gain or 0.0,
        coverage=1.0 if coverage is None else coverage,
        hours=hours,
        hours_spread=spread,
        fee=reader.number("fee"),
        rate=default_rate if rate is None else rate,
        who=reader.cells["who"],
        must=reader.yes("must"),
        group=reader.cells["either-or"],
    )


def _hours(reader: CellReader) -> tuple[float, float]:
    """The hours, and how far they spread: a range holds nine tenths of a log-normal law."""
    hours, low, high = (reader.number(name) for name in ("hours", "hours low", "hours high"))
    if (low is None) != (high is None):
        reader.wrong("range", "'hours low' and 'hours high' come together")
        return hours or 0.0, 0.0
    if low is None or high is None:
        if hours is None:
            reader.wrong("empty", "'hours' is empty, and so is their range")
        return hours or 0.0, 0.0
    if not 0 < low <= high:
        reader.wrong("range", f"hours from {low:g} to {high:g}: write two numbers above zero that rise")
        return hours or 0.0, 0.0
    return sqrt(low * high) if hours is None else hours, log(high / low) / (2 * NINETY)


def capacity_of(pairs: Sequence[str]) -> Mapping[str, float]:
    """Read ``NAME=HOURS`` pairs (``AmountError``)."""
    found = {}
    for pair in pairs:
        who, equals, hours = pair.partition("=")
        try:
            found[who.strip()] = float(hours)
        except ValueError:
            raise AmountError("capacity", pair, "NAME=HOURS, such as ines=120") from None
        if not (equals and who.strip()):
            raise AmountError("capacity", pair, "NAME=HOURS, such as ines=120")
    return found
