"""A picture of what hours of research bring: the cost of a job as knowledge grows."""

from collections.abc import Sequence
from typing import Final

import altair as alt

from benchlore.press.drawing import Label, Picture, Sheet, axis_steps, chart, draw, draw_nothing, paragraph
from benchlore.press.text import amount, wrapped
from benchlore.press.theme import LIGHT, LINE_HEIGHT
from benchlore.press.time_plot import HEIGHT, LEFT, TimePlot, line
from benchlore.press.values import check_finite

TITLE: Final = "Cost of a job as boards are examined"


def draw_learning(
    points: Sequence[tuple[float, float, bool]], *, stop: float | None, currency: str, title: str = TITLE
) -> Picture:
    """Draw ``(hours, cost, whether expected)``, rising in hours, and the hours at which to stop.

    Raises ``ValueError`` for a number that is not finite.
    """
    if not points or points[-1][0] <= 0:
        return draw_nothing(title, "No hours are known, so there is no curve to show.")
    check_finite(title, *(number for hours, cost, _ in points for number in (hours, cost)))
    seen = [(hours, cost) for hours, cost, expected in points if not expected]
    beyond = [*seen[-1:], *((hours, cost) for hours, cost, expected in points if expected)]

    def compose(width: float) -> Sheet:
        key = f"Height: cost of a job, {currency}. Solid: boards so far. Dashed: expected of more boards."
        if stop is not None:
            key += f" Upright: stop at {amount(stop, 0)} h."
        lines = wrapped(key, width)
        top = LINE_HEIGHT * (len(lines) + 1.5)
        times = axis_steps(0, points[-1][0], width - 10 - LEFT)
        costs = axis_steps(0, max(1.0, *(cost for _, cost, _ in points)), HEIGHT * 2)
        plot = TimePlot(width, top, times, costs, "h")
        layers = [*plot.grid(), line(seen, plot, LIGHT.copper)]
        if len(beyond) > 1:
            layers.append(line(beyond, plot, LIGHT.copper, dashed=True))
        if stop is not None:
            layers.append(_upright(stop, plot))
        labels: list[Label] = [*paragraph(lines, x=0, top=0), *plot.labels("Research")]
        return Sheet(top + HEIGHT + 2.4 * LINE_HEIGHT, layers, labels)

    return draw(title, _told(points, stop, currency), compose)


def _upright(stop: float, plot: TimePlot) -> alt.Chart:
    mark = chart([{"x": stop, "y": plot.counts[0], "y2": plot.counts[-1]}])
    drawn: alt.Chart = mark.mark_rule(stroke=LIGHT.teal, strokeWidth=1.5)
    return drawn.encode(x=plot.x, y=plot.y, y2=alt.Y2("y2:Q"))


def _told(points: Sequence[tuple[float, float, bool]], stop: float | None, currency: str) -> str:
    ends = [
        f"{amount(cost, 0)} {currency} after {amount(hours, 0)} h."
        for hours, cost, _ in (points[0], points[-1])
    ]
    return " ".join(
        [*ends, *([f"Research stops paying at {amount(stop, 0)} h."] if stop is not None else [])]
    )
