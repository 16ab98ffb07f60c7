"""Pictures of money, way by way: what jobs cost, mean costs, what records are worth."""

from collections.abc import Sequence
from typing import Final, Literal

import altair as alt
import numpy as np

from benchlore.press.drawing import (
    Picture,
    Sheet,
    chart,
    decimals,
    draw,
    draw_nothing,
    paragraph,
    pixels,
    ticks,
)
from benchlore.press.rows import AXIS_ROOM, Row, dots, flat, grid, lay_rows
from benchlore.press.text import amount, counted, with_interval, wrapped
from benchlore.press.theme import LIGHT, LINE_HEIGHT
from benchlore.press.values import Figure, Spread, numbers

FEW: Final = 12
"""Fewer jobs than this stand as one dot each, since bars of one or two jobs say nothing."""
BIN_WIDTH: Final = 14
"""About how wide a bar of a distribution is, in pixels."""
SPREAD_STRIP: Final = 56
MEAN_ROOM: Final = 16
"""Under the bars of a strip, for the mean."""
FIGURE_STRIP: Final = 20


def draw_spreads(
    spreads: Sequence[Spread], *, unit: str, title: str = "What a job costs, way by way"
) -> Picture:
    """Draw the distribution of the cost of a job in each way; the first way is what the picture is about.

    Bars are shares of jobs on one scale for all ways, so that equal areas are equal shares.
    """
    shown = [spread for spread in spreads if spread.values]
    if not shown:
        return draw_nothing(title, "No job has been costed yet, so there is no distribution to show.")
    steps = ticks(
        min(0.0, *(value for spread in shown for value in (*spread.values, *numbers(spread.mean)))),
        max(0.0, *(value for spread in shown for value in (*spread.values, *numbers(spread.mean)))),
    )

    def compose(width: float) -> Sheet:
        key = wrapped(spread_key(shown), width)
        named = [(spread.name, mean_of(spread)) for spread in shown]
        laid = lay_rows(named, width=width, strip=SPREAD_STRIP, top=LINE_HEIGHT * len(key) + 8)
        x = money_axis(steps, f"{unit} a job", width)
        pairs = list(zip(shown, laid.rows, strict=True))
        edges = np.linspace(steps[0], steps[-1], max(8, int(width / BIN_WIDTH)) + 1).tolist()
        highest = max((part for spread in shown for part in shares_of(spread, edges)), default=1.0)
        scaled = [grid(steps, laid.rows, x)]
        for part, colour in ((pairs[:1], LIGHT.copper), (pairs[1:], LIGHT.teal)):
            scaled += way_marks(part, edges, highest, x, colour) if part else []
        labels = [*paragraph(key, x=0, top=0), *laid.labels]
        return Sheet(laid.height, scaled, labels, below=AXIS_ROOM)

    return draw(title, " ".join(told(spread, unit) for spread in spreads), compose)


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


def mean_of(spread: Spread) -> str:
    """Print the mean that stands beside a name."""
    return "" if spread.mean is None else with_interval(spread.mean)


def told(spread: Spread, unit: str) -> str:
    """Tell a distribution in words."""
    if not spread.values:
        return f"{spread.name}: no job."
    median, low, high = np.median(spread.values), min(spread.values), max(spread.values)
    mean = f"mean {with_interval(spread.mean)} {unit}, " if spread.mean else ""
    jobs = counted(len(spread.values), "job")
    return (
        f"{spread.name}: {jobs}, {mean}median {amount(float(median))}, "
        f"from {amount(low)} to {amount(high)} {unit}."
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
        layers.append(layer.encode(x=x, x2="x2:Q", y=pixels(alt.Y, "y"), y2="y2:Q"))
    medians = chart(
        {"x": float(np.median(spread.values)), "y": row.top, "y2": row.bottom - MEAN_ROOM}
        for spread, row in pairs
    ).mark_rule(stroke=LIGHT.ink, strokeWidth=1.5)
    layers.append(medians.encode(x=x, y=pixels(alt.Y, "y"), y2="y2:Q"))
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


def interval_marks(placed: Sequence[tuple[float, ...]], x: alt.X, colour: str) -> list[alt.Chart]:
    """Draw dots on intervals, from (value, low, high, y); no layer for none."""
    if not placed:
        return []
    lines = [{"x": low, "x2": high, "y": y} for _, low, high, y in placed]
    points = [{"x": value, "y": y} for value, _, _, y in placed]
    return [flat(lines, x, width=2, colour=colour), dots(points, x, size=48, colour=colour)]


def money_axis(steps: Sequence[float], title: str, width: float) -> alt.X:
    """Scale money on to the width of a drawing, from the first to the last tick."""
    axis = alt.Axis(
        values=list(steps),
        title=title,
        titleY=25,
        titleAlign="center",
        format=f",.{decimals(steps)}f",
        grid=False,
        tickSize=4,
    )
    scale = alt.Scale(domain=[steps[0], steps[-1]], range=[0, width], nice=False, zero=False)
    return alt.X("x:Q", scale=scale, axis=axis)


def draw_means(
    figures: Sequence[Figure], *, unit: str, title: str = "Mean cost of a job, way by way"
) -> Picture:
    """Draw means as dots on their intervals; the first is what the picture is about."""
    if not figures:
        return draw_nothing(title, "No job has been costed yet, so there is no mean to show.")
    return draw_figures(figures, unit=f"{unit} a job", title=title, mark="dot")


def draw_gains(
    figures: Sequence[Figure], *, unit: str, title: str = "What more records would be worth"
) -> Picture:
    """Draw gains as bars from zero with their intervals, in the order given."""
    if not figures:
        return draw_nothing(
            title, "No record was found that would change the procedure, so none has a worth."
        )
    return draw_figures(figures, unit=unit, title=title, mark="bar")


def draw_figures(figures: Sequence[Figure], *, unit: str, title: str, mark: Literal["dot", "bar"]) -> Picture:
    """Draw named figures with intervals, a row each, on an axis that holds zero."""
    steps = ticks(
        min(0.0, *(number for figure in figures for number in numbers(figure.estimate))),
        max(0.0, *(number for figure in figures for number in numbers(figure.estimate))),
    )

    def compose(width: float) -> Sheet:
        named = [(figure.name, with_interval(figure.estimate)) for figure in figures]
        laid = lay_rows(named, width=width, strip=FIGURE_STRIP)
        x = money_axis(steps, unit, width)
        marks = figure_bars if mark == "bar" else figure_dots
        scaled = [grid(steps, laid.rows, x), *marks(figures, laid.rows, x)]
        return Sheet(laid.height, scaled, laid.labels, below=AXIS_ROOM)

    described = " ".join(f"{figure.name}: {with_interval(figure.estimate)} {unit}." for figure in figures)
    return draw(title, f"Figures with their 95 % intervals. {described}", compose)


def figure_dots(figures: Sequence[Figure], rows: Sequence[Row], x: alt.X) -> list[alt.Chart]:
    """Draw each figure as a dot on its interval."""
    placed = [
        (*numbers(figure.estimate), (row.top + row.bottom) / 2)
        for figure, row in zip(figures, rows, strict=True)
    ]
    return [
        layer
        for part, colour in ((placed[:1], LIGHT.copper), (placed[1:], LIGHT.teal))
        for layer in interval_marks(part, x, colour)
    ]


def figure_bars(figures: Sequence[Figure], rows: Sequence[Row], x: alt.X) -> list[alt.Chart]:
    """Draw each figure as a bar from zero, with its interval across it and a line at zero."""
    pairs = list(zip(figures, rows, strict=True))
    bodies = [
        {"x": 0, "x2": figure.estimate.value, "y": row.top + 3, "y2": row.bottom - 3} for figure, row in pairs
    ]
    zeros = [{"x": 0, "y": row.top, "y2": row.bottom} for row in rows]
    lines = [
        {"x": figure.estimate.low, "x2": figure.estimate.high, "y": (row.top + row.bottom) / 2}
        for figure, row in pairs
    ]
    body = chart(bodies).mark_rect(fill=LIGHT.copper, fillOpacity=0.55)
    zero = chart(zeros).mark_rule(stroke=LIGHT.soft, strokeWidth=1)
    return [
        body.encode(x=x, x2="x2:Q", y=pixels(alt.Y, "y"), y2="y2:Q"),
        zero.encode(x=x, y=pixels(alt.Y, "y"), y2="y2:Q"),
        flat(lines, x, width=2, colour=LIGHT.ink),
    ]
