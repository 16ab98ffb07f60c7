"""The chapters of the site: what stands on it beside the boards' own pages.

A chapter is made from the library and from what the boards tell of themselves. To add one, write its two
functions and put it into ``CHAPTERS``; its links then stand on every page.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Final

from benchlore.library import Library
from benchlore.press.page import colours_css, shared_file
from benchlore.press.page_bench import bench_script
from benchlore.press.site.changes import changes_files, changes_links, edition_summary
from benchlore.press.site.editions import Editions
from benchlore.press.site.feed import feed
from benchlore.press.site.further import credit_files, credit_links, skill_files, skill_links
from benchlore.press.site.offline import web_manifest
from benchlore.press.site.paths import (
    BENCH_SCRIPT,
    CHANGES,
    DRAWING_SCRIPT,
    FEED,
    FINDABLE_SCRIPT,
    ICON,
    LOOKS,
    OFFLINE_SCRIPT,
    SEARCH_SCRIPT,
    START,
    WEB_MANIFEST,
)
from benchlore.press.site.search import findable_script, search_script
from benchlore.press.site.set_page import set_page
from benchlore.press.site.values import BoardEntry, Frame, Head, Link, Refused
from benchlore.units import counted


@dataclass(frozen=True, eq=False)
class Site:
    """All that a chapter may be made from; ``editions`` has the one that is made, and those before."""

    frame: Frame
    library: Library
    boards: tuple[BoardEntry, ...]
    refused: tuple[Refused, ...]
    editions: Editions


@dataclass(frozen=True, slots=True)
class Chapter:
    """A chapter: which links it puts on every page, known before any page is made; and its files by path."""

    name: str
    links: Callable[[Library], tuple[Link, ...]]
    files: Callable[[Site], Mapping[str, bytes]]


def no_links(_library: Library) -> tuple[Link, ...]:
    """Put nothing on other pages."""
    return ()


def start_page(site: Site) -> Mapping[str, bytes]:
    """Make the page that a reader opens first: every board and complaint, and the search over them."""
    newest = site.editions.editions[0]
    head = Head(
        path=START,
        title=site.frame.title,
        description=f"Fault knowledge of {counted(len(site.boards), 'board')}, free to read and to keep.",
    )
    return {
        START: set_page(
            site.frame,
            head,
            "start.html",
            boards=site.boards,
            refused=site.refused,
            edition=newest,
            summary=edition_summary(newest),
            changes_path=CHANGES,
        ),
        SEARCH_SCRIPT: search_script(),
        FINDABLE_SCRIPT: findable_script(site.boards),
    }


def feed_file(site: Site) -> Mapping[str, bytes]:
    """Make the feed of what changed."""
    return {FEED: feed(site.frame, site.boards, site.editions.editions)}


def looks(_site: Site) -> Mapping[str, bytes]:
    """Give the style sheet and the scripts that pages share."""
    styles = (
        colours_css(),
        shared_file("page.css"),
        shared_file("knowledge.css"),
        shared_file("site/site.css"),
        shared_file("site/bench.css"),
    )
    return {
        LOOKS: "\n".join(styles).encode(),
        DRAWING_SCRIPT: shared_file("drawing.js").encode(),
        BENCH_SCRIPT: bench_script().encode(),
    }


def offline_files(site: Site) -> Mapping[str, bytes]:
    """Give what installs the site; its worker, which knows every file, is written last of all."""
    return {
        WEB_MANIFEST: web_manifest(site.frame.title),
        ICON: shared_file("site/icon.svg").encode(),
        OFFLINE_SCRIPT: shared_file("site/offline.js").encode(),
    }


CHAPTERS: Final = (
    Chapter("start", no_links, start_page),
    Chapter("skills", skill_links, lambda site: skill_files(site.frame, site.library)),
    Chapter("credits", credit_links, lambda site: credit_files(site.frame, site.library, site.boards)),
    Chapter("changes", changes_links, lambda site: changes_files(site.frame, site.boards, site.editions)),
    Chapter("feed", no_links, feed_file),
    Chapter("looks", no_links, looks),
    Chapter("offline", no_links, offline_files),
)
