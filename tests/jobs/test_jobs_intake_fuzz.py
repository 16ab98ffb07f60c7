"""No file, table or mapping gives a traceback, and equal input gives equal output."""

import io
import zipfile
from collections.abc import Callable
from datetime import date, datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from intake_bench import BOOKS, NEEDED, mapping_of
from openpyxl import Workbook

from benchlore.jobs.intake import (
    Preview,
    TableTrouble,
    preview,
    read_mapping,
    read_table,
    rejects_text,
    suggest_mapping,
)
from benchlore.jobs.storable import check_job

FAST = settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=60, deadline=None)

WIDE = (
    NEEDED.replace("{always: restarts}", "Says")
    + """
opened: Date
technician: Who
hands on: {column: Time, per: row}
waiting: Soak
outcome: Out
fault: {column: Cause, otherwise: unlisted}
comeback: Back
notes: Note
extra: [Extra]
order: as columns
unreadable readings: leave out
checks: {R: {check: vsys-ohms, unit: kohm}, V: vsys-volts, Mark: {check: liquid-mark, names: {"1": wet, "no*": dry}}}
fixes: [{column: Fix, split: "+", retest: After}, {column: Fix 2, retest: {from: outcome}}]
"""
)
LONG = (
    NEEDED.replace("{always: halden-t4}", "{column: Board, otherwise: leave out}").replace(
        "{always: restarts}", "Says"
    )
    + """
layout: long
opened: Date
technician: Who
hands on: {column: Time, per: row}
waiting: Soak
outcome: Out
fault: Cause
comeback: Back
notes: Note
step: No
reading: {check: Test, value: Value, unit: Unit, units: {vsys-ohms: kohm}, results: {liquid-mark: {"1": wet}}}
fix: {column: Test, split: "+", retest: {from: outcome}}
"""
)
COLUMNS = [
    *(
        "Job",
        "Board",
        "Says",
        "Date",
        "Who",
        "Time",
        "Soak",
        "Out",
        "Cause",
        "Back",
        "Note",
        "Extra",
        "R",
        "V",
    ),
    *("Mark", "Fix", "Fix 2", "After", "No", "Test", "Value", "Unit"),
]
TELLING = st.sampled_from(
    [
        "",
        "1",
        "2",
        "halden-t4",
        "orme-k2",
        "restarts",
        "dead",
        "3.2.2026",
        "2026-02-03",
        "46056",
        "x",
        "ja",
        "no",
        "vsys-ohms",
        "liquid mark",
        "clean u7",
        "clean-u7+reflow-l1204",
        "4k7",
        "OL",
        "3,4",
        "1,234",
        "wet",
        "nope",
        "repaired",
        "open",
        "u7 coroded",
        "gone",
        "20 min",
        "1:20",
        "-",
        "n/a",
        "#REF!",
        "Total",
        "=1+1",
        "1e999",
        "nan",
    ]
)
TEXT = st.text(st.characters(exclude_categories=["Cs"]), max_size=10)
TABLES = st.lists(st.lists(TELLING | TEXT, min_size=len(COLUMNS), max_size=len(COLUMNS)), max_size=6)


def told(path: Path, action: Callable[[], object]) -> str:
    """Do something with a file; return what it was refused with, or its name."""
    try:
        action()
    except TableTrouble as trouble:
        return str(trouble)
    return str(path)


def both_ways(path: Path, mapping_text: str) -> Preview | None:
    """Read a table twice; the two must agree, and whatever came out must be fit for the store and for a file."""
    mapping = mapping_of(mapping_text)
    try:
        found = preview(read_table(path, mapping), mapping, BOOKS)
    except TableTrouble:
        return None
    again = preview(read_table(path, mapping), mapping, BOOKS)
    assert (found.jobs, found.rows, found.problems) == (again.jobs, again.rows, again.problems)
    for job in found.jobs:
        check_job(job)
        assert job.number
        assert job.board in BOOKS
        assert job.complaint in BOOKS[job.board].complaints
        assert all(each.check in BOOKS[job.board].checks for each in job.readings)
        assert all((each.result is None) != (each.value is None) for each in job.readings)
        assert all(each.fix in BOOKS[job.board].fixes for each in job.attempts)
    assert rejects_text(found) == rejects_text(again) if found.rows else True
    return found


@FAST
@given(TABLES, st.sampled_from([WIDE, LONG]))
def test_any_cells_of_a_csv_table_give_verdicts(tmp_path: Path, rows: list[list[str]], mapping: str) -> None:
    path = tmp_path / "t.csv"
    lines = [";".join('"' + cell.replace('"', '""') + '"' for cell in row) for row in [COLUMNS, *rows]]
    path.write_text("\n".join(lines), encoding="utf-8-sig", newline="")
    found = both_ways(path, mapping + "separator: ';'\n")
    if found is not None:
        filled = {number for number, row in enumerate(rows, 2) if any(cell.strip() for cell in row)}
        assert {row.row for row in found.rows} == filled


@FAST
@given(st.lists(st.text(st.characters(exclude_categories=["Cs"]), max_size=30), max_size=8))
def test_any_text_after_a_header_is_read_or_refused(tmp_path: Path, lines: list[str]) -> None:
    path = tmp_path / "t.csv"
    path.write_text("\n".join([";".join(COLUMNS), *lines]), encoding="utf-8", newline="")
    both_ways(path, WIDE)


@FAST
@given(
    st.binary(max_size=300),
    st.sampled_from([b"", b"Job;Says\n", b"\xff\xfe", b"\xef\xbb\xbf", b"PK\x03\x04", b"\xd0\xcf\x11\xe0"]),
)
def test_any_bytes_are_a_table_or_told_what_is_wrong(tmp_path: Path, data: bytes, start: bytes) -> None:
    path = tmp_path / "t.csv"
    path.write_bytes(start + data)
    assert told(path, lambda: mapping_of(suggest_mapping(read_table(path), BOOKS["halden-t4"]))).startswith(
        str(path)
    )
    assert told(path, lambda: list(read_table(path).rows())).startswith(str(path))


XLSX_CELL = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(-(10**9), 10**9),
    st.floats(allow_nan=False, allow_infinity=False),
    st.dates(date(1900, 3, 1)),
    st.datetimes(datetime(1900, 3, 1)),  # noqa: DTZ001
    st.times(),
    st.timedeltas(timedelta(0), timedelta(days=90)),
    TELLING,
    st.text(st.characters(codec="ascii", exclude_categories=["Cc"]), max_size=6),
)


@settings(FAST, max_examples=10)
@given(st.lists(st.lists(XLSX_CELL, max_size=len(COLUMNS)), max_size=5), st.sampled_from([WIDE, LONG]))
def test_any_cells_of_a_workbook_give_verdicts(
    tmp_path: Path, rows: list[list[object]], mapping: str
) -> None:
    path = tmp_path / "t.xlsx"
    book = Workbook()
    for row in [COLUMNS, *rows]:
        book.active.append(row)
    book.save(path)
    both_ways(path, mapping + "decimal: comma\n")


@pytest.fixture(scope="module")
def workbook() -> bytes:
    book = Workbook()
    for row in (["Job", "Says"], [1, "restarts"], [2, 3.5], ["=1+1", date(2026, 2, 3)]):
        book.active.append(row)
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


@FAST
@given(place=st.integers(0, 10_000), byte=st.integers(0, 255), length=st.integers(1, 40))
def test_a_workbook_with_overwritten_bytes_is_read_or_refused(
    tmp_path: Path, workbook: bytes, place: int, byte: int, length: int
) -> None:
    path = tmp_path / "t.xlsx"
    place %= len(workbook)
    path.write_bytes(workbook[:place] + bytes([byte]) * length + workbook[place + length :])
    assert told(path, lambda: list(read_table(path).rows())).startswith(str(path))


@FAST
@given(data=st.data())
def test_a_workbook_with_damaged_xml_is_read_or_refused(
    tmp_path: Path, workbook: bytes, data: st.DataObject
) -> None:
    with zipfile.ZipFile(io.BytesIO(workbook)) as archive:
        parts = {name: archive.read(name) for name in archive.namelist()}
    name = data.draw(st.sampled_from(sorted(parts)))
    place = data.draw(st.integers(0, len(parts[name])))
    junk = data.draw(
        st.sampled_from([b"", b"<", b"</row>", b'"', b"&x;", b"9" * 400, b"-1", b"r=", b"\xff", b"<f>1</f>"])
    )
    parts[name] = parts[name][:place] + junk + parts[name][place + data.draw(st.integers(0, 6)) :]
    path = tmp_path / "t.xlsx"
    with zipfile.ZipFile(path, "w") as archive:
        for each, content in parts.items():
            archive.writestr(each, content)
    assert told(path, lambda: list(read_table(path).rows())).startswith(str(path))


WORDS = st.sampled_from(
    [
        "mapping",
        "1",
        "shop",
        "job",
        "board",
        "column",
        "always",
        "names",
        "checks",
        "fixes",
        "reading",
        "check",
        "value",
        "unit",
        "retest",
        "from",
        "outcome",
        "header row",
        "[2, 3]",
        "layout",
        "long",
        "a",
        "{",
        "}",
        ": ",
        "\n",
        "- ",
        "  ",
    ]
)


@FAST
@given(st.one_of(st.text(max_size=80), st.lists(WORDS, max_size=30).map("".join)))
def test_any_text_is_a_mapping_or_told_what_is_wrong(text: str) -> None:
    read = read_mapping(text, "m.yaml")
    assert (read.mapping is None) == bool(read.problems)


@FAST
@given(data=st.data(), mapping=st.sampled_from([WIDE, LONG]))
def test_a_mapping_with_a_line_changed_is_read_or_told_what_is_wrong(
    data: st.DataObject, mapping: str
) -> None:
    lines = mapping.splitlines()
    place = data.draw(st.integers(0, len(lines) - 1))
    lines[place] = data.draw(st.text(max_size=12)) + data.draw(
        st.sampled_from(["", ":", ": [a]", ": {b: c}"])
    )
    read_mapping("\n".join(lines), "m.yaml")
