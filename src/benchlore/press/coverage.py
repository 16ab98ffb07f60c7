"""A picture of completeness: how likely a book knows the next board's fault, after so many boards."""

from collections.abc import Sequence
from typing import Final

import altair as alt

from benchlore.press.drawing import (
    Align,
    Label,
    Picture,
    Sheet,
    axis_steps,
    chart,
    decimals,
    draw,
    draw_nothing,
    paragraph,
)
from benchlore.press.text import amount, width_of, wrapped
from benchlore.press.theme import LIGHT, LINE_HEIGHT, MARGIN
from benchlore.press.values import Covered
from benchlore.units import counted, share

LEFT: Final = 44
HEIGHT: Final = 220
GOAL: Final = 0.95


def draw_coverage(
    curve: Sequence[Covered],
    *,
    present: float,
    title: str = "Chance that the next board's fault is known",
) -> Picture:
    """Draw coverage against boards: what was seen solid, what is expected dashed, now as a dot.

    ``present`` is the number of boards so far; a point of the curve that stands there joins both parts.
    """
    points = sorted(curve, key=lambda point: point.boards)
    if not points:
        return draw_nothing(
            title, "No board with a confirmed fault yet, so nothing is known of the coverage."
        )
    last = max(points[-1].boards, present, 1)

    def compose(width: float) -> Sheet:
        steps = axis_steps(0, last, width - 10 - LEFT)
        key = wrapped(coverage_key(points, present), width)
        top = LINE_HEIGHT * (len(key) + 1.5)
        x = alt.X(
            "x:Q",
            scale=alt.Scale(domain=[0, steps[-1]], range=[LEFT, width - 10], nice=False),
            axis=None,
        )
        y = alt.Y("y:Q", scale=alt.Scale(domain=[0, 1], range=[top + HEIGHT, top], nice=False), axis=None)
        scaled = [*background(steps, x, y), *curves(points, present, x, y), *now(points, present, x, y)]
        labels = [*paragraph(key, x=0, top=0), *axis_labels(steps, width, top)]
        labels += now_label(points, present, steps, width, top)
        return Sheet(top + HEIGHT + 2.4 * LINE_HEIGHT, scaled, labels)

    return draw(title, described(points, present), compose)


def coverage_key(points: Sequence[Covered], present: float) -> str:
    """Say how the curve is read, as far as there is one."""
    parts = []
    if sum(point.boards <= present for point in points) > 1:
        parts.append("Solid: boards so far.")
    if sum(point.boards >= present for point in points) > 1:
        parts.append("Dashed: expected of more boards.")
    if len(points) > 1:
        parts.append("Band: 95 % interval.")
    return " ".join([*parts, "Dot: now." if at_present(points, present) else ""]).strip()


def at_present(points: Sequence[Covered], present: float) -> Covered | None:
    """Find the point of the curve that stands at the present number of boards."""
    return next((point for point in points if point.boards == present), None)


def background(steps: Sequence[float], x: alt.X, y: alt.Y) -> list[alt.Chart]:
    """Draw the grid, the line of the goal and the edges."""
    last = steps[-1]
    quarters = chart({"x": 0, "x2": last, "y": k / 4} for k in range(1, 5))
    upright = chart({"x": step, "y": 0, "y2": 1} for step in steps[1:])
    goal = chart([{"x": 0, "x2": last, "y": GOAL}])
    foot = chart([{"x": 0, "x2": last, "y": 0}])
    side = chart([{"x": 0, "y": 0, "y2": 1}])
    return [
        quarters.mark_rule(stroke=LIGHT.faint, strokeWidth=1).encode(x=x, x2=alt.X2("x2:Q"), y=y),
        upright.mark_rule(stroke=LIGHT.faint, strokeWidth=1).encode(x=x, y=y, y2=alt.Y2("y2:Q")),
        goal.mark_rule(stroke=LIGHT.teal, strokeWidth=1.5).encode(x=x, x2=alt.X2("x2:Q"), y=y),
        foot.mark_rule(stroke=LIGHT.soft, strokeWidth=1).encode(x=x, x2=alt.X2("x2:Q"), y=y),
        side.mark_rule(stroke=LIGHT.soft, strokeWidth=1).encode(x=x, y=y, y2=alt.Y2("y2:Q")),
    ]


def curves(points: Sequence[Covered], present: float, x: alt.X, y: alt.Y) -> list[alt.Chart]:
    """Draw the band of the whole curve, the seen part solid, the expected part dashed."""
    band = chart({"x": p.boards, "y": p.coverage.low, "y2": p.coverage.high} for p in points)
    layers = [band.mark_area(fill=LIGHT.copper, fillOpacity=0.18).encode(x=x, y=y, y2=alt.Y2("y2:Q"))]
    seen = [point for point in points if point.boards <= present]
    expected = [point for point in points if point.boards >= present]
    for part, dash in ((seen, [1, 0]), (expected, [6, 4])):
        if len(part) > 1:
            line = chart({"x": point.boards, "y": point.coverage.value} for point in part)
            layers.append(
                line.mark_line(stroke=LIGHT.copper, strokeWidth=2.5, strokeDash=dash).encode(x=x, y=y)
            )
    return layers


def now(points: Sequence[Covered], present: float, x: alt.X, y: alt.Y) -> list[alt.Chart]:
    """Mark the present with its interval; points alone where there is no curve."""
    marked = [point for point in points if point.boards == present or len(points) == 1]
    lines = chart({"x": p.boards, "y": p.coverage.low, "y2": p.coverage.high} for p in marked)
    dots = chart({"x": point.boards, "y": point.coverage.value} for point in marked)
    return (
        [
            lines.mark_rule(stroke=LIGHT.copper, strokeWidth=2).encode(x=x, y=y, y2=alt.Y2("y2:Q")),
            dots.mark_point(
                filled=True, size=90, color=LIGHT.copper, stroke=LIGHT.paper, strokeWidth=1.5, opacity=1
            ).encode(x=x, y=y),
        ]
        if marked
        else []
    )


def now_label(
    points: Sequence[Covered], present: float, steps: Sequence[float], width: float, top: float
) -> list[Label]:
    """Write the present figure near the foot of the plot, where no curve runs, beside its dot's place."""
    point = at_present(points, present)
    if point is None:
        return []
    text = f"{counted(round(present), 'board')}: {share(point.coverage.value)}"
    across = LEFT + (width - 10 - LEFT) * present / steps[-1]
    align: Align = "left" if across + width_of(text) + 8 <= width else "right"
    foot = top + HEIGHT * (1 - point.coverage.low) + LINE_HEIGHT
    y = foot if foot < top + HEIGHT - 8 else top + HEIGHT * (1 - point.coverage.high) - LINE_HEIGHT
    return [Label(across + (8 if align == "left" else -8), y, text, align)]


def axis_labels(steps: Sequence[float], width: float, top: float) -> list[Label]:
    """Set the labels of both axes and of the goal, and the title of the lower one."""
    side, foot = width - 10 - LEFT, top + HEIGHT
    labels = [
        Label(LEFT - 6, foot - HEIGHT * at, share(at), "right", LIGHT.soft) for at in (0.0, 0.25, 0.5, 0.75)
    ]
    labels.append(Label(LEFT - 6, foot - HEIGHT * GOAL, share(GOAL), "right", LIGHT.teal, bold=True))
    for step in steps:
        text = amount(step, decimals(steps))
        x = min(LEFT + side * step / steps[-1], width + MARGIN - width_of(text) / 2)
        labels.append(Label(x, foot + 12, text, "center", LIGHT.soft))
    title = "Boards with a confirmed fault"
    labels.append(Label(LEFT + side / 2, foot + 12 + LINE_HEIGHT, title, "center", LIGHT.soft))
    return labels


def described(points: Sequence[Covered], present: float) -> str:
    """Tell the present and the end of the curve in words."""
    point, last = at_present(points, present), points[-1]
    parts = [told(point)] if point else []
    if point is not last:
        parts.append(told(last))
    return " ".join([*parts, f"The goal is {share(GOAL)}."])


def told(point: Covered) -> str:
    """Tell one point in words."""
    return (
        f"{counted(round(point.boards), 'board')}: {share(point.coverage.value)} "
        f"(95 % interval {share(point.coverage.low)} to {share(point.coverage.high)})."
    )
