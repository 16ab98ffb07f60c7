"""Pictures of named figures with their intervals: mean costs, what records would be worth."""

from collections.abc import Sequence
from typing import Final, Literal

import altair as alt

from benchlore.press.drawing import Picture, Sheet, axis_steps, chart, draw, draw_nothing, pixels
from benchlore.press.rows import AXIS_ROOM, Row, flat, grid, interval_marks, lay_rows, money_axis
from benchlore.press.text import digits_for, with_interval
from benchlore.press.theme import LIGHT
from benchlore.press.values import Figure, numbers
from benchlore.units import share

STRIP: Final = 20


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


def draw_figures(
    figures: Sequence[Figure],
    *,
    unit: str,
    title: str,
    mark: Literal["dot", "bar"],
    digits: int | None = None,
    sure: float = 0.95,
) -> Picture:
    """Draw named figures with intervals, a row each, on an axis that holds zero.

    ``digits`` is how many decimals they have, where it is not for their size to say; ``sure`` is the share of
    cases that the intervals hold.
    """
    drawn = [0.0, *(number for figure in figures for number in numbers(figure.estimate))]
    decimals = digits_for(*drawn) if digits is None else digits
    named = [(figure.name, with_interval(figure.estimate, decimals)) for figure in figures]

    def compose(width: float) -> Sheet:
        steps = axis_steps(min(drawn), max(drawn), width)
        laid = lay_rows(named, width=width, strip=STRIP)
        x = money_axis(steps, unit, width)
        marks = figure_bars if mark == "bar" else figure_dots
        scaled = [grid(steps, laid.rows, x), *marks(figures, laid.rows, x)]
        return Sheet(laid.height, scaled, laid.labels, below=AXIS_ROOM)

    described = " ".join(f"{name}: {figure} {unit}." for name, figure in named)
    return draw(title, f"Figures with their {share(sure)} intervals. {described}", compose)


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
        body.encode(x=x, x2=alt.X2("x2:Q"), y=pixels(alt.Y, "y"), y2=alt.Y2("y2:Q")),
        zero.encode(x=x, y=pixels(alt.Y, "y"), y2=alt.Y2("y2:Q")),
        flat(lines, x, width=2, colour=LIGHT.ink),
    ]
