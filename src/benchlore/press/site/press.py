"""The site is pressed: boards by many processes, the rest from what they tell, all swapped in at the end."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path

from benchlore.library import Library, Report, silent, sound_shop_of
from benchlore.library.workers import cores, working
from benchlore.press.site.boards import (
    NOT_PLANNED,
    Task,
    Wanted,
    content_of,
    is_lacking,
    made_from_of,
    make_board,
)
from benchlore.press.site.chapters import CHAPTERS, Site
from benchlore.press.site.comparing import next_editions
from benchlore.press.site.editions import Editions, read_editions
from benchlore.press.site.feed import sitemaps
from benchlore.press.site.folder import SiteFolder, gather, site_folder, swap
from benchlore.press.site.further import skills_noted
from benchlore.press.site.manifest import BoardMade, Manifest
from benchlore.press.site.offline import worker
from benchlore.press.site.paths import EDITIONS, WORKER
from benchlore.press.site.values import ComplaintEntry, Frame, Refused
from benchlore.press.text import printable
from benchlore.procedure import Effort


@dataclass(frozen=True, slots=True)
class Pressed:
    """What a press did: how many files stand, were written anew and were taken away, and what is amiss.

    ``made`` are the boards whose files were made, ``kept`` those that had not changed. ``unplanned`` and
    ``stale`` are complaints, by board.
    """

    out: Path
    files: int
    written: int
    removed: int
    made: tuple[str, ...]
    kept: tuple[str, ...]
    refused: tuple[Refused, ...]
    unplanned: tuple[tuple[str, ComplaintEntry], ...]
    stale: tuple[tuple[str, ComplaintEntry], ...]

    @property
    def is_lacking(self) -> bool:
        """Whether something was refused: a book, or a plan that was to be made."""
        return bool(self.refused) or any(each.trouble != NOT_PLANNED for _, each in self.unplanned)


def press_site(  # noqa: PLR0913 what a caller may leave out has its name
    library: Library,
    out: Path,
    *,
    now: datetime,
    shop_file: Path | None = None,
    base: str | None = None,
    effort: Effort | None = Effort.QUICK,
    renew: bool = False,
    workers: int | None = None,
    report: Report = silent,
) -> Pressed:
    """Write the library as a static site into ``out``; only what has changed since the last time is made.

    Complaints without a procedure are planned first (``effort``; ``None``: they are listed as not planned
    yet), with ``renew`` those whose procedure is stale too. A book with errors is listed with them and stops
    nothing. ``base`` is the address that the site will stand at, the library's own where it is ``None``.
    ``now`` dates what has changed in the feed. Equal libraries give equal bytes, but for those dates.

    Raises
    ------
    SiteTrouble
        If the folder is not ours, or another press is at work in it.
    ShopRefusedError
        If the shop file has errors.
    FileNotWritten
        If something cannot be written; unless it says otherwise, the old site stands as it was.
    """
    shop = sound_shop_of(library, shop_file)
    links = tuple(link for chapter in CHAPTERS for link in chapter.links(library))
    frame = Frame(library.title, library.licence, shop.name, library.site if base is None else base, links)
    wanted = Wanted(library, shop, shop_file, frame, effort, renew, now.astimezone(UTC).date())
    with site_folder(out) as folder:
        boards, made = _boards(wanted, folder, cores() if workers is None else workers, report)
        editions = _editions(library, folder, boards, now)
        boards = {name: _dated(each, editions) for name, each in boards.items()}
        files = {path: digest for each in boards.values() for path, digest in each.files.items()}
        site = Site(
            frame=frame,
            library=library,
            boards=tuple(each.entry for each in boards.values() if each.entry is not None),
            refused=tuple(each.refused for each in boards.values() if each.refused is not None),
            editions=editions,
        )
        for path, content in _whole_site(site):
            files[path] = gather(folder.stage, path, content)
        if frame.base:
            for path, content in sitemaps(frame, files).items():
                files[path] = gather(folder.stage, path, content)
        files[WORKER] = gather(folder.stage, WORKER, worker(files))
        written, removed = swap(
            folder,
            Manifest(dict(sorted(files.items())), boards, editions=editions.editions, skills=editions.skills),
            lambda done, total: report("Putting in place", done, total),
        )
    return _told(out, site, files, (written, removed), made)


def _boards(
    wanted: Wanted, folder: SiteFolder, workers: int, report: Report
) -> tuple[dict[str, BoardMade], tuple[str, ...]]:
    """Make the boards that have changed; keep the others."""
    names = wanted.library.boards()
    key = {name: printable(name) for name in names}
    kept: dict[str, BoardMade] = {}
    for done, name in enumerate(names):
        report("Looking for changes", done, len(names), name)
        before = folder.manifest.boards.get(key[name])
        if before is None or is_lacking(wanted, before):
            continue
        if before.made_from == made_from_of(wanted, content_of(wanted, name)) and folder.is_whole(
            before.files
        ):
            kept[name] = before
    report("Looking for changes", len(names), len(names))
    tasks = [Task(wanted, name, folder.stage) for name in names if name not in kept]
    made: dict[str, BoardMade] = {}
    with working(min(workers, len(tasks))) as run:
        for task, each in zip(tasks, run(make_board, tasks), strict=True):
            made[task.board] = each
            report("Pressing", len(made), len(tasks), task.board)
    return {key[name]: kept[name] if name in kept else made[name] for name in names}, tuple(made)


def _editions(
    library: Library, folder: SiteFolder, boards: Mapping[str, BoardMade], now: datetime
) -> Editions:
    """Compare what was made with what stood here; in a new folder, with what the library keeps of another."""
    before = folder.manifest.stood
    noted = {each.entry.board: each.entry.noted for each in boards.values() if each.entry is not None}
    refused = [each.refused.board for each in boards.values() if each.refused is not None]
    return next_editions(
        ("unknown" if folder.manifest.boards else read_editions(library.folder / EDITIONS))
        if before is None
        else before,
        noted,
        skills_noted(library),
        dict.fromkeys(refused, "its book has errors"),
        now,
    )


def _dated(made: BoardMade, editions: Editions) -> BoardMade:
    """Date a board: when what is known of it changed last."""
    if made.entry is None:
        return made
    return replace(made, entry=replace(made.entry, updated=editions.boards[made.entry.board].updated))


def _whole_site(site: Site) -> Iterator[tuple[str, bytes]]:
    for chapter in CHAPTERS:
        yield from chapter.files(site).items()


def _told(
    out: Path, site: Site, files: Mapping[str, str], moved: tuple[int, int], made: Sequence[str]
) -> Pressed:
    complaints = [(entry.board, each) for entry in site.boards for each in entry.complaints]
    return Pressed(
        out=out,
        files=len(files),
        written=moved[0],
        removed=moved[1],
        made=tuple(entry.board for entry in site.boards if entry.board in made),
        kept=tuple(entry.board for entry in site.boards if entry.board not in made),
        refused=site.refused,
        unplanned=tuple((board, each) for board, each in complaints if each.trouble),
        stale=tuple((board, each) for board, each in complaints if each.stale),
    )
