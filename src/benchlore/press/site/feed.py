"""The feed of what changed (Atom, RFC 4287), and the map of the site (sitemaps.org protocol 0.9)."""

from collections.abc import Iterable, Sequence
from uuid import NAMESPACE_URL, uuid5
from xml.etree import ElementTree as ET
from xml.sax.saxutils import escape

from benchlore.press.site.changes import edition_summary
from benchlore.press.site.editions import Edition
from benchlore.press.site.paths import CHANGES, FEED, SITEMAP, START, absolute, sitemap_part
from benchlore.press.site.values import BoardEntry, Frame
from benchlore.press.text import printable

ATOM = "http://www.w3.org/2005/Atom"
SITEMAPS = "http://www.sitemaps.org/schemas/sitemap/0.9"
MOST_ADDRESSES = 50_000
MOST_BYTES = 50 * 1000**2
"""Of a map, by the sitemaps.org protocol: how many addresses, and how large."""
AROUND = 200
"""Bytes of a map around an address, and its own head's, generously."""
MOST_ENTRIES = 100
"""How many boards the feed names, the last changed first."""


def feed(frame: Frame, boards: Sequence[BoardEntry], editions: Sequence[Edition]) -> bytes:
    """Write the feed: an entry for each edition, and for each board, dated when it changed last.

    Identifiers come from the names of library and board, so that they stay when the site moves (RFC 4287,
    section 4.2.6.1); links are relative where the site has no address of its own.
    """
    newest = sorted(boards, key=lambda board: (board.updated, board.board), reverse=True)
    root = ET.Element("feed", {"xmlns": ATOM, "xml:lang": "en"})
    _add(root, "id", _name(frame))
    _add(root, "title", frame.title)
    _add(root, "updated", editions[0].date)
    _add(root, "author").append(_text("name", frame.title))
    _add(root, "generator", "benchlore")
    ET.SubElement(root, "link", {"rel": "alternate", "type": "text/html", "href": _address(frame, START)})
    if frame.base:
        ET.SubElement(
            root, "link", {"rel": "self", "type": "application/atom+xml", "href": _address(frame, FEED)}
        )
    if frame.licence:
        _add(root, "rights", frame.licence)
    for edition in editions:
        root.append(_edition(frame, edition))
    for board in newest[:MOST_ENTRIES]:
        root.append(_entry(frame, board))
    return _written(root)


def sitemaps(frame: Frame, paths: Iterable[str], *, most: int = MOST_ADDRESSES) -> dict[str, bytes]:
    """Write the map of the site: every page, by its address.

    A map holds ``most`` pages, and no more than the protocol's bytes; a site with more has several, and
    ``sitemap.xml`` is their index.
    """
    pages = sorted(path for path in paths if path.endswith(".html"))
    longest = max((len(escape(absolute(frame.base, path))) for path in pages), default=0)
    most = min(most, MOST_BYTES // (longest + AROUND))
    if len(pages) <= most:
        return {SITEMAP: _map("urlset", "url", frame, pages)}
    parts = {
        sitemap_part(number): _map("urlset", "url", frame, pages[start : start + most])
        for number, start in enumerate(range(0, len(pages), most), start=1)
    }
    return {SITEMAP: _map("sitemapindex", "sitemap", frame, list(parts)), **parts}


def _map(kind: str, entry: str, frame: Frame, paths: Sequence[str]) -> bytes:
    root = ET.Element(kind, {"xmlns": SITEMAPS})
    for path in paths:
        ET.SubElement(root, entry).append(_text("loc", absolute(frame.base, path)))
    return _written(root)


def _entry(frame: Frame, board: BoardEntry) -> ET.Element:
    entry = ET.Element("entry")
    _add(entry, "id", _name(frame, board.board))
    _add(entry, "title", board.title)
    _add(entry, "updated", board.updated)
    for person in board.credited:
        _add(entry, "author").append(_text("name", person.title))
    ET.SubElement(
        entry, "link", {"rel": "alternate", "type": "text/html", "href": _address(frame, board.path)}
    )
    if board.licence:
        _add(entry, "rights", board.licence)
    _add(entry, "summary", _summary(board))
    return entry


def _edition(frame: Frame, edition: Edition) -> ET.Element:
    """Tell of an edition; its identifier holds its date too, as numbers begin again in a new folder."""
    entry = ET.Element("entry")
    _add(entry, "id", _name(frame, f"editions/{edition.number}/{edition.date}"))
    _add(entry, "title", f"Edition {edition.number}")
    _add(entry, "updated", edition.date)
    address = f"{_address(frame, CHANGES)}#edition-{edition.number}"
    ET.SubElement(entry, "link", {"rel": "alternate", "type": "text/html", "href": address})
    _add(entry, "summary", edition_summary(edition))
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
