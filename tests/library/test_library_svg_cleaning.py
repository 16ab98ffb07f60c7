"""Drawings of strangers: what draws stays, what runs, leads or asks goes."""

from importlib.resources import files
from xml.etree import ElementTree as ET

import pytest

from benchlore.library.svg_cleaning import ATTRIBUTES, ELEMENTS, clean_svg

OPENED = (
    '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" viewBox="0 0 9 9">'
)
SVG = "{http://www.w3.org/2000/svg}"
DOT = "data:image/png;base64,iVBORw0KGgo="

# Ways that the OWASP cheat sheets on XSS and the SVG 2 chapter on scripting name, from memory.
HOSTILE = [
    "<script>alert(1)</script>",
    '<script href="https://evil.example/x.js"/>',
    '<rect onload="alert(1)" onclick="alert(1)" width="1" height="1"/>',
    '<a href="javascript:alert(1)"><rect width="9" height="9"/></a>',
    '<a xlink:href="https://evil.example/"><text>evil</text></a>',
    '<foreignObject><iframe xmlns="http://www.w3.org/1999/xhtml" src="https://evil.example"/></foreignObject>',
    '<image href="https://evil.example/pixel.png" width="1" height="1"/>',
    '<image xlink:href="//evil.example/pixel.png" width="1" height="1"/>',
    '<image href="data:image/svg+xml;base64,PHN2Zy8+" width="1" height="1"/>',
    '<use href="https://evil.example/x.svg#a"/>',
    '<use href="data:image/svg+xml;base64,PHN2Zy8+#a"/>',
    "<style>@import url(https://evil.example/x.css);</style>",
    "<style>rect { fill: u\\72l(https://evil.example/x) }</style>",
    "<style>@font-face { font-family: a; src: url('//evil.example/f') }</style>",
    '<rect style="fill: url(https://evil.example/x#a)" width="1" height="1"/>',
    '<rect fill="url(//evil.example/x.svg#a)" width="1" height="1"/>',
    '<rect fill="url( &quot;https://evil.example/x&quot; )" width="1" height="1"/>',
    '<set attributeName="href" to="javascript:alert(1)"/>',
    '<animate attributeName="href" values="https://evil.example/"/>',
    '<handler xmlns="http://www.w3.org/2001/xml-events">alert(1)</handler>',
    '<h:script xmlns:h="http://www.w3.org/1999/xhtml">alert(1)</h:script>',
    '<filter id="f"><feImage href="https://evil.example/x.png"/></filter>',
    '<title><h:img xmlns:h="http://www.w3.org/1999/xhtml" src="https://evil.example" onerror="alert(1)"/></title>',
    "<?xml-stylesheet href='https://evil.example/x.css'?>",
    '<switch><g systemLanguage="en" xml:base="https://evil.example/"/></switch>',
]


@pytest.mark.parametrize("part", HOSTILE)
def test_what_runs_leads_or_asks_goes_and_the_drawing_stays(part):
    cleaned = clean_svg(f'{OPENED}<path d="M0 0H9"/>{part}<circle r="2"/></svg>'.encode())
    root = ET.fromstring(cleaned)
    assert [each.tag for each in root if each.tag in {f"{SVG}path", f"{SVG}circle"}] == [
        f"{SVG}path",
        f"{SVG}circle",
    ]
    assert [word for word in (b"evil", b"alert", b"javascript", b"base64") if word in cleaned] == []
    for element in root.iter():
        assert element.tag.removeprefix(SVG) in ELEMENTS
        assert set(element.attrib) <= ATTRIBUTES | {"href"}


@pytest.mark.parametrize(
    "part",
    [
        '<linearGradient id="a"><stop offset="0" stop-color="red"/></linearGradient><rect fill="url(#a)" />',
        '<style>.wire { stroke: url(\'#a\'); stroke-width: 2px }</style><path class="wire" d="M0 0H9" />',
        '<symbol id="pad"><circle r="1" /></symbol><use href="#pad" x="3" />',
        f'<image href="{DOT}" width="1" height="1" />',
        '<text>R1 <tspan x="3">4k7 &lt; 5 k&amp;</tspan> here</text>',
    ],
)
def test_what_draws_stays_as_it_is(part):
    content = f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 9 9">{part}</svg>'.encode()
    assert ET.canonicalize(clean_svg(content)) == ET.canonicalize(content)
    assert clean_svg(clean_svg(content)) == clean_svg(content)


def test_an_old_kind_of_reference_becomes_the_plain_one():
    root = ET.fromstring(clean_svg(f'{OPENED}<g id="a"/><use xlink:href="#a"/></svg>'.encode()))
    assert root.find(f"{SVG}use").get("href") == "#a"


def test_text_behind_what_goes_stays():
    cleaned = clean_svg(
        f"{OPENED}<text>one<a href='https://evil.example'>two</a> three</text></svg>".encode()
    )
    assert "".join(ET.fromstring(cleaned).itertext()) == "one three"


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"no drawing",
        b"<html xmlns='http://www.w3.org/1999/xhtml'/>",
        b"<!DOCTYPE svg [<!ENTITY a 'b'>]><svg xmlns='http://www.w3.org/2000/svg'>&a;</svg>",
        f"{OPENED}{'<g>' * 5000}{'</g>' * 5000}</svg>".encode(),
    ],
    ids=["empty", "words", "a page", "entities", "too deep"],
)
def test_what_is_no_drawing_is_refused(content):
    assert clean_svg(content) is None


def test_the_demos_drawings_lose_nothing():
    for path in (files("benchlore") / "demo" / "books").glob("*/*.svg"):
        assert ET.canonicalize(clean_svg(path.read_bytes())) == ET.canonicalize(path.read_bytes())
