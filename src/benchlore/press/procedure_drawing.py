"""A procedure as a drawing: boxes from left to right, the most likely way first, each a link to its step.

The layers and the places within them are Sugiyama's (Sugiyama, Tagawa & Toda 1981, "Methods for visual
understanding of hierarchical system structures", IEEE Transactions on Systems, Man, and Cybernetics 11),
as igraph lays them out. A box lists its step's results; a line leaves from its result.
"""

import html
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby, pairwise
from typing import Final

import igraph

from benchlore.library import Onward, Sheet, SheetStep
from benchlore.press.text import cut, printable, width_of, wrapped
from benchlore.press.theme import FONT, FONT_SIZE, LIGHT, LINE_HEIGHT
from benchlore.procedure import Kind
from benchlore.units import share

BOX: Final = 250
"""Width of a box in pixels."""
PAD: Final = 9
ROOM: Final = 90
"""Between two layers: where lines run."""
GAP: Final = 18
"""Between two boxes of a layer."""
EDGE: Final = 8
"""Around the whole."""
THICKEST: Final = 7.0

Place = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Drawing:
    """A drawing and its own size in pixels; its links lead to ``#``, the prefix and a step's number."""

    svg: str
    width: int
    height: int


@dataclass(frozen=True, slots=True)
class Box:
    """A step's box: its text, set, and where it stands."""

    step: SheetStep
    title: tuple[str, ...]
    left: float
    top: float

    @property
    def height(self) -> float:
        """How high its text makes it."""
        return height_of(self.step, self.title)

    def way_out(self, k: int) -> Place:
        """Where the line of a result begins."""
        lines = len(self.title) + 1 + k + 0.5
        return self.left + BOX, self.top + PAD + LINE_HEIGHT * lines + 4

    @property
    def way_in(self) -> Place:
        """Where lines end."""
        return self.left, self.top + PAD + LINE_HEIGHT / 2


def draw_procedure(sheet: Sheet, *, title: str, prefix: str) -> Drawing:
    """Draw a sheet's steps; a step's box links to ``#{prefix}{number}``. Equal sheets give equal text.

    How its texts look says ``knowledge.css``: said with each, it would be a third of the drawing.
    A return has no box, unless it is all there is: lines to it from everywhere would hide the others.
    """
    steps = [step for step in sheet.steps if step.kind is not Kind.RETURN or len(sheet.steps) == 1]
    boxes, bends = _laid_out(steps)
    width = max(box.left + BOX for box in boxes.values()) + EDGE
    height = max(box.top + box.height for box in boxes.values()) + EDGE
    ways = "".join(_ways(boxes, bends))
    drawn = "".join(_box(box, prefix) for box in boxes.values())
    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" role="group" aria-label="{_safe(title)}" '
        f'width="{width:.0f}" height="{height:.0f}" viewBox="0 0 {width:.0f} {height:.0f}" '
        f'font-family="{FONT}" font-size="{FONT_SIZE}">'
        f'<g fill="none" stroke-linecap="round">{ways}</g>'
        f'<g fill="{LIGHT.paper}" stroke="{LIGHT.soft}">{drawn}</g></svg>'
    )
    return Drawing(svg, round(width), round(height))


def height_of(step: SheetStep, title: Sequence[str]) -> float:
    """Return the height of a box: title, reach, and a line for each result."""
    return 2 * PAD + LINE_HEIGHT * (len(title) + 1 + len(step.onward)) + (4 if step.onward else 0)


def _laid_out(steps: Sequence[SheetStep]) -> tuple[dict[int, Box], dict[tuple[int, int], list[Place]]]:
    """Place the boxes, and the bends of lines that pass other layers."""
    titles = {step.number: wrapped(f"{step.number}. {step.title}", BOX - 2 * PAD, lines=3) for step in steps}
    place = {step.number: k for k, step in enumerate(steps)}
    links = sorted({(step.number, to.step) for step in steps for to in step.onward if to.step in place})
    layer = _layers(steps)
    depth = [layer[step.number] for step in steps]
    edges: list[tuple[int, int]] = []
    passed: dict[tuple[int, int], list[int]] = {}
    for a, b in links:  # a line that passes layers gets a place in each of them
        inner = range(len(depth), len(depth) + layer[b] - layer[a] - 1)
        depth += range(layer[a] + 1, layer[b])
        passed[a, b] = list(inner)
        edges += pairwise([place[a], *inner, place[b]])
    graph = igraph.Graph(n=len(depth), edges=edges, directed=True)
    points = graph.layout_sugiyama(layers=depth, maxiter=200).coords
    rank = _in_layers([point[0] for point in points], depth, steps, titles)
    boxes = {
        step.number: Box(step, titles[step.number], EDGE + depth[k] * (BOX + ROOM), EDGE + rank[k])
        for k, step in enumerate(steps)
    }
    bends = {
        link: [(EDGE + depth[k] * (BOX + ROOM) + BOX / 2, EDGE + rank[k]) for k in inner]
        for link, inner in passed.items()
    }
    return boxes, bends


def _layers(steps: Sequence[SheetStep]) -> dict[int, int]:
    """Put a step one layer after the last that leads to it; steps only lead onwards."""
    layer = {step.number: 0 for step in steps}
    for step in steps:
        for to in step.onward:
            if to.step in layer:
                layer[to.step] = max(layer[to.step], layer[step.number] + 1)
    return layer


def _in_layers(
    across: Sequence[float],
    depth: Sequence[int],
    steps: Sequence[SheetStep],
    titles: Mapping[int, Sequence[str]],
) -> list[float]:
    """Set each layer's boxes below each other, as high as they are, as near to their places as there is room.

    A box is as high as its text; igraph places points. So each layer keeps igraph's order, and a box is
    moved down where the one above needs the room.
    """
    heights = [height_of(step, titles[step.number]) for step in steps]
    unit = sum(heights) / len(heights) + GAP
    least = min(across)
    tops = [0.0] * len(depth)
    layers: dict[int, list[int]] = {}
    for k, layer in enumerate(depth):
        layers.setdefault(layer, []).append(k)
    for members in layers.values():
        floor = 0.0
        for k in sorted(members, key=lambda k: (across[k], k)):
            tops[k] = max(floor, (across[k] - least) * unit)
            floor = tops[k] + (heights[k] + GAP if k < len(steps) else LINE_HEIGHT)
    return tops


def _ways(boxes: Mapping[int, Box], bends: Mapping[tuple[int, int], list[Place]]) -> Iterator[str]:
    """Draw a line for each result that leads on, the broader the more jobs take it; the likeliest last."""
    lines = [
        (box.step.reach * to.chance, _line(box, k, to, boxes, bends))
        for box in boxes.values()
        for k, to in enumerate(box.step.onward)
        if to.step in boxes
    ]
    for strokes, alike in groupby(sorted(lines), key=lambda line: _strokes(line[0])):
        yield f'<path d="{"".join(path for _, path in alike)}" {strokes}/>'


def _strokes(taken: float) -> str:
    """How a line looks that a share of jobs takes."""
    colour = LIGHT.copper if taken >= 0.1 else LIGHT.soft
    return f'stroke="{colour}" stroke-width="{max(1.2, THICKEST * taken):.1f}"'


def _line(
    box: Box,
    k: int,
    to: Onward,
    boxes: Mapping[int, Box],
    bends: Mapping[tuple[int, int], list[Place]],
) -> str:
    assert to.step is not None
    points = [box.way_out(k)]
    for x, y in bends[box.step.number, to.step]:
        points += [(x - BOX / 2, y), (x + BOX / 2, y)]
    points.append(boxes[to.step].way_in)
    (x, y), *further = [(round(x), round(y)) for x, y in points]
    path = f"M{x} {y}"
    for n, (x2, y2) in enumerate(further):  # each from the last one on, which is short: pages hold hundreds
        across, down = x2 - x, y2 - y
        half = round(across / 2)
        path += f"h{across}" if n % 2 == 1 else f"c{half} 0 {half} {down} {across} {down}"
        x, y = x2, y2
    return path


def _box(box: Box, prefix: str) -> str:
    """Draw a box: a check square, a fix round and washed, a return dashed; the words say it too."""
    step = box.step
    shape = {
        Kind.CHECK: 'rx="2"',
        Kind.FIX: f'rx="12" fill="{LIGHT.wash}" stroke="{LIGHT.ink}" stroke-width="1.5"',
        Kind.RETURN: 'rx="2" stroke-dasharray="5 4"',
    }[step.kind]
    title = "".join(_text(box, n, _safe(line)) for n, line in enumerate(box.title))
    reached = _text(box, len(box.title), _safe(step.reached))
    results = "".join(_result(box, k, to) for k, to in enumerate(step.onward))
    return (
        f'<a href="#{_safe(prefix)}{step.number}">'
        f'<rect x="{box.left:.0f}" y="{box.top:.0f}" width="{BOX}" height="{box.height:.0f}" {shape}/>'
        f"<g>{title}</g>{reached}{results}</a>"
    )


def _result(box: Box, k: int, to: Onward) -> str:
    """Set a result at the left, and on its line, at the right, its chance and where it leads."""
    end = f"{share(to.chance)} → {to.end or to.step}"
    result = cut(to.result, BOX - 3 * PAD - width_of(end))
    x = f"{box.left + BOX - PAD:.0f}"
    right = f'<tspan x="{x}">{_safe(end)}</tspan>'
    return _text(box, len(box.title) + 1 + k, _safe(result) + right, drop=4)


def _text(box: Box, line: int, content: str, *, drop: float = 0) -> str:
    y = box.top + PAD + LINE_HEIGHT * line + FONT_SIZE + drop
    return f'<text x="{box.left + PAD:.0f}" y="{y:.0f}">{content}</text>'


def _safe(text: str) -> str:
    return html.escape(printable(text))
