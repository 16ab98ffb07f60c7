"""A book's pictures: sizes as the formats' standards say, and nothing outside the book's folder."""

import struct
import zlib

import pytest
from PIL import Image
from PIL.ExifTags import Base

from benchlore.library import NoBookError, NoPictureError, picture_of, pictures
from benchlore.library.pictures import size_of


def png(width, height):
    """A PNG's signature and first chunk (W3C PNG, third edition, sections 5.2 and 11.2.1)."""
    head = b"IHDR" + struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + struct.pack(">I", 13) + head + struct.pack(">I", zlib.crc32(head))


def jpeg(width, height, *, frame=0xC0, before=b""):
    """A JPEG's start, application segment and frame header (ITU-T T.81, B.2.1 and B.2.2)."""
    application = b"\xff\xe0" + struct.pack(">H", 6) + b"JFIF"
    header = b"\xff" + bytes([frame]) + struct.pack(">HBHHB", 8, 8, height, width, 0)
    return b"\xff\xd8" + application + before + header


@pytest.mark.parametrize("frame", [0xC0, 0xC1, 0xC2, 0xCF])
def test_a_jpeg_says_its_size_in_whichever_frame(frame):
    assert size_of(jpeg(640, 480, frame=frame), "image/jpeg") == (640.0, 480.0)


def test_tables_and_fill_bytes_before_the_frame_of_a_jpeg_are_passed_over():
    table = b"\xff\xc4" + struct.pack(">H", 4) + b"ab"
    assert size_of(jpeg(640, 480, before=table + b"\xff\xff"), "image/jpeg") == (640.0, 480.0)


def test_a_png_says_its_size():
    assert size_of(png(640, 480), "image/png") == (640.0, 480.0)


@pytest.mark.parametrize(
    ("attributes", "size"),
    [
        ('viewBox="0 0 64 48"', (64.0, 48.0)),
        ('viewBox="0,0,64,48"', (64.0, 48.0)),
        ('viewBox="0 0 64 48" width="640" height="480"', (64.0, 48.0)),
        ('width="640" height="480px"', (640.0, 480.0)),
        ("", None),
        ('width="64"', None),
        ('width="10cm" height="2cm"', None),
        ('viewBox="0 0 64"', None),
        ('viewBox="0 0 nan 48"', None),
        ('viewBox="0 0 1e999 48"', None),
        ('viewBox="0 0 0 48"', None),
        ('viewBox="0 0 64 -48"', None),
    ],
)
def test_a_drawing_says_its_size_or_none(attributes, size):
    drawing = f'<svg xmlns="http://www.w3.org/2000/svg" {attributes}/>'.encode()
    assert size_of(drawing, "image/svg+xml") == size


@pytest.mark.parametrize("media", ["image/png", "image/jpeg", "image/svg+xml"])
@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"\xff",
        b"\xff\xd8",
        b"\xff\xd8\xff",
        b"\xff\xd8\xff\xc0\x00\x08\x08",
        b"\xff\xd8\xff\xe0\x00\x00" * 3,
        b"\x89PNG\r\n\x1a\n",
        png(0, 480),
        png(1, 1)[:20],
        b"<svg",
        b"<?xml version='1.0' encoding='no-such'?><svg/>",
        b"<!DOCTYPE s [<!ENTITY a 'aaaa'><!ENTITY b '&a;&a;'>]><svg viewBox='0 0 1 1'>&b;</svg>",
        b"<!DOCTYPE s [<!ENTITY a SYSTEM 'file:///etc/passwd'>]><svg viewBox='0 0 1 1'>&a;</svg>",
    ],
)
def test_a_broken_picture_has_no_size(content, media):
    assert size_of(content, media) is None


def test_every_beginning_of_a_picture_has_a_size_or_none():
    for content, media in ((png(640, 480), "image/png"), (jpeg(640, 480), "image/jpeg")):
        assert {size_of(content[:end], media) for end in range(len(content))} <= {None, (640.0, 480.0)}


def test_a_picture_of_the_book_is_read(library):
    folder = library.book_file("my-board").parent
    Image.new("L", (3, 2)).save(folder / "top.PNG")
    found = picture_of(library, "my-board", "top.PNG")
    assert (found.content, found.media) == ((folder / "top.PNG").read_bytes(), "image/png")
    assert found.size == (3.0, 2.0)


def test_a_photograph_that_was_held_upright_is_as_high_as_it_is_shown(library):
    exif = Image.Exif()
    exif[Base.Orientation] = 6  # the camera was turned by a quarter (Exif 2.32, table 4)
    Image.new("L", (30, 20)).save(library.book_file("my-board").parent / "side.jpg", exif=exif)
    assert picture_of(library, "my-board", "side.jpg").size == (20.0, 30.0)


def test_only_what_draws_in_a_drawing_is_read(library):
    drawing = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 9 4" onload="a()"><script>a()</script><rect/></svg>'
    (library.book_file("my-board").parent / "top.svg").write_text(drawing, encoding="utf-8")
    found = picture_of(library, "my-board", "top.svg")
    assert found.content == b'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 9 4"><rect /></svg>\n'
    assert found.size == (9.0, 4.0)


@pytest.mark.parametrize("content", ["<svg", "<html/>", "<!DOCTYPE s [<!ENTITY a 'a'>]><svg>&a;</svg>"])
def test_what_is_no_drawing_inside_is_refused(library, content):
    (library.book_file("my-board").parent / "top.svg").write_text(content, encoding="utf-8")
    with pytest.raises(NoPictureError, match=r"top\.svg"):
        picture_of(library, "my-board", "top.svg")


@pytest.mark.parametrize(
    "name",
    ["none.svg", "book.yaml", "", ".", "../../secret.svg", "/etc/secret.svg", "\0.svg", "x" * 5000 + ".svg"],
)
def test_what_is_no_picture_of_the_book_is_refused(library, name):
    (library.folder / "secret.svg").write_text("<svg/>", encoding="utf-8")
    with pytest.raises(NoPictureError, match="my-board"):
        picture_of(library, "my-board", name)


def test_a_picture_that_is_too_large_is_refused(library, monkeypatch):
    monkeypatch.setattr(pictures, "MOST_BYTES", 10)
    (library.book_file("my-board").parent / "top.png").write_bytes(png(3, 2))
    with pytest.raises(NoPictureError, match=r"top\.png"):
        picture_of(library, "my-board", "top.png")


def test_a_picture_of_no_book_is_refused(library):
    with pytest.raises(NoBookError, match="no-board"):
        picture_of(library, "no-board", "top.png")
