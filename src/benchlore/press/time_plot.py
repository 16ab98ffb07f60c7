"""The frame of pictures that have counts against time: scales, grid, labels."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import altair as alt

from benchlore.press.drawing import Label, axis_steps, chart, decimals
from benchlore.press.text import amount, width_of
from benchlore.press.theme import LIGHT, LINE_HEIGHT, MARGIN

LEFT: Final = 40
HEIGHT: Final = 200
UNITS: Final = ((3.0, "s", 1 / 60), (300.0, "min", 1.0), (6000.0, "h", 60.0), (float("inf"), "d", 1440.0))
"""Up to so many minutes, a unit and the minutes that it has."""


def unit_of(minutes: float) -> tuple[str, float]:
    """Choose the unit for an axis that ends at so many minutes, and the minutes that it has.

    >>> unit_of(90), unit_of(2000)
    (('min', 1.0), ('h', 60.0))
    """
    return next((name, size) for most, name, size in UNITS if minutes <= most)


@dataclass(frozen=True, slots=True)
class TimePlot:
    """A plot ``width`` pixels wide, its upper edge at ``top``; ``times`` and ``counts`` are its ticks."""

    width: float
    top: float
    times: tuple[float, ...]
    counts: tuple[float, ...]
    unit: str

    @property
    def x(self) -> alt.X:
        """The scale of time, in the axis's unit."""
        return alt.X(
            "x:Q",
            scale=alt.Scale(
                domain=[self.times[0], self.times[-1]], range=[LEFT, self.width - 10], nice=False
            ),
            axis=None,
        )

    @property
    def y(self) -> alt.Y:
        """The scale of counts."""
        ends = [self.counts[0], self.counts[-1]]
        return alt.Y(
            "y:Q",
            scale=alt.Scale(domain=ends, range=[self.foot, self.top], nice=False),
            axis=None,
        )

    @property
    def foot(self) -> float:
        """Where the plot ends, in pixels."""
        return self.top + HEIGHT

    def across(self, time: float) -> float:
        """Where a time stands, in pixels."""
        first, last = self.times[0], self.times[-1]
        return LEFT + (self.width - 10 - LEFT) * (time - first) / (last - first)

    def up(self, count: float) -> float:
        """Where a count stands, in pixels."""
        first, last = self.counts[0], self.counts[-1]
        return self.foot - HEIGHT * (count - first) / (last - first)

    def grid(self) -> list[alt.Chart]:
        """Thin lines at the ticks, stronger ones at both axes."""
        first, last = self.times[0], self.times[-1]
        low, high = self.counts[0], self.counts[-1]
        level = chart({"x": first, "x2": last, "y": count} for count in self.counts[1:])
        upright = chart({"x": time, "y": low, "y2": high} for time in self.times[1:])
        foot = chart([{"x": first, "x2": last, "y": low}])
        side = chart([{"x": first, "y": low, "y2": high}])
        x, y = self.x, self.y
        return [
            level.mark_rule(stroke=LIGHT.faint, strokeWidth=1).encode(x=x, x2=alt.X2("x2:Q"), y=y),
            upright.mark_rule(stroke=LIGHT.faint, strokeWidth=1).encode(x=x, y=y, y2=alt.Y2("y2:Q")),
            foot.mark_rule(stroke=LIGHT.soft, strokeWidth=1).encode(x=x, x2=alt.X2("x2:Q"), y=y),
            side.mark_rule(stroke=LIGHT.soft, strokeWidth=1).encode(x=x, y=y, y2=alt.Y2("y2:Q")),
        ]

    def labels(self, title: str, *, below: float = 0) -> list[Label]:
        """Label both axes; the lower ones stand ``below`` further down."""
        labels = [
            Label(LEFT - 6, self.up(count), amount(count, decimals(self.counts)), "right", LIGHT.soft)
            for count in self.counts
        ]
        foot = self.foot + below + 12
        for time in self.times:
            text = amount(time, decimals(self.times))
            at = min(self.across(time), self.width + MARGIN - width_of(text) / 2)
            labels.append(Label(at, foot, text, "center", LIGHT.soft))
        middle = LEFT + (self.width - 10 - LEFT) / 2
        labels.append(Label(middle, foot + LINE_HEIGHT, f"{title}, {self.unit}", "center", LIGHT.soft))
        return labels


def time_plot(width: float, top: float, minutes: float, most: float) -> TimePlot:
    """Lay out a plot that holds so many minutes and counts up to ``most``."""
    unit, size = unit_of(minutes)
    times = axis_steps(0, minutes / size, width - 10 - LEFT)
    counts = axis_steps(0, max(1.0, most), HEIGHT * 2)
    return TimePlot(width, top, times, tuple(count for count in counts if count == int(count)), unit)


def line(
    points: Sequence[tuple[float, float]], plot: TimePlot, colour: str, *, dashed: bool = False
) -> alt.Chart:
    """Draw a line through points of time and count."""
    drawn: alt.Chart = chart({"x": x, "y": y, "n": n} for n, (x, y) in enumerate(points)).mark_line(
        stroke=colour, strokeWidth=2, strokeDash=[6, 4] if dashed else [1, 0]
    )
    return drawn.encode(x=plot.x, y=plot.y, order="n:Q")
