"""What a press did, as text for the terminal."""

from collections.abc import Iterable, Iterator

from benchlore.cli.text import wrapped
from benchlore.press.site.changes import edition_summary
from benchlore.press.site.press import Pressed
from benchlore.press.site.values import ComplaintEntry
from benchlore.units import counted


def lines(pressed: Pressed) -> list[str]:
    """Say what was made and kept, and what is amiss."""
    told = [
        (
            f"{pressed.out / 'index.html'}: {counted(len(pressed.made) + len(pressed.kept), 'board')}, "
            f"{counted(pressed.files, 'file')}"
        ),
        (
            f"Made: {counted(len(pressed.made), 'board')}. Unchanged: {len(pressed.kept):,}. "
            f"Written: {counted(pressed.written, 'file')}. Taken away: {pressed.removed:,}."
        ),
    ]
    edition = pressed.edition
    told += wrapped(f"Edition {edition.number}: {edition_summary(edition)}", hang=2)
    told += _listed("Without a procedure", pressed.unplanned)
    if pressed.stale:
        told += ["", "Stale, and said to be so on the page ('--renew' plans them anew):"]
        told += [f"  {board} {each.name}: {', '.join(each.stale)} changed" for board, each in pressed.stale]
    for refused in pressed.refused:
        told += ["", f"Refused, and listed with the reasons: {refused.board}"]
        told += [line for reason in refused.reasons for line in wrapped(reason, indent=2, hang=2)]
    return told


def _listed(heading: str, complaints: Iterable[tuple[str, ComplaintEntry]]) -> Iterator[str]:
    for number, (board, each) in enumerate(complaints):
        if not number:
            yield from ("", f"{heading}:")
        yield from wrapped(f"{board} {each.name}: {' '.join(each.trouble.split())}", indent=2, hang=2)
