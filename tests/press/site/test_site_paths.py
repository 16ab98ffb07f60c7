"""Where files stand, and how one leads to another."""

import pytest

from benchlore.library import site_address
from benchlore.press.site.manifest import is_inside
from benchlore.press.site.paths import absolute, leading, picture_path


@pytest.mark.parametrize(
    ("here", "there", "way"),
    [
        ("index.html", "boards/t4/index.html", "boards/t4/index.html"),
        ("boards/t4/index.html", "index.html", "../../index.html"),
        ("boards/t4/restarts/index.html", "boards/t4/index.html#check-a", "../index.html#check-a"),
        ("boards/t4/index.html", "boards/t4/index.html", "index.html"),
        ("index.html", "skills/hot air.html", "skills/hot%20air.html"),
    ],
)
def test_ways_are_relative(here, there, way):
    assert leading(here, there) == way


def test_an_index_goes_by_its_folders_address():
    assert absolute("https://quay.example/lib/", "index.html") == "https://quay.example/lib/"
    assert (
        absolute("https://quay.example/lib/", "boards/t4/index.html") == "https://quay.example/lib/boards/t4/"
    )
    assert absolute("https://quay.example/", "feed.xml") == "https://quay.example/feed.xml"


@pytest.mark.parametrize(
    "name", ["top side.svg", "../up/../Top Side.SVG", "a\\top:side.svg", "deep/er/top-side.svg"]
)
def test_pictures_stand_inside_whatever_they_are_called(name):
    path = picture_path("t4", name, b"x")
    assert is_inside(path)
    assert path.startswith("boards/t4/pictures/")
    assert path.endswith(".svg")


def test_pictures_of_one_name_do_not_meet():
    assert picture_path("t4", "a/top.png", b"x") != picture_path("t4", "b/top.png", b"y")


@pytest.mark.parametrize("path", ["../x", "/etc/passwd", "a//b", "a/./b", "C:/x", "a\\b", ""])
def test_ways_out_are_known(path):
    assert not is_inside(path)


@pytest.mark.parametrize(
    "text",
    [
        "repair.example",
        "ftp://repair.example",
        "https://",
        "https://a.example/?x=1",
        "https://a b.example",
        "https://a.example/#x",
    ],
)
def test_what_is_no_address_is_refused(text):
    with pytest.raises(ValueError, match="no address of a site"):
        site_address(text)


def test_an_address_gets_its_slash():
    assert site_address("http://localhost:8000") == "http://localhost:8000/"
    assert site_address("") == ""
