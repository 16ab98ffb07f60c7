"""Guessing what a table's columns are, from their headers and their cells."""

import re
from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import islice
from typing import Final

from benchlore.book import Book
from benchlore.jobs.intake.booknames import (
    check_names,
    complaint_names,
    fault_names,
    fix_names,
    outcome_names,
)
from benchlore.jobs.intake.dates import DateError, parse_date, parse_serial
from benchlore.jobs.intake.mapping import DateOrder, DecimalMark
from benchlore.jobs.intake.names import Found, Names
from benchlore.jobs.intake.table import Table
from benchlore.jobs.intake.words import NOTHING, fold, minutes, squeezed
from benchlore.units import UnitError, parse_reading

_SAMPLE: Final = 300
_HALF: Final = 0.5
_SPLITS: Final = ("+", ";", ",", "/", "&")
_UNIT: Final = re.compile(r"(.*\S)\s*[(\[]\s*(?:in )?([^()\[\]]{1,8}?)\s*[)\]]\s*")

_HEADERS: Final[Mapping[str, str]] = {
    "job": "job order ticket number no nr auftrag auftragsnummer auftragsnr bon dossier orden opdracht",
    "opened": "date datum opened received eingang eingangsdatum annahme angenommen fecha data",
    "complaint": "complaint symptom fehlerbild beanstandung symptome panne sintoma klacht meldung",
    "board": "board device model devicetype platine gerat geratetyp modell appareil equipo toestel",
    "outcome": "outcome result status ergebnis ausgang resultat resultado resultaat",
    "fault": "fault cause rootcause ursache befund defekt diagnose diagnosis causa oorzaak",
    "fixes": "repair fix fixes action reparatur massnahme behoben reparation reparacion reparatie",
    "hands on": "time minutes handson hours zeit arbeitszeit dauer minuten temps tiempo tijd",
    "waiting": "waiting soak wartezeit dauertest standzeit attente espera wachttijd",
    "comeback": "comeback returned again rucklaufer wieder reklamiert retour devuelto terug",
    "technician": "technician tech by who techniker bearbeiter wer technicien tecnico monteur",
    "notes": "notes note remark remarks comment bemerkung bemerkungen notiz remarque notas opmerking",
}
_LONG_HEADERS: Final[Mapping[str, str]] = {
    "check": "check test measurement messung messpunkt prufung mesure medida meting",
    "value": "value reading wert messwert valeur valor waarde",
    "unit": "unit einheit unite unidad eenheid",
    "step": "step no nr pos schritt etape paso stap",
    "retest": "retest after danach nachtest apres despues daarna",
}
_FIX_HEADERS: Final[Mapping[str, str]] = {
    "soaked": "soaked soaktime laufzeit nachlauf probelauf dauerlauf proefloop",
}
"""Of tables that have a column of fixes; looked for first, since such a column tells of minutes too."""


@dataclass(frozen=True, slots=True)
class Sampled:
    """A column of the first rows: its header, the name and unit in that, and how often each text occurs."""

    place: int
    header: str
    name: str
    unit: str | None
    texts: Counter[str]


@dataclass(slots=True)
class Guess:
    """What the columns seem to be: a column for each field of a job, for checks and for fixes."""

    fields: dict[str, Sampled] = field(default_factory=dict)
    checks: list[tuple[Sampled, str]] = field(default_factory=list)
    rest: list[Sampled] = field(default_factory=list)
    is_long: bool = False


def sample(table: Table) -> list[Sampled]:
    """Return the table's columns with the texts of its first rows."""
    texts: list[Counter[str]] = [Counter() for _ in table.header]
    for row in islice(table.rows(), _SAMPLE):
        for counter, cell in zip(texts, row.cells, strict=False):
            if (plain := squeezed(cell)).casefold() not in NOTHING:
                counter[plain] += 1
    return [
        _sampled(place, header if header.isprintable() else table.name_by_place(place), texts[place])
        for place, header in enumerate(table.header)
    ]


def guess(columns: Sequence[Sampled], book: Book) -> Guess:
    """Guess each column's part, the surest first: checks by name, fields by header, then by their cells."""
    found = Guess(rest=list(columns))
    checks = check_names(book)
    test_column = next(
        (each for each in columns if _share(each, checks) > _HALF and len(each.texts) > 1), None
    )
    for column in columns:
        check = next(
            (hit.name for hit in map(checks.find, (column.header, column.name)) if isinstance(hit, Found)),
            None,
        )
        if check is not None and column is not test_column:
            found.checks.append((column, check))
            found.rest.remove(column)
    if test_column is not None and not found.checks:
        found.is_long = True
        _take(found, "check", test_column)
    _take_by_header(found, _FIX_HEADERS)
    _take_by_header(found, _HEADERS)
    if found.is_long:
        _take_by_header(found, _LONG_HEADERS)
    _take_by_cells(found, book)
    if "fixes" not in found.fields and "soaked" in found.fields:
        found.rest = sorted((*found.rest, found.fields.pop("soaked")), key=lambda each: each.place)
    return found


def date_order(texts: Sequence[str]) -> DateOrder | None:
    """Return the order of day and month if the dates can be read in only one."""
    orders = (DateOrder.DAY_FIRST, DateOrder.MONTH_FIRST)
    fitting = [order for order in orders if texts and all(_is_date(text, order) for text in texts)]
    return fitting[0] if len(fitting) == 1 else None


def needs_date_order(texts: Sequence[str]) -> bool:
    """Say whether some date can be read only if the mapping states the order."""
    return any(not _is_date(text, None) and _is_date(text, DateOrder.DAY_FIRST) for text in texts)


def split_mark(column: Sampled, names: Names) -> str | None:
    """Return the mark that cuts more of a column's texts into names than they hold uncut."""
    known = {mark: sum(1 for text in column.texts if _is_listed(text, mark, names)) for mark in _SPLITS}
    mark = max(_SPLITS, key=lambda each: known[each])
    return mark if known[mark] else None


def decimal_mark(columns: Sequence[Sampled]) -> DecimalMark | None:
    """Return the decimal mark that the columns use, if they use only one."""
    text = "\n".join(text for column in columns for text in column.texts)
    comma, point = (re.search(rf"[0-9]{mark}[0-9]", text) is not None for mark in (",", r"\."))
    if comma == point:
        return None
    return "comma" if comma else "point"


def unit_of(column: Sampled, check: str, book: Book) -> str | None:
    """Return the unit in the header's brackets if the check can have it."""
    measure = book.checks[check].measures
    if column.unit is None or measure is None:
        return None
    try:
        parse_reading("1", measure, unit=column.unit)
    except UnitError:
        return None
    return column.unit


def time_unit_of(column: Sampled) -> str | None:
    """Return the unit of time in the header's brackets, or that the header itself is."""
    for unit in (column.unit, column.name):
        try:
            if unit and minutes("1", unit) > 0 and fold(unit).isalpha():
                return unit
        except UnitError:
            continue
    return None


def words_left(column: Sampled, names: Names) -> Iterator[tuple[str, str | None, int]]:
    """Give the texts that ``names`` does not settle, the name that they come close to, and their number."""
    for text, count in sorted(column.texts.items(), key=lambda each: (-each[1], each[0])):
        found = names.find(text)
        if not isinstance(found, Found):
            yield text, None, count
        elif found.is_close:
            yield text, found.name, count


def _sampled(place: int, header: str, texts: Counter[str]) -> Sampled:
    match = _UNIT.fullmatch(header)
    return Sampled(place, header, match[1] if match else header, match[2] if match else None, texts)


def _share(column: Sampled, names: Names) -> float:
    """Return the share of a column's texts that are names of one kind."""
    known = sum(1 for text in column.texts if isinstance(names.find(text), Found))
    return known / len(column.texts) if column.texts else 0.0


def _is_listed(text: str, mark: str, names: Names) -> bool:
    """Say whether ``mark`` cuts a text that is no name into texts that are."""
    parts = [part for part in text.split(mark) if squeezed(part)]
    is_list = len(parts) > 1 and all(isinstance(names.find(part), Found) for part in parts)
    return is_list and not isinstance(names.find(text), Found)


def _take(found: Guess, part: str, column: Sampled) -> None:
    found.fields[part] = column
    found.rest.remove(column)


def _take_by_header(found: Guess, headers: Mapping[str, str]) -> None:
    """Give each part the column whose header is one of its words, or else has one among others."""
    for is_whole in (True, False):
        for part, words in headers.items():
            if part in found.fields:
                continue
            column = next(
                (each for each in found.rest if _is_called(each, words.split(), is_whole=is_whole)), None
            )
            if column is not None:
                _take(found, part, column)


def _is_called(column: Sampled, words: Sequence[str], *, is_whole: bool) -> bool:
    if is_whole:
        return fold(column.name) in words
    return any(fold(part) in words for part in re.split(r"[\W_]+", column.name) if part)


def _take_by_cells(found: Guess, book: Book) -> None:
    kinds: tuple[tuple[str, Callable[[Sampled], float]], ...] = (
        ("complaint", lambda column: _share(column, complaint_names(book))),
        ("fault", lambda column: _share(column, fault_names(book))),
        ("fixes", lambda column: _share(column, fix_names(book))),
        ("outcome", lambda column: _share(column, outcome_names())),
        ("opened", _date_share),
        ("job", lambda column: sum(column.texts.values()) and len(column.texts) / sum(column.texts.values())),
    )
    for part, likeness in kinds:
        if part in found.fields or not found.rest:
            continue
        best = max(found.rest, key=lambda column: (likeness(column), -column.place))
        if likeness(best) > _HALF:
            _take(found, part, best)


def _date_share(column: Sampled) -> float:
    dates = sum(1 for text in column.texts if _is_date(text, None) or _is_date(text, DateOrder.DAY_FIRST))
    return dates / len(column.texts) if column.texts else 0.0


def _is_date(text: str, order: DateOrder | None) -> bool:
    try:
        parse_date(text, order)
    except DateError:
        return parse_serial(text) is not None
    return True
