"""Whether research on a complaint pays: the gain by its book, the demand by recorded jobs."""

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from benchlore.jobs import Job
from benchlore.library.folder import Library, store_of
from benchlore.library.planning import fresh_procedure
from benchlore.library.progress import Report, silent
from benchlore.library.quoting import priced
from benchlore.money import Demand, demand_from_jobs
from benchlore.procedure import fixes_alone, worth_of

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
) -> tuple[Gain, str]:
    """The gain of a job by a complaint's procedure, and the currency that it is in."""
    planned = fresh_procedure(library, board, complaint, shop_file=shop_file, report=report)
    worth = worth_of(planned.model, planned.shop)
    alone = fixes_alone(priced(planned.model, planned.shop, planned.procedure)).expected
    gain = Gain(max(0.0, worth - planned.procedure.expected), max(0.0, worth - alone))
    return gain, planned.shop.currency


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
