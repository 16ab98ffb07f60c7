"""Where the site's files stand, and how one leads to another: relative, so that any folder can serve them."""

import re
from hashlib import sha256
from pathlib import PurePosixPath
from posixpath import dirname, relpath
from typing import Final
from urllib.parse import quote

START: Final = "index.html"
FEED: Final = "feed.xml"
SITEMAP: Final = "sitemap.xml"
SKILLS: Final = "skills.html"
CREDITS: Final = "credits.html"
CHANGES: Final = "changes.html"
EDITIONS: Final = "editions.json"
UNPLAIN: Final = re.compile("[^a-z0-9]+")
LOOKS: Final = "looks/site.css"
WORKER: Final = "worker.js"
WEB_MANIFEST: Final = "site.webmanifest"
ICON: Final = "looks/icon.svg"
OFFLINE_SCRIPT: Final = "looks/offline.js"
BENCH_SCRIPT: Final = "looks/bench.js"
DRAWING_SCRIPT: Final = "looks/drawing.js"
SEARCH_SCRIPT: Final = "looks/search.js"
FINDABLE_SCRIPT: Final = "looks/findable.js"


def board_folder(board: str) -> str:
    """Return the folder of a board's files."""
    return f"boards/{board}"


def board_page(board: str) -> str:
    """Return a board's page."""
    return f"{board_folder(board)}/index.html"


def complaint_folder(board: str, complaint: str) -> str:
    """Return the folder of a complaint's files."""
    return f"{board_folder(board)}/{complaint}"


def complaint_page(board: str, complaint: str) -> str:
    """Return a complaint's page."""
    return f"{complaint_folder(board, complaint)}/index.html"


def sitemap_part(number: int) -> str:
    """Return one of the maps of a site that has too many pages for one."""
    return f"sitemap-{number}.xml"


def skill_page(name: str) -> str:
    """Return a skills page's page; beside its neighbours, whose files lead to each other by name."""
    return f"skills/{name}.html"


def picture_path(board: str, name: str, content: bytes) -> str:
    """Return where a book's picture stands, whatever its file is called and wherever in the book's folder."""
    file = PurePosixPath(name.replace("\\", "/"))
    stem = UNPLAIN.sub("-", file.stem.casefold()).strip("-") or "picture"
    return f"{board_folder(board)}/pictures/{stem}-{sha256(content).hexdigest()[:8]}{file.suffix.lower()}"


def leading(here: str, there: str) -> str:
    """Return the relative address that leads from one file of the site to another, or to a place in it.

    >>> leading("boards/t4/index.html", "index.html#search")
    '../../index.html#search'
    >>> leading("index.html", "boards/t4/pictures/top side.png")
    'boards/t4/pictures/top%20side.png'
    """
    path, mark, place = there.partition("#")
    to = quote(relpath(path, dirname(here) or ".")) if path else ""
    return to + mark + quote(place)


def absolute(base: str, path: str) -> str:
    """Return a file's address where the site has one; an index page goes by its folder's."""
    return base + quote(path.removesuffix("index.html") if path.endswith("index.html") else path)
