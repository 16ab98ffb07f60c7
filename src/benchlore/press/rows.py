"""Drawings of named rows below each other, each name above what it names, so that no name is too long."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import altair as alt

from benchlore.press.drawing import Label, Values, chart, decimals, pixels
from benchlore.press.text import cut, on_one_line, width_of, wrapped
from benchlore.press.theme import LIGHT, LINE_HEIGHT

LINES_OF_A_NAME: Final = 3
GAP: Final = 14
"""Between rows."""
AXIS_ROOM: Final = 42
"""Under a drawing, for the labels and the title of its axis."""


@dataclass(frozen=True, slots=True)
class Row:
    """Where the strip of one row begins and ends, in pixels."""

    top: float
    bottom: float


@dataclass(frozen=True, slots=True)
class Rows:
    """Rows laid out: their strips, the text above each, and how high they are together."""

    rows: tuple[Row, ...]
    labels: tuple[Label, ...]
    height: float


def lay_rows(named: Sequence[tuple[str, str]], *, width: float, strip: float, top: float = 0) -> Rows:
    """Lay out rows of a name and what stands at the other end of its line, if there is room, or below it."""
    rows: list[Row] = []
    labels: list[Label] = []
    for name, figure in named:
        head, height = row_head(name, figure, width=width, top=top)
        labels += head
        rows.append(Row(top + height, top + height + strip))
        top = rows[-1].bottom + GAP
    return Rows(tuple(rows), tuple(labels), top - GAP if rows else top)


def row_head(name: str, figure: str, *, width: float, top: float) -> tuple[list[Label], float]:
    """Set a row's name and figure, and say how high they are."""
    lines = wrapped(name, width, lines=LINES_OF_A_NAME)
    beside = width_of(lines[-1]) + width_of(figure) + 2 * GAP <= width
    labels = [Label(0, top + LINE_HEIGHT * (k + 0.5), line) for k, line in enumerate(lines)]
    below = 0 if beside or not figure else 1
    if figure:
        y = top + LINE_HEIGHT * (len(lines) + below - 0.5)
        labels.append(
            Label(width if beside else 0, y, cut(figure, width), "right" if beside else "left", LIGHT.soft)
        )
    return labels, LINE_HEIGHT * (len(lines) + below) + 4


def grid(steps: Sequence[float], rows: Sequence[Row], x: alt.X) -> alt.Chart:
    """Draw a thin line through each strip at each tick, and none through the names."""
    values = [{"x": step, "y": row.top, "y2": row.bottom} for row in rows for step in steps]
    layer: alt.Chart = chart(values).mark_rule(stroke=LIGHT.faint, strokeWidth=1)
    return layer.encode(x=x, y=pixels(alt.Y, "y"), y2=alt.Y2("y2:Q"))


def flat(values: Values, x: alt.X, *, width: float, colour: str) -> alt.Chart:
    """Draw level lines from ``x`` to ``x2`` at ``y``: intervals."""
    layer: alt.Chart = chart(values).mark_rule(stroke=colour, strokeWidth=width, strokeCap="butt")
    return layer.encode(x=x, x2=alt.X2("x2:Q"), y=pixels(alt.Y, "y"))


def dots(values: Values, x: alt.X, *, size: float, colour: str, opacity: float = 1) -> alt.Chart:
    """Draw a dot at each ``x, y``, with a rim of paper that parts it from what lies behind."""
    layer: alt.Chart = chart(values).mark_point(
        filled=True, size=size, color=colour, stroke=LIGHT.paper, strokeWidth=1, opacity=opacity
    )
    return layer.encode(x=x, y=pixels(alt.Y, "y"))


def interval_marks(placed: Sequence[tuple[float, ...]], x: alt.X, colour: str) -> list[alt.Chart]:
    """Draw dots on intervals, from (value, low, high, y); no layer for none."""
    if not placed:
        return []
    lines = [{"x": low, "x2": high, "y": y} for _, low, high, y in placed]
    points = [{"x": value, "y": y} for value, _, _, y in placed]
    return [flat(lines, x, width=2, colour=colour), dots(points, x, size=48, colour=colour)]


def money_axis(steps: Sequence[float], title: str, width: float) -> alt.X:
    """Scale money on to the width of a drawing, from the first to the last tick; the title is cut to it."""
    axis = alt.Axis(
        values=list(steps),
        title=cut(on_one_line(title), width),
        titleY=25,
        titleAlign="center",
        format=f",.{decimals(steps)}f",
        grid=False,
        tickSize=4,
    )
    scale = alt.Scale(domain=[steps[0], steps[-1]], range=[0, width], nice=False, zero=False)
    return alt.X("x:Q", scale=scale, axis=axis)
