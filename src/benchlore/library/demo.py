"""The invented library that comes with the program: copied to a folder, and the main job run on it."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from importlib import resources
from importlib.resources.abc import Traversable
from pathlib import Path

from benchlore.library.errors import NotEmptyError
from benchlore.library.folder import MARKER, Library, make_folder, open_library, sound_book_of
from benchlore.library.planning import Planned, fresh_procedure
from benchlore.library.progress import Report, silent
from benchlore.library.records import TakenIn, take_in
from benchlore.notation import FileTrouble, read_text, write_atomic
from benchlore.procedure import Effort

MAPPING = ".mapping.yaml"


@dataclass(frozen=True, eq=False)
class DemoMade:
    """A demo library, what its tables gave, and the procedures that were planned."""

    library: Library
    taken: tuple[TakenIn, ...]
    planned: tuple[Planned, ...]


def make_demo(
    folder: Path, *, now: datetime, effort: Effort = Effort.NORMAL, report: Report = silent
) -> DemoMade:
    """Copy the demo library, take its shops' tables in, learn, and plan every complaint.

    A folder that holds an earlier demo is gone on with: what was changed in it stays, and a procedure that
    is there and not stale is not planned anew.

    Raises
    ------
    NotEmptyError
        If the folder holds anything else.
    """
    library = _copied(folder)
    taken = tuple(
        take_in(library, *pair, now=now, report=_step(f"Taking in {pair[0].name}", report))
        for pair in _tables(library)
    )
    planned = tuple(
        fresh_procedure(
            library, board, complaint, effort=effort, report=_step(f"Planning {board} {complaint}", report)
        )
        for board in library.boards()
        for complaint in _complaints(library, board)
    )
    return DemoMade(library, taken, planned)


def _step(said: str, report: Report) -> Report:
    """Say that a step begins, and pass on what its parts report as this one step's."""
    report(said, 0, 0)

    def part(stage: str, done: float, total: float, note: str = "") -> None:
        report(said, done, total, note or stage.lower())

    return part


def _copied(folder: Path) -> Library:
    source = resources.files("benchlore") / "demo"
    marker = (source / MARKER).read_bytes()
    if folder.exists() and not _is_demo(folder, marker):
        raise NotEmptyError(folder, folder.name if not folder.is_dir() else next(folder.iterdir()).name)
    # The marker comes last: a copy that was cut short is then no library, and not taken for one.
    for path, entry in sorted(_files(source), key=lambda pair: (pair[0] == MARKER, pair[0])):
        if not (folder / path).exists():
            make_folder((folder / path).parent)
            write_atomic(folder / path, entry.read_bytes())
    return open_library(folder)


def _is_demo(folder: Path, marker: bytes) -> bool:
    if not folder.is_dir():
        return False
    if not any(folder.iterdir()):
        return True
    try:
        return read_text(folder / MARKER) == marker.decode()
    except FileTrouble:
        return False


def _files(folder: Traversable, inside: str = "") -> Iterator[tuple[str, Traversable]]:
    for entry in folder.iterdir():
        if entry.is_dir():
            yield from _files(entry, f"{inside}{entry.name}/")
        else:
            yield f"{inside}{entry.name}", entry


def _tables(library: Library) -> Iterator[tuple[Path, Path]]:
    """Yield each table with its mapping: the file of the same name that ends in ``.mapping.yaml``."""
    for mapping in sorted((library.folder / "intake").glob(f"*{MAPPING}")):
        stem = mapping.name.removesuffix(MAPPING)
        for ending in (".csv", ".xlsx"):
            if (table := mapping.with_name(f"{stem}{ending}")).exists():
                yield table, mapping


def _complaints(library: Library, board: str) -> tuple[str, ...]:
    book = sound_book_of(library, board).book
    assert book is not None
    return tuple(book.complaints)
