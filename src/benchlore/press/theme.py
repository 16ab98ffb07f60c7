"""Colours and sizes of pictures and pages, one palette for each colour scheme.

Pictures are drawn in the light palette, each colour only in its role. The page's style sheet gives every
colour of a picture its dark partner, so that one drawing serves both schemes, and a picture that stands alone
is whole. Colours differ in lightness as well as in hue (copper against teal), and nothing is told by colour
alone.
"""

from dataclasses import astuple, dataclass, fields
from typing import Final


@dataclass(frozen=True, slots=True)
class Palette:
    """The colours of one scheme, as ``#rrggbb``; no two roles share one."""

    paper: str
    """Behind everything."""
    ink: str
    """Text."""
    soft: str
    """Text of less weight, axes, outlines."""
    faint: str
    """Grid lines, rules of tables."""
    wash: str
    """Behind a caution and behind the head of a table."""
    link: str
    """Links, and headings of the house's colour: copper, dark enough to read."""
    copper: str
    """What the picture is about."""
    teal: str
    """What it is compared with, and goals."""
    sand: str
    sea: str
    umber: str
    stone: str
    """Further suspects, and last the rest together."""


LIGHT: Final = Palette(
    paper="#fefdfb",
    ink="#25221f",
    soft="#625c55",
    faint="#dad5cd",
    wash="#f4efe7",
    link="#8a4d1b",
    copper="#b06a30",
    teal="#17595c",
    sand="#dcb98f",
    sea="#7fb3b0",
    umber="#4d4640",
    stone="#c8c3bb",
)
DARK: Final = Palette(
    paper="#1a1917",
    ink="#e9e5de",
    soft="#aca59b",
    faint="#3d3a36",
    wash="#262420",
    link="#e0a571",
    copper="#d18d54",
    teal="#3f9697",
    sand="#80603f",
    sea="#78b5b0",
    umber="#f3eee5",
    stone="#5b5650",
)

SERIES: Final = (LIGHT.copper, LIGHT.teal, LIGHT.sand, LIGHT.sea, LIGHT.umber)
"""Colours of parts of a whole, in their order; neighbours differ most."""

ROLES: Final = tuple(field.name for field in fields(Palette))

FONT: Final = "sans-serif"
FONT_SIZE: Final = 13
LINE_HEIGHT: Final = 17
WIDE: Final = 640
"""Width of the drawing for a page, in pixels, at which its text has its own size."""
NARROW: Final = 340
"""Width of the drawing for a telephone."""
MARGIN: Final = 12
"""Left and right of what is drawn."""


def recoloured() -> tuple[tuple[str, str], ...]:
    """Each colour of a drawing with the role that a page gives it."""
    return tuple(zip(astuple(LIGHT), ROLES, strict=True))
