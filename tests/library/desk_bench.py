"""A board with a hard and an intermittent complaint, and journals that are made without a store."""

from collections.abc import Iterable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from benchlore.jobs import Entry, EntryKind, OpenJob
from benchlore.library import Companion, JobView, Library, init_library
from benchlore.library.desk_view import view_of

NINE = datetime(2026, 11, 25, 9, 0, tzinfo=UTC)
BOARD, HARD, RESTARTS = "my-board", "no-power", "restarts"

FELL = """\
  fell:
    title: Did it fall?
    reads: input
    how: Ask.
    results: [dropped, not-dropped]
    takes: 0 min
    shows: {open: {dropped: 70 %}, normal: {dropped: 20 %}}

# Root causes."""

INTERMITTENT = """
  restarts:
    title: Restarts by itself
    intermittent: {about every: 20 min}
    retest: {how: "Load pattern.", takes: 3 min, soak: 60 min}
    worth: 120
    seen: {boards: 20, faults: {c5-short: 9, u2-dead: 6, f1-open: 4}}
"""


def bench_library(folder: Path) -> Library:
    library = init_library(folder, title="Test", board=BOARD)
    book = library.book_file(BOARD)
    book.write_text(book.read_text().replace("\n# Root causes.", FELL, 1) + INTERMITTENT)
    return library


def at(minutes: float) -> datetime:
    return NINE + timedelta(minutes=minutes)


def entry(place: int, kind: EntryKind, moment: float | None = None, /, **data: Any) -> Entry:
    return Entry("k", place, kind, data, at(place if moment is None else moment), "Ines", f"t-{place}")


def journal(steps: Iterable[tuple[EntryKind, dict[str, Any]]]) -> tuple[Entry, ...]:
    """Entries a minute apart."""
    return tuple(entry(place, kind, **data) for place, (kind, data) in enumerate(steps, 1))


def viewed(
    companion: Companion, entries: tuple[Entry, ...], *, minutes: float = 1000.0, closed: bool = False
) -> JobView:
    job = OpenJob("k", "My shop", "1", BOARD, companion.model.complaint, NINE, closed=closed)
    return view_of(companion, job, entries, at(minutes))
