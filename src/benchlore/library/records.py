"""Taking a shop's records into the library's store, and giving them out again."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from hashlib import sha256
from itertools import count
from pathlib import Path

from benchlore.book import Book
from benchlore.jobs import (
    Added,
    DemandAdded,
    DemandRecord,
    IntakeRecord,
    Job,
    Place,
    Store,
    export_csv,
)
from benchlore.jobs.intake import (
    Preview,
    TableMapping,
    preview,
    read_mapping,
    read_table,
    rejects_text,
    suggest_mapping,
    write_rejects,
)
from benchlore.jobs.open_repair import OF_A_FILE, read_open_repair
from benchlore.library.errors import MappingRefusedError, NothingStoredError, RejectsInTheWayError
from benchlore.library.folder import Library, make_folder, read_book_of, sound_book_of, store_of
from benchlore.library.progress import Report, silent
from benchlore.notation import FileTrouble, Problem, Severity, read_text

MOST_REJECTS = 256 * 1024 * 1024


@dataclass(frozen=True, slots=True)
class TakenIn:
    """What a table gave. ``added`` is ``None`` for a preview; ``rejects`` is the file of refused rows."""

    preview: Preview
    added: Added | None
    rejects: Path | None


@dataclass(frozen=True, slots=True)
class DemandTakenIn:
    """What demand records gave; ``problems`` are refused rows, cells left out, and files passed over."""

    added: DemandAdded
    problems: tuple[Problem, ...]

    @property
    def refused(self) -> int:
        """How many rows were refused."""
        return sum(problem.severity is Severity.ERROR for problem in self.problems) - self.refused_files

    @property
    def refused_files(self) -> int:
        """How many files were refused whole, or read no further than to some line."""
        return sum(each.severity is Severity.ERROR and each.rule in OF_A_FILE for each in self.problems)


def preview_table(
    library: Library, table: Path, mapping: Path, *, now: datetime, report: Report = silent
) -> TakenIn:
    """Say what taking a table in would do, row by row; nothing is stored."""
    return TakenIn(_preview(library, table, sound_mapping(mapping), now, report), None, None)


def take_in(
    library: Library,
    table: Path,
    mapping: Path,
    *,
    now: datetime,
    rejects: Path | None = None,
    report: Report = silent,
) -> TakenIn:
    """Take a table's good rows into the store and write the refused ones to a file of their own.

    Raises
    ------
    MappingRefusedError
        If the mapping has errors, or does not fit the table and the books; nothing was stored.
    """
    previewed = _preview(library, table, sound_mapping(mapping), now, report)
    if previewed.problems:
        raise MappingRefusedError(previewed.problems)
    target = _rejects_file(library, table, previewed, rejects)
    refused = write_rejects(previewed, target)
    with Store.open(library.store) as store:
        added = store.add(
            previewed.jobs,
            intake=_record(previewed, table, mapping, now, refused),
            progress=lambda done: report("Storing jobs", done, len(previewed.jobs)),
        )
    return TakenIn(previewed, added, target if refused else None)


def _rejects_file(library: Library, table: Path, previewed: Preview, named: Path | None) -> Path:
    """Choose the file of refused rows: never one that holds something else, or mended rows."""
    text = rejects_text(previewed)
    if named is not None:
        if named.exists() and not _says(named, text):
            raise RejectsInTheWayError(named)
        return named
    make_folder(library.rejects)
    stem = table.stem.removesuffix("-refused")
    for number in count(1):
        target = library.rejects / f"{stem}-refused{f'-{number}' if number > 1 else ''}.csv"
        if not target.exists() or _says(target, text):
            return target
    raise AssertionError("count never ends")


def _says(path: Path, text: str) -> bool:
    try:
        return read_text(path, most=MOST_REJECTS) == text.replace("\r\n", "\n")
    except FileTrouble:
        return False


def draft_mapping(library: Library, table: Path, board: str) -> str:
    """Draft a mapping file from a table's columns and a board's book."""
    book = sound_book_of(library, board).book
    assert book is not None
    return suggest_mapping(read_table(table), book)


def take_in_demand(library: Library, path: Path, *, report: Report = silent) -> DemandTakenIn:
    """Take Open Repair Data Standard files (one, or a folder of them) in as demand records."""
    problems: list[Problem] = []

    def records() -> Iterator[DemandRecord]:
        progress = lambda done, total: report("Reading records", done, total)  # noqa: E731  one line, one use
        for item in read_open_repair(path, progress=progress):
            if isinstance(item, Problem):
                problems.append(item)
            else:
                yield item

    with Store.open(library.store) as store:
        added = store.add_demand(records())
    return DemandTakenIn(added, tuple(problems))


def export_jobs(library: Library, folder: Path) -> int:
    """Write every job to CSV files in ``folder`` and return how many there are.

    Raises
    ------
    NothingStoredError
        If no job was taken in yet.
    """
    with _store(library) as store:
        return export_csv(store.jobs(), folder)


def sound_mapping(path: Path) -> TableMapping:
    """Read a mapping file and insist that it has no errors (``MappingRefusedError``)."""
    read = read_mapping(read_text(path), str(path))
    if read.mapping is None:
        raise MappingRefusedError(read.problems)
    return read.mapping


def _store(library: Library) -> Store:
    store = store_of(library)
    if store is None:
        raise NothingStoredError(library.folder)
    return store


def _preview(library: Library, table: Path, mapping: TableMapping, now: datetime, report: Report) -> Preview:
    return preview(
        read_table(table, mapping),
        mapping,
        _books(library),
        stored=_stored(library, mapping.shop),
        today=now.date(),
        progress=lambda done, total: report("Reading rows", done, total),
    )


def _books(library: Library) -> Mapping[str, Book]:
    """The books that can be read; a broken one only matters to those whose rows name it."""
    read = {board: read_book_of(library, board).book for board in library.boards()}
    return {board: book for board, book in read.items() if book is not None}


def _stored(library: Library, shop: str) -> tuple[Job, ...]:
    store = store_of(library)
    if store is None:
        return ()
    with store:
        return tuple(store.jobs(shop=shop))


def _record(previewed: Preview, table: Path, mapping: Path, now: datetime, refused: int) -> IntakeRecord:
    shop, sheet = previewed.mapping.shop, previewed.table.sheet
    places = {(shop, number): Place(sheet, row) for number, row in previewed.first_rows().items()}
    return IntakeRecord(
        file=table.name,
        sha256=sha256(table.read_bytes()).hexdigest(),
        taken=now,
        mapping=mapping.name,
        rows=len(previewed.rows),
        refused=refused,
        places=places,
    )
