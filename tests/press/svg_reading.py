"""Marks of a drawing with their places on the whole of it, read back from its SVG."""

import re
from dataclasses import dataclass
from xml.etree import ElementTree as ET

from benchlore.press.theme import LIGHT

SVG = "{http://www.w3.org/2000/svg}"
MOVED = re.compile(r"translate\(([-\d.e]+),([-\d.e]+)\)")
NUMBER = re.compile(r"-?\d*\.?\d+(?:e-?\d+)?")


@dataclass(frozen=True)
class Mark:
    kind: str
    """The class of the group that holds it: ``mark-rule role-mark …``."""
    x: float
    y: float
    element: ET.Element

    def get(self, name):
        return self.element.get(name)

    @property
    def width(self):
        """Of a rule or a rectangle, with its sign."""
        if self.element.tag == SVG + "line":
            return float(self.element.get("x2"))
        return float(NUMBER.findall(self.element.get("d"))[2])

    @property
    def height(self):
        if self.element.tag == SVG + "line":
            return float(self.element.get("y2"))
        return float(NUMBER.findall(self.element.get("d"))[3])


def marks(svg, kind="", **attributes):
    """All drawn elements in groups of a kind with the given attributes, in the order of the drawing."""
    wanted = {name.replace("_", "-"): value for name, value in attributes.items()}
    return [
        mark
        for mark in walk(ET.fromstring(svg), "", 0.0, 0.0)
        if kind in mark.kind and all(mark.get(name) == value for name, value in wanted.items())
    ]


def walk(element, kind, x, y):
    kind = element.get("class") or kind
    found = MOVED.match(element.get("transform") or "")
    if found:
        x, y = x + float(found[1]), y + float(found[2])
    if element.tag in {SVG + "line", SVG + "text", SVG + "path"}:
        begins = NUMBER.findall(element.get("d") or "") if not found and element.tag == SVG + "path" else []
        yield Mark(
            kind, x + float(begins[0]) if begins else x, y + float(begins[1]) if begins else y, element
        )
    for child in element:
        yield from walk(child, kind, x, y)


def rectangles(svg, **attributes):
    return marks(svg, "mark-rect", **attributes)


def texts(svg):
    return [mark for mark in marks(svg) if mark.element.tag == SVG + "text"]


def words(svg):
    return [mark.element.text for mark in texts(svg)]


def path_points(mark):
    """The corners of a line or an area, on the whole drawing (12 and 4 are the margins)."""
    numbers = [float(number) for number in NUMBER.findall(mark.get("d"))]
    return [(x + 12, y + 4) for x, y in zip(numbers[::2], numbers[1::2], strict=True)]


def axis(svg):
    """The linear scale of a drawing of rows, from its own tick labels: the function from a number to its place."""
    labels = marks(svg, "role-axis-label")
    lines = marks(svg, "mark-rule role-mark", stroke=LIGHT.faint)
    numbers = [float(label.element.text.replace(",", "").replace("−", "-")) for label in labels]
    first, last = min(line.x for line in lines), max(line.x for line in lines)
    return lambda number: first + (last - first) * (number - numbers[0]) / (numbers[-1] - numbers[0])


def middles(found):
    return [mark.x for mark in found]
