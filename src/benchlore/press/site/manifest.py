"""What a site knows of itself: which files are its own, and what each board's files were made from."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

from pydantic import TypeAdapter, ValidationError

from benchlore.library.compiled import MOST_COMPILED
from benchlore.notation import FileMissing, FileTrouble, read_text
from benchlore.press.site.editions import FORMAT as EDITIONS_FORMAT
from benchlore.press.site.editions import BoardKept, Edition, Editions
from benchlore.press.site.errors import ManifestError
from benchlore.press.site.noted import Named
from benchlore.press.site.values import BoardEntry, Refused

FORMAT: Final = 1


@dataclass(frozen=True, slots=True)
class BoardMade:
    """A board's files with their SHA-256, and the fingerprint of all that they were made from.

    Of ``entry`` and ``refused`` one is there.
    """

    made_from: str
    files: Mapping[str, str]
    entry: BoardEntry | None
    refused: Refused | None


@dataclass(frozen=True, slots=True)
class Manifest:
    """All files of a site with their SHA-256, by path from its root; its boards, skills pages, editions."""

    files: Mapping[str, str] = field(default_factory=dict)
    boards: Mapping[str, BoardMade] = field(default_factory=dict)
    press: int = FORMAT
    editions: tuple[Edition, ...] = ()
    skills: Mapping[str, Named] = field(default_factory=dict)

    @property
    def stood(self) -> Editions | None:
        """What stands on the site, to compare the next edition with; ``None`` where nobody noted it."""
        if not self.editions:
            return None
        entries = [each.entry for each in self.boards.values() if each.entry is not None]
        boards = {each.board: BoardKept(each.updated, each.noted) for each in entries}
        return Editions(EDITIONS_FORMAT, self.editions, boards, self.skills)


KEPT: Final = TypeAdapter(Manifest)


def manifest_text(manifest: Manifest) -> bytes:
    """Write a manifest."""
    return KEPT.dump_json(manifest) + b"\n"


def read_manifest(path: Path) -> Manifest | None:
    """Read a manifest; ``None`` where there is none yet. Raises ``ManifestError``."""
    try:
        manifest = KEPT.validate_json(read_text(path, most=MOST_COMPILED))
    except FileMissing:
        return None
    except (FileTrouble, ValidationError):
        raise ManifestError(path) from None
    if manifest.press != FORMAT or not all(map(is_inside, manifest.files)):
        raise ManifestError(path)
    return manifest


def is_inside(path: str) -> bool:
    """Whether a path leads to a place inside the folder that it starts from, on any system."""
    parts = path.split("/")
    return not any(part in {"", ".", ".."} or "\\" in part or ":" in part for part in parts)
