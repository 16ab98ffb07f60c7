"""The desk: jobs on the bench, from the complaint to the finished record.

Pages and commands ask it; it keeps boards prepared, checks what is entered against the book before anything
is stored, and says where a job stands.
"""

from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from pathlib import Path
from secrets import token_urlsafe
from threading import Lock
from types import TracebackType
from typing import Final, Self

from benchlore.book import Check
from benchlore.jobs import Draft, Entry, EntryConflict, EntryKind, Identity, JobClosed, OpenJob, Plain, Store
from benchlore.library.asking import Companion
from benchlore.library.bench import Bench, situation_of
from benchlore.library.desk_closing import close_data, finished_job, sound_close
from benchlore.library.desk_companions import Companions
from benchlore.library.desk_entries import Journal, checked
from benchlore.library.desk_spread import CostRange, range_of
from benchlore.library.desk_values import Close, Counting, JobLine, JobView
from benchlore.library.desk_view import line_of, view_of
from benchlore.library.errors import LibraryError, NoJobError
from benchlore.library.folder import Library
from benchlore.library.shelf import Shelf, shelved
from benchlore.notation import FileTrouble
from benchlore.procedure import PlanningError

MOST_RANGES: Final = 64
"""Jobs of which the last range of cost is remembered."""


class Desk:
    """A library's open jobs, for one shop. May be asked from several threads."""

    def __init__(self, library: Library, *, shop_file: Path | None = None) -> None:
        self.library = library
        self.shop_file = shop_file
        self._companions = Companions(library, shop_file)
        self._opened: Store | None = None
        self._lock = Lock()
        self._ranging = Lock()
        self._ranges: dict[str, tuple[int, Companion, CostRange | None]] = {}

    def __enter__(self) -> Self:
        """Use the desk in a ``with`` statement."""
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, traceback: TracebackType | None
    ) -> None:
        """Close the store."""
        self.shut()

    def shut(self) -> None:
        """Close the store, once what is being learned is learned."""
        self._companions.wait()
        with self._lock:
            if self._opened is not None:
                self._opened.close()
                self._opened = None

    def facts(self, board: str, complaint: str) -> tuple[Check, ...]:
        """Return the checks that cost nothing, which can be answered when the device is taken in."""
        book = self._companions.of(board, complaint).companion.book
        return tuple(check for check in book.checks.values() if _costs_nothing(check))

    def start(  # noqa: PLR0913  one argument for each thing that is said when a device is taken in
        self,
        board: str,
        complaint: str,
        *,
        now: datetime,
        said: str = "",
        technician: str = "",
        device: str = "",
        facts: Sequence[tuple[str, str]] = (),
        comeback_of: Identity | None = None,
        key: str | None = None,
        by: str | None = None,
        clock: Counting = "stopped",
    ) -> OpenJob:
        """Open a job; ``facts`` are ``(check, text)``. With a ``key`` from the caller, sent twice is one job.

        ``by`` enters the facts; where nobody is named, ``technician`` does. ``clock`` is what time counts as
        from now on.

        The job's number is the day (of ``now``, in its own time zone) and the next free number of that day at
        the shop: ``26-1125-3``.

        Raises
        ------
        NoBookError, BookRefusedError, NoComplaintError, ShopRefusedError, PlanningError
            If the job cannot be helped with.
        ReadingError
            If a fact means nothing to the book, or one is told twice.
        EntryRefusedError
            If a fact holds what no store keeps.
        NoJobError
            If there is no job ``comeback_of``.
        BenchUnstorable
            If a text is too long, or holds what no store keeps.
        """
        companion = self._companions.of(board, complaint).companion
        told = [
            checked(EntryKind.READING, {"check": check, "text": text}, Journal(companion, (), now))
            for check, text in facts
        ]
        situation_of(companion.model, companion.shop, Bench(readings=tuple(facts)))
        if comeback_of is not None and self._store.job(*comeback_of) is None:
            raise NoJobError(*comeback_of)
        job = OpenJob(
            key=key or token_urlsafe(16),
            shop=companion.shop.name,
            number=f"{now:%y-%m%d}-",
            board=board,
            complaint=complaint,
            opened=now.astimezone(UTC),
            said=said,
            device=device,
            technician=technician,
            comeback_of=comeback_of,
        )
        drafts = [
            Draft(EntryKind.READING, data, job.opened, technician if by is None else by, f"fact-{place}")
            for place, data in enumerate(told, 1)
        ]
        if clock != "stopped":
            who = technician if by is None else by
            drafts.append(Draft(EntryKind.CLOCK, {"to": clock}, job.opened, who, "clock-at-start"))
        return self._store.open_job(job, drafts)

    def enter(
        self,
        key: str,
        kind: EntryKind,
        data: Mapping[str, Plain],
        *,
        expected: int,
        token: str,
        by: str,
        now: datetime,
    ) -> JobView:
        """Check an entry against the book and the job as it stands, store it, and say how it stands then.

        An entry whose ``token`` is stored already adds nothing.

        Raises
        ------
        ReadingError
            If it means nothing to the book; the messages are those of ``benchlore next``.
        EntryRefusedError
            If the job as it stands cannot take it, or its fields are not what its kind has.
        EntryConflict
            If somebody has entered something since ``expected``.
        NoOpenJob, JobClosed, BenchUnstorable
            As they say.
        """
        job, entries = self._store.journal(key)
        if not _is_there(entries, token):
            _refuse_late(job, entries, expected)
            companion = self._companions.of(job.board, job.complaint).companion
            sound = checked(kind, data, Journal(companion, entries, now))
            self._store.append(key, Draft(kind, sound, now.astimezone(UTC), by, token), expected=expected)
        return self.view(key, now)

    def view(self, key: str, now: datetime) -> JobView:
        """Say how a job stands; raises ``NoOpenJob``."""
        job, entries = self._store.journal(key)
        return self._view(job, entries, now)

    def jobs(self, now: datetime, *, closed: bool = False) -> tuple[JobLine, ...]:
        """Return the open jobs, or the closed ones, the last touched first."""
        journals = self._store.journals(closed=closed)
        lines = (line_of(job, entries, now) for job, entries in journals)
        return tuple(sorted(lines, key=lambda line: (line.touched, line.job.key), reverse=True))

    def shelf(self, now: datetime) -> Shelf:
        """Return the boards that soak: those that somebody should see to first, then the next to be done."""
        boards, unread = [], []
        for job, entries in self._store.journals(closed=False):
            line = line_of(job, entries, now)
            if line.soak is None:
                continue
            try:
                companion = self._companions.of(job.board, job.complaint).companion
            except (LibraryError, FileTrouble, PlanningError):
                unread.append(line)
                continue
            found = shelved(companion, job, entries, now)
            assert found is not None  # a line with a soak is one of the shelf
            boards.append(found)
        boards.sort(key=lambda each: (not each.rings, each.left, each.soak.started, each.job.key))
        return Shelf(tuple(boards), tuple(unread))

    def close(self, key: str, close: Close, *, expected: int, token: str, by: str, now: datetime) -> JobView:
        """Finish a job: its record goes to the library's jobs, from which the models learn.

        The job that it came back from counts as a comeback from then on. The board's models are learned anew
        in the background; until they are, its jobs are answered from the older ones.

        Raises
        ------
        EntryRefusedError
            If the outcome is none, or the fault is not the book's.
        NumberTaken
            If another record of the same shop and number was taken in meanwhile, and denies this one.
        EntryConflict, NoOpenJob, JobClosed, BenchUnstorable
            As for ``enter``.
        """
        job, entries = self._store.journal(key)
        if not _is_there(entries, token):
            _refuse_late(job, entries, expected)
            view = self._view(job, entries, now)
            sound = sound_close(close, view.book)
            draft = Draft(EntryKind.CLOSE, close_data(sound), now.astimezone(UTC), by, token)
            finished = finished_job(view, sound, now.tzinfo)
            self._store.close_job(key, draft, finished, expected=expected)
            self._companions.learn_anew(job.board)
        return self.view(key, now)

    def reopen(self, key: str, *, expected: int, token: str, by: str, now: datetime) -> JobView:
        """Go on with a closed job: its record counts as open again, so that nothing learns from it."""
        draft = Draft(EntryKind.REOPEN, {}, now.astimezone(UTC), by, token)
        self._store.reopen_job(key, draft, expected=expected)
        view = self.view(key, now)
        self._companions.learn_anew(view.job.board)
        return view

    def cost_range(self, key: str, now: datetime) -> CostRange | None:
        """Say between what the rest of a job mostly costs; ``None`` where no step is open.

        It plans and simulates, so it may take some tenths of a second. Raises ``NoOpenJob``.
        """
        view = self.view(key, now)
        companion = self._companions.of(view.job.board, view.job.complaint).companion
        with self._ranging:  # one at a time: it keeps a core busy, and benches come first
            kept = self._ranges.get(key)
            if kept is not None and kept[:2] == (view.last, companion) and view.asked is not None:
                return kept[2]
            found = range_of(companion, view)
            self._ranges[key] = (view.last, companion, found)
            while len(self._ranges) > MOST_RANGES:
                del self._ranges[next(iter(self._ranges))]
            return found

    @property
    def _store(self) -> Store:
        """The library's store, opened once."""
        with self._lock:
            if self._opened is None:
                self._opened = Store.open(self.library.store)
            return self._opened

    def _view(self, job: OpenJob, entries: tuple[Entry, ...], now: datetime) -> JobView:
        prepared = self._companions.of(job.board, job.complaint)
        return view_of(prepared.companion, job, entries, now, trouble=prepared.trouble)


def _costs_nothing(check: Check) -> bool:
    """Whether a check takes no time, needs nothing and risks nothing, so that it can be asked at once."""
    work = check.work
    spends = work.takes or work.waits or work.ruins or work.setups or work.equipment
    return not spends and not check.gates


def _is_there(entries: Sequence[Entry], token: str) -> bool:
    return any(entry.token == token for entry in entries)


def _refuse_late(job: OpenJob, entries: tuple[Entry, ...], expected: int) -> None:
    """Refuse what the store would refuse, before the entry is judged by what its writer has not seen."""
    if job.closed:
        raise JobClosed(job.key)
    if expected != len(entries):
        raise EntryConflict(job.key, expected, entries[max(0, expected) :])
