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
    NoLibraryError,
    NoProcedureError,
    NoProofError,
    NotEmptyError,
    NothingStoredError,
    ReadingError,
    ShopRefusedError,
)
from benchlore.library.folder import Library, init_library, open_library
from benchlore.library.overview import (
    BookOverview,
    ComplaintOverview,
    Overview,
    PlanKept,
    ProofKept,
    book_overview,
    expected_minutes,
    overview,
)
from benchlore.library.planning import Learned, Planned, kept_procedure, learn_board, plan_complaint
from benchlore.library.progress import Report, silent
from benchlore.library.proving import Other, Proved, kept_proof, prove_complaint
from benchlore.library.records import (
    DemandTakenIn,
    TakenIn,
    draft_mapping,
    export_jobs,
    preview_table,
    take_in,
    take_in_demand,
)
from benchlore.library.reviewing import Reviewed, review_book, review_library, review_text

__all__ = [
    "UNCLEAR",
    "Asked",
    "Bench",
    "BookOverview",
    "BookRefusedError",
    "Companion",
    "ComplaintOverview",
    "DemandTakenIn",
    "DemoMade",
    "Learned",
    "Library",
    "LibraryError",
    "LibraryFileError",
    "MappingRefusedError",
    "NoBookError",
    "NoComplaintError",
    "NoLibraryError",
    "NoProcedureError",
    "NoProofError",
    "NotEmptyError",
    "NothingStoredError",
    "Other",
    "Overview",
    "PlanKept",
    "Planned",
    "ProofKept",
    "Proved",
    "ReadAs",
    "ReadingError",
    "Report",
    "Reviewed",
    "ShopRefusedError",
    "TakenIn",
    "ask",
    "book_overview",
    "companion_of",
    "draft_mapping",
    "expected_minutes",
    "export_jobs",
    "init_library",
    "kept_procedure",
    "kept_proof",
    "learn_board",
    "make_demo",
    "open_library",
    "overview",
    "plan_complaint",
    "preview_table",
    "prove_complaint",
    "review_book",
    "review_library",
    "review_text",
    "silent",
    "take_in",
    "take_in_demand",
]
