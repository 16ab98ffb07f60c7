"""A book's pictures: found by name inside its folder alone, with their size in their own pixels."""

import struct
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from math import isfinite
from typing import Final

from defusedxml import ElementTree
from defusedxml.common import DefusedXmlException

from benchlore.library.errors import NoPictureError
from benchlore.library.folder import Library
from benchlore.library.photographs import JPEG, PNG, bare_photograph
from benchlore.library.svg_cleaning import clean_svg

MEDIA: Final = {".svg": "image/svg+xml", ".png": "image/png", ".jpg": "image/jpeg", ".jpeg": "image/jpeg"}
MOST_BYTES: Final = 20 * 1024**2
FRAMES: Final = frozenset({*range(0xC0, 0xD0)} - {0xC4, 0xC8, 0xCC})
"""Markers of a JPEG that carry its size (ITU-T T.81, table B.1: start of frame)."""


@dataclass(frozen=True, slots=True)
class BookPicture:
    """A picture of a book: its bytes, what kind they are, and its size (``None``: it does not say)."""

    content: bytes
    media: str
    size: tuple[float, float] | None


def picture_of(library: Library, board: str, name: str) -> BookPicture:
    """Read a picture that lies in a book's folder, upright, and without what a camera noted in it.

    A drawing is somebody's file, and only what draws in it is read.

    Raises
    ------
    NoBookError
        If there is no such book.
    NoPictureError
        If there is no such picture in its folder, or it is of no kind that a page shows, too large, damaged.
    """
    folder = library.book_file(board).parent.resolve()
    try:
        path = (folder / name).resolve()
        media = MEDIA.get(path.suffix.lower())
        if media is None or not path.is_relative_to(folder) or not path.is_file():
            raise NoPictureError(board, name)
        if path.stat().st_size > MOST_BYTES:
            raise NoPictureError(board, name)
        content = path.read_bytes()
        bare = clean_svg(content) if media == MEDIA[".svg"] else bare_photograph(content)
    except (OSError, ValueError):  # the latter where no file can have the name, or the picture is damaged
        raise NoPictureError(board, name) from None
    if bare is None:
        raise NoPictureError(board, name)
    return BookPicture(bare, media, size_of(bare, media))


def size_of(content: bytes, media: str) -> tuple[float, float] | None:
    """Width and height of a picture in its own pixels, or ``None`` where it does not say."""
    try:
        found = _SIZES[media](content)
    except (ValueError, struct.error, LookupError, ElementTree.ParseError, DefusedXmlException):
        return None
    return found if found and all(isfinite(side) and side > 0 for side in found) else None


def _png_size(content: bytes) -> tuple[float, float] | None:
    """The first chunk holds the size (W3C PNG, third edition, section 11.2.1)."""
    if not content.startswith(PNG) or content[12:16] != b"IHDR":
        return None
    width, height = struct.unpack(">II", content[16:24])
    return float(width), float(height)


def _jpeg_size(content: bytes) -> tuple[float, float] | None:
    if not content.startswith(JPEG):
        return None
    place = 2
    while content[place] == 0xFF:
        marker = content[place + 1]
        if marker == 0xFF:  # a fill byte (T.81, B.1.1.2)
            place += 1
            continue
        (length,) = struct.unpack(">H", content[place + 2 : place + 4])
        if marker in FRAMES:
            height, width = struct.unpack(">HH", content[place + 5 : place + 9])
            return float(width), float(height)
        place += 2 + length
    return None


def _svg_size(content: bytes) -> tuple[float, float] | None:
    root = ElementTree.fromstring(content)
    if view := root.get("viewBox"):
        _, _, width, height = (float(part) for part in view.replace(",", " ").split())
        return width, height
    width, height = root.get("width"), root.get("height")
    return (float(width.removesuffix("px")), float(height.removesuffix("px"))) if width and height else None


_SIZES: Final[Mapping[str, Callable[[bytes], tuple[float, float] | None]]] = {
    "image/png": _png_size,
    "image/jpeg": _jpeg_size,
    "image/svg+xml": _svg_size,
}
