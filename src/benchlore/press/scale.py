"""The reading scale: a number line with what each state of a condition shows, on which a reading lands.

Drawn as plain SVG without a chart library, since it is drawn anew for every step of a job at once.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import ceil, floor, isfinite, log10
from typing import Final

import numpy as np
from markupsafe import Markup, escape
from scipy import special

from benchlore.model import Check, FloatArray
from benchlore.model.densities import from_scale, over_probabilities, predictive_scale, to_scale
from benchlore.press.text import quantity

COVERED: Final = 0.95
"""The share of readings in a state that its bar holds."""
SHUT: Final = 0.5
"""A state that is over range oftener than this has no bar, but the words."""
TOP: Final = 20
BAR: Final = 14
ROW: Final = 38
SIDE: Final = 10
FOOT: Final = 30
STEPS: Final = (1.0, 2.0, 5.0)


@dataclass(frozen=True, slots=True)
class Bar:
    """The numbers that a state mostly shows, as places from 0 to 1; ``None`` where it is over range."""

    state: str
    span: tuple[float, float] | None
    text: str


@dataclass(frozen=True, eq=False)
class Scale:
    """A number line for a check: from ``low`` to ``high`` on the scale on which its readings are normal."""

    check: Check
    low: float
    high: float
    bars: tuple[Bar, ...]
    ticks: tuple[tuple[float, str], ...]

    def place(self, value: float) -> float | None:
        """Where a number lands, from 0 to 1, at the nearer end if beyond; ``None`` for over range."""
        densities = self.check.densities
        assert densities is not None
        if not isfinite(value):
            return None
        y = float(to_scale(densities, [value])[0])
        return min(1.0, max(0.0, (y - self.low) / (self.high - self.low)))

    def svg(self, width: int, *, values: Sequence[float] = ()) -> Markup:
        """Draw the line; ``values`` are readings to mark. A script moves the mark of class ``lands``."""
        inner = width - 2 * SIDE
        foot = TOP + ROW * len(self.bars)
        ticks = [SIDE + inner * at for at, _ in self.ticks]
        data = f'data-side="{SIDE}" data-inner="{inner}" aria-label="{escape(self.told)}"'
        drawn = [
            f'<svg viewBox="0 0 {width} {foot + FOOT}" role="img" {data}>',
            _path("rule", (f"M{SIDE} {TOP + ROW * row + 8}h{inner}" for row in range(len(self.bars)))),
            _path("bar", (_drawn(bar, TOP + ROW * row, inner) for row, bar in enumerate(self.bars))),
            _path("axis", [f"M{SIDE} {foot}h{inner}", *(_notch(x, foot) for x in ticks)]),
            *(_mark(SIDE + inner * at, foot) for at in map(self.place, values) if at is not None),
            f'<path class="lands" hidden="" d="M0 {TOP - 12}V{foot + 4}"/>',
            # Texts come last: the mark goes behind them.
            *(_said(bar, TOP + ROW * row) for row, bar in enumerate(self.bars)),
            '<g class="tick" text-anchor="middle">',
            *(_number(at, text, SIDE + inner * at, foot) for at, text in self.ticks),
            "</g></svg>",
        ]
        return Markup("".join(drawn))  # noqa: S704 every text in it is escaped

    @property
    def told(self) -> str:
        """The scale in words."""
        return "; ".join(f"{bar.state}: {bar.text}" for bar in self.bars)


def _path(kind: str, parts: Iterable[str]) -> str:
    """All lines of a kind as one: a page holds many scales."""
    return f'<path class="{kind}" d="{"".join(parts)}"/>'


def _drawn(bar: Bar, y: float, inner: int) -> str:
    """The bar of what a state mostly shows, on the state's rule."""
    if bar.span is None:
        return ""
    left, right = (SIDE + inner * end for end in bar.span)
    width = max(2.0, right - left)
    return f"M{_tenths(left)} {y + 1}h{_tenths(width)}v{BAR}h-{_tenths(width)}z"


def _tenths(place: float) -> str:
    return f"{round(place, 1):g}"


def _said(bar: Bar, y: float) -> str:
    return f'<text x="{SIDE}" y="{y - 6}">{escape(bar.state)}: {escape(bar.text)}</text>'


def _notch(x: float, foot: float) -> str:
    return f"M{_tenths(x)} {foot}v5"


def _mark(x: float, foot: float) -> str:
    return f'<path class="read" d="M{x:.1f} {TOP - 8}V{foot + 2}"/>'


def _number(at: float, text: str, x: float, foot: float) -> str:
    anchor = ' text-anchor="start"' if at < 0.08 else ' text-anchor="end"' if at > 0.92 else ""
    return f'<text x="{_tenths(x)}" y="{foot + 20}"{anchor}>{escape(text)}</text>'


def scale_of(check: Check, states: Sequence[str]) -> Scale | None:
    """Lay out the scale of a numeric check whose condition has these states; ``None`` for a named check."""
    d = check.densities
    if d is None:
        return None
    reach = predictive_scale(d) * special.stdtrit(2 * d.shape, (1 + COVERED) / 2)
    spans = np.stack([d.mean - reach, d.mean + reach], axis=1)
    shut = over_probabilities(d) > SHUT
    shown = spans[~shut] if (~shut).any() else spans
    low, high = float(shown.min()), float(shown.max())
    margin = 0.06 * (high - low) or 1.0
    low, high = low - margin, high + margin
    bars = tuple(
        Bar(state, None, "over range (OL)")
        if is_shut
        else Bar(state, ((a - low) / (high - low), (b - low) / (high - low)), _range(check, (a, b)))
        for state, (a, b), is_shut in zip(states, spans.tolist(), shut.tolist(), strict=True)
    )
    return Scale(check, low, high, bars, tuple(_ticks(check, low, high)))


def _range(check: Check, ys: tuple[float, float]) -> str:
    d = check.densities
    assert d is not None
    low, high = (quantity(float(x), d.measure, 2) for x in from_scale(d, ys))
    return f"{low} to {high}" if low != high else low


def _ticks(check: Check, low: float, high: float) -> list[tuple[float, str]]:
    """Round numbers along the line: powers of ten where it is logarithmic."""
    d = check.densities
    assert d is not None
    if d.log_normal:
        first, last = (end / np.log(10) for end in (low, high))
        powers = range(ceil(first), floor(last) + 1)
        numbers: FloatArray = np.array([10.0**power for power in powers])
        if len(numbers) < 2:
            numbers = np.exp(np.linspace(low, high, 3))
        numbers = numbers[:: max(1, ceil(len(numbers) / 5))]
    else:
        step = _step((high - low) / 4)
        numbers = np.arange(ceil(low / step), floor(high / step) + 1, dtype=np.float64) * step
    places = (to_scale(d, numbers) - low) / (high - low)
    return [
        (float(place), quantity(float(number), d.measure, 3))
        for place, number in zip(places, numbers, strict=True)
    ]


def _step(rough: float) -> float:
    """The smallest of 1, 2, 5 times a power of ten that is no less."""
    power = 10.0 ** floor(log10(rough))
    return next((power * step for step in STEPS if power * step >= rough), 10 * power)
