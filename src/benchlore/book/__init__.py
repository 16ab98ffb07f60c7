"""The fault book: its values, its text, and what a careful reader would say of it.

``read_book`` turns text into values with every mistake placed and named; ``review`` adds what is doubtful.
May import ``notation`` and ``units``. Only ``review`` looks at a folder, and only for the pictures' names.
"""

from benchlore.book.assemble import UNLISTED
from benchlore.book.cautions import CAUTIONS, GENERAL_CAUTION
from benchlore.book.contributions import ROLES, SHORT, credit_role, role_address
from benchlore.book.density import Density, density_of
from benchlore.book.fields import OTHERS, RECORD_KINDS
from benchlore.book.read import ReadBook, read_book
from benchlore.book.review import review
from benchlore.book.review.gaps import LICENCES
from benchlore.book.shape import json_schema
from benchlore.book.values import (
    Board,
    Book,
    Check,
    Complaint,
    Condition,
    Fault,
    Fix,
    Gate,
    Hazard,
    Part,
    Person,
    Picture,
    Seen,
    Setup,
    Wire,
    Work,
)
from benchlore.notation.equipment import STANDARD_INSTRUMENTS, STANDARD_SKILLS

__all__ = [
    "CAUTIONS",
    "GENERAL_CAUTION",
    "LICENCES",
    "OTHERS",
    "RECORD_KINDS",
    "ROLES",
    "SHORT",
    "STANDARD_INSTRUMENTS",
    "STANDARD_SKILLS",
    "UNLISTED",
    "Board",
    "Book",
    "Check",
    "Complaint",
    "Condition",
    "Density",
    "Fault",
    "Fix",
    "Gate",
    "Hazard",
    "Part",
    "Person",
    "Picture",
    "ReadBook",
    "Seen",
    "Setup",
    "Wire",
    "Work",
    "credit_role",
    "density_of",
    "json_schema",
    "read_book",
    "review",
    "role_address",
]
