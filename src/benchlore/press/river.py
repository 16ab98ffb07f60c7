"""The belief river: how each suspect's share moved with each reading of one job.

Drawn as plain SVG without a chart library, since it is drawn anew after every entry.
"""

from collections.abc import Sequence
from typing import Final

from markupsafe import Markup, escape

from benchlore.units import share

NAME: Final = 18
"""The least height of a band that carries its letter."""
LETTERS: Final = "ABCDEF"
TOP: Final = 8
HEIGHT: Final = 180


def river(
    names: Sequence[str], shares: Sequence[Sequence[float]], moved_by: Sequence[str], width: int
) -> Markup:
    """Draw bands of shares from left to right, one for each suspect, the rest on top.

    ``shares`` has a row for each moment, ``moved_by`` says what led to it; bands carry letters, which the key
    beside the picture explains, so nothing is told by colour alone.
    """
    count = len(shares)
    if count < 2:
        return Markup()
    xs = [width * k / (count - 1) for k in range(count)]
    below = [0.0] * count
    told = escape(_told(names, shares, moved_by))
    parts = [f'<svg class="river" viewBox="0 0 {width} {HEIGHT + 2 * TOP}" role="img" aria-label="{told}">']
    for place, _ in enumerate(names):
        above = [low + row[place] for low, row in zip(below, shares, strict=True)]
        edge = [f"{x:.1f} {_y(y):.1f}" for x, y in zip(xs, above, strict=True)]
        back = [f"{x:.1f} {_y(y):.1f}" for x, y in zip(reversed(xs), reversed(below), strict=True)]
        parts.append(f'<path class="band band-{place}" d="M{"L".join(edge)}L{"L".join(back)}Z"/>')
        parts.extend(_letters(place, xs, below, above, width))
        below = above
    parts += [f'<line class="moment" x1="{x:.1f}" x2="{x:.1f}" y1="{TOP}" y2="{TOP + HEIGHT}"/>' for x in xs]
    parts.append("</svg>")
    return Markup("".join(parts))  # noqa: S704 every text in it is escaped above


def _letters(
    place: int, xs: Sequence[float], below: Sequence[float], above: Sequence[float], width: int
) -> list[str]:
    """The band's letter where the band is widest, and high enough to hold it."""
    heights = [high - low for low, high in zip(below, above, strict=True)]
    widest = max(range(len(xs)), key=lambda k: heights[k])
    if heights[widest] * HEIGHT < NAME:
        return []
    x = min(max(xs[widest], 12.0), width - 12.0)
    y = _y((below[widest] + above[widest]) / 2) + 5
    at = f'x="{x:.1f}" y="{y:.1f}" text-anchor="middle"'
    return [f'<text class="letter letter-{place}" {at}>{LETTERS[place]}</text>']


def _y(share_: float) -> float:
    return TOP + HEIGHT * (1 - min(1.0, share_))


def _told(names: Sequence[str], shares: Sequence[Sequence[float]], moved_by: Sequence[str]) -> str:
    said = []
    for text, row in zip(moved_by, shares, strict=True):
        strongest = sorted(zip(row, names, strict=True), reverse=True)[:2]
        said.append(f"{text}: {', '.join(f'{name} {share(part)}' for part, name in strongest)}")
    return ". ".join(said)
