"""The library folder joined to the engine: the questions that every command, screen and page asks.

Only here do stored things (books, shop files, jobs) meet models and procedures, so all surfaces give the
same answers. May import every package but ``cli``.
"""

from benchlore.library.asking import Asked, Companion, ask, companion_of
from benchlore.library.bench import UNCLEAR, Bench, ReadAs
from benchlore.library.demo import DemoMade, make_demo
from benchlore.library.errors import (
    BookRefusedError,
    LibraryError,
    LibraryFileError,
    MappingRefusedError,
    NoBookError,
    NoComplaintError,
    NoJobError,
    NoLibraryError,
    NoProcedureError,
    NoProofError,
    NotEmptyError,
    NothingStoredError,
    ReadingError,
    ShopRefusedError,
)
from benchlore.library.folder import Library, init_library, open_library
from benchlore.library.planning import Learned, Planned, kept_procedure, learn_board, plan_complaint
from benchlore.library.progress import Report, silent
from benchlore.library.proving import Other, Proved, kept_proof, prove_complaint
from benchlore.library.recorded import (
    FixStep,
    FoundJobs,
    Leaning,
    ReadStep,
    Recorded,
    Suspect,
    find_jobs,
    jobs_csv,
    recorded_job,
    stored_job,
)
from benchlore.library.records import (
    DemandTakenIn,
    TakenIn,
    draft_mapping,
    export_jobs,
    preview_table,
    take_in,
    take_in_demand,
)
from benchlore.library.reviewing import Reviewed, review_book, review_library
from benchlore.library.sheets import (
    Sheet,
    SheetColumn,
    ShownPreview,
    ShownRow,
    look_at_sheet,
    mend_rows,
    shown_of,
)

__all__ = [
    "UNCLEAR",
    "Asked",
    "Bench",
    "BookRefusedError",
    "Companion",
    "DemandTakenIn",
    "DemoMade",
    "FixStep",
    "FoundJobs",
    "Leaning",
    "Learned",
    "Library",
    "LibraryError",
    "LibraryFileError",
    "MappingRefusedError",
    "NoBookError",
    "NoComplaintError",
    "NoJobError",
    "NoLibraryError",
    "NoProcedureError",
    "NoProofError",
    "NotEmptyError",
    "NothingStoredError",
    "Other",
    "Planned",
    "Proved",
    "ReadAs",
    "ReadStep",
    "ReadingError",
    "Recorded",
    "Report",
    "Reviewed",
    "Sheet",
    "SheetColumn",
    "ShopRefusedError",
    "ShownPreview",
    "ShownRow",
    "Suspect",
    "TakenIn",
    "ask",
    "companion_of",
    "draft_mapping",
    "export_jobs",
    "find_jobs",
    "init_library",
    "jobs_csv",
    "kept_procedure",
    "kept_proof",
    "learn_board",
    "look_at_sheet",
    "make_demo",
    "mend_rows",
    "open_library",
    "plan_complaint",
    "preview_table",
    "prove_complaint",
    "recorded_job",
    "review_book",
    "review_library",
    "shown_of",
    "silent",
    "stored_job",
    "take_in",
    "take_in_demand",
]
