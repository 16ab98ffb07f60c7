"""Text that people write: reading it, writing it, and saying in plain words what is wrong with it.

Here live problems with their places in a text, YAML as the books use it, names and the nearest one to a
mistyped name, fingerprints of values, and files that are read with care and written whole or not at all.
May import ``units``.
"""

from benchlore.notation.document import Document, load_yaml
from benchlore.notation.files import (
    FileMissing,
    FileNotText,
    FileNotWritten,
    FileTooLarge,
    FileTrouble,
    FileUnreadable,
    read_text,
    reason_of,
    write_atomic,
)
from benchlore.notation.fingerprint import fingerprint
from benchlore.notation.names import did_you_mean, is_name, listed, nearest, quoted, shortened
from benchlore.notation.problem import Key, Position, Positions, Problem, Severity

__all__ = [
    "Document",
    "FileMissing",
    "FileNotText",
    "FileNotWritten",
    "FileTooLarge",
    "FileTrouble",
    "FileUnreadable",
    "Key",
    "Position",
    "Positions",
    "Problem",
    "Severity",
    "did_you_mean",
    "fingerprint",
    "is_name",
    "listed",
    "load_yaml",
    "nearest",
    "quoted",
    "read_text",
    "reason_of",
    "shortened",
    "write_atomic",
]
