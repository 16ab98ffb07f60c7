"""Drawings that strangers made, cleaned before they are shown: what draws stays, whatever else goes.

Shown as an image a drawing runs nothing, but the app, a bundle and the site hand it out as a file too, and
opened by itself it is a page. So it is read by a parser that refuses entities, and written anew from what is
allowed here: elements and attributes of SVG 2 that draw (W3C Candidate Recommendation, 2018), references
within the file, and pictures of dots that the file holds itself. Scripts, listeners, links, animations,
foreign elements and addresses elsewhere are in no list.
"""

import re
from collections.abc import Iterator
from typing import Final
from xml.etree import ElementTree as ET

from defusedxml import ElementTree
from defusedxml.common import DefusedXmlException

SVG: Final = "http://www.w3.org/2000/svg"
HREF: Final = frozenset({"href", "{http://www.w3.org/1999/xlink}href"})
DEEPEST: Final = 100
"""How deep elements may stand in each other: no drawing program goes near that."""

ELEMENTS: Final = frozenset(  # as words: a name a line would fill a page
    """svg g defs symbol use title desc path rect circle ellipse line polyline polygon text tspan image style
    linearGradient radialGradient stop clipPath mask pattern marker""".split()  # noqa: SIM905
)
ATTRIBUTES: Final = frozenset(
    """id class style xmlns version viewBox preserveAspectRatio width height x y x1 y1 x2 y2 dx dy cx cy r rx
    ry fx fy fr d points transform rotate pathLength textLength lengthAdjust offset gradientUnits
    gradientTransform spreadMethod clipPathUnits maskUnits maskContentUnits patternUnits patternContentUnits
    patternTransform
    markerWidth markerHeight markerUnits refX refY orient role aria-label aria-labelledby aria-hidden
    fill fill-opacity fill-rule stroke stroke-width stroke-opacity stroke-linecap stroke-linejoin
    stroke-miterlimit stroke-dasharray stroke-dashoffset opacity color display visibility overflow clip-path
    clip-rule mask marker-start marker-mid marker-end stop-color stop-opacity paint-order vector-effect
    mix-blend-mode isolation shape-rendering text-rendering image-rendering color-interpolation
    font-family font-size font-style font-weight font-stretch font-variant text-anchor text-decoration
    letter-spacing word-spacing dominant-baseline alignment-baseline baseline-shift writing-mode
    {http://www.w3.org/XML/1998/namespace}space {http://www.w3.org/XML/1998/namespace}lang""".split()  # noqa: SIM905
)
WITHIN: Final = re.compile(r"#[^\s\"'()<>\\]+")
DOTS: Final = re.compile(r"data:image/(?:png|jpeg|gif|webp);base64,[A-Za-z0-9+/=\s]*")
ADDRESS: Final = re.compile(r"url\(\s*(?P<quote>[\"']?)#[^\s\"'()<>\\]+(?P=quote)\s*\)", re.IGNORECASE)
REACHING_OUT: Final = re.compile(
    r"\\|@|url\s*\(|image(?:-set)?\s*\(|src\s*\(|expression|javascript:", re.IGNORECASE
)
"""What a style may not say once addresses within the file are taken from it; ``\\`` could hide the others."""


def clean_svg(content: bytes) -> bytes | None:
    """Write a drawing anew from what is harmless in it; ``None`` for what is no drawing, or nested too deep.

    Equal drawings give equal bytes, and a clean one stays as it is drawn.
    """
    try:
        root = ElementTree.fromstring(content)
        cleaned = _cleaned(root, DEEPEST)
    except (ValueError, LookupError, ET.ParseError, DefusedXmlException):
        return None
    if cleaned is None or cleaned.tag != "svg":
        return None
    cleaned.attrib = {"xmlns": SVG, **cleaned.attrib}
    text: bytes = ET.tostring(cleaned, encoding="utf-8")
    return text + b"\n"


def _cleaned(element: ET.Element, deepest: int) -> ET.Element | None:
    """Write an element anew with what it holds; ``None`` for one that goes, with all that it holds."""
    if deepest == 0:
        raise ValueError("nested too deep")
    space, _, name = element.tag.removeprefix("{").rpartition("}")
    if name not in ELEMENTS or space not in (SVG, ""):
        return None
    found = ET.Element(name, dict(_attributes(element, name)))
    found.text = element.text
    if name == "style":
        return found if _stays_within(element.text or "") and not len(element) else None
    for child in element:
        kept = _cleaned(child, deepest - 1)
        if kept is not None:
            kept.tail = child.tail
            found.append(kept)
        elif child.tail:
            _add_text(found, child.tail)
    return found


def _add_text(found: ET.Element, text: str) -> None:
    """Keep the text behind an element that goes."""
    if len(found):
        found[-1].tail = (found[-1].tail or "") + text
    else:
        found.text = (found.text or "") + text


def _attributes(element: ET.Element, name: str) -> Iterator[tuple[str, str]]:
    for attribute, value in element.attrib.items():
        if attribute in HREF:
            if WITHIN.fullmatch(value) or (name == "image" and DOTS.fullmatch(value)):
                yield "href", value
        elif attribute in ATTRIBUTES and _stays_within(value):
            yield attribute, value


def _stays_within(style: str) -> bool:
    """Whether a style, or an attribute's value, asks for nothing from elsewhere."""
    return REACHING_OUT.search(ADDRESS.sub("", style)) is None
