"""A picture of a whole distribution: the share that is at most so much, as steps, with marks across it."""

from collections.abc import Callable, Sequence
from typing import Final

import altair as alt

from benchlore.press.drawing import Label, Picture, Sheet, axis_steps, chart, draw, draw_nothing, paragraph
from benchlore.press.rows import AXIS_ROOM, money_axis
from benchlore.press.text import amount, digits_for, wrapped
from benchlore.press.theme import LIGHT, LINE_HEIGHT
from benchlore.press.values import Mark, check_finite
from benchlore.units import share

HEIGHT: Final = 220
QUARTERS: Final = (0.0, 0.25, 0.5, 0.75, 1.0)
LINES: Final = ("Solid:", "Dashed:", "Dotted:", "Dash and dot:")
DASHES: Final = ((1, 0), (7, 4), (2, 3), (10, 3, 2, 3))


def draw_cumulative(
    steps: Sequence[tuple[float, float]],
    marks: Sequence[Mark] = (),
    *,
    unit: str,
    title: str,
    height: str = "share that is at most so much",
    told: str = "are at most",
    written: Callable[[float], str] | None = None,
) -> Picture:
    """Draw ``(value, share at most so much)``, rising in both, with upright marks named above the drawing.

    ``height`` and ``told`` say what the share is where it is another: ``50 % are at most 20 EUR``;
    ``written`` writes a value with its unit, where an amount and the unit would not do: ``1 shop``.

    Raises ``ValueError`` for a number that is not finite.
    """
    if not steps:
        return draw_nothing(title, "No value is known yet, so there is no distribution to show.")
    check_finite(title, *(number for step in steps for number in step))
    drawn = [0.0, *(value for value, _ in steps), *(mark.at for mark in marks)]
    decimals = digits_for(*drawn)
    said = written or (lambda at: f"{amount(at, decimals)} {unit}")

    def compose(width: float) -> Sheet:
        ticks = axis_steps(min(drawn), max(drawn), width)
        names = [f"{LINES[k % len(LINES)]} {mark.name}: {said(mark.at)}" for k, mark in enumerate(marks)]
        key = [f"Height: {height}.", *names]
        lines = [line for text in key for line in wrapped(text, width)]
        top = LINE_HEIGHT * (len(lines) + 1)
        x = money_axis(ticks, unit, width)
        y = alt.Y("y:Q", scale=alt.Scale(domain=[0, 1], range=[top + HEIGHT, top], nice=False), axis=None)
        labels = [*paragraph(lines, x=0, top=0)]
        labels += [
            Label(0, top + HEIGHT * (1 - at) - LINE_HEIGHT / 2, share(at), "left", LIGHT.soft)
            for at in QUARTERS[1:]
        ]
        scaled = [_grid(ticks, x, y), _curve(steps, ticks[-1], x, y), *_marks(marks, x, y)]
        return Sheet(top + HEIGHT, scaled, labels, below=AXIS_ROOM)

    return draw(title, _told(steps, marks, told, said), compose)


def _grid(ticks: Sequence[float], x: alt.X, y: alt.Y) -> alt.Chart:
    levels = chart({"x": ticks[0], "x2": ticks[-1], "y": at} for at in QUARTERS)
    layer: alt.Chart = levels.mark_rule(stroke=LIGHT.faint, strokeWidth=1)
    return layer.encode(x=x, x2=alt.X2("x2:Q"), y=y)


def _curve(steps: Sequence[tuple[float, float]], last: float, x: alt.X, y: alt.Y) -> alt.Chart:
    """Draw level steps: between two values the share stays what it was."""
    points = [(steps[0][0], 0.0), *steps, (last, steps[-1][1])]
    values = chart({"x": value, "y": at, "n": n} for n, (value, at) in enumerate(points))
    layer: alt.Chart = values.mark_line(stroke=LIGHT.copper, strokeWidth=2.5, interpolate="step-after")
    return layer.encode(x=x, y=y, order="n:Q")


def _marks(marks: Sequence[Mark], x: alt.X, y: alt.Y) -> list[alt.Chart]:
    return [
        chart([{"x": mark.at, "y": 0, "y2": 1}])
        .mark_rule(stroke=LIGHT.teal, strokeWidth=1.5, strokeDash=list(DASHES[k % len(DASHES)]))
        .encode(x=x, y=y, y2=alt.Y2("y2:Q"))
        for k, mark in enumerate(marks)
    ]


def _told(
    steps: Sequence[tuple[float, float]], marks: Sequence[Mark], told: str, written: Callable[[float], str]
) -> str:
    parts = []
    for at in (0.5, 0.9):
        value = next((value for value, up_to in steps if up_to >= at - 1e-9), steps[-1][0])
        parts.append(f"{share(at)} {told} {written(value)}.")
    parts += [f"{mark.name}: {written(mark.at)}." for mark in marks]
    return " ".join(parts)
