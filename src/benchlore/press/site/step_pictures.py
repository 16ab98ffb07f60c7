"""Where a page's steps take place: each picture and each place on it once, however many steps show it."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from benchlore.press.place import Place, place_of
from benchlore.press.site.sources import ComplaintSource, Pictures

RING: Final = 0.025
"""The radius of the ring around a place, as a share of the picture's width."""


WIDE: Final = 480
"""How wide a close-up and the whole picture below it are drawn."""


@dataclass(frozen=True, slots=True)
class Shown:
    """A picture of the book, by its ``number`` on the page, in its own pixels."""

    number: int
    file: str
    width: float
    height: float

    @property
    def ring(self) -> float:
        """The radius of the ring around a place on it."""
        return round(self.width * RING, 1)

    @property
    def high(self) -> int:
        """How high it is drawn below the close-up."""
        return round(WIDE * self.height / self.width)


@dataclass(frozen=True, slots=True)
class ShownPlace:
    """A place, by its ``number`` on the page, on a picture; all of it where the book names no place."""

    number: int
    picture: Shown
    place: Place


@dataclass(frozen=True, slots=True)
class StepPictures:
    """All pictures and places of a page, and the place of each step that has one, by the step's number."""

    pictures: tuple[Shown, ...]
    places: tuple[ShownPlace, ...]
    at_step: Mapping[int, ShownPlace]


def step_pictures(source: ComplaintSource, pictures: Pictures) -> StepPictures:
    """Find the places of a page's steps."""
    sizes = {name: each.size for name, each in pictures.items()}
    shown: dict[str, Shown] = {}
    places: dict[Place, ShownPlace] = {}
    at_step: dict[int, ShownPlace] = {}
    for number, step in enumerate(source.steps, start=1):
        entry = source.entry_of(step)
        place = None if entry is None else place_of(entry, sizes.get)
        if place is None:
            continue
        picture = Shown(len(shown) + 1, place.file, place.width, place.height)
        picture = shown.setdefault(place.file, picture)
        at_step[number] = places.setdefault(place, ShownPlace(len(places) + 1, picture, place))
    return StepPictures(tuple(shown.values()), tuple(places.values()), at_step)
