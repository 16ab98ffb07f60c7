"""What a shop's table means: the mapping file as values."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Final, Literal, TypeAlias

from benchlore.notation import Key, Positions

LEAVE_OUT: Final = "leave out"
NOT_CONFIRMED: Final = "not confirmed"

DecimalMark: TypeAlias = Literal["either", "comma", "point"]


class Layout(StrEnum):
    """What a row of the table is."""

    WIDE = "wide"
    LONG = "long"


class DateOrder(StrEnum):
    """In which order a date's numbers stand."""

    DAY_FIRST = "day first"
    MONTH_FIRST = "month first"
    YEAR_FIRST = "year first"


class Order(StrEnum):
    """In which order a wide table's readings and fixes happened."""

    READINGS_FIRST = "readings first"
    AS_COLUMNS = "as columns"


class Unreadable(StrEnum):
    """What an unreadable reading does to its row."""

    REFUSE = "refuse the row"
    LEAVE_OUT = "leave out"


@dataclass(frozen=True, slots=True)
class Source:
    """Where a field comes from: its ``columns``, or ``always`` the same.

    ``key`` is its place in the mapping file. ``names`` are the shop's words and what they stand for; a word
    that ends in ``*`` fits every text that begins so. ``otherwise`` says what a text that matches nothing
    means, ``unit`` what a bare time is in, ``per_row`` whether a job's rows are added up.
    """

    key: Key
    columns: tuple[str, ...] = ()
    always: str | None = None
    names: Mapping[str, str] = field(default_factory=dict)
    otherwise: str | None = None
    unit: str | None = None
    per_row: bool = False


@dataclass(frozen=True, slots=True)
class RetestSource:
    """Where a fix's retest comes from: a column or constant; no ``source`` means "from the outcome"."""

    key: Key
    source: Source | None = None


@dataclass(frozen=True, slots=True)
class CheckColumn:
    """A wide table's column of readings of one check."""

    key: Key
    column: str
    check: str
    unit: str | None = None
    names: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class FixColumn:
    """A column that lists fixes tried; ``split`` separates several in one cell.

    ``soaked`` is how long the board ran after the fix.
    """

    key: Key
    source: Source
    split: str | None = None
    retest: RetestSource | None = None
    soaked: Source | None = None


@dataclass(frozen=True, slots=True)
class ReadingColumns:
    """A long table's columns of readings.

    ``units`` are the units of checks whose cells name none, ``results`` the shop's words for each check.
    """

    key: Key
    check: Source
    value: Source
    unit: Source | None = None
    units: Mapping[str, str] = field(default_factory=dict)
    results: Mapping[str, Mapping[str, str]] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class TableMapping:
    """A mapping file. ``positions`` tell where each of its keys stands."""

    positions: Positions
    shop: str
    job: Source
    board: Source
    complaint: Source
    layout: Layout = Layout.WIDE
    sheet: str | None = None
    header_rows: tuple[int, ...] = ()
    separator: str | None = None
    encoding: str | None = None
    dates: DateOrder | None = None
    decimal: DecimalMark = "either"
    blank: tuple[str, ...] = ()
    order: Order = Order.READINGS_FIRST
    unreadable: Unreadable = Unreadable.REFUSE
    opened: Source | None = None
    technician: Source | None = None
    hands_on: Source | None = None
    waiting: Source | None = None
    outcome: Source | None = None
    fault: Source | None = None
    comeback: Source | None = None
    notes: Source | None = None
    extra: tuple[str, ...] = ()
    checks: tuple[CheckColumn, ...] = ()
    fixes: tuple[FixColumn, ...] = ()
    step: Source | None = None
    reading: ReadingColumns | None = None
    fix: FixColumn | None = None

    def columns(self) -> Iterator[tuple[str, Key]]:
        """Give every column that the mapping uses, with the place that names it."""
        for source in self._sources():
            for column in source.columns:
                yield column, source.key
        for check in self.checks:
            yield check.column, check.key
        for number, column in enumerate(self.extra):
            yield column, ("extra", number)

    def _sources(self) -> Iterator[Source]:
        job_fields = (self.job, self.board, self.complaint, self.opened, self.technician, self.hands_on)
        more = (self.waiting, self.outcome, self.fault, self.comeback, self.notes, self.step)
        yield from (source for source in (*job_fields, *more) if source)
        if self.reading:
            yield from (self.reading.check, self.reading.value)
            if self.reading.unit:
                yield self.reading.unit
        for fix in (*self.fixes, *([self.fix] if self.fix else [])):
            yield fix.source
            if fix.retest and fix.retest.source:
                yield fix.retest.source
            if fix.soaked:
                yield fix.soaked
