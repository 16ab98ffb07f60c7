"""A picture of forecasts: what was said against what came true."""

from collections.abc import Sequence
from typing import Final

import altair as alt

from benchlore.press.drawing import Label, Picture, Sheet, chart, draw, draw_nothing, on_pixels, paragraph
from benchlore.press.text import wrapped
from benchlore.press.theme import LIGHT, LINE_HEIGHT
from benchlore.press.values import Forecasts
from benchlore.units import counted, share

SIDE: Final = 340
"""The plot is a square of at most this many pixels, since its diagonal is what counts."""
LEFT: Final = 44
"""For the labels of the upright axis."""
COUNTS: Final = 52
"""How high the bars of counts may be, with the room above them."""
KEY: Final = (
    "Dots: forecasts of about the same probability, and the share of them that came true, with its 95 % "
    "interval. On the slanting line, what was said is what happened. Bars: how many forecasts."
)


def draw_reliability(
    groups: Sequence[Forecasts], *, title: str = "What was forecast, and what came true"
) -> Picture:
    """Draw the observed share against the mean forecast of each group, with intervals and counts."""
    if not groups:
        return draw_nothing(title, "No forecast has met its outcome yet, so there is nothing to compare.")

    def compose(width: float) -> Sheet:
        side = min(SIDE, width - LEFT - 10)
        beside = width - LEFT - side >= 200
        key = wrapped(KEY, width - LEFT - side - 28 if beside else width)
        top = LINE_HEIGHT * (2 if beside else len(key) + 2)
        labels = paragraph(key, x=LEFT + side + 28 if beside else 0, top=top if beside else 0)
        labels.append(Label(0, top - LINE_HEIGHT, "Came true", colour=LIGHT.soft))
        return plot(groups, side, top, labels)

    return draw(title, described(groups), compose)


def described(groups: Sequence[Forecasts]) -> str:
    """Tell every group in words."""
    total = sum(group.count for group in groups)
    parts = [
        f"Of {counted(group.count, 'forecast')} of about {share(group.mean)}, "
        f"{share(group.observed.value)} came true "
        f"(95 % interval {share(group.observed.low)} to {share(group.observed.high)})."
        for group in groups
    ]
    return f"{counted(total, 'forecast')} in {counted(len(groups), 'group')}. " + " ".join(parts)


def plot(groups: Sequence[Forecasts], side: float, top: float, labels: list[Label]) -> Sheet:
    """Lay out the square, its counts and its axes; what is across is shared by both."""
    x = alt.X(
        "x:Q",
        scale=alt.Scale(domain=[0, 1], range=[LEFT, LEFT + side], nice=False),
        axis=None,
    )
    y = alt.Y("y:Q", scale=alt.Scale(domain=[0, 1], range=[top + side, top], nice=False), axis=None)
    floor = top + side + LINE_HEIGHT + COUNTS
    return Sheet(
        floor + 2.4 * LINE_HEIGHT,
        scaled=[*square(x, y), *observed(groups, x, y)],
        labels=[*labels, *axis_labels(side, top, floor), *count_labels(groups, side, floor)],
        marks=[frame(side, top), count_bars(groups, side, floor), base(side, floor)],
    )


def square(x: alt.X, y: alt.Y) -> list[alt.Chart]:
    """Draw the grid and the diagonal."""
    quarters = [k / 4 for k in range(5)]
    across = chart({"x": 0, "x2": 1, "y": at} for at in quarters).mark_rule(stroke=LIGHT.faint, strokeWidth=1)
    up = chart({"x": at, "y": 0, "y2": 1} for at in quarters).mark_rule(stroke=LIGHT.faint, strokeWidth=1)
    diagonal = chart([{"x": 0, "y": 0}, {"x": 1, "y": 1}]).mark_line(stroke=LIGHT.teal, strokeWidth=1.5)
    return [
        across.encode(x=x, x2=alt.X2("x2:Q"), y=y),
        up.encode(x=x, y=y, y2=alt.Y2("y2:Q")),
        diagonal.encode(x=x, y=y),
    ]


def observed(groups: Sequence[Forecasts], x: alt.X, y: alt.Y) -> list[alt.Chart]:
    """Draw what came true: intervals, dots on them."""
    lines = chart({"x": group.mean, "y": group.observed.low, "y2": group.observed.high} for group in groups)
    points = chart({"x": group.mean, "y": group.observed.value} for group in groups)
    return [
        lines.mark_rule(stroke=LIGHT.copper, strokeWidth=2).encode(x=x, y=y, y2=alt.Y2("y2:Q")),
        points.mark_point(
            filled=True, size=70, color=LIGHT.copper, stroke=LIGHT.paper, strokeWidth=1, opacity=1
        ).encode(x=x, y=y),
    ]


def frame(side: float, top: float) -> alt.Chart:
    """Draw the left and lower edge of the square."""
    edges = [
        {"x": LEFT, "x2": LEFT, "y": top, "y2": top + side},
        {"x": LEFT, "x2": LEFT + side, "y": top + side, "y2": top + side},
    ]
    return on_pixels(chart(edges).mark_rule(stroke=LIGHT.soft, strokeWidth=1))


def base(side: float, floor: float) -> alt.Chart:
    """Draw the line on which the counts stand."""
    line = [{"x": LEFT, "x2": LEFT + side, "y": floor, "y2": floor}]
    return on_pixels(chart(line).mark_rule(stroke=LIGHT.soft, strokeWidth=1))


def count_bars(groups: Sequence[Forecasts], side: float, floor: float) -> alt.Chart:
    """Draw a bar for the number of forecasts of each group, under its dot."""
    most = max(group.count for group in groups)
    values = []
    for group in groups:
        middle = LEFT + side * group.mean
        high = (COUNTS - LINE_HEIGHT) * group.count / most
        values.append({"x": middle - 4, "x2": middle + 4, "y": floor - high, "y2": floor})
    return on_pixels(chart(values).mark_rect(fill=LIGHT.copper, fillOpacity=0.55))


def count_labels(groups: Sequence[Forecasts], side: float, floor: float) -> list[Label]:
    """Set counts above their bars, leaving out those that would run into the one before."""
    most = max(group.count for group in groups)
    labels: list[Label] = []
    for group in sorted(groups, key=lambda group: group.mean):
        x = LEFT + side * group.mean
        text = f"{group.count:,}"
        if labels and x - labels[-1].x < 5 * (len(text) + len(labels[-1].text)):
            continue
        y = floor - (COUNTS - LINE_HEIGHT) * group.count / most - 9
        labels.append(Label(x, y, text, "center", LIGHT.soft))
    return labels


def axis_labels(side: float, top: float, floor: float) -> list[Label]:
    """Set the labels of both axes, and the title of the lower one."""
    labels = []
    for at in (0.0, 0.25, 0.5, 0.75, 1.0):
        labels.append(Label(LEFT - 6, top + side * (1 - at), share(at), "right", LIGHT.soft))
        labels.append(Label(LEFT + side * at, floor + 12, share(at), "center", LIGHT.soft))
    labels.append(Label(LEFT + side / 2, floor + 12 + LINE_HEIGHT, "Forecast", "center", LIGHT.soft))
    return labels
