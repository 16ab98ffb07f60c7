"""Photographs without what a camera wrote into them: places, serial numbers, names, comments, previews.

What remains is what shows the picture, and nothing else: parts of a file are kept by a list of those that are
needed. Pixels stay as they are, to the bit, but for two cases: a picture that the camera held otherwise is
turned, and one in colours of its own is brought to sRGB, as both would otherwise look wrong afterwards.
"""

import re
from collections.abc import Iterator
from functools import lru_cache
from io import BytesIO
from typing import Final

from PIL import Image, ImageCms, ImageOps

PNG: Final = b"\x89PNG\r\n\x1a\n"
JPEG: Final = b"\xff\xd8"
QUALITY: Final = 92
"""Of a photograph that has to be packed anew (Pillow's scale of 0 to 95)."""
ORIENTATION: Final = 0x0112
"""Exif tag of how the camera was held (CIPA DC-008, Exif 2.32, table 4); 1 is upright."""

_PNG_KEPT: Final = frozenset(
    [b"IHDR", b"PLTE", b"IDAT", b"IEND", b"tRNS", b"bKGD", b"cHRM", b"gAMA", b"sBIT", b"sRGB", b"pHYs"]
)
"""Chunks that say how pixels look (W3C PNG, third edition, section 11)."""

_JPEG_KEPT: Final = frozenset({*range(0xC0, 0xD0), 0xDA, 0xDB, 0xDC, 0xDD, 0xDE, 0xDF, 0xE0, 0xEE})
"""Markers of frames, tables, scans (ITU-T T.81, table B.1), JFIF's APP0, the colour transform's APP14."""

_APPS: Final = {0xE0: b"JFIF\x00", 0xEE: b"Adobe"}
_SCAN: Final = 0xDA
_END: Final = 0xD9
_NEXT_MARKER: Final = re.compile(rb"\xff+[^\x00\xd0-\xd7\xff]")
"""In a scan, a marker that is neither a stuffed byte nor a restart (T.81, B.1.1.5 and F.1.2.3)."""


class PhotographError(ValueError):
    """A picture is not what its ending says, or is damaged, so that nobody knows what is in it."""


@lru_cache(maxsize=4)
def bare_photograph(content: bytes) -> bytes:
    """Return a JPEG or PNG with nothing but the picture, upright; equal bytes give equal bytes.

    What is bare already comes back as it is.

    Raises
    ------
    PhotographError
        If it is neither, or damaged.
    """
    try:
        return _bare(_upright(content))
    except (OSError, SyntaxError, ValueError, LookupError, Image.DecompressionBombError) as error:
        raise PhotographError(str(error)) from error


def _bare(content: bytes) -> bytes:
    if content.startswith(PNG):
        return PNG + b"".join(_png_chunks(content))
    if content.startswith(JPEG):
        return JPEG + b"".join(_jpeg_segments(content)) + bytes([0xFF, _END])
    raise PhotographError("neither JPEG nor PNG")


def _upright(content: bytes) -> bytes:
    """Turn a picture as it was held, and bring its colours to sRGB, where the file says so."""
    with Image.open(BytesIO(content), formats=["JPEG", "PNG"]) as picture:
        turned = picture.getexif().get(ORIENTATION, 1) not in {0, 1}
        profile = picture.info.get("icc_profile")
        kind = picture.format
        if not turned and not profile:
            return content
        upright = _in_srgb(ImageOps.exif_transpose(picture), profile)
    packed = BytesIO()
    if kind == "PNG":
        upright.save(packed, "PNG", icc_profile=None)
    else:
        upright.save(packed, "JPEG", quality=QUALITY, subsampling=0, icc_profile=None)
    return packed.getvalue()


def _in_srgb(picture: Image.Image, profile: bytes | None) -> Image.Image:
    """Bring a picture's colours to sRGB; a profile that cannot be read says nothing of them."""
    if not profile or picture.mode not in {"RGB", "RGBA", "CMYK"}:
        return picture
    mode = "RGBA" if picture.mode == "RGBA" else "RGB"
    try:
        own = ImageCms.ImageCmsProfile(BytesIO(profile))
        found = ImageCms.profileToProfile(picture, own, ImageCms.createProfile("sRGB"), outputMode=mode)
    except (ImageCms.PyCMSError, OSError):
        return picture
    assert found is not None
    return found


def _png_chunks(content: bytes) -> Iterator[bytes]:
    place = len(PNG)
    while True:
        length, kind = int.from_bytes(content[place : place + 4]), content[place + 4 : place + 8]
        end = place + 12 + length
        if end > len(content):
            raise PhotographError("it ends too early")
        if kind in _PNG_KEPT:
            yield content[place:end]
        if kind == b"IEND":
            return
        place = end


def _jpeg_segments(content: bytes) -> Iterator[bytes]:
    """Give the segments that are needed; a scan goes along with the coded data after it."""
    place = len(JPEG)
    while True:
        while content[place + 1] == 0xFF:  # a fill byte (T.81, B.1.1.2)
            place += 1
        marker = content[place + 1]
        if content[place] != 0xFF:
            raise PhotographError("it is damaged")
        if marker == _END:
            return
        end = place + 2 + int.from_bytes(content[place + 2 : place + 4])
        if marker == _SCAN:
            found = _NEXT_MARKER.search(content, end)
            if found is None:
                raise PhotographError("it ends too early")
            end = found.start()
        if marker in _JPEG_KEPT and content.startswith(_APPS.get(marker, b""), place + 4):
            yield _without_preview(content[place:end]) if marker == 0xE0 else content[place:end]
        place = end


def _without_preview(segment: bytes) -> bytes:
    """Keep of JFIF's head what is needed, and not the small picture that may follow (JFIF 1.02)."""
    return b"\xff\xe0\x00\x10" + segment[4:16] + b"\x00\x00" if len(segment) >= 18 else b""
