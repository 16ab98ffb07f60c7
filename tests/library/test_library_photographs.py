"""Photographs are given away bare: no place, serial number, name or preview, upright, and pixel for pixel."""

import struct
import zlib
from io import BytesIO

import pytest
from PIL import Image, ImageCms, ImageDraw
from PIL.ExifTags import GPS, IFD, Base
from PIL.PngImagePlugin import PngInfo

from benchlore.library.photographs import PhotographError, bare_photograph

SECRETS = (b"SERIAL-0815", b"Harbour Lane", b"GPSLatitude", b"MUELLER", b"PREVIEW")
XMP = b"http://ns.adobe.com/xap/1.0/\x00<x:xmpmeta>GPSLatitude Harbour Lane</x:xmpmeta>"
IPTC = b"Photoshop 3.0\x008BIM\x04\x04\x00\x00\x00\x00\x00\x0e\x1c\x02\x5a\x00\x0cHarbour Lane"


def picture(mode="RGB"):
    """A picture whose corners differ."""
    found = Image.new(mode, (64, 40), "white")
    ImageDraw.Draw(found).rectangle((0, 0, 20, 10), fill="black")
    return found


def exif(orientation=1):
    """What a telephone notes: where, with which camera (CIPA DC-008, Exif 2.32, sections 4.6.4 to 4.6.6)."""
    found = Image.Exif()
    found[Base.Orientation] = orientation
    found[Base.Artist] = "MUELLER"
    found.get_ifd(IFD.Exif)[Base.BodySerialNumber] = "SERIAL-0815"
    place = found.get_ifd(IFD.GPSInfo)
    place[GPS.GPSLatitudeRef], place[GPS.GPSLatitude] = "N", (53.0, 32.0, 51.5)
    return found


def photograph(orientation=1, **options):
    """A JPEG with every kind of note that cameras and programs leave, and a second picture after its end."""
    packed = BytesIO()
    picture().save(packed, "JPEG", exif=exif(orientation), comment=b"MUELLER", progressive=True, **options)
    content = packed.getvalue()
    extra = b"".join(
        b"\xff" + bytes([marker]) + struct.pack(">H", len(data) + 2) + data
        for marker, data in (
            (0xE1, XMP),
            (0xED, IPTC),
            (0xE0, b"JFXX\x00\x10PREVIEW"),
            (0xE2, b"FPXR\x00PREVIEW"),
        )
    )
    return content[:2] + extra + content[2:] + b"\xff\xd8PREVIEW"


def screenshot(orientation=1):
    packed, notes = BytesIO(), PngInfo()
    notes.add_text("Author", "MUELLER")
    notes.add_text("Location", "Harbour Lane", zip=True)
    notes.add_itxt("XML:com.adobe.xmp", "GPSLatitude")
    picture().save(packed, "PNG", pnginfo=notes, exif=exif(orientation))
    return packed.getvalue() + b"PREVIEW"


def opened(content):
    found = Image.open(BytesIO(content))
    found.load()
    return found


@pytest.mark.parametrize("content", [photograph(), screenshot()], ids=["JPEG", "PNG"])
def test_nothing_that_was_noted_stays_and_every_pixel_does(content):
    assert opened(content).getexif().get_ifd(IFD.GPSInfo)  # it is there, so that this test can fail
    bare = bare_photograph(content)
    found = opened(bare)
    assert not found.getexif()
    assert not [secret for secret in SECRETS if secret in bare]
    assert found.info.keys() <= {
        "jfif",
        "jfif_version",
        "jfif_unit",
        "jfif_density",
        "progressive",
        "progression",
    }
    assert found.tobytes() == opened(content).tobytes()
    assert bare_photograph(bare) == bare


@pytest.mark.parametrize("orientation", range(1, 9))
@pytest.mark.parametrize("make", [photograph, screenshot])
def test_a_picture_stands_as_it_was_held(make, orientation):
    """Exif 2.32, table 4, tag Orientation: the visual top-left corner's place in rows and columns."""
    bare = bare_photograph(make(orientation))
    found = opened(bare).convert("L")
    assert found.size == ((64, 40) if orientation < 5 else (40, 64))
    width, height = found.size
    corners = {1: (0, 0), 2: (1, 0), 3: (1, 1), 4: (0, 1), 5: (0, 0), 6: (1, 0), 7: (1, 1), 8: (0, 1)}
    right, below = corners[orientation]
    assert found.getpixel((2 + right * (width - 5), 2 + below * (height - 5))) < 60
    assert found.getpixel((2 + (not right) * (width - 5), 2 + (not below) * (height - 5))) > 200
    assert bare_photograph(bare) == bare


def test_a_pictures_own_colours_become_those_of_srgb():
    packed = BytesIO()
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    picture().save(packed, "JPEG", icc_profile=profile + b"SERIAL-0815", quality=95)
    bare = bare_photograph(packed.getvalue())
    assert "icc_profile" not in opened(bare).info
    assert b"SERIAL" not in bare
    assert opened(bare).getpixel((60, 35)) == (255, 255, 255)


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"GIF89a",
        photograph()[:300],
        screenshot()[:-40],
        b"\x89PNG\r\n\x1a\n" + struct.pack(">I", 2**31) + b"IHDR",
        b"\xff\xd8" + b"\xff" * 100,
    ],
)
def test_what_is_damaged_is_refused(content):
    with pytest.raises(PhotographError):
        bare_photograph(content)


def test_a_picture_of_too_many_pixels_is_refused():
    head = b"IHDR" + struct.pack(">IIBBBBB", 60_000, 60_000, 8, 2, 0, 0, 0)
    content = b"\x89PNG\r\n\x1a\n" + struct.pack(">I", 13) + head + struct.pack(">I", zlib.crc32(head))
    with pytest.raises(PhotographError):
        bare_photograph(content)
