"""Taking in the tables that shops keep: CSV files and XLSX workbooks, with their own words and numbers.

Here live the mapping file, the table and its hostile kinds, the matching of names, the reading of cells, wide
and long layouts, the preview, and the file of refused rows. It reads books and makes jobs; nothing is stored
here. May import ``units``, ``notation``, ``book``, and of ``jobs`` its values and the merging of records.
"""

from benchlore.jobs.intake.cells import Reason
from benchlore.jobs.intake.mapping import Layout, TableMapping
from benchlore.jobs.intake.pointing import UnpointableError, meanings_of, point, settings_of
from benchlore.jobs.intake.preview import Preview, preview
from benchlore.jobs.intake.read_mapping import ReadMapping, read_mapping
from benchlore.jobs.intake.rejects import mended_text, rejects_text, write_rejects
from benchlore.jobs.intake.suggest import suggest_mapping
from benchlore.jobs.intake.table import Table, read_table
from benchlore.jobs.intake.trouble import (
    NoSuchSheet,
    NoTable,
    TableBroken,
    TableTooLarge,
    TableTrouble,
    WrongKind,
)
from benchlore.jobs.intake.verdicts import RowVerdict, Verdict

__all__ = [
    "Layout",
    "NoSuchSheet",
    "NoTable",
    "Preview",
    "ReadMapping",
    "Reason",
    "RowVerdict",
    "Table",
    "TableBroken",
    "TableMapping",
    "TableTooLarge",
    "TableTrouble",
    "UnpointableError",
    "Verdict",
    "WrongKind",
    "meanings_of",
    "mended_text",
    "point",
    "preview",
    "read_mapping",
    "read_table",
    "rejects_text",
    "settings_of",
    "suggest_mapping",
    "write_rejects",
]
