"""The fund plan: candidates from a table, recorded demand beside it, the best set for a budget."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from math import log, sqrt
from pathlib import Path
from typing import Final

from benchlore.jobs.intake import read_table
from benchlore.library.cells import CellReader, cells_of
from benchlore.library.errors import CandidatesRefusedError
from benchlore.library.folder import Library, store_of
from benchlore.library.progress import Report, silent
from benchlore.library.researching import OwnDemand, own_demand
from benchlore.money import (
    AmountError,
    Candidate,
    Chosen,
    Demand,
    Margin,
    Pot,
    Research,
    choose,
    curve,
    highest_fee,
    how_often,
    margin,
)
from benchlore.notation import Position, Problem

COLUMNS: Final = (
    *("device", "complaint", "board", "category", "jobs a year", "jobs high", "source", "gain", "coverage"),
    *("hours", "hours low", "hours high", "fee", "rate", "who", "must", "either-or"),
)
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


@dataclass(frozen=True, slots=True)
class Elsewhere:
    """Repair events of a category that one provider recorded, and its share of all that provider's events."""

    provider: str
    events: int
    share: float


@dataclass(frozen=True, eq=False)
class Funded:
    """A fund plan. Tuples with an entry a candidate are in the order of ``candidates``.

    ``fees`` are from what the hours are worth to the most at which it is still chosen (``None``: at no fee).
    ``own`` and ``elsewhere`` show what records say of demand; no figure of theirs is in the plan, but where
    the table names no jobs a year the library's own count.
    """

    rows: tuple[Row, ...]
    candidates: tuple[Candidate, ...]
    terms: FundTerms
    chosen: Chosen
    curve: tuple[Chosen, ...]
    often: tuple[float, ...]
    conflicts: int
    margin: Margin
    fees: tuple[tuple[float, float | None], ...]
    own: tuple[OwnDemand | None, ...]
    elsewhere: tuple[tuple[Elsewhere, ...], ...]


def plan_fund(library: Library, table: Path, terms: FundTerms, *, report: Report = silent) -> Funded:
    """Read candidates, and choose.

    Raises
    ------
    CandidatesRefusedError
        If the table has mistakes; every one is named with its line.
    ConflictError
        If what must be funded cannot be.
    """
    rows = read_candidates(library, table, terms)
    candidates = tuple(_candidate(row, terms) for row in rows)
    pot = Pot(terms.budget, terms.capacity)
    chosen = choose(candidates, pot)
    fees = []
    for place, each in enumerate(candidates):
        report("Fees", place, len(candidates))
        fees.append((each.floor, highest_fee(candidates, pot, place)))
    often, conflicts = how_often(candidates, pot, draws=terms.draws, seed=terms.seed)
    return Funded(
        rows=rows,
        candidates=candidates,
        terms=terms,
        chosen=chosen,
        curve=curve(candidates, pot),
        often=tuple(often.tolist()),
        conflicts=conflicts,
        margin=margin(candidates, pot, chosen),
        fees=tuple(fees),
        own=tuple(own_demand(library, row.board, row.complaint) if row.board else None for row in rows),
        elsewhere=_elsewhere(library, rows),
    )


def read_candidates(library: Library, path: Path, terms: FundTerms) -> tuple[Row, ...]:
    """Read a CSV or XLSX table of candidates; raises ``CandidatesRefusedError`` with every mistake."""
    table = read_table(path)
    problems, rows = [], []
    for column in ("device", "complaint", "gain"):
        if table.place(column) is None:
            message = f"no column '{column}'; the columns are {', '.join(COLUMNS)}"
            problems.append(Problem(str(path), Position(1, 1), "no-column", message))
    for line, cells in cells_of(table, COLUMNS) if not problems else ():
        reader = CellReader(str(path), line, cells)
        found = _row(reader, library, terms)
        problems += reader.problems
        rows.append(found)
    unknown = [name for name in (*terms.must, *terms.left_out) if name not in {row.name for row in rows}]
    for name in unknown if not problems else ():
        message = f"no candidate '{name}'; there are {'; '.join(row.name for row in rows)}"
        problems.append(Problem(str(path), None, "no-candidate", message))
    if problems:
        raise CandidatesRefusedError(tuple(problems))
    kept = [row for row in rows if row.name not in terms.left_out]
    return tuple(replace(row, must=row.must or row.name in terms.must) for row in kept)


def _row(reader: CellReader, library: Library, terms: FundTerms) -> Row:
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
        rate=terms.rate if rate is None else rate,
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


def _candidate(row: Row, terms: FundTerms) -> Candidate:
    research = Research(row.hours, row.rate, row.gain, Demand(row.jobs), 1, terms.years, terms.discount)
    spread = 0.0 if row.jobs_high is None or row.jobs == 0 else log(row.jobs_high / row.jobs) / NINETY
    return Candidate(
        name=row.name,
        benefit=row.jobs * row.gain * row.coverage * float(research.weights.sum()),
        cost=research.cost if row.fee is None else row.fee,
        hours=row.hours,
        who=row.who,
        must=row.must,
        group=row.group,
        floor=research.cost,
        hours_spread=row.hours_spread,
        benefit_spread=spread,
    )


def _elsewhere(library: Library, rows: Sequence[Row]) -> tuple[tuple[Elsewhere, ...], ...]:
    """What Open Repair Data says, provider by provider: their mixes differ too much to be added up."""
    store = store_of(library) if any(row.category for row in rows) else None
    if store is None:
        return ((),) * len(rows)
    with store:
        counts = store.demand_summary(("provider", "category"))
    totals: dict[str, int] = {}
    for (provider, _), events in counts.items():
        totals[provider] = totals.get(provider, 0) + events
    return tuple(tuple(_of_category(row.category, counts, totals)) for row in rows)


def _of_category(
    category: str, counts: Mapping[tuple[str, ...], int], totals: Mapping[str, int]
) -> Iterator[Elsewhere]:
    for provider, total in sorted(totals.items()):
        events = sum(
            number
            for (who, what), number in counts.items()
            if who == provider and what.casefold() == category.casefold()
        )
        if category and events:
            yield Elsewhere(provider, events, events / total)


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
