"""Learning curves in passages, and as rows for a fund plan."""

import csv
import io
from collections.abc import Iterator
from typing import Final

from benchlore.library.learning_curves import LearningCurve, LearningPoint
from benchlore.library.passages import Passage, table_of
from benchlore.money import StopPaying
from benchlore.units import counted, money, share

BAR: Final = 10
"""Marks of a bar that stands for full coverage."""
MOST_ROWS: Final = 16
FUND_COVERAGES: Final = (0.5, 0.7, 0.8, 0.9, 0.95, 0.99)
"""Coverages at whose first points a fund plan may stop."""
FUND_COLUMNS: Final = (
    *("device", "complaint", "board", "jobs a year", "source", "gain", "coverage", "hours", "rate"),
    "either-or",
)


def learning_passages(curve: LearningCurve, *, bars: bool = False) -> tuple[Passage, ...]:
    """Tell when research stops paying, the curve (with ``bars`` where nothing draws it), and the premises."""
    return (
        Passage("When to stop", tuple(_stops(curve))),
        _curve(curve, bars=bars),
        Passage("What this takes for granted", tuple(_assumed(curve))),
    )


def _stops(curve: LearningCurve) -> Iterator[str]:
    if curve.source == "pooled":
        names = "; ".join(
            f"{board}, {complaint} ({counted(boards, 'board')})" for board, complaint, boards in curve.like
        )
        yield (
            f"Pooled: {curve.board} has too few boards of its own. This is the mean of {names}; how like "
            f"they are, nobody has checked."
        )
    yield _stop(curve, curve.stop)
    if curve.stop.shops != curve.alone.shops:
        yield _stop(curve, curve.alone)
    if curve.terms.jobs is None:
        low, high = (f"{curve.at(place).hours:,.0f} h" for place in (curve.stop.low, curve.stop.high))
        where = f"is at {low}" if low == high else f"lies between {low} and {high}"
        yield f"With demand as uncertain as it is, nine times in ten the place to stop {where}."


def _stop(curve: LearningCurve, stop: StopPaying) -> str:
    currency, who = curve.shop.currency, counted(round(stop.shops), "shop")
    if stop.place == 0:
        return f"For {who} no hour of research pays."
    point = curve.at(stop.place)
    value = money(stop.value, currency)
    where = f"{point.hours:,.0f} h, {point.boards:,.0f} boards, {share(point.coverage.value)} covered"
    if stop.still:
        return f"For {who} it still pays at the curve's end ({where}), where it is worth {value}."
    beyond = ""
    if point.next_hour is not None and stop.shops == curve.stop.shops:
        brings, costs = money(point.next_hour, currency), money(curve.rate, currency)
        beyond = f"; the next hour brings {brings} and costs {costs}"
    return f"For {who} research pays up to {where}, and is worth {value} then{beyond}."


def _curve(curve: LearningCurve, *, bars: bool) -> Passage:
    currency = curve.shop.currency
    rows = [
        (
            f"{point.boards:,.0f}{'' if not point.expected else ' *'}",
            f"{point.hours:,.0f} h",
            *(("▪" * round(BAR * point.coverage.value),) if bars else ()),
            share(point.coverage.value),
            f"{share(point.coverage.low)} to {share(point.coverage.high)}",
            money(point.cost, currency),
            money(point.value, currency),
        )
        for point in _shown(curve)
    ]
    bar = ("",) if bars else ()
    head = ("boards", "work", *bar, "coverage", "95 % interval", "a job", "value")
    star = "* More boards than there are: expected of them by how often faults were met once and twice."
    return Passage("Coverage and cost", (star,), table_of(head, rows, f">>{'<' * bars}>>>>"))


def _shown(curve: LearningCurve) -> list[LearningPoint]:
    """Every few points, where to stop and the last."""
    step = max(1, -(-len(curve.points) // MOST_ROWS))
    ends = {curve.stop.place, len(curve.points) - 1}
    return [point for k, point in enumerate(curve.points) if k % step == 0 or k in ends]


def _assumed(curve: LearningCurve) -> Iterator[str]:
    currency = curve.shop.currency
    yield (
        f"A board takes {curve.hours_per_board:,.2f} h ({curve.hours_from}) at "
        f"{money(curve.rate, currency)} an hour; a shop sees {curve.demand.mean:,.2f} jobs a year "
        f"({curve.demand_from}), {counted(round(curve.terms.shops), 'shop')} for "
        f"{counted(curve.terms.years, 'year')}, money next year worth {share(curve.terms.discount)} less."
    )
    yield (
        f"Who knows nothing returns the board, which costs {money(curve.ignorant, currency)}. 'A job' is "
        f"what a procedure costs that knows only the faults met by then; a fault is known from its first "
        f"board, as well as it is known now, so early figures are rather too good. Unmarked "
        f"figures come from procedures that were planned."
    )


def fund_rows(curve: LearningCurve) -> str:
    """Write points of the curve as an either-or group of candidates, as CSV that a fund plan reads.

    ``gain`` times ``coverage`` is what a job saves at the point.
    """
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(FUND_COLUMNS)
    for point in _candidates(curve):
        saved = curve.ignorant - point.cost
        writer.writerow(
            (
                f"{curve.device} ({point.hours:.1f} h)",
                curve.complaint,
                curve.board if curve.source == "own" else "",
                f"{curve.demand.mean * curve.terms.shops:.6g}",
                f"learning curve, {curve.demand_from}",
                f"{saved / point.coverage.value:.6f}",
                f"{point.coverage.value:.8f}",
                f"{point.hours:.4f}",
                f"{curve.rate:g}",
                f"{curve.board} {curve.complaint}",
            )
        )
    return text.getvalue()


def _candidates(curve: LearningCurve) -> list[LearningPoint]:
    """A few points spread over the curve, where to stop among them; no two of the same hours."""
    useful = [p for p in curve.points if p.coverage.value > 0 and p.cost < curve.ignorant and p.hours > 0]
    reached = [[p for p in useful if p.coverage.value >= least][:1] for least in FUND_COVERAGES]
    wanted = [*useful[:1], *(point for first in reached for point in first), curve.at(curve.stop.place)]
    by_hours = {f"{point.hours:.1f}": point for point in wanted if point in useful}
    return sorted(by_hours.values(), key=lambda point: point.hours)
