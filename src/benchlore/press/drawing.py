"""One drawing, from layers to SVG that can stand in a page: named, described, scaling, without an address.

Everything is placed by numbers of ours, never by measured text, so that the same values give the same bytes
whatever fonts a machine has.
"""

import html
import math
import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final, Literal

import altair as alt
import vl_convert

from benchlore.press.text import amount, on_one_line, printable, width_of, wrapped
from benchlore.press.theme import FONT, FONT_SIZE, LIGHT, LINE_HEIGHT, MARGIN, NARROW, WIDE

HEAD: Final = re.compile(r"<svg\b[^>]*?\bviewBox=\"([^\"]*)\"[^>]*>")
ROLES: Final = re.compile(
    r"(<g class=\"[^\"<>]*\") role=\"graphics-[a-z]+\" aria-roledescription=\"[a-z ]+\""
)
"""What the drawing library calls groups of marks. They are parts of one image, with no name of their own."""


@dataclass(frozen=True, slots=True)
class Picture:
    """A picture drawn twice, for a page and for a telephone; the text of both is SVG that we drew."""

    title: str
    description: str
    wide: str
    narrow: str


Align = Literal["left", "center", "right"]


@dataclass(frozen=True, slots=True)
class Label:
    """A line of text on a drawing, at a place in pixels."""

    x: float
    y: float
    text: str
    align: Align = "left"
    colour: str = LIGHT.ink
    bold: bool = False


@dataclass(frozen=True, slots=True)
class Sheet:
    """What is on one drawing: layers that share the scale of x, layers in pixels, and how high it is."""

    height: float
    scaled: Sequence[alt.Chart] = ()
    labels: Sequence[Label] = ()
    marks: Sequence[alt.Chart] = ()
    below: float = 0
    """Room for the axis under the drawing."""


Values = Iterable[Mapping[str, Any]]
Compose = Callable[[float], Sheet]
"""Lay a drawing out on so many pixels between the margins."""


def draw(title: str, description: str, compose: Compose) -> Picture:
    """Draw a picture in both widths."""
    title, description = on_one_line(title), on_one_line(description)
    wide, narrow = (
        named(rendered(compose(width - 2 * MARGIN), width - 2 * MARGIN), title, description)
        for width in (WIDE, NARROW)
    )
    return Picture(title, description, wide, narrow)


def draw_nothing(title: str, why: str) -> Picture:
    """Draw a picture that only says why there is nothing to show yet."""

    def compose(width: float) -> Sheet:
        lines = wrapped(why, width - 2 * MARGIN)
        height = 2 * LINE_HEIGHT + LINE_HEIGHT * len(lines)
        frame = on_pixels(
            chart([{"x": 0, "x2": width, "y": 0, "y2": height}]).mark_rect(
                filled=False, stroke=LIGHT.faint, strokeWidth=1
            )
        )
        labels = paragraph(lines, x=MARGIN, top=LINE_HEIGHT)
        return Sheet(height, marks=[frame], labels=labels)

    return draw(title, why, compose)


def chart(values: Values) -> alt.Chart:
    """Begin a layer from plain values; its channels as objects, because words are looked up in the schema."""
    return alt.Chart(alt.InlineData(values=list(values)))


def pixels(channel: type[Any], field: str) -> Any:
    """Encode a field that is in pixels already."""
    return channel(f"{field}:Q", scale=alt.Scale(domain=[0, 1], range=[0, 1], clamp=False), axis=None)


def on_pixels(layer: alt.Chart) -> alt.Chart:
    """Encode a layer of rectangles or rules from ``x, y`` to ``x2, y2``, all in pixels."""
    return layer.encode(x=pixels(alt.X, "x"), x2=alt.X2("x2:Q"), y=pixels(alt.Y, "y"), y2=alt.Y2("y2:Q"))


def paragraph(lines: Sequence[str], *, x: float, top: float, colour: str = LIGHT.soft) -> list[Label]:
    """Set lines below each other."""
    return [Label(x, top + LINE_HEIGHT * (k + 0.5), line, colour=colour) for k, line in enumerate(lines)]


def written(labels: Sequence[Label]) -> list[alt.Chart]:
    """Make layers of labels, one for each way in which text may be set."""
    ways = list(dict.fromkeys((label.align, label.colour, label.bold) for label in labels))
    return [
        chart(
            {"x": label.x, "y": label.y, "text": printable(label.text)}
            for label in labels
            if (label.align, label.colour, label.bold) == (align, colour, bold)
        )
        .mark_text(
            align=align, baseline="middle", color=colour, fontWeight="bold" if bold else "normal", limit=0
        )
        .encode(x=pixels(alt.X, "x"), y=pixels(alt.Y, "y"), text=alt.Text("text:N"))
        for align, colour, bold in ways
    ]


def rendered(sheet: Sheet, width: float) -> str:
    """Render a sheet; nothing is fetched, whatever the values say."""
    datasets: dict[str, Any] = {}
    scaled = [{"layer": _told(sheet.scaled, datasets)}] if sheet.scaled else []
    spec = {
        "$schema": alt.SCHEMA_URL,
        "layer": [*scaled, *_told([*sheet.marks, *written(sheet.labels)], datasets)],
        "datasets": datasets,
        "resolve": {"scale": {"x": "independent", "y": "independent"}},
        "width": width,
        "height": sheet.height,
        "autosize": {"type": "none"},
        "padding": {"left": MARGIN, "right": MARGIN, "top": 4, "bottom": 4 + sheet.below},
        "config": config(),
    }
    return vl_convert.vegalite_to_svg(spec, allowed_base_urls=[])


def _told(layers: Sequence[alt.Chart], datasets: dict[str, Any]) -> list[dict[str, Any]]:
    """Tell layers in Vega-Lite's words, and their values to ``datasets``.

    One by one, because the library would copy each several times to lay them over each other.
    """
    context = {"top_level": False, "datasets": datasets}
    return [layer.to_dict(context=context) for layer in layers]


def config() -> dict[str, Any]:
    """Give the look of every drawing."""
    return {
        "aria": False,
        "background": "transparent",
        "font": FONT,
        "view": {"stroke": None},
        "text": {"font": FONT, "fontSize": FONT_SIZE},
        "point": {"filled": True, "opacity": 1},
        "axis": {
            "domainColor": LIGHT.soft,
            "gridColor": LIGHT.faint,
            "labelColor": LIGHT.soft,
            "labelFont": FONT,
            "labelFontSize": FONT_SIZE,
            "labelOverlap": False,
            "tickColor": LIGHT.soft,
            "titleColor": LIGHT.soft,
            "titleFont": FONT,
            "titleFontSize": FONT_SIZE,
            "titleFontWeight": "normal",
        },
    }


def named(svg: str, title: str, description: str) -> str:
    """Give a drawing its name and description for those who do not see it, and let it scale.

    The name is the first child, which needs no identifier that would have to be unique in a page (SVG
    Accessibility API Mappings, "Name and Description").
    """
    head = HEAD.search(svg)
    assert head is not None, "the drawing library changed how an SVG begins"
    told = "".join(
        f"<{tag}>{html.escape(text, quote=False)}</{tag}>"
        for tag, text in (("title", title), ("desc", description))
    )
    opening = f'<svg xmlns="http://www.w3.org/2000/svg" role="img" width="100%" viewBox="{head[1]}">'
    return opening + told + ROLES.sub(r"\1", svg[head.end() :])


def ticks(low: float, high: float, *, at_most: int = 5) -> tuple[float, ...]:
    """Round numbers that span an interval: as many as may be, their distance 1, 2 or 5 times a power of ten.

    >>> ticks(0, 183)
    (0.0, 50.0, 100.0, 150.0, 200.0)
    """
    span = max(high - low, abs(high) * 1e-9, 1e-9)
    power = 10.0 ** math.floor(math.log10(span / at_most))
    for step in (power * factor for factor in (1, 2, 5, 10, 20, 50)):
        first, last = math.floor(low / step), math.ceil(high / step)
        if last - first < at_most:
            break
    return tuple(round(k * step, 12) for k in range(first, max(last, first + 1) + 1))


def axis_steps(low: float, high: float, width: float) -> tuple[float, ...]:
    """Choose ticks whose labels have room beside each other on an axis so wide.

    >>> axis_steps(0, 183, 600), axis_steps(0, 90_000_000, 300)
    ((0.0, 50.0, 100.0, 150.0, 200.0), (0.0, 50000000.0, 100000000.0))
    """
    for at_most in (5, 4, 3):
        steps = ticks(low, high, at_most=at_most)
        widest = max(width_of(amount(step, decimals(steps))) for step in steps)
        if len(steps) * (widest + FONT_SIZE) <= width:
            break
    return steps


def decimals(steps: Sequence[float]) -> int:
    """How many decimals tell neighbouring ticks apart."""
    return max(0, -math.floor(math.log10(steps[1] - steps[0]) + 1e-9))
