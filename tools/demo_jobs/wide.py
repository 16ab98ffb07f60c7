"""Tables with a row for each job: a German-speaking shop's CSV files and a Dutch shop's workbook."""

import csv
import io
import re
import zipfile
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any

from openpyxl import Workbook
from openpyxl.styles import Font
from openpyxl.worksheet.worksheet import Worksheet

from demo_jobs.bench import Drawn
from demo_jobs.booktext import BookText, CheckText
from demo_jobs.pen import Pen, column_unit
from demo_jobs.truth import World

Cell = str | float | date | None


@dataclass
class Sheet:
    """A header, its rows, and which rows (by place) are truly bad, and why."""

    header: list[str]
    rows: list[list[Cell]]
    bad: dict[int, str] = field(default_factory=dict)


class WideShop:
    """Writes one shop's jobs, a row each, in the shop's ``words``."""

    def __init__(self, world: World, checks: Sequence[str], pen: Pen, words: dict[str, Any]) -> None:
        self.world, self.pen, self.words = world, pen, words
        self.book: BookText = world.book
        self.checks: list[CheckText] = [self.book.checks[name] for name in checks]
        self.cells: dict[str, str] = words["cells"]
        self.is_workbook = words["language"] == "nl"

    def sheet(self, jobs: Sequence[Drawn], number: Callable[[int], str]) -> Sheet:
        """Write the jobs and spoil some rows beyond repair."""
        columns = self.words["columns"]
        header = [columns[each] for each in ("job", "opened", "who", "complaint")]
        header += [self.column(check) for check in self.checks]
        header += [
            columns[each] for each in ("fix", "after", "outcome", "cause", "time", "soak", "back", "note")
        ]
        sheet = Sheet([name for name in header if name], [])
        sheet.rows += [self._row(number(place), job) for place, job in enumerate(jobs)]
        self._spoil(sheet)
        return sheet

    def column(self, check: CheckText) -> str:
        """Return the header of a check's column."""
        unit, name = column_unit(check), check.called[self.words["called"]]
        return f"{name} ({unit})" if unit and not name.lower().endswith(unit.lower()) else name

    def _row(self, number: str, job: Drawn) -> list[Cell]:
        readings = {name: reading for kind, name, reading in job.log if kind == "check"}
        fixes = [(name, str(after)) for kind, name, after in job.log if kind == "fix"]
        complaint = self._called(self.book.complaints[job.complaint].called, 0.02)
        row: list[Cell] = [number, self._day(job.opened), job.technician, complaint]
        row += [self._reading(check, readings.get(check.name)) for check in self.checks]
        row.append(" + ".join(self._called(self.book.fixes[name].called, 0.03) for name, _ in fixes))
        if self.words["columns"]["after"]:
            row.append("+".join(self.cells[after] for _, after in fixes))
        row += [self.cells[job.outcome], self._cause(job), self._time(job.hands_on), self._soak(job.waiting)]
        row.append("" if job.comeback is None else self.cells["back" if job.comeback else "not back"])
        row.append(self._note(job))
        return row

    def _day(self, day: date) -> Cell:
        is_real = self.is_workbook and self.pen.happens(0.75)
        return day if is_real else self.pen.day(day, self.words["dates"])

    def _called(self, called: tuple[str, ...], slips: float) -> str:
        return self.pen.name((called[self.words["called"]],), slips=slips)

    def _reading(self, check: CheckText, reading: str | float | None) -> Cell:
        pen = self.pen
        if reading is None:
            return pen.one_of(self.words["blank"])
        if isinstance(reading, str):
            return pen.result(reading)
        text = pen.reading(reading, column_unit(check))
        is_bare = re.fullmatch(r"-?[0-9]+(,[0-9]+)?", text)
        return float(text.replace(",", ".")) if self.is_workbook and is_bare and pen.happens(0.85) else text

    def _cause(self, job: Drawn) -> str:
        if job.cause is None:
            return self.pen.one_of(("", "", "?"))
        if job.cause in self.world.unlisted:
            return self.world.unlisted[job.cause].said[self.words["language"]]
        return self._called(self.book.faults[job.cause].called, 0.06)

    def _time(self, minutes: float) -> Cell:
        text = self.pen.minutes(minutes)
        return float(text) if self.is_workbook and text.isdigit() else text

    def _soak(self, minutes: float) -> Cell:
        if minutes < 1:
            return ""
        if self.is_workbook:
            return float(5 * round(minutes / 5))
        return self.pen.number(round(minutes / 60, 2)) if self.pen.happens(0.8) else f"{round(minutes)} min"

    def _note(self, job: Drawn) -> str:
        share = 0.07 + 0.1 * (job.outcome == "ruined")
        return self.pen.one_of(self.words["notes"]) if self.pen.happens(share) else ""

    def _spoil(self, sheet: Sheet) -> None:
        """Break four rows in four ways, and paste two good ones twice."""
        pen, columns, bad = self.pen, self.words["columns"], self.words["bad"]
        cause, outcome = sheet.header.index(columns["cause"]), sheet.header.index(columns["outcome"])
        filled = [
            place for place, row in enumerate(sheet.rows) if row[cause] and self._measured(sheet, place)
        ]
        chosen = [filled[int(k)] for k in pen.random.choice(len(filled), 6, replace=False)]
        date_row, fault_row, reading_row, number_row = chosen[:4]
        sheet.rows[date_row][1] = pen.one_of(bad["date"])
        sheet.rows[fault_row][cause] = pen.one_of(bad["fault"])
        sheet.rows[reading_row][self._measured(sheet, reading_row)[0]] = pen.one_of(bad["reading"])
        other = list(sheet.rows[number_row])
        other[outcome], other[2] = self.cells["ruined"], "?"
        sheet.bad |= {date_row: "date", fault_row: "fault", reading_row: "reading", len(sheet.rows): "number"}
        sheet.rows.append(other)
        sheet.rows += [list(sheet.rows[place]) for place in chosen[4:]]

    def _measured(self, sheet: Sheet, place: int) -> list[int]:
        """Return the columns in which a row has a measured value."""
        columns = [sheet.header.index(self.column(check)) for check in self.checks if check.measures]
        return [column for column in columns if sheet.rows[place][column] not in {None, *self.words["blank"]}]


def csv_bytes(sheet: Sheet) -> bytes:
    """Write a sheet as the shop's old program exports it: semicolons, Windows-1252, CR LF."""
    text = io.StringIO()
    writer = csv.writer(text, delimiter=";", lineterminator="\r\n")
    writer.writerow(sheet.header)
    for place, row in enumerate(sheet.rows):
        writer.writerow(row)
        if place % 40 == 39:
            writer.writerow([""] * len(sheet.header))
    return text.getvalue().encode("cp1252")


_TITLE = "Reparatiehoek De Vuurtoren - tablets 2025/26"
_FIRST = 6
_SAVED = datetime(2026, 3, 20, 17, 30)  # noqa: DTZ001 - workbooks keep local time without a zone


def xlsx_bytes(sheet: Sheet, groups: Sequence[tuple[str, int]]) -> bytes:
    """Write a workbook with title rows, a merged upper header, a totals row and a page of remarks."""
    book = Workbook()
    page = book.active
    assert isinstance(page, Worksheet)
    page.title = "Tablets 2025-26"
    page["A1"], page["A2"] = _TITLE, "bijgehouden door Sietske; laatste kolommen invullen na proefdraaien!"
    page["A1"].font = Font(bold=True, size=14)
    page.merge_cells("A1:H1")
    place = 1
    for name, width in groups:
        page.cell(4, place, name).font = Font(bold=True)
        if width > 1:
            page.merge_cells(start_row=4, end_row=4, start_column=place, end_column=place + width - 1)
        place += width
    for column, name in enumerate(sheet.header, 1):
        page.cell(5, column, name).font = Font(bold=True)
    for line, row in enumerate(sheet.rows, _FIRST):
        for column, value in enumerate(row, 1):
            if value not in {"", None}:
                page.cell(line, column, value)
    _merge_days(page, sheet)
    _total(page, sheet)
    remarks = book.create_sheet("Uitleg")
    remarks["A1"] = "Weerstanden in ohm, plug in mV. nvt = niet gemeten. anders = staat niet in de lijst."
    return _fixed(book)


def _merge_days(page: Worksheet, sheet: Sheet) -> None:
    """Merge the date cell of two neighbours that came in on one day, as people do to make it look tidy."""
    last = 0
    for place in range(1, len(sheet.rows)):
        same = isinstance(sheet.rows[place][1], date) and sheet.rows[place][1] == sheet.rows[place - 1][1]
        if same and last < place - 1:
            page.merge_cells(
                start_row=place - 1 + _FIRST, end_row=place + _FIRST, start_column=2, end_column=2
            )
            last = place


def _total(page: Worksheet, sheet: Sheet) -> None:
    line = _FIRST + len(sheet.rows) + 1
    column = sheet.header.index("Minuten")
    page.cell(line, 1, "Totaal").font = Font(bold=True)
    page.cell(line, column + 1, sum(cell for row in sheet.rows if isinstance(cell := row[column], float)))


def _fixed(book: Workbook) -> bytes:
    """Save a workbook so that equal content gives equal bytes: no clock, no compression."""
    book.properties.creator = "Sietske"
    book.properties.created = _SAVED
    raw, fixed = io.BytesIO(), io.BytesIO()
    book.save(raw)
    stamp = _SAVED.strftime("%Y-%m-%dT%H:%M:%SZ").encode()
    with zipfile.ZipFile(raw) as source, zipfile.ZipFile(fixed, "w", zipfile.ZIP_STORED) as target:
        for name in sorted(source.namelist()):
            content = re.sub(rb"(<dcterms:modified[^>]*>)[^<]*", rb"\g<1>" + stamp, source.read(name))
            target.writestr(zipfile.ZipInfo(name, (2026, 3, 20, 17, 30, 0)), content)
    return fixed.getvalue()
