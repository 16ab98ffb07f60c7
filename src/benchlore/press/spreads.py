"""A picture of what jobs cost in each way of doing them."""

from collections.abc import Sequence
from typing import Final

import altair as alt
import numpy as np

from benchlore.press.drawing import Picture, Sheet, axis_steps, chart, draw, draw_nothing, paragraph, pixels
from benchlore.press.rows import AXIS_ROOM, Row, grid, interval_marks, lay_rows, money_axis
from benchlore.press.text import amount, digits_for, with_interval, wrapped
from benchlore.press.theme import LIGHT, LINE_HEIGHT
from benchlore.press.values import Spread, numbers
from benchlore.units import counted

FEW: Final = 12
"""Fewer jobs than this stand as one ring each, since bars of one or two jobs say nothing."""
BIN_WIDTH: Final = 14
"""About how wide a bar of a distribution is, in pixels."""
STRIP: Final = 56
MEAN_ROOM: Final = 16
"""Under the bars of a strip, for the mean."""


def draw_spreads(
    spreads: Sequence[Spread], *, unit: str, title: str = "What a job costs, way by way"
) -> Picture:
    """Draw the distribution of the cost of a job in each way; the first way is what the picture is about.

    Bars are shares of jobs on one scale for all ways, so that equal areas are equal shares.
    """
    shown = [spread for spread in spreads if spread.values]
    if not shown:
        return draw_nothing(title, "No job has been costed yet, so there is no distribution to show.")
    drawn = [0.0, *(value for spread in shown for value in (*spread.values, *numbers(spread.mean)))]
    digits = digits_for(*drawn)

    def compose(width: float) -> Sheet:
        steps = axis_steps(min(drawn), max(drawn), width)
        key = wrapped(spread_key(shown), width)
        named = [(spread.name, mean_of(spread, digits)) for spread in shown]
        laid = lay_rows(named, width=width, strip=STRIP, top=LINE_HEIGHT * len(key) + 8)
        x = money_axis(steps, f"{unit} a job", width)
        pairs = list(zip(shown, laid.rows, strict=True))
        edges = np.linspace(steps[0], steps[-1], max(8, int(width / BIN_WIDTH)) + 1).tolist()
        highest = max((part for spread in shown for part in shares_of(spread, edges)), default=1.0)
        scaled = [grid(steps, laid.rows, x)]
        own = [pair for pair in pairs if pair[0] is spreads[0]]
        for part, colour in ((own, LIGHT.copper), (pairs[len(own) :], LIGHT.teal)):
            scaled += way_marks(part, edges, highest, x, colour) if part else []
        labels = [*paragraph(key, x=0, top=0), *laid.labels]
        return Sheet(laid.height, scaled, labels, below=AXIS_ROOM)

    return draw(title, " ".join(told(spread, unit, digits) for spread in spreads), compose)


def spread_key(spreads: Sequence[Spread]) -> str:
    """Say how a picture of distributions is read."""
    parts = []
    if any(len(spread.values) >= FEW for spread in spreads):
        parts.append("Bars: share of the jobs.")
    if any(len(spread.values) < FEW for spread in spreads):
        parts.append("Rings: one job each.")
    parts.append("Upright line: median.")
    if any(spread.mean for spread in spreads):
        parts.append("Dot: mean, with its 95 % interval.")
    return " ".join(parts)


def mean_of(spread: Spread, digits: int) -> str:
    """Print the mean that stands beside a name."""
    return "" if spread.mean is None else with_interval(spread.mean, digits)


def told(spread: Spread, unit: str, digits: int) -> str:
    """Tell a distribution in words."""
    if not spread.values:
        return f"{spread.name}: no job."
    median, low, high = np.median(spread.values), min(spread.values), max(spread.values)
    mean = f"mean {with_interval(spread.mean, digits)} {unit}, " if spread.mean else ""
    jobs = counted(len(spread.values), "job")
    return (
        f"{spread.name}: {jobs}, {mean}median {amount(float(median), digits)}, "
        f"from {amount(low, digits)} to {amount(high, digits)} {unit}."
    )


def bars(
    pairs: Sequence[tuple[Spread, Row]], edges: Sequence[float], highest: float
) -> list[dict[str, float]]:
    """Give the bars of ways that have jobs enough for bars; one job alone still shows."""
    found = []
    for spread, row in pairs:
        base = row.bottom - MEAN_ROOM
        for j, part in enumerate(shares_of(spread, edges)):
            if part:
                high = max(1.0, (base - row.top) * part / highest)
                found.append({"x": edges[j], "x2": edges[j + 1], "y": base, "y2": base - high})
    return found


def shares_of(spread: Spread, edges: Sequence[float]) -> list[float]:
    """Share the jobs of a way out between edges; nothing where they are few."""
    if len(spread.values) < FEW:
        return []
    return [float(count) / len(spread.values) for count in np.histogram(spread.values, edges)[0]]


def way_marks(
    pairs: Sequence[tuple[Spread, Row]], edges: Sequence[float], highest: float, x: alt.X, colour: str
) -> list[alt.Chart]:
    """Draw the bars, medians and means of ways in one colour, and their jobs where they are few."""
    layers = []
    body = bars(pairs, edges, highest)
    if body:
        layer = chart(body).mark_rect(fill=colour, fillOpacity=0.55)
        layers.append(layer.encode(x=x, x2=alt.X2("x2:Q"), y=pixels(alt.Y, "y"), y2=alt.Y2("y2:Q")))
    medians = chart(
        {"x": float(np.median(spread.values)), "y": row.top, "y2": row.bottom - MEAN_ROOM}
        for spread, row in pairs
    ).mark_rule(stroke=LIGHT.ink, strokeWidth=1.5)
    layers.append(medians.encode(x=x, y=pixels(alt.Y, "y"), y2=alt.Y2("y2:Q")))
    few = [
        {"x": value, "y": (row.top + row.bottom - MEAN_ROOM) / 2}
        for spread, row in pairs
        if len(spread.values) < FEW
        for value in spread.values
    ]
    if few:
        rings = chart(few).mark_point(filled=False, size=50, stroke=colour, strokeWidth=1.5, opacity=1)
        layers.append(rings.encode(x=x, y=pixels(alt.Y, "y")))
    means = [(*numbers(spread.mean), row.bottom - MEAN_ROOM + 8) for spread, row in pairs if spread.mean]
    return [*layers, *interval_marks(means, x, colour)]
