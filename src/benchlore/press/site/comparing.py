"""Two editions are compared: which boards and complaints are new, gone or changed, and what in them."""

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from typing import Final, Literal

from benchlore.press.site.editions import (
    FORMAT,
    MOST_EDITIONS,
    BoardChange,
    BoardKept,
    ComplaintChange,
    Difference,
    Edition,
    Editions,
    rfc3339,
)
from benchlore.press.site.noted import BoardNoted, ComplaintNoted, Named

FIGURES: Final = {
    "cost": "Expected cost of a job",
    "gap": "Proven of the cost",
    "state": "Procedure",
    "standing": "Standing",
    "jobs": "Recorded jobs",
}
LISTS: Final = {"faults": "Faults", "checks": "Checks", "fixes": "Fixes", "setups": "Setups"}
DIGESTS: Final = {
    "proof": ("Proof", "made anew"),
    "text": ("Complaint", "other words in the book"),
    "model": ("What is known", "computed anew: other chances, times or prices"),
}
"""What is told of these where only a digest differs."""


def next_editions(
    before: Editions | Literal["nothing", "unknown"],
    boards: Mapping[str, BoardNoted],
    skills: Mapping[str, Named],
    why_gone: Mapping[str, str],
    now: datetime,
) -> Editions:
    """Compare what is to stand on the site with what stood there; where it differs, a new edition begins.

    ``why_gone`` has the reason for boards that are left out.
    """
    date = rfc3339(now)
    if isinstance(before, str):
        kept = {name: BoardKept(date, noted) for name, noted in boards.items()}
        return Editions(FORMAT, (Edition(1, date, before),), kept, skills)
    kept = {
        name: replace(before.boards[name], noted=noted)
        if name in before.boards and before.boards[name].noted == noted
        else BoardKept(date, noted)
        for name, noted in boards.items()
    }
    last = before.editions[0]
    changes = tuple(_boards({name: each.noted for name, each in before.boards.items()}, boards, why_gone))
    difference = named_difference("Skills", before.skills, skills)
    if not changes and difference is None:
        return replace(before, boards=kept, editions=before.editions[:MOST_EDITIONS])
    new = Edition(last.number + 1, date, "before", changes, difference)
    return Editions(FORMAT, (new, *before.editions)[:MOST_EDITIONS], kept, skills)


def named_difference(topic: str, old: Mapping[str, Named], new: Mapping[str, Named]) -> Difference | None:
    """Say what came, went and was altered, by titles; ``None`` where nothing did."""
    found = Difference(
        topic,
        added=tuple(each.title for name, each in new.items() if name not in old),
        removed=tuple(each.title for name, each in old.items() if name not in new),
        altered=tuple(each.title for name, each in new.items() if name in old and old[name] != each),
    )
    return found if found.added or found.removed or found.altered else None


def step_difference(old: Sequence[Named], new: Sequence[Named]) -> Difference | None:
    """Say which steps came, went, or go on otherwise, by titles."""
    before, after = Counter(each.title for each in old), Counter(each.title for each in new)
    kept = before.keys() & after.keys()
    led = {title: _leads(old, title) != _leads(new, title) for title in kept}
    found = Difference(
        "Steps",
        before=f"{len(old):,}" if len(old) != len(new) else "",
        after=f"{len(new):,}" if len(old) != len(new) else "",
        added=tuple(_times(after - before)),
        removed=tuple(_times(before - after)),
        altered=tuple(title for title in after if before[title] == after[title] and led[title]),
    )
    if found.added or found.removed or found.altered:
        return found
    in_order = [each.title for each in old] == [each.title for each in new]
    return None if in_order else replace(found, after="their order alone")


def _times(steps: Counter[str]) -> Iterator[str]:
    for title, times in steps.items():
        yield title if times == 1 else f"{title} ({times} times)"


def _leads(steps: Sequence[Named], title: str) -> Counter[str]:
    return Counter(each.digest for each in steps if each.title == title)


def _boards(
    old: Mapping[str, BoardNoted], new: Mapping[str, BoardNoted], why_gone: Mapping[str, str]
) -> Iterator[BoardChange]:
    for name in sorted(old.keys() | new.keys()):
        if name not in old:
            yield BoardChange(name, new[name].title, "new")
        elif name not in new:
            yield BoardChange(name, old[name].title, "gone", why_gone.get(name, ""))
        elif old[name] != new[name]:
            yield _board(name, old[name], new[name])


def _board(name: str, old: BoardNoted, new: BoardNoted) -> BoardChange:
    said = [Difference("Title", old.title, new.title)] if old.title != new.title else []
    if not said and old.text != new.text:
        said.append(Difference("Board", after="places, pictures, people, licence or names"))
    return BoardChange(
        name,
        new.title,
        "changed",
        complaints=tuple(_complaints(old.complaints, new.complaints)),
        differences=tuple(said),
    )


def _complaints(
    old: Mapping[str, ComplaintNoted], new: Mapping[str, ComplaintNoted]
) -> Iterator[ComplaintChange]:
    for name in sorted(old.keys() | new.keys()):
        if name not in old:
            yield ComplaintChange(name, new[name].title, "new")
        elif name not in new:
            yield ComplaintChange(name, old[name].title, "gone")
        elif old[name] != new[name]:
            yield ComplaintChange(name, new[name].title, "changed", _differences(old[name], new[name]))


def _differences(old: ComplaintNoted, new: ComplaintNoted) -> tuple[Difference, ...]:
    """Say what of a complaint changed, figures first; a digest alone speaks where nothing else does."""
    found = [] if old.title == new.title else [Difference("Title", old.title, new.title)]
    for field, topic in FIGURES.items():
        before, after = getattr(old, field), getattr(new, field)
        if before != after:
            found.append(Difference(topic, before or "none", after or "none"))
    lists = (
        named_difference(topic, getattr(old, field), getattr(new, field)) for field, topic in LISTS.items()
    )
    found += [each for each in (*lists, step_difference(old.steps, new.steps)) if each is not None]
    for field, (topic, words) in DIGESTS.items():
        if getattr(old, field) != getattr(new, field):
            found.append(Difference(topic, after=words))
    return tuple(found)
