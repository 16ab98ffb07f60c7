"""A soak that runs: what each further hour adds, and where it stands in the counting test.

Drawn as plain SVG without a chart library, since every board on the shelf is drawn anew each time.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import floor
from typing import Final

import numpy as np
from markupsafe import Markup, escape

from benchlore.press.drawing import axis_steps, decimals
from benchlore.press.soaks import climbing, sequential_told
from benchlore.press.text import amount
from benchlore.press.time_plot import unit_of
from benchlore.soak import SequentialTest
from benchlore.units import share

LEFT: Final = 46
RIGHT: Final = 14
TOP: Final = 22
HEIGHT: Final = 150
FOOT: Final = 46
Points = Sequence[tuple[float, float]]


@dataclass(frozen=True, slots=True)
class _Frame:
    """A plot of something against minutes of soak; ``unit`` has ``size`` minutes."""

    width: int
    times: tuple[float, ...]
    values: tuple[float, ...]
    unit: str
    size: float

    def x(self, minutes: float) -> float:
        last = self.times[-1] * self.size
        return LEFT + (self.width - LEFT - RIGHT) * min(1.0, minutes / last)

    def y(self, value: float) -> float:
        low, high = self.values[0], self.values[-1]
        return TOP + HEIGHT * (1 - (min(high, max(low, value)) - low) / (high - low))

    def path(self, points: Points, kind: str) -> str:
        along = "L".join(f"{self.x(time):.1f} {self.y(value):.1f}" for time, value in points)
        return f'<path class="{kind}" d="M{along}"/>'

    def upright(self, minutes: float, kind: str) -> str:
        x = self.x(minutes)
        return f'<line class="{kind}" x1="{x:.1f}" x2="{x:.1f}" y1="{TOP}" y2="{TOP + HEIGHT}"/>'

    def text(self, x: float, y: float, text: str, anchor: str = "middle", kind: str = "tick") -> str:
        return f'<text class="{kind}" x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}">{escape(text)}</text>'

    def axes(self, labels: Sequence[str]) -> list[str]:
        end, foot = self.width - RIGHT, TOP + HEIGHT
        parts = []
        for value, label in zip(self.values, labels, strict=True):
            y = self.y(value)
            parts.append(f'<line class="grid" x1="{LEFT}" x2="{end}" y1="{y:.1f}" y2="{y:.1f}"/>')
            parts.append(self.text(LEFT - 6, y + 4, label, "end"))
        places = decimals(self.times)
        parts += [self.text(self.x(time * self.size), foot + 17, amount(time, places)) for time in self.times]
        parts.append(self.text((LEFT + end) / 2, foot + 36, f"Soaked, {self.unit}"))
        return parts

    def drawn(self, parts: Sequence[str], told: str) -> Markup:
        size = f'viewBox="0 0 {self.width} {TOP + HEIGHT + FOOT}"'
        head = f'<svg class="plot" {size} role="img" aria-label="{escape(told)}">'
        return Markup("".join([head, *parts, "</svg>"]))  # noqa: S704 every text in it is escaped above


def _frame(width: int, minutes: float, low: float, high: float) -> _Frame:
    unit, size = unit_of(max(minutes, 1.0))
    times = tuple(axis_steps(0, max(minutes, 1.0) / size, width - LEFT - RIGHT))
    return _Frame(width, times, tuple(axis_steps(low, high, HEIGHT)), unit, size)


def draw_gain(points: Points, now: float, planned: float, width: int) -> Markup:
    """Draw the chance of a cure against minutes of a soak that shows nothing; now and the planned end."""
    lowest = floor(min(chance for _, chance in points) * 10) / 10
    frame = _frame(width, max(time for time, _ in points), min(lowest, 0.9), 1.0)
    parts = frame.axes([share(value) for value in frame.values])
    parts += [frame.path(points, "curve"), frame.upright(now, "now")]
    if planned > now:
        parts += [frame.upright(planned, "until"), frame.text(frame.x(planned), TOP - 7, "planned end")]
    parts.append(frame.text(max(LEFT + 12.0, frame.x(now)), TOP - 7, "now"))
    told = "; ".join(
        f"{time:.0f} min {share(chance)}" for time, chance in points[:: max(1, len(points) // 6)]
    )
    return frame.drawn(parts, f"Chance that the board is cured, by minutes of soak without an event: {told}.")


def draw_standing(test: SequentialTest, soaked: float, shown: Sequence[float], width: int) -> Markup:
    """Draw both lines of the counting test, and the soak's own line of events between them."""
    frame = _frame(width, max(test.most_time, soaked), 0, max(test.most_events, len(shown)))
    whole = [value for value in frame.values if value == int(value)]
    frame = _Frame(width, frame.times, tuple(whole), frame.unit, frame.size)
    rows = test.chart()
    parts = frame.axes([f"{value:g}" for value in frame.values])
    parts.append(frame.path([(t, low) for t, low, _ in rows if low >= -1e-9], "home"))
    parts.append(frame.path([(t, high) for t, _, high in rows], "back"))
    steps = climbing(shown, list(range(1, len(shown) + 1)), soaked) if shown else [(0.0, 0.0), (soaked, 0.0)]
    parts.append(frame.path(steps, "here"))
    parts.append(frame.text(frame.width - RIGHT - 6, TOP + HEIGHT - 8, "may go home", "end", "name"))
    parts.append(frame.text(LEFT + 8, TOP + 14, "not cured", "start", "name"))
    return frame.drawn(parts, sequential_told(test, soaked, np.sort(np.array(shown)).tolist()))
