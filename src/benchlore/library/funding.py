"""The fund plan: candidates from a table, recorded demand beside it, the best set for a budget."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from math import log
from pathlib import Path

from benchlore.library.candidates import NINETY, FundTerms, Row, read_candidates
from benchlore.library.folder import Library, store_of
from benchlore.library.progress import Report, silent
from benchlore.library.researching import OwnDemand, own_demand
from benchlore.money import (
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
    report("Choosing", 0, 1)
    candidates = tuple(_candidate(row, terms) for row in rows)
    pot = Pot(terms.budget, terms.capacity)
    chosen = choose(candidates, pot)
    fees = []
    for place, each in enumerate(candidates):
        report("Fees", place, len(candidates))
        fees.append((each.floor, highest_fee(candidates, pot, place)))

    def drawn(done: int) -> None:
        report("Drawing demand and hours again", done, terms.draws)

    often, conflicts = how_often(candidates, pot, draws=terms.draws, seed=terms.seed, told=drawn)
    report("Other budgets", 0, 1)
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
