"""Why jobs cannot be kept, read or exported. Nothing was changed when one of these is raised.

StoreTrouble          the database or the system said something that none of the cases below covers
    StoreMissing      there is no store, and none was to be made
    StoreBusy         another program is writing and did not finish in time
    StoreNewer        a newer benchlore made it
    StoreDamaged      it is not a job store, or it is broken
    StoreReadOnly     it may be read but not written
    StoreFull         there is no room left on the disk
    StoreUnreachable  the database server does not answer or refuses the login
JobUnstorable         a job holds something that neither a store nor an export keeps
DemandUnstorable      a demand record does
BenchUnstorable       an open job or an entry of its journal does, or it is too long
NoOpenJob             there is no open job with that key
JobClosed             an entry was made on a job that is closed
JobNotClosed          a job was to be opened again that is open
EntryConflict         somebody has made entries since the writer last looked
NumberTaken           another record of the same shop and number denies a finished job
ExportTrouble         jobs cannot be exported, or an export cannot be read
    ExportExists      something else lies where the export should go
    ExportUnreadable  a file of an export is missing, or it is not one
"""

from pathlib import Path
from typing import Final

from benchlore.jobs.journal import Entry
from benchlore.jobs.merge import Conflict
from benchlore.jobs.values import Job

_UNCHANGED: Final = "nothing was changed"


class StoreTrouble(Exception):  # noqa: N818  its kinds read as sentences: store missing, store busy
    """The database or the system reported trouble; ``place`` is where the store is."""

    def __init__(self, place: str, reason: str) -> None:
        super().__init__(f"{place}: {reason}; {_UNCHANGED}")
        self.place = place
        self.reason = reason


class StoreMissing(StoreTrouble):
    """There is no store at this place."""

    def __init__(
        self, place: str, reason: str = "there is no job store here; take jobs in to make one"
    ) -> None:
        super().__init__(place, reason)


class StoreBusy(StoreTrouble):
    """Another program is writing to the store."""

    def __init__(self, place: str, wait: float) -> None:
        super().__init__(
            place,
            f"another program is writing to the job store and was not done after {wait:g} s; let it finish "
            "(an intake, an open app) or close it, then try again",
        )
        self.wait = wait


class StoreNewer(StoreTrouble):
    """A newer benchlore made the store: version ``found``, while this one knows up to ``known``."""

    def __init__(self, place: str, found: str, known: str) -> None:
        super().__init__(
            place,
            f"a newer benchlore made this job store (version {found!r}; this one knows up to {known!r}); "
            "update benchlore to use it",
        )
        self.found = found
        self.known = known


class StoreDamaged(StoreTrouble):
    """What lies at this place is not a job store, or it is broken."""

    def __init__(self, place: str, reason: str) -> None:
        super().__init__(
            place,
            f"this is not a whole job store ({reason}); put it aside and take your backup, "
            "or take the jobs in again",
        )
        self.cause = reason


class StoreReadOnly(StoreTrouble):
    """The store may be read but not written."""

    def __init__(self, place: str, reason: str) -> None:
        super().__init__(
            place,
            f"the job store cannot be written here ({reason}); ask for write access to the file and its "
            "folder, or copy the library to a folder of yours",
        )
        self.cause = reason


class StoreFull(StoreTrouble):
    """There is no room left on the disk."""

    def __init__(self, place: str) -> None:
        super().__init__(place, "there is no room left on the disk; make room, then try again")


class StoreUnreachable(StoreTrouble):
    """The database server does not answer, or refuses the login."""

    def __init__(self, place: str, reason: str) -> None:
        super().__init__(
            place, f"the database cannot be reached ({reason}); check the address, the login and the network"
        )
        self.cause = reason


class JobUnstorable(Exception):  # noqa: N818  reads as a sentence
    """A job holds something that no store keeps."""

    def __init__(self, job: Job, field: str, reason: str) -> None:
        super().__init__(f"job {job.number!r} of shop {job.shop!r}: {field} {reason}; nothing was written")
        self.job = job
        self.field = field
        self.reason = reason


class DemandUnstorable(Exception):  # noqa: N818  reads as a sentence
    """A demand record holds something that no store keeps."""

    def __init__(self, provider: str, identifier: str, field: str, reason: str) -> None:
        super().__init__(f"record {identifier!r} of {provider!r}: {field} {reason}; nothing was written")
        self.provider = provider
        self.id = identifier
        self.field = field
        self.reason = reason


class BenchUnstorable(Exception):  # noqa: N818  reads as a sentence
    """An open job, or an entry of its journal, holds something that no store keeps, or is too long."""

    def __init__(self, field: str, reason: str) -> None:
        super().__init__(f"{field} {reason}; nothing was stored")
        self.field = field
        self.reason = reason


class NoOpenJob(Exception):  # noqa: N818  reads as a sentence
    """There is no job on the bench with this key."""

    def __init__(self, key: str) -> None:
        super().__init__(f"there is no job {key[:60]!r} on the bench; look for it among the open jobs")
        self.key = key


class JobClosed(Exception):  # noqa: N818  reads as a sentence
    """The job is closed, so that nothing can be entered."""

    def __init__(self, key: str) -> None:
        super().__init__("this job is closed; open it again to go on with it; nothing was stored")
        self.key = key


class JobNotClosed(Exception):  # noqa: N818  reads as a sentence
    """The job is open, so that it cannot be opened again."""

    def __init__(self, key: str) -> None:
        super().__init__("this job is open; go on with it")
        self.key = key


class EntryConflict(Exception):  # noqa: N818  reads as a sentence
    """Somebody made entries since the writer last looked; ``newer`` are they."""

    def __init__(self, key: str, expected: int, newer: tuple[Entry, ...]) -> None:
        who = ", ".join(dict.fromkeys(entry.by or "somebody" for entry in newer)) or "somebody"
        super().__init__(
            f"{who} made an entry on this job after entry {expected}, the last that you saw; "
            f"look at it, then enter yours again; nothing was stored"
        )
        self.key = key
        self.expected = expected
        self.newer = newer


class NumberTaken(Exception):  # noqa: N818  reads as a sentence
    """Another record of the same shop and number is stored and denies a finished job."""

    def __init__(self, conflicts: tuple[Conflict, ...]) -> None:
        job = conflicts[0].job
        super().__init__(
            f"another record of job {job.number!r} of shop {job.shop!r} is stored already and says otherwise "
            f"({conflicts[0].field}); correct or remove that record, then close this job again; "
            f"nothing was stored"
        )
        self.conflicts = conflicts


class ExportTrouble(Exception):  # noqa: N818  its kinds read as sentences: export exists
    """Jobs cannot be exported to ``path``, or an export there cannot be read."""

    def __init__(self, path: Path, reason: str) -> None:
        super().__init__(f"{path}: {reason}")
        self.path = path
        self.reason = reason


class ExportExists(ExportTrouble):
    """Something lies where the export should go, and it is not an export."""

    def __init__(self, path: Path, what: str) -> None:
        super().__init__(
            path, f"{what}, so that an export would overwrite it; give a folder that is not there yet"
        )
        self.what = what


class ExportUnreadable(ExportTrouble):
    """A file of an export is missing or is not one; ``line`` is where, ``0`` for the whole file."""

    def __init__(self, path: Path, line: int, reason: str) -> None:
        message = f"line {line}: {reason}" if line else reason
        super().__init__(path, f"{message}; take an export that nobody edited, or mend this file")
        self.line = line
        self.cause = reason
