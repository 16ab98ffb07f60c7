"""The library folder joined to the engine: the questions that every command, screen and page asks.

Only here do stored things (books, shop files, jobs) meet models and procedures, so all surfaces give the
same answers. May import every package but ``cli``.
"""

from benchlore.library.advice_words import (
    PARTS,
    alike_said,
    conflict_said,
    cost_text,
    fault_titles,
    go_on_said,
    held_back_said,
    limits_said,
    option_name,
    stop_said,
    why_said,
)
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
    OtherBookError,
    ReadingError,
    ShopRefusedError,
)
from benchlore.library.folder import Library, init_library, open_library
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
from benchlore.library.reviewing import Reviewed, review_book, review_library
from benchlore.library.work_words import hazards_of, minutes, retest_text, setup_text, standing_text, works_of

__all__ = [
    "PARTS",
    "UNCLEAR",
    "Asked",
    "Bench",
    "BookRefusedError",
    "Companion",
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
    "OtherBookError",
    "Planned",
    "Proved",
    "ReadAs",
    "ReadingError",
    "Report",
    "Reviewed",
    "ShopRefusedError",
    "TakenIn",
    "alike_said",
    "ask",
    "companion_of",
    "conflict_said",
    "cost_text",
    "draft_mapping",
    "export_jobs",
    "fault_titles",
    "go_on_said",
    "hazards_of",
    "held_back_said",
    "init_library",
    "kept_procedure",
    "kept_proof",
    "learn_board",
    "limits_said",
    "make_demo",
    "minutes",
    "open_library",
    "option_name",
    "plan_complaint",
    "preview_table",
    "prove_complaint",
    "retest_text",
    "review_book",
    "review_library",
    "setup_text",
    "silent",
    "standing_text",
    "stop_said",
    "take_in",
    "take_in_demand",
    "why_said",
    "works_of",
]
