"""The page that says what has changed from edition to edition, and the same for programs."""

from collections import Counter
from collections.abc import Mapping, Sequence

from benchlore.library import Library
from benchlore.press.site.editions import BoardChange, Edition, Editions, editions_text
from benchlore.press.site.paths import CHANGES, EDITIONS
from benchlore.press.site.set_page import set_page
from benchlore.press.site.values import BoardEntry, Frame, Head, Link
from benchlore.units import counted


def changes_links(_library: Library) -> tuple[Link, ...]:
    """Lead to what has changed from every page."""
    return (Link(CHANGES, "Changes"),)


def changes_files(frame: Frame, boards: Sequence[BoardEntry], editions: Editions) -> Mapping[str, bytes]:
    """Make the page, and the file that the next press can compare with."""
    head = Head(
        path=CHANGES,
        title="Changes",
        description="What is new, gone and changed in each edition of this library.",
    )
    paths = {board.board: board.path for board in boards}
    paths |= {f"{board.board}/{each.name}": each.path for board in boards for each in board.complaints}
    page = set_page(
        frame, head, "changes.html", editions=editions.editions, paths=paths, summary=edition_summary
    )
    return {CHANGES: page, EDITIONS: editions_text(editions)}


def edition_summary(edition: Edition) -> str:
    """Say in a sentence what an edition brought."""
    if edition.compared == "nothing":
        return "The first edition: nothing stood here before it, so there is nothing to compare."
    if edition.compared == "unknown":
        return "What stood here before was not noted or cannot be read, so there is nothing to compare."
    told = [f"{counted(number, 'board')} {what}" for what, number in _by_what(edition.boards) if number]
    if edition.skills is not None:
        pages = edition.skills
        told.append(
            f"{counted(len(pages.added) + len(pages.removed) + len(pages.altered), 'skills page')} touched"
        )
    return f"{', '.join(told)}."


def _by_what(boards: Sequence[BoardChange]) -> list[tuple[str, int]]:
    numbers = Counter(each.what for each in boards)
    return [(what, numbers[what]) for what in ("new", "gone", "changed")]
