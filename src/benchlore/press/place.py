"""Where to probe or to work: a picture of the book, the place on it, and a window around the place."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final, TypeAlias

from benchlore.book import Check, Fix

CROP: Final = 0.35
"""The side of the window around a place, as a share of the picture."""


@dataclass(frozen=True, slots=True)
class Place:
    """A picture of the book in its own pixels, and the place on it, if it names one."""

    file: str
    width: float
    height: float
    at: tuple[float, float] | None

    @property
    def window(self) -> str:
        """A view of the part around the place, about a third as wide as the picture's longer side."""
        assert self.at is not None
        size = CROP * max(self.width, self.height)
        left = min(max(0.0, self.at[0] - size / 2), max(0.0, self.width - size))
        top = min(max(0.0, self.at[1] - size / 3), max(0.0, self.height - size * 2 / 3))
        return f"{left:.4g} {top:.4g} {size:.4g} {size * 2 / 3:.4g}"


Size: TypeAlias = Callable[[str], tuple[float, float] | None]
"""The size of a picture of the book, by its file."""


def place_of(entry: Check | Fix, size: Size) -> Place | None:
    """Say where a check or fix takes place; ``None`` where the book shows no picture, or none that can be."""
    picture = entry.picture
    if picture is None or (found := size(picture.file)) is None:
        return None
    return Place(picture.file, *found, picture.at)
