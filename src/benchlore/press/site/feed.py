"""The feed of what changed (Atom, RFC 4287), and the map of the site (sitemaps.org protocol 0.9)."""

from collections.abc import Iterable, Sequence
from datetime import UTC, datetime
from uuid import NAMESPACE_URL, uuid5
from xml.etree import ElementTree as ET

from benchlore.press.site.paths import FEED, START, absolute
from benchlore.press.site.values import BoardEntry, Frame
from benchlore.press.text import printable

ATOM = "http://www.w3.org/2005/Atom"
SITEMAPS = "http://www.sitemaps.org/schemas/sitemap/0.9"
MOST_ENTRIES = 100
"""How many boards the feed names, the last changed first."""


def feed(frame: Frame, boards: Sequence[BoardEntry], now: datetime) -> bytes:
    """Write the feed: an entry for each board, dated when what is known of it changed last.

    Identifiers come from the names of library and board, so that they stay when the site moves (RFC 4287,
    section 4.2.6.1); links are relative where the site has no address of its own.
    """
    newest = sorted(boards, key=lambda board: (board.updated, board.board), reverse=True)
    root = ET.Element("feed", {"xmlns": ATOM, "xml:lang": "en"})
    _add(root, "id", _name(frame))
    _add(root, "title", frame.title)
    _add(root, "updated", newest[0].updated if newest else f"{now.astimezone(UTC):%Y-%m-%dT%H:%M:%SZ}")
    _add(root, "author").append(_text("name", frame.title))
    _add(root, "generator", "benchlore")
    ET.SubElement(root, "link", {"rel": "alternate", "type": "text/html", "href": _address(frame, START)})
    if frame.base:
        ET.SubElement(
            root, "link", {"rel": "self", "type": "application/atom+xml", "href": _address(frame, FEED)}
        )
    if frame.licence:
        _add(root, "rights", frame.licence)
    for board in newest[:MOST_ENTRIES]:
        root.append(_entry(frame, board))
    return _written(root)


def sitemap(frame: Frame, paths: Iterable[str]) -> bytes:
    """Write the map of the site: every page, by its address."""
    root = ET.Element("urlset", {"xmlns": SITEMAPS})
    for path in sorted(path for path in paths if path.endswith(".html")):
        ET.SubElement(root, "url").append(_text("loc", absolute(frame.base, path)))
    return _written(root)


def _entry(frame: Frame, board: BoardEntry) -> ET.Element:
    entry = ET.Element("entry")
    _add(entry, "id", _name(frame, board.board))
    _add(entry, "title", board.title)
    _add(entry, "updated", board.updated)
    for person in board.people:
        _add(entry, "author").append(_text("name", person))
    ET.SubElement(
        entry, "link", {"rel": "alternate", "type": "text/html", "href": _address(frame, board.path)}
    )
    if board.licence:
        _add(entry, "rights", board.licence)
    _add(entry, "summary", _summary(board))
    return entry


def _summary(board: BoardEntry) -> str:
    told = [
        f"{each.title}: {each.cost} a job" + (f", {each.standing}" if each.standing else "")
        if each.cost
        else each.title
        for each in board.complaints
    ]
    return f"{board.device}. {'; '.join(told)}." if told else f"{board.device}."


def _name(frame: Frame, board: str = "") -> str:
    return uuid5(NAMESPACE_URL, f"benchlore:{frame.title}/{board}").urn


def _address(frame: Frame, path: str) -> str:
    return absolute(frame.base, path) if frame.base else path


def _text(tag: str, text: str) -> ET.Element:
    element = ET.Element(tag)
    element.text = printable(text)
    return element


def _add(parent: ET.Element, tag: str, text: str = "") -> ET.Element:
    parent.append(_text(tag, text))
    return parent[-1]


def _written(root: ET.Element) -> bytes:
    ET.indent(root)
    text: bytes = ET.tostring(root, encoding="utf-8", xml_declaration=True)
    return text + b"\n"
