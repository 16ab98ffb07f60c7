"""From a book's text to its values, with everything that is wrong with it."""

from dataclasses import dataclass
from typing import Final

from benchlore.book.assemble import Assembly, Entries
from benchlore.book.known import Known, equipment_in, names_in
from benchlore.book.shape import (
    BookShape,
    CheckShape,
    ComplaintShape,
    ConditionShape,
    FaultShape,
    FixShape,
    PersonShape,
    SetupShape,
)
from benchlore.book.values import Book
from benchlore.notation import Positions, Problem, load_yaml
from benchlore.notation.document import Data
from benchlore.notation.findings import Findings
from benchlore.notation.scalars import as_currency, as_name
from benchlore.notation.shapes import ShapeT, read_shape

SECTIONS: Final = ("people", "setups", "conditions", "checks", "faults", "fixes", "complaints")


@dataclass(frozen=True, slots=True)
class ReadBook:
    """What reading a book gave: ``book`` is ``None`` where any problem is an error."""

    book: Book | None
    problems: tuple[Problem, ...]
    positions: Positions


def read_book(text: str, *, file: str = "book.yaml", name: str | None = None) -> ReadBook:
    """Read a fault book; whatever the text is, the answer is a book or problems.

    ``name`` is the board's identifier (its folder's name); without it one is made of the board's title.
    """
    document = load_yaml(text, file)
    findings = Findings(document.positions, list(document.problems))
    book = None
    if isinstance(document.data, dict):
        book = _read(document.data, name, findings)
    elif not findings.problems:
        findings.error(
            (), "no-book", "this is no fault book; it begins with 'book: 1' and has names with values"
        )
    return ReadBook(None if findings.has_errors else book, findings.in_order(), document.positions)


def _read(data: dict[str, Data], name: str | None, findings: Findings) -> Book | None:
    """Read each entry by itself, so that a mistake in one hides nothing in the others."""
    bare = {key: {} if key in SECTIONS and value is not None else value for key, value in data.items()}
    header = read_shape(BookShape, bare, (), findings)
    entries = Entries(
        people=_section(data, "people", PersonShape, findings),
        setups=_section(data, "setups", SetupShape, findings),
        conditions=_section(data, "conditions", ConditionShape, findings),
        checks=_section(data, "checks", CheckShape, findings),
        faults=_section(data, "faults", FaultShape, findings),
        fixes=_section(data, "fixes", FixShape, findings),
        complaints=_section(data, "complaints", ComplaintShape, findings),
    )
    known = Known(
        names={section: names_in(data.get(section)) for section in SECTIONS},
        setups=entries.setups,
        conditions=entries.conditions,
        checks=entries.checks,
        equipment=equipment_in(data),
        findings=findings,
    )
    return Assembly(entries, known, _currency(data)).book(header, name)


def _currency(data: dict[str, Data]) -> str | None:
    """Return the currency even if the rest of the header has mistakes; one of its own is said once only."""
    if (text := data.get("currency")) is None:
        return None
    try:
        return as_currency(text)
    except ValueError:
        return "an unknown currency"


def _section(
    data: dict[str, Data], section: str, shape: type[ShapeT], findings: Findings
) -> dict[str, ShapeT]:
    """Read the entries of a section; those with mistakes are left out."""
    entries = data.get(section)
    if entries is None:
        return {}
    if not isinstance(entries, dict):
        message = "names with values are expected here ('name: value'), one for each entry"
        findings.error((section,), "bad-value", message)
        return {}
    read = {name: _entry(data, (section, name), shape, findings) for name, data in entries.items()}
    return {name: entry for name, entry in read.items() if entry is not None}


def _entry(data: Data, key: tuple[str, str], shape: type[ShapeT], findings: Findings) -> ShapeT | None:
    try:
        as_name(key[1])
    except ValueError as error:
        findings.error(key, "bad-name", str(error))
    return read_shape(shape, data, key, findings)
