"""The desk: jobs on the bench, from the complaint to the finished record.

Pages and commands ask it; it keeps boards prepared, checks what is entered against the book before anything
is stored, and says where a job stands.
"""

from collections.abc import Mapping, Sequence
from datetime import datetime
from pathlib import Path
from types import TracebackType
from typing import Self

from benchlore.book import Check
from benchlore.jobs import EntryKind, Identity, OpenJob
from benchlore.jobs.journal import Plain
from benchlore.library.desk_values import Close, JobLine, JobView
from benchlore.library.folder import Library


class Desk:
    """A library's open jobs, for one shop. May be asked from several threads."""

    def __init__(self, library: Library, *, shop_file: Path | None = None) -> None:
        self.library = library
        self.shop_file = shop_file

    def __enter__(self) -> Self:
        """Use the desk in a ``with`` statement."""
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, traceback: TracebackType | None
    ) -> None:
        """Close the store."""
        self.shut()

    def shut(self) -> None:
        """Close the store."""
        raise NotImplementedError

    def facts(self, board: str, complaint: str) -> tuple[Check, ...]:
        """Return the checks that cost nothing, which can be answered when the device is taken in."""
        raise NotImplementedError

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
    ) -> OpenJob:
        """Open a job; ``facts`` are ``(check, text)``. With a ``key`` from the caller, sent twice is one job.

        The job's number is the day (of ``now``, in its own time zone) and the next free number of that day at
        the shop: ``26-1125-3``.

        Raises
        ------
        NoBookError, BookRefusedError, NoComplaintError, ShopRefusedError, PlanningError
            If the job cannot be helped with.
        ReadingError
            If a fact means nothing to the book.
        NoJobError
            If there is no job ``comeback_of``.
        BenchUnstorable
            If a text is too long, or holds what no store keeps.
        """
        raise NotImplementedError

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
        raise NotImplementedError

    def view(self, key: str, now: datetime) -> JobView:
        """Say how a job stands; raises ``NoOpenJob``."""
        raise NotImplementedError

    def jobs(self, now: datetime, *, closed: bool = False) -> tuple[JobLine, ...]:
        """Return the open jobs, or the closed ones, the last touched first."""
        raise NotImplementedError

    def close(self, key: str, close: Close, *, expected: int, token: str, by: str, now: datetime) -> JobView:
        """Finish a job: its record goes to the library's jobs, from which the models learn.

        The job that it came back from counts as a comeback from then on.

        Raises
        ------
        EntryRefusedError
            If the outcome is none, or the fault is not the book's.
        NumberTaken
            If another record of the same shop and number was taken in meanwhile, and denies this one.
        EntryConflict, NoOpenJob, JobClosed, BenchUnstorable
            As for ``enter``.
        """
        raise NotImplementedError

    def reopen(self, key: str, *, expected: int, token: str, by: str, now: datetime) -> JobView:
        """Go on with a closed job: its record counts as open again, so that nothing learns from it."""
        raise NotImplementedError
