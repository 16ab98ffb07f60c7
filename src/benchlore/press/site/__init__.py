"""The library as a static site that any file server, or a double-clicked file, serves.

``press_site`` writes it. Boards are made by many processes, each from its book, its jobs, its procedures and
proofs; chapters (start page, feed, and what else stands beside the boards) from what the boards tell. A
folder that was written before is brought up to date: only what changed is made, and all is swapped in at the
end. Unlike the rest of ``press``, this package writes files.
"""

from benchlore.press.site.chapters import CHAPTERS, Chapter, Site
from benchlore.press.site.errors import (
    BusyFolderError,
    ForeignFolderError,
    HalfSwappedError,
    InTheWayError,
    ManifestError,
    SiteTrouble,
)
from benchlore.press.site.press import Pressed, press_site
from benchlore.press.site.set_page import set_page
from benchlore.press.site.values import BoardEntry, ComplaintEntry, Frame, Head, Link, Refused

__all__ = [
    "CHAPTERS",
    "BoardEntry",
    "BusyFolderError",
    "Chapter",
    "ComplaintEntry",
    "ForeignFolderError",
    "Frame",
    "HalfSwappedError",
    "Head",
    "InTheWayError",
    "Link",
    "ManifestError",
    "Pressed",
    "Refused",
    "Site",
    "SiteTrouble",
    "press_site",
    "set_page",
]
