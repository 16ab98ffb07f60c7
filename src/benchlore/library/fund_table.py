"""The steward's own table of candidates, kept in the library folder, and what was last asked of it.

``fund/candidates.csv`` is a table as ``benchlore fund`` takes it, ``fund/candidates-before.csv`` the one that
it took the place of, ``fund/terms.json`` what was typed about budget, hours and years.
"""

import csv
import io
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from hashlib import sha256
from math import nan
from pathlib import Path
from typing import Final

from benchlore.library.candidates import COLUMNS, FundTerms, cells_in, read_candidates, read_row
from benchlore.library.cells import AMBIGUOUS, limit_said
from benchlore.library.editing import alone
from benchlore.library.errors import CandidatesRefusedError, LibraryError
from benchlore.library.folder import Library, make_folder, sound_shop_of
from benchlore.notation import FileMissing, FileTrouble, read_text, write_atomic

EMPTY: Final = ",".join(COLUMNS) + "\n"
LONGEST_CELL: Final = 500
HOURS_OF: Final = "hours:"
"""What the name of a field begins with that holds the hours of a person."""
WHAT_IF: Final = "if:"
"""What the name of a field begins with that forces a candidate ``in`` or ``out``."""
TERMS: Final[Mapping[str, str]] = {
    "budget": "",
    "rate": "",
    "years": "5",
    "discount": "5",
    "draws": "200",
    "seed": "1",
}
"""What a plan is asked, and what stands there before anybody typed; discount in per cent."""


class FundTableChangedError(LibraryError):
    """Somebody changed the table since it was looked at."""

    def __init__(self) -> None:
        super().__init__(
            "the table of candidates was changed since you looked at it, so nothing was saved; look at what "
            "it says now, and do it again"
        )


class TermsRefusedError(LibraryError):
    """What is asked of a fund plan makes no sense; ``wrong`` says why, by field."""

    def __init__(self, wrong: Mapping[str, str]) -> None:
        self.wrong = dict(wrong)
        super().__init__("; ".join(self.wrong.values()))


@dataclass(frozen=True, slots=True)
class FundTable:
    """The table as it stands: its rows' cells, its fingerprint, and whether there is one to go back to."""

    rows: tuple[Mapping[str, str], ...]
    sha256: str
    has_before: bool

    @property
    def people(self) -> tuple[str, ...]:
        """Who is to do the research."""
        return tuple(sorted({row["who"] for row in self.rows} - {""}))

    @property
    def names(self) -> tuple[str, ...]:
        """The candidates' names, each once."""
        return tuple(dict.fromkeys(f"{row['device']}, {row['complaint']}" for row in self.rows))


def fund_file(library: Library) -> Path:
    """Where the table is kept."""
    return library.folder / "fund" / "candidates.csv"


def fund_table(library: Library) -> FundTable:
    """Read the table that is kept; it is empty where there is none yet.

    Raises
    ------
    CandidatesRefusedError, TableTrouble
        If somebody made it something else by hand.
    """
    text = _text(fund_file(library))
    rows = tuple(cells for _, cells in cells_in(fund_file(library))) if text.strip() != EMPTY.strip() else ()
    return FundTable(rows, _digest(text), _before(library).is_file())


def candidates_csv(library: Library) -> str:
    """The table as a file, for ``benchlore fund`` or a spreadsheet."""
    return _text(fund_file(library))


def put_row(library: Library, place: int | None, typed: Mapping[str, str], *, seen: str) -> FundTable:
    """Put a row in the place of another, or at the end where ``place`` is ``None``.

    Raises
    ------
    CandidatesRefusedError
        If the row has mistakes.
    FundTableChangedError
        If the table is not the one that was seen.
    """
    cells = {name: " ".join(typed.get(name, "").split())[:LONGEST_CELL] for name in COLUMNS}
    rows = list(fund_table(library).rows)
    line = (len(rows) if place is None else place) + 2
    _, problems = read_row(library, cells, file="candidates.csv", line=line)
    if problems:
        raise CandidatesRefusedError(problems)
    if place is None:
        rows.append(cells)
    elif place < len(rows):
        rows[place] = cells
    else:
        raise FundTableChangedError
    return _save(library, _written(rows), seen=seen)


def remove_row(library: Library, place: int, *, seen: str) -> FundTable:
    """Take a row away; raises ``FundTableChangedError``."""
    rows = list(fund_table(library).rows)
    if place >= len(rows):
        raise FundTableChangedError
    return _save(library, _written([*rows[:place], *rows[place + 1 :]]), seen=seen)


def import_table(library: Library, path: Path, *, seen: str) -> FundTable:
    """Take the place of the whole table with a CSV or XLSX file; raises ``CandidatesRefusedError``."""
    read_candidates(library, path, FundTerms(0.0))
    return _save(library, _written([cells for _, cells in cells_in(path)]), seen=seen)


def undo_table(library: Library, *, seen: str) -> FundTable:
    """Go back to the table before the last change; doing so twice leaves everything as it was."""
    text = _text(_before(library))
    return _save(library, text, seen=seen)


def fund_terms(library: Library) -> dict[str, str]:
    """Give what was last typed about a plan, field by field; what cannot be read was never typed."""
    try:
        known = json.loads(read_text(_terms_file(library)))
    except (FileTrouble, ValueError):
        known = {}
    kept = {str(name): str(value) for name, value in known.items()} if isinstance(known, dict) else {}
    return {**TERMS, **{name: value for name, value in kept.items() if name in TERMS or _is_hours(name)}}


def keep_terms(library: Library, typed: Mapping[str, str]) -> None:
    """Keep what was typed for the next time; a what-if is not kept."""
    kept = {name: value for name, value in typed.items() if name in TERMS or _is_hours(name)}
    make_folder(_terms_file(library).parent)
    write_atomic(_terms_file(library), json.dumps(kept, ensure_ascii=False, indent=1) + "\n")


def terms_of(library: Library, typed: Mapping[str, str]) -> FundTerms:
    """Read what was typed about a plan; raises ``TermsRefusedError`` with every mistake."""
    read = TypedNumbers(typed)
    if not typed.get("budget", "").strip():
        read.wrong["budget"] = "the budget is empty; write what may be spent"
    forced = {name.removeprefix(WHAT_IF): value for name, value in typed.items() if name.startswith(WHAT_IF)}
    terms = FundTerms(
        budget=read.number("budget", "the budget", 0.0),
        capacity={
            name.removeprefix(HOURS_OF): read.number(name, f"hours of {name.removeprefix(HOURS_OF)}", 0.0)
            for name, value in typed.items()
            if _is_hours(name) and value.strip()
        },
        rate=read.number("rate", "an expert's hour", sound_shop_of(library).hour),
        years=read.whole("years", "years", 5, most=100),
        discount=read.number("discount", "discount", 5, most=1000) / 100,
        must=tuple(name for name, value in forced.items() if value == "in"),
        left_out=tuple(name for name, value in forced.items() if value == "out"),
        draws=read.whole("draws", "draws", 200, most=10_000),
        seed=read.whole("seed", "seed", 1, least=0, most=2**31),
    )
    read.refuse()
    return terms


class TypedNumbers:
    """Reads typed numbers, and collects what is wrong with them by field."""

    def __init__(self, typed: Mapping[str, str]) -> None:
        self._typed = typed
        self.wrong: dict[str, str] = {}

    def number(
        self, field: str, said: str, otherwise: float, *, least: float = 0.0, most: float = 1e12
    ) -> float:
        """A number between two, ``otherwise`` where the field is empty."""
        text = self._typed.get(field, "").replace("\u00a0", "").replace(" ", "")
        if not text:
            return otherwise
        if AMBIGUOUS.fullmatch(text):
            whole, decimal = text.replace(",", ""), text.replace(",", ".")
            self.wrong[field] = f"{said}: {text} may be {whole} or {decimal}; write one"
            return otherwise
        try:
            found = float(text.replace(",", "."))
        except ValueError:
            found = nan
        if not least <= found <= most:
            self.wrong[field] = f"{said}: '{text[:40]}'; write a number from {least:g} to {limit_said(most)}"
            return otherwise
        return found

    def refuse(self) -> None:
        """Raise ``TermsRefusedError`` where anything was wrong."""
        if self.wrong:
            raise TermsRefusedError(self.wrong)

    def whole(self, field: str, said: str, otherwise: int, *, least: int = 1, most: int) -> int:
        """A whole number between two."""
        found = self.number(field, said, otherwise, least=least, most=most)
        if found != int(found):
            self.wrong[field] = f"{said}: '{found:g}'; write a whole number from {least} to {most}"
        return int(found)


def _is_hours(name: str) -> bool:
    return name.startswith(HOURS_OF)


def _save(library: Library, text: str, *, seen: str) -> FundTable:
    path = fund_file(library)
    make_folder(path.parent)
    with alone(path):
        before = _text(path)
        if _digest(before) != seen:
            raise FundTableChangedError
        if text != before:
            write_atomic(_before(library), before)
            write_atomic(path, text)
    return fund_table(library)


def _written(rows: Sequence[Mapping[str, str]]) -> str:
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(COLUMNS)
    writer.writerows([row[name] for name in COLUMNS] for row in rows)
    return out.getvalue()


def _text(path: Path) -> str:
    try:
        return read_text(path)
    except FileMissing:
        return EMPTY


def _digest(text: str) -> str:
    return sha256(text.encode("utf-8", "replace")).hexdigest()


def _before(library: Library) -> Path:
    return fund_file(library).with_name("candidates-before.csv")


def _terms_file(library: Library) -> Path:
    return fund_file(library).with_name("terms.json")
