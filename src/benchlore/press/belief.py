"""A picture of one job: how each reading moved the suspects."""

import string
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import altair as alt

from benchlore.press.drawing import Label, Picture, Sheet, chart, draw, draw_nothing, on_pixels
from benchlore.press.rows import GAP, Row, lay_rows
from benchlore.press.text import width_of, wrapped
from benchlore.press.theme import LIGHT, LINE_HEIGHT, SERIES
from benchlore.press.values import Belief
from benchlore.units import share

BAR: Final = 20
STRIP: Final = BAR + LINE_HEIGHT + 2
"""A bar and the letters below it."""
SWATCH: Final = 12
INDENT: Final = 40
"""Of a name in the key, behind its swatch and letter."""


@dataclass(frozen=True, slots=True)
class Suspect:
    """A suspect as the picture shows it; the others together have no letter."""

    name: str
    colour: str
    letter: str = ""


@dataclass(frozen=True, slots=True)
class Part:
    """A suspect's part of a bar, in pixels, or its swatch in the key."""

    suspect: Suspect
    left: float
    right: float
    top: float
    bottom: float
    share: float = 0


OTHERS: Final = Suspect("all others", LIGHT.stone)


def draw_belief(steps: Sequence[Belief], *, title: str = "The suspects, reading by reading") -> Picture:
    """Draw a bar of shares after each reading, in order; the strongest suspects have a letter each."""
    if not steps:
        return draw_nothing(title, "No reading was taken on this job, so the suspects never moved.")
    suspects = strongest(steps)
    divided = [divide(step, suspects) for step in steps]
    others = any(suspect is OTHERS for step in divided for suspect, _ in step)

    def compose(width: float) -> Sheet:
        key, swatches, top = key_of([*suspects, OTHERS] if others else suspects, width)
        laid = lay_rows([(step.after, "") for step in steps], width=width, strip=STRIP, top=top)
        parts = [
            part
            for shares, row in zip(divided, laid.rows, strict=True)
            for part in parts_of(shares, row, width)
        ]
        labels = [*key, *laid.labels, *part_labels(parts)]
        return Sheet(laid.height, labels=labels, marks=filled([*swatches, *parts]))

    return draw(title, " ".join(told(step) for step in steps), compose)


def strongest(steps: Sequence[Belief]) -> list[Suspect]:
    """Choose the suspects that ever had the largest shares, the last step's strongest first."""
    highest: dict[str, float] = {}
    for step in steps:
        for name, part in step.shares:
            highest[name] = max(part, highest.get(name, 0.0))
    chosen = sorted(highest, key=lambda name: (-highest[name], name))[: len(SERIES)]
    last = dict(steps[-1].shares)
    chosen.sort(key=lambda name: (-last.get(name, 0.0), -highest[name], name))
    return [
        Suspect(name, colour, letter)
        for name, colour, letter in zip(chosen, SERIES, string.ascii_uppercase, strict=False)
    ]


def divide(step: Belief, suspects: Sequence[Suspect]) -> list[tuple[Suspect, float]]:
    """Divide a step among the suspects; what is left is the others' (rounding leaves nobody anything)."""
    shares = dict(step.shares)
    divided = [(suspect, shares.get(suspect.name, 0.0)) for suspect in suspects]
    left = 1 - sum(part for _, part in divided)
    divided.append((OTHERS, left if left > 1e-6 else 0.0))
    return [(suspect, part) for suspect, part in divided if part > 0]


def key_of(suspects: Sequence[Suspect], width: float) -> tuple[list[Label], list[Part], float]:
    """Set the key, a swatch, a letter and a name for each suspect, and say how high it is."""
    labels: list[Label] = []
    swatches: list[Part] = []
    top = 0.0
    for suspect in suspects:
        lines = wrapped(suspect.name, width - INDENT, lines=2)
        edge = top + (LINE_HEIGHT - SWATCH) / 2
        swatches.append(Part(suspect, 0, SWATCH, edge, edge + SWATCH))
        if suspect.letter:
            labels.append(Label(SWATCH + 8, top + LINE_HEIGHT / 2, suspect.letter))
        labels += [
            Label(INDENT, top + LINE_HEIGHT * (k + 0.5), line, colour=LIGHT.soft)
            for k, line in enumerate(lines)
        ]
        top += LINE_HEIGHT * len(lines) + 2
    return labels, swatches, top + GAP


def parts_of(shares: Sequence[tuple[Suspect, float]], row: Row, width: float) -> list[Part]:
    """Place a step's shares along its bar."""
    parts: list[Part] = []
    left = 0.0
    for suspect, part in shares:
        right = min(width, left + part * width)
        parts.append(Part(suspect, left, right, row.top, row.top + BAR, part))
        left = right
    return parts


def part_labels(parts: Sequence[Part]) -> list[Label]:
    """Write letter and share under each part that is wide enough, the letter alone under the narrower."""
    labels = []
    for part in parts:
        letter, size = part.suspect.letter, share(part.share)
        text = next((text for text in (f"{letter} {size}".strip(), letter) if fits(text, part)), "")
        if text:
            y = part.bottom + 2 + LINE_HEIGHT / 2
            labels.append(Label((part.left + part.right) / 2, y, text, "center"))
    return labels


def fits(text: str, part: Part) -> bool:
    """Whether a text is no wider than a part."""
    return width_of(text) <= part.right - part.left


def filled(parts: Sequence[Part]) -> list[alt.Chart]:
    """Draw the parts, a layer for each colour, rimmed so that pale ones show on paper."""
    layers = []
    for colour in dict.fromkeys(part.suspect.colour for part in parts):
        values = [
            {"x": part.left, "x2": part.right, "y": part.top, "y2": part.bottom}
            for part in parts
            if part.suspect.colour == colour
        ]
        layer = chart(values).mark_rect(fill=colour, fillOpacity=1, stroke=LIGHT.soft, strokeWidth=0.75)
        layers.append(on_pixels(layer))
    return layers


def told(step: Belief) -> str:
    """Tell the three strongest suspects of a step in words."""
    strong = sorted(step.shares, key=lambda pair: (-pair[1], pair[0]))[:3]
    suspects = ", ".join(f"{name} {share(part)}" for name, part in strong if part > 0)
    return f"{step.after}: {suspects or 'no suspect'}."
