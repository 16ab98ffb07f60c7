"""One cell at a time: what its text means, or why it means nothing. Equal cells of a column are read once."""

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from enum import Enum
from math import inf, isfinite, nan
from typing import Any, Final, Generic, NamedTuple, TypeAlias, TypeVar

from benchlore.book import Check
from benchlore.jobs.intake.dates import DateError, parse_date, parse_serial
from benchlore.jobs.intake.mapping import LEAVE_OUT, NOT_CONFIRMED, DateOrder, DecimalMark
from benchlore.jobs.intake.names import Found, Names
from benchlore.jobs.intake.words import FAILED, NOTHING, YES_NO, clean, fold, minutes, squeezed
from benchlore.jobs.values import UNLISTED
from benchlore.notation import quoted
from benchlore.units import UnitError, format_duration, parse_reading

_T = TypeVar("_T")

MOST_IN_CELL: Final = 10
"""Fixes, or what is said of them, that one cell may list."""

_REMEMBERED: Final = 100_000
_LONGEST_TEXT: Final = 20_000
_ISO_DATE: Final = re.compile(r"[0-9]{4}-([0-9]{2})-([0-9]{2})")


@dataclass(frozen=True, slots=True)
class Reason:
    """Why a row is refused, left out or doubtful: the column, its cell, what is the matter, and a way out."""

    column: str
    cell: str
    message: str
    suggestion: str = ""

    def __str__(self) -> str:
        """Say it in one line, which never begins with the table's own text: that may look like a formula."""
        place = f"in column {quoted(self.column)}: " if self.column else "in this row: "
        return f"{place}{self.message}" + (f"; {self.suggestion}" if self.suggestion else "")


class State(Enum):
    """How a cell was understood."""

    CLEAR = 1
    DOUBTFUL = 2
    LEFT_OUT = 3
    REFUSED = 4


class Cell(NamedTuple):
    """What a cell says; ``value`` is ``None`` where it says nothing. ``reason`` stands unless it is clear."""

    value: Any
    state: State = State.CLEAR
    reason: Reason | None = None


class Meaning(NamedTuple, Generic[_T]):
    """What a text was understood to mean, and a doubt if any; the ``value`` ``None`` leaves the row out."""

    value: _T | None
    doubt: str = ""


def left_out(cell: Cell) -> Cell:
    """Turn the refusal of a reading into a doubt: it is left out of its job."""
    if cell.reason is None or cell.state is not State.REFUSED:
        return cell
    return Cell(None, State.DOUBTFUL, replace(cell.reason, message=f"{cell.reason.message} (left out)"))


class CellError(ValueError):
    """A text that means nothing here, and what would help."""

    def __init__(self, message: str, suggestion: str = "") -> None:
        super().__init__(message)
        self.suggestion = suggestion


Parse: TypeAlias = Callable[[str], Meaning[Any]]
"""Takes a text that says something; raises :class:`CellError`."""

BLANK: Final = Cell(None)


class Column:
    """Reads the cells of one column, or gives the same for every row (``always``)."""

    __slots__ = ("_blank", "_cache", "_counts", "_parse", "constant", "name", "place")

    def __init__(
        self,
        name: str,
        place: int,
        parse: Parse,
        *,
        blank: frozenset[str] = NOTHING,
        counts: Callable[[str], bool] | None = None,
        always: str | None = None,
    ) -> None:
        self.name = name
        self.place = place
        self._parse = parse
        self._blank = blank
        self._counts = counts
        self._cache: dict[str, Cell] = {}
        self.constant = None if always is None else self._cell(always)

    def text(self, cells: Sequence[str]) -> str:
        """Return the cell's text as it stands."""
        return cells[self.place] if self.place < len(cells) else ""

    def read(self, cells: Sequence[str]) -> Cell:
        """Return what the row's cell says."""
        if self.constant is not None:
            return self.constant
        text = cells[self.place] if self.place < len(cells) else ""
        cell = self._cache.get(text)
        if cell is None:
            if len(self._cache) >= _REMEMBERED:
                self._cache.clear()
            cell = self._cache[text] = self._cell(text)
        return cell

    def refused(self, text: str, message: str, suggestion: str = "") -> Cell:
        """Refuse a cell of this column."""
        return Cell(None, State.REFUSED, Reason(self.name, text, message, suggestion))

    def is_blank(self, cells: Sequence[str]) -> bool:
        """Say whether the row's cell says nothing."""
        return self._is_blank(self.text(cells))

    def _is_blank(self, text: str) -> bool:
        says = self._counts is not None and self._counts(text)
        return not says and squeezed(text).casefold() in self._blank

    def _cell(self, text: str) -> Cell:
        if self._is_blank(text):
            return BLANK
        if text.strip() in FAILED:
            return self.refused(
                text, f"the formula here failed ({text.strip()})", "mend it in the spreadsheet"
            )
        if len(text) > _LONGEST_TEXT:
            return self.refused(text, f"the cell holds more than {_LONGEST_TEXT:,} characters", "shorten it")
        try:
            value, doubt = self._parse(text)
        except CellError as error:
            return self.refused(text, str(error), error.suggestion)
        if value is None:
            return Cell(None, State.LEFT_OUT, Reason(self.name, text, doubt))
        return Cell(value, State.DOUBTFUL, Reason(self.name, text, doubt)) if doubt else Cell(value)


def free_text(text: str) -> Meaning[str]:
    """Take the text as it stands, but for spaces around it."""
    return Meaning(clean(text))


def one_line(text: str) -> Meaning[str]:
    """Take a text as one line that says something."""
    plain = squeezed(clean(text))
    if not plain:
        raise CellError("there is nothing that can be read", "write it again")
    return Meaning(plain)


def number(text: str) -> Meaning[float]:
    """Take a plain number, which orders a job's rows."""
    try:
        value = float(squeezed(text).replace(",", "."))
    except ValueError:
        value = nan
    if not isfinite(value):
        raise CellError(f"{quoted(squeezed(text))} is no number", "write the row's place in its job")
    return Meaning(value)


def person(words: Mapping[str, str]) -> Parse:
    """Take a technician's name, or what the mapping makes of it."""
    names = Names("technician", {}, words)

    def parse(text: str) -> Meaning[str]:
        return Meaning(names.stands_for(text) or one_line(text).value)

    return parse


def day(order: DateOrder | None, *, from_1904: bool | None, today: date | None = None) -> Parse:
    """Read dates; ``from_1904`` says how a workbook counts its days, and is ``None`` for a CSV file.

    What lies after ``today`` is refused, but for the day after it, which somewhere on Earth has begun.
    """

    def parse(text: str) -> Meaning[date]:
        serial = parse_serial(text, from_1904=bool(from_1904))
        if serial is not None:
            doubt = f"{quoted(text.strip())} was read as a spreadsheet's number of the day {serial}"
            return Meaning(past(serial, text), doubt if from_1904 is None else "")
        try:
            return Meaning(past(parse_date(text, order), text))
        except DateError as error:
            raise CellError(f"{quoted(squeezed(text))} {error}", error.hint) from None

    def past(found: date, text: str) -> date:
        if today is not None and found > today + timedelta(days=1):
            message = f"{quoted(squeezed(text))} is {found}, which lies in the future (today is {today})"
            raise CellError(message, "write the day on which the job was opened")
        return found

    return parse


def duration(unit: str | None, *, usual: float = inf) -> Parse:
    """Read times in minutes; a bare number is in ``unit``. More than ``usual`` is doubted."""

    def parse(text: str) -> Meaning[float]:
        try:
            found = minutes(text, unit)
        except UnitError as error:
            raise _unit_trouble(error, text) from None
        doubt = f"{quoted(squeezed(text))} was read as {format_duration(found)}" if found > usual else ""
        return Meaning(found, doubt)

    return parse


def _listed(text: str, split: str | None, parse: Callable[[str], Meaning[_T]]) -> list[Meaning[_T]]:
    """Read each of what a cell lists with ``split`` between; blanks are left out."""
    parts = [text] if split is None else text.split(split)
    found = [parse(part) for part in parts if squeezed(part)]
    if len(found) > MOST_IN_CELL:
        raise CellError(f"this cell lists more than {MOST_IN_CELL}", "split the row, or use a long table")
    return found


def durations(unit: str | None, split: str | None) -> Parse:
    """Read a cell that lists times with ``split`` between them, in minutes; bare numbers are in ``unit``."""
    parse_one = duration(unit)

    def parse(text: str) -> Meaning[tuple[float, ...]]:
        found = _listed(text, split, parse_one)
        return Meaning(tuple(each.value for each in found if each.value is not None))

    return parse


def yes_or_no(names: Names) -> Parse:
    """Read yes and no in the usual words and ticks; the mapping's own words come first."""

    def parse(text: str) -> Meaning[bool]:
        usual = YES_NO.get(fold(text) or squeezed(text))
        if usual is not None and not names.says(text):
            return Meaning(usual)
        found = one_of(names)(text)
        return Meaning(found.value == "yes", found.doubt)

    return parse


def one_of(names: Names, otherwise: str | None = None) -> Parse:
    """Read a name; with ``otherwise`` "leave out", a text that matches none leaves the row out."""

    def parse(text: str) -> Meaning[str]:
        found = names.find(text)
        if isinstance(found, Found):
            doubt = f"{quoted(squeezed(text))} was read as {quoted(found.name)}" if found.is_close else ""
            return Meaning(found.name, doubt)
        if otherwise == LEAVE_OUT:
            return Meaning(None, f"{found.message}, and the mapping leaves such rows out")
        raise CellError(found.message, found.suggestion)

    return parse


def fault(names: Names, otherwise: str | None = None) -> Parse:
    """Read a confirmed fault: its name (``None`` where nobody confirmed one) and what the bench wrote."""

    def parse(text: str) -> Meaning[tuple[str | None, str]]:
        written = clean(text)
        try:
            found = one_of(names)(text)
        except CellError:
            if otherwise not in {UNLISTED, NOT_CONFIRMED}:
                raise
            return Meaning((UNLISTED if otherwise == UNLISTED else None, written))
        return Meaning((found.value, written), found.doubt)

    return parse


def reading(check: Check, names: Names, unit: str | None, decimal: DecimalMark) -> Parse:
    """Read a check's outcome as its named result and its value, of which one is ``None``.

    For a measured check the words of ``names`` stand for readings, such as ``kurz`` for ``0 ohm``.
    """
    if check.measures is None:
        return _result(names)
    measure = check.measures

    def parse(text: str) -> Meaning[tuple[str | None, float]]:
        plain = names.stands_for(text) or text
        try:
            return Meaning((None, parse_reading(plain, measure, unit=unit, decimal=decimal)))
        except UnitError as error:
            raise _unit_trouble(error, text) from None

    return parse


def _result(names: Names) -> Parse:
    parse_name = one_of(names)

    def parse(text: str) -> Meaning[tuple[str | None, None]]:
        found = parse_name(text)
        return Meaning((found.value, None), found.doubt)

    return parse


def _unit_trouble(error: UnitError, text: str) -> CellError:
    plain = squeezed(text)
    if made := _ISO_DATE.fullmatch(plain):
        hint = f"did the spreadsheet make a date of {int(made[2])}.{int(made[1])}? Format the column as text"
        return CellError(f"cannot read {quoted(plain)}", hint)
    message = f"{error.wrong} in {quoted(plain)}" if error.wrong else f"cannot read {quoted(plain)}"
    return CellError(message, error.expected)


def check_or_else(checks: Names, fixes: Names, split: str | None) -> Parse:
    """Read a check's name in a column that it shares with fixes; empty text stands for fixes."""
    parse_check, parse_fixes = one_of(checks), several(fixes, split)

    def parse(text: str) -> Meaning[str]:
        check, fix = checks.find(text), fixes.find(text)
        is_check, is_fix = (isinstance(found, Found) and not found.is_close for found in (check, fix))
        if is_check and is_fix:
            raise CellError(f"{quoted(squeezed(text))} names a check and a fix", "use the name of one")
        if is_check or not (is_fix or _is_read(parse_fixes, text)):
            return parse_check(text)
        return Meaning("")

    return parse


def unless_check(checks: Names, fixes: Names, split: str | None) -> Parse:
    """Read fixes in a column that they share with checks; what is no fix is left to the other reader."""
    parse_check, parse_fixes = check_or_else(checks, fixes, split), several(fixes, split)

    def parse(text: str) -> Meaning[tuple[str, ...]]:
        is_fix = _is_read(parse_check, text) and not parse_check(text).value
        return parse_fixes(text) if is_fix else Meaning(())

    return parse


def _is_read(parse: Parse, text: str) -> bool:
    try:
        parse(text)
    except CellError:
        return False
    return True


def several(names: Names, split: str | None) -> Parse:
    """Read a cell that lists names with ``split`` between them; a word of the mapping's may hold it."""
    parse_name = one_of(names)

    def parse(text: str) -> Meaning[tuple[str, ...]]:
        found = _listed(text, None if names.says(text) else split, parse_name)
        doubts = "; ".join(each.doubt for each in found if each.doubt)
        return Meaning(tuple(str(each.value) for each in found), doubts)

    return parse
