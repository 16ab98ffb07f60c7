"""Bench jobs: what a job is, where jobs are kept, how they come in and go out.

Here live a job's values, the journal of one that is on the bench, the joining of two records of one job, the
store (SQLite, PostgreSQL), intake from tables, export, and repair events elsewhere as demand. May import
``units``, ``notation``, ``book``, ``shop``.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any, Final

from benchlore.jobs.demand import DemandRecord
from benchlore.jobs.errors import (
    BenchUnstorable,
    DemandUnstorable,
    EntryConflict,
    ExportExists,
    ExportTrouble,
    ExportUnreadable,
    JobClosed,
    JobNotClosed,
    JobUnstorable,
    NoOpenJob,
    NumberTaken,
    StoreBusy,
    StoreDamaged,
    StoreFull,
    StoreMissing,
    StoreNewer,
    StoreReadOnly,
    StoreTrouble,
    StoreUnreachable,
)
from benchlore.jobs.journal import Draft, Entry, EntryKind, OpenJob, Plain, standing
from benchlore.jobs.merge import Conflict, Merged, canonical, merge
from benchlore.jobs.store_values import (
    Added,
    DemandAdded,
    Identity,
    Intake,
    IntakeRecord,
    Place,
    Source,
)
from benchlore.jobs.values import UNLISTED, Attempt, Job, Outcome, Reading, Retest

if TYPE_CHECKING:
    from benchlore.jobs.adding import would_add
    from benchlore.jobs.columns import JobColumns
    from benchlore.jobs.export import export_csv, import_csv
    from benchlore.jobs.store import Store
    from benchlore.jobs.store_copy import copy_store

__all__ = [
    "UNLISTED",
    "Added",
    "Attempt",
    "BenchUnstorable",
    "Conflict",
    "DemandAdded",
    "DemandRecord",
    "DemandUnstorable",
    "Draft",
    "Entry",
    "EntryConflict",
    "EntryKind",
    "ExportExists",
    "ExportTrouble",
    "ExportUnreadable",
    "Identity",
    "Intake",
    "IntakeRecord",
    "Job",
    "JobClosed",
    "JobColumns",
    "JobNotClosed",
    "JobUnstorable",
    "Merged",
    "NoOpenJob",
    "NumberTaken",
    "OpenJob",
    "Outcome",
    "Place",
    "Plain",
    "Reading",
    "Retest",
    "Source",
    "Store",
    "StoreBusy",
    "StoreDamaged",
    "StoreFull",
    "StoreMissing",
    "StoreNewer",
    "StoreReadOnly",
    "StoreTrouble",
    "StoreUnreachable",
    "canonical",
    "copy_store",
    "export_csv",
    "import_csv",
    "merge",
    "standing",
    "would_add",
]

# The database library takes a fifth of a second to import, and the engine wants only values from here.
_ON_DEMAND: Final = {
    "JobColumns": "columns",
    "Store": "store",
    "copy_store": "store_copy",
    "export_csv": "export",
    "import_csv": "export",
    "would_add": "adding",
}


def __getattr__(name: str) -> Any:
    """Import what needs a heavy library when it is first asked for."""
    if name not in _ON_DEMAND:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f"{__name__}.{_ON_DEMAND[name]}"), name)
