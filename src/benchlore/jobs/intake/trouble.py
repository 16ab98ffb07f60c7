"""Why a file cannot be taken as a table.

TableTrouble
    WrongKind     it is not a CSV or XLSX table (an old workbook, a web page, a picture, a locked workbook)
    TableBroken   it is one, and damaged
    TableTooLarge it is larger than is read, or unpacks to more
    NoSuchSheet   the workbook has no sheet of that name
    NoTable       there is nothing in it, or nothing where the header should be
"""

from collections.abc import Sequence
from pathlib import Path

from benchlore.notation import FileTrouble, did_you_mean


class TableTrouble(FileTrouble):
    """A file cannot be read as a table."""


class WrongKind(TableTrouble):
    """The file is something else than a CSV or XLSX table."""

    def __init__(self, path: Path, what: str, advice: str = "save it as XLSX or CSV") -> None:
        super().__init__(path, f"is {what}, not a table that can be read; {advice}")
        self.what = what


class TableBroken(TableTrouble):
    """The file is a table and damaged; ``row`` is where, if that is known."""

    def __init__(self, path: Path, reason: str, row: int | None = None) -> None:
        super().__init__(path, reason, within=f", row {row}" if row else "")
        self.reason = reason
        self.row = row


class TableTooLarge(TableTrouble):
    """The file is larger than is read, or unpacks to more."""

    def __init__(self, path: Path, what: str) -> None:
        super().__init__(path, f"{what}; split the table, or keep only the job rows and columns in it")
        self.what = what


class NoSuchSheet(TableTrouble):
    """The workbook has no sheet of that name."""

    def __init__(self, path: Path, sheet: str, sheets: Sequence[str]) -> None:
        super().__init__(path, f"has no sheet '{sheet}'{did_you_mean(sheet, sheets)}")
        self.sheet = sheet
        self.sheets = tuple(sheets)


class NoTable(TableTrouble):
    """There is no header where it should be."""

    def __init__(self, path: Path, reason: str) -> None:
        super().__init__(path, reason)
        self.reason = reason
