"""How coverage and cost change with the boards examined for one complaint, and when to stop."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Literal

import numpy as np

from benchlore.library.errors import NoDemandError
from benchlore.library.folder import Library, sound_book_of, sound_shop_of
from benchlore.library.learning_shapes import Shape, ShapeMaker, pooled
from benchlore.library.planning import learn_board, model_of_complaint
from benchlore.library.progress import Report, silent
from benchlore.library.researching import own_demand
from benchlore.library.workers import cores, working
from benchlore.model import FloatArray
from benchlore.money import (
    AmountError,
    Demand,
    Research,
    Served,
    StopPaying,
    marginal,
    stop_at,
    values_along,
)
from benchlore.procedure import Effort, worth_of
from benchlore.proof import Estimate
from benchlore.shop import Shop
from benchlore.units import counted


@dataclass(frozen=True, slots=True)
class LearningTerms:
    """What is asked of :func:`learning_curve`; ``None`` where records or the shop file have the answer.

    ``jobs`` a year at one shop, ``shops`` that would use the results, ``hours`` a board examined takes,
    ``rate`` of such an hour, ``worth`` of a repair of a device without a book. ``like`` are boards whose
    curves stand for that of a board that has none; empty, all of the library's.
    """

    hours: float | None = None
    rate: float | None = None
    jobs: float | None = None
    shops: float = 1.0
    years: int = 5
    discount: float = 0.05
    worth: float | None = None
    like: tuple[str, ...] = ()
    effort: Effort = Effort.QUICK
    seed: int = 1


@dataclass(frozen=True, slots=True)
class LearningPoint:
    """What so many boards examined teach: coverage, and the expected cost of a job that follows.

    ``value`` is what all shops gain over the years less what the hours cost; ``next_hour`` what one hour more
    brings up to the next point (``None`` at the last). ``expected`` tells that it lies beyond the boards
    there are, so that it is extrapolated.
    """

    boards: float
    hours: float
    coverage: Estimate
    cost: float
    value: float
    next_hour: float | None
    expected: bool


@dataclass(frozen=True, eq=False)
class LearningCurve:
    """Coverage and cost against the boards examined.

    ``source`` is ``"own"`` where the board's own jobs say it, ``"pooled"`` where it is the mean of the
    ``like`` complaints (board, complaint, boards). ``boards`` are the confirmed boards there are, where the
    curve turns from seen to expected. ``points`` begin at none. ``ignorant`` is what a job costs that is
    returned unseen. ``stop`` is where research stops paying for all shops asked for, ``alone`` for one;
    their places count in ``points``. ``hours_from`` says where ``hours_per_board`` comes from.
    """

    board: str
    complaint: str
    device: str
    title: str
    shop: Shop
    terms: LearningTerms
    source: Literal["own", "pooled"]
    like: tuple[tuple[str, str, int], ...]
    boards: int
    hours_per_board: float
    hours_from: str
    rate: float
    demand: Demand
    demand_from: str
    ignorant: float
    points: tuple[LearningPoint, ...]
    stop: StopPaying
    alone: StopPaying

    def at(self, place: int) -> LearningPoint:
        """The point at a place."""
        return self.points[place]


def learning_curve(
    library: Library,
    board: str,
    complaint: str,
    *,
    shop_file: Path | None = None,
    terms: LearningTerms = LearningTerms(),
    workers: int | None = None,
    report: Report = silent,
) -> LearningCurve:
    """Say how knowledge of a complaint grows with the boards examined, and when more stops paying.

    A board without a book, or with fewer than two confirmed boards, gets the mean curve of like complaints:
    those of the same name on other boards, else all others.

    Raises
    ------
    BookRefusedError, NoComplaintError, ShopRefusedError
        If what is named has errors, or a book has no such complaint.
    NoCurveError
        If there are too few boards, of its own and alike.
    NoDemandError
        If nobody says how many jobs there are.
    AmountError
        If a number makes no sense, or a figure is missing that only the user knows.
    PlanningError
        If no plan can be made.
    """
    shop = sound_shop_of(library, shop_file)
    _refuse_nonsense(terms)
    demand, demand_from = _demand(library, board, complaint, terms)
    with working(cores() if workers is None else workers) as run:
        asking = ShapeMaker(library, shop, terms.effort, terms.seed, run, report)
        title, own = asking.own(board, complaint)
        shapes = (own,) if own is not None else asking.like(board, complaint, terms.like)
    returned = own.returned if own is not None else _returned(library, shop, board, complaint, terms)
    hours, hours_from = _hours(shapes, board, complaint, terms)
    grid, cost = pooled(shapes)
    points = [(point.boards, point.coverage) for point in grid]
    rate = shop.hour if terms.rate is None else terms.rate
    return _priced(
        LearningCurve(
            board=board,
            complaint=complaint,
            device=_device(library, board),
            title=title,
            shop=shop,
            terms=terms,
            source="own" if own is not None else "pooled",
            like=() if own is not None else tuple((s.board, s.complaint, s.boards) for s in shapes),
            boards=min(shape.boards for shape in shapes),
            hours_per_board=hours,
            hours_from=hours_from,
            rate=rate,
            demand=demand,
            demand_from=demand_from,
            ignorant=returned,
            points=(),
            stop=StopPaying(terms.shops, 0, 0.0, 0, 0, still=False),
            alone=StopPaying(1.0, 0, 0.0, 0, 0, still=False),
        ),
        points,
        np.minimum(cost, 1.0) * returned,
    )


def _priced(curve: LearningCurve, points: Sequence[tuple[int, Estimate]], cost: FloatArray) -> LearningCurve:
    """Put hours and money to a curve that has none yet; it begins where nothing is known."""
    terms = curve.terms
    boards = np.array([0, *(each for each, _ in points)], dtype=np.float64)
    costs = np.concatenate([[curve.ignorant], cost])
    coverage = [Estimate(0.0, 0.0, 0.0), *(each for _, each in points)]
    hours, saved = boards * curve.hours_per_board, curve.ignorant - costs
    weight = float(Research(0, 0, 0, Demand(0), 1, terms.years, terms.discount).weights.sum())
    served = Served(curve.rate, curve.demand, terms.shops, weight)
    values = values_along(saved, hours, served, curve.demand.mean * terms.shops)
    further: list[float | None] = [None] * len(hours)
    if curve.hours_per_board > 0:
        further[:-1] = marginal(saved, hours, served).tolist()
    return replace(
        curve,
        points=tuple(
            LearningPoint(
                boards=float(boards[k]),
                hours=float(hours[k]),
                coverage=coverage[k],
                cost=float(costs[k]),
                value=float(values[k]),
                next_hour=further[k],
                expected=bool(boards[k] > curve.boards),
            )
            for k in range(len(boards))
        ),
        stop=stop_at(saved, hours, served),
        alone=stop_at(saved, hours, replace(served, shops=1.0)),
    )


def _device(library: Library, board: str) -> str:
    if board not in library.boards():
        return board
    book = sound_book_of(library, board).book
    assert book is not None
    return book.board.device


def _returned(library: Library, shop: Shop, board: str, complaint: str, terms: LearningTerms) -> float:
    """What returning a device costs that has no curve of its own."""
    worth = terms.worth if terms.worth is not None else shop.worth.get(board, shop.worth_otherwise)
    if worth is None and board in library.boards():
        worth = worth_of(model_of_complaint(learn_board(library, board), complaint), shop)
    if worth is None:
        raise AmountError("what a repair is worth", None, "--worth, for neither book nor shop file says it")
    return max(0.0, worth - shop.diagnostic_fee)


def _demand(library: Library, board: str, complaint: str, terms: LearningTerms) -> tuple[Demand, str]:
    if terms.jobs is not None:
        return Demand(terms.jobs), "given"
    own = own_demand(library, board, complaint)
    if own is None or own.jobs == 0:
        raise NoDemandError(f"{board}, {complaint}", "say how many jobs a shop sees in a year (--jobs)")
    return own.demand, f"{counted(own.jobs, 'recorded job')} in {own.shop_years:,.1f} years of shops"


def _hours(shapes: Sequence[Shape], board: str, complaint: str, terms: LearningTerms) -> tuple[float, str]:
    if terms.hours is not None:
        return terms.hours, "given"
    timed = [(shape.hours, shape.timed) for shape in shapes if shape.hours is not None]
    count = sum(times for _, times in timed)
    if not count:
        raise AmountError(
            f"hours a board of {board}, {complaint}",
            None,
            "--hours-per-board, for no job has recorded minutes",
        )
    hours = sum(hours * times for hours, times in timed) / count
    return hours, f"hands-on time of {counted(count, 'recorded job')}"


def _refuse_nonsense(terms: LearningTerms) -> None:
    """Say what is wrong with numbers before the long work."""
    for what, amount in (
        ("hours a board", terms.hours),
        ("the rate", terms.rate),
        ("jobs a year", terms.jobs),
        ("what a repair is worth", terms.worth),
    ):
        if amount is not None and not 0 <= amount < float("inf"):
            raise AmountError(what, amount, "a finite number that is not negative")
    Research(0, 0, 0, Demand(0), terms.shops, terms.years, terms.discount)
