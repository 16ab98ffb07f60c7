"""What a check reads in each state: small curves below each other on the reading's own scale.

Drawn by hand: a book has dozens of checks, and the drawing library would take seconds for one page.
"""

import html
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from benchlore.library import CheckKnown, StateCurve
from benchlore.press.drawing import Picture, named, ticks
from benchlore.press.text import cut, on_one_line, printable, quantity, width_of
from benchlore.press.theme import FONT, FONT_SIZE, LIGHT, LINE_HEIGHT, MARGIN, NARROW, WIDE
from benchlore.units import Measure, share

CURVE: Final = 34
"""Height of a curve in pixels."""
STRIP: Final = CURVE + LINE_HEIGHT + 8
FEWEST_DECADES: Final = 0.7
"""Below so many powers of ten a logarithmic scale has ticks at 1, 2 and 5 too."""


@dataclass(frozen=True, slots=True)
class CheckShown:
    """A check with its picture, where it is a numeric one."""

    known: CheckKnown
    picture: Picture | None


def check_shown(check: CheckKnown) -> CheckShown:
    """Draw what a check reads in each state, where it is a numeric one."""
    if check.measure is None:
        return CheckShown(check, None)
    title = f"{check.title}: readings in each state"
    return CheckShown(
        check,
        draw_densities(check.curves, check.measure, logarithmic=check.is_logarithmic, title=title),
    )


def draw_densities(
    curves: Sequence[StateCurve], measure: Measure, *, logarithmic: bool, title: str
) -> Picture:
    """Draw a curve for each state; readings are in SI units, on a logarithmic scale where that is said."""
    told = _told(curves, measure)
    wide, narrow = (
        _drawn(curves, measure, logarithmic, width - 2 * MARGIN, title, told) for width in (WIDE, NARROW)
    )
    return Picture(on_one_line(title), told, wide, narrow)


def _drawn(
    curves: Sequence[StateCurve], measure: Measure, logarithmic: bool, width: float, title: str, told: str
) -> str:
    def scaled(reading: float) -> float:
        return math.log10(reading) if logarithmic else reading

    low, high = scaled(curves[0].points[0][0]), scaled(curves[0].points[-1][0])

    def across(reading: float) -> float:
        return width * (scaled(reading) - low) / (high - low)

    foot = STRIP * len(curves)
    places = [(across(tick), quantity(tick, measure)) for tick in _ticks(low, high, logarithmic)]
    grid = "".join(f"M{x:.1f} 0V{foot}" for x, _ in places)
    parts = [f'<path d="{grid}" stroke="{LIGHT.faint}" fill="none"/>']
    for k, curve in enumerate(curves):
        parts.append(_curve(curve, [across(x) for x, _ in curve.points], STRIP * (k + 1), width))
        over = f", {share(curve.over)} over range" if curve.over >= 0.01 else ""
        text = cut(curve.state + over, width)
        parts.append(_label(0, STRIP * k + LINE_HEIGHT, text, LIGHT.ink))
    parts += _scale(places, foot, width)
    box = f"{-MARGIN} 0 {width + 2 * MARGIN} {foot + LINE_HEIGHT + 8}"
    drawn = f'<g font-family="{FONT}" font-size="{FONT_SIZE}">{"".join(parts)}</g>'
    svg = f'<svg viewBox="{box}">{drawn}</svg>'
    return named(svg, on_one_line(title), told)


def _curve(curve: StateCurve, across: Sequence[float], foot: float, width: float) -> str:
    heights = [foot - CURVE * height for _, height in curve.points]
    line = "L".join(f"{x:.1f} {y:.1f}" for x, y in zip(across, heights, strict=True))
    return (
        f'<path d="M{across[0]:.1f} {foot}L{line}L{across[-1]:.1f} {foot}Z" fill="{LIGHT.copper}" '
        f'fill-opacity="0.3"/><path d="M{line}" fill="none" stroke="{LIGHT.copper}" stroke-width="1.5"/>'
        f'<path d="M0 {foot}H{width}" fill="none" stroke="{LIGHT.soft}"/>'
    )


def _scale(places: Sequence[tuple[float, str]], foot: float, width: float) -> list[str]:
    """Write the readings under the scale, leaving out what would touch its neighbour."""
    labels: list[str] = []
    end = -math.inf
    for x, text in places:
        half = width_of(text) / 2
        middle = min(max(x, half), width - half)
        if middle - half > end + 1.3 * FONT_SIZE:
            labels.append(_label(middle, foot + LINE_HEIGHT, text, LIGHT.soft, anchor="middle"))
            end = middle + half
    return labels


def _label(x: float, y: float, text: str, colour: str, *, anchor: str = "start") -> str:
    said = html.escape(printable(text), quote=False)
    return f'<text x="{x:.1f}" y="{y:.1f}" fill="{colour}" text-anchor="{anchor}">{said}</text>'


def _ticks(low: float, high: float, logarithmic: bool) -> list[float]:
    """Round readings between the ends of a scale, which are powers of ten where it is logarithmic."""
    if not logarithmic:
        return [tick for tick in ticks(low, high, at_most=8) if low <= tick <= high]
    digits = (1, 2, 5) if high - low < 4 else (1,)
    powers = range(math.floor(low), math.ceil(high) + 1)
    if high - low < FEWEST_DECADES:
        return [tick for tick in ticks(10**low, 10**high) if low <= math.log10(max(tick, 1e-300)) <= high]
    every = max(1, round((high - low) / 6))
    return [
        digit * 10.0**power
        for power in powers
        for digit in digits
        if power % every == 0 and low <= power + math.log10(digit) <= high
    ]


def _told(curves: Sequence[StateCurve], measure: Measure) -> str:
    """Tell each state's most likely reading in words."""
    parts = []
    for curve in curves:
        peak = max(curve.points, key=lambda point: point[1])[0]
        parts.append(f"{curve.state}: most often about {quantity(float(f'{peak:.2g}'), measure)}")
    return "; ".join(parts) + "."
