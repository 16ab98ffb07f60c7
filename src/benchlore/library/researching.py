"""Whether research on a complaint pays: the gain by its book, the demand by recorded jobs."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

import numpy as np

from benchlore.jobs import Job
from benchlore.library.folder import Library, sound_shop_of, store_of
from benchlore.library.planning import Planned, fresh_procedure, kept_procedure
from benchlore.library.progress import Report, silent
from benchlore.library.quoting import priced
from benchlore.money import (
    AmountError,
    Demand,
    Research,
    Verdict,
    demand_from_jobs,
    demand_from_quantiles,
    verdict,
)
from benchlore.procedure import fixes_alone, worth_of

CHANCES: Final = 24
FEW_DRAWS: Final = 4_000
DAYS: Final = 365.25
LEAST_YEARS: Final = 0.25
"""A shop's records of a few days say little of a year."""


@dataclass(frozen=True, slots=True)
class Gain:
    """The margin of a job with the book and without, at a price of the repair's worth.

    Without it a shop either declines, or tries the book's own fixes without a check: what it then knows is
    still the book's, so the gain is rather too small.
    """

    with_book: float
    without: float

    @property
    def each(self) -> float:
        """What a job gains."""
        return self.with_book - self.without


def gain_of(
    library: Library, board: str, complaint: str, *, shop_file: Path | None = None, report: Report = silent
) -> Gain:
    """The gain of a job by a complaint's procedure, planned first if there is none or it is stale."""
    return _gain(fresh_procedure(library, board, complaint, shop_file=shop_file, report=report))


def kept_gain(library: Library, board: str, complaint: str) -> Gain:
    """The gain of a job by the procedure that is kept; raises ``NoProcedureError`` where there is none."""
    return _gain(kept_procedure(library, board, complaint))


def _gain(planned: Planned) -> Gain:
    worth = worth_of(planned.model, planned.shop)
    alone = fixes_alone(priced(planned.model, planned.shop, planned.procedure)).expected
    return Gain(max(0.0, worth - planned.procedure.expected), max(0.0, worth - alone))


@dataclass(frozen=True, slots=True)
class ResearchTerms:
    """What is asked about research; ``None`` where book, records or shop file have the answer.

    ``jobs`` are those of a year at one shop, of all shops together with ``over_all``.
    """

    hours: float = 200.0
    rate: float | None = None
    gain: float | None = None
    jobs: float | None = None
    jobs_high: float | None = None
    shops: float = 1.0
    years: int = 5
    discount: float = 0.05
    fading: float = 0.0
    seed: int = 1
    over_all: bool = False


@dataclass(frozen=True, eq=False)
class Researched:
    """Whether research pays.

    ``alone`` is the same for one shop where several were asked about, ``chances`` the chance that it pays
    by the number of shops, ``gain`` what a job gains by the book, ``None`` where it was said.
    """

    research: Research
    verdict: Verdict
    alone: tuple[Research, Verdict] | None
    chances: tuple[tuple[int, float], ...]
    gain: Gain | None
    currency: str
    over_all: bool


def research_for(
    library: Library,
    board: str,
    complaint: str,
    terms: ResearchTerms,
    *,
    gain: Gain | None = None,
    shop_file: Path | None = None,
) -> Researched:
    """Say whether research pays; ``board`` may be empty where the terms say gain and jobs.

    Raises
    ------
    AmountError
        If a number makes no sense, or nobody says how many jobs there are or what one gains.
    """
    shop = sound_shop_of(library, shop_file)
    each = gain.each if terms.gain is None and gain is not None else terms.gain
    if each is None:
        raise AmountError("what a job gains", None, "an amount, or a board and complaint with a procedure")
    research = Research(
        hours=terms.hours,
        rate=shop.hour if terms.rate is None else terms.rate,
        gain=each,
        demand=_demand(library, board, complaint, terms),
        shops=1.0 if terms.over_all else terms.shops,
        years=terms.years,
        discount=terms.discount,
        fading=terms.fading,
    )
    found = verdict(research, seed=terms.seed)
    one = replace(research, shops=1.0)
    return Researched(
        research=research,
        verdict=found,
        alone=None if research.shops == 1 else (one, verdict(one, seed=terms.seed)),
        chances=() if terms.over_all else tuple(_chances(research, found, terms.seed)),
        gain=gain if terms.gain is None else None,
        currency=shop.currency,
        over_all=terms.over_all,
    )


def _demand(library: Library, board: str, complaint: str, terms: ResearchTerms) -> Demand:
    if terms.jobs is not None:
        high = terms.jobs_high
        return Demand(terms.jobs) if high is None else demand_from_quantiles(terms.jobs, high)
    own = own_demand(library, board, complaint) if board else None
    if own is None:
        raise AmountError("jobs a year", None, "a number (--jobs), for no dated job of this is recorded")
    return own.demand


def _chances(research: Research, found: Verdict, seed: int) -> Iterator[tuple[int, float]]:
    """The chance that it pays, from one shop to twice as many as needed or as were asked about."""
    most = max(2 * (found.least_shops or 1), round(research.shops), 2)
    for shops in sorted({*np.geomspace(1, most, CHANCES).round().astype(int).tolist()}):
        yield shops, verdict(replace(research, shops=float(shops)), seed=seed, draws=FEW_DRAWS).chance


@dataclass(frozen=True, slots=True)
class OwnDemand:
    """What the library's own jobs say: how many, at how many shops, in how many years of shops."""

    jobs: int
    shops: int
    shop_years: float

    @property
    def a_year(self) -> float:
        """Jobs a year over the shops that keep records."""
        return self.jobs / self.shop_years * self.shops

    @property
    def demand(self) -> Demand:
        """The demand of one shop, and how sure it is."""
        return demand_from_jobs(self.jobs, self.shop_years)


def own_demand(library: Library, board: str, complaint: str = "") -> OwnDemand | None:
    """Count a complaint's recorded jobs (a board's, where none is named) in the years of the shops' records.

    ``None`` where no job has a day on which it was opened.
    """
    store = store_of(library)
    if store is None:
        return None
    with store:
        return demand_in(store.jobs(), board, complaint)


def demand_in(jobs: Iterable[Job], board: str, complaint: str = "") -> OwnDemand | None:
    """As :func:`own_demand`, of jobs at hand; a shop's years run from its first job to its last."""
    spans: dict[str, list[int]] = {}
    count = 0
    for job in jobs:
        if job.opened is not None:
            day = job.opened.toordinal()
            span = spans.setdefault(job.shop, [day, day])
            span[0], span[1] = min(span[0], day), max(span[1], day)
            count += job.board == board and complaint in ("", job.complaint)
    if not spans:
        return None
    years = sum(max((last - first) / DAYS, LEAST_YEARS) for first, last in spans.values())
    return OwnDemand(count, len(spans), years)
