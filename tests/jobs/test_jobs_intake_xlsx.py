"""XLSX workbooks, made by openpyxl, and damaged by hand."""

import zipfile
from datetime import date, datetime, time, timedelta
from pathlib import Path

import pytest
from intake_bench import NEEDED, look_at, mapping_of, reasons, verdicts
from openpyxl import Workbook
from openpyxl.utils.datetime import CALENDAR_MAC_1904

from benchlore.jobs import Reading
from benchlore.jobs.intake import NoSuchSheet, TableBroken, TableTooLarge, WrongKind, read_table, xlsx_file

MAPPING = (
    NEEDED
    + """
opened: Date
hands on: Time
notes: Notes
checks: {R: {check: vsys-ohms, unit: kohm}, V: vsys-volts}
"""
)
HEADER = ["Job", "Date", "Time", "R", "V", "Notes"]


def save(folder: Path, *rows: list[object], book: Workbook | None = None) -> Path:
    book = book or Workbook()
    for row in rows:
        book.active.append(row)
    path = folder / "jobs.xlsx"
    book.save(path)
    return path


def rewrite(path: Path, part: str, change) -> None:
    with zipfile.ZipFile(path) as archive:
        parts = {name: archive.read(name) for name in archive.namelist()}
    parts[part] = change(parts[part])
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in parts.items():
            archive.writestr(name, data)


def test_real_dates_times_and_numbers_are_read(tmp_path: Path) -> None:
    path = save(
        tmp_path,
        HEADER,
        [117, datetime(2026, 2, 3), 55, 4.3, "3,41 V", None],  # noqa: DTZ001
        ["A-7", date(2026, 2, 4), time(1, 20), "OL", 3.85, "  fine "],
        [118.0, datetime(2026, 2, 5, 14, 22), timedelta(hours=26), None, None, True],  # noqa: DTZ001
        ["8", "6.2.2026", "1 h 5 min", "4k7", None, 3.5],
        ["9", 46056, None, None, None, None],
    )
    found = look_at(path, MAPPING)
    assert [job.number for job in found.jobs] == ["117", "A-7", "118", "8", "9"]
    assert [job.opened for job in found.jobs] == [
        *(date(2026, 2, day) for day in (3, 4, 5, 6)),
        date(2026, 2, 3),
    ]
    assert [job.hands_on for job in found.jobs] == [55.0, 80.0, 26 * 60.0, 65.0, None]
    assert [job.notes for job in found.jobs] == ["", "fine", "TRUE", "3.5", ""]
    assert found.jobs[0].readings == (
        Reading("vsys-ohms", 1, None, 4300.0, "4.3"),
        Reading("vsys-volts", 2, None, 3.41, "3,41 V"),
    )
    assert set(verdicts(found).values()) == {"taken"}


def test_numbers_are_never_misread_where_texts_have_decimal_commas(tmp_path: Path) -> None:
    path = save(tmp_path, HEADER, [1, None, None, 4.125, "3,850", None])
    found = look_at(path, MAPPING + "decimal: comma\n")
    assert [each.value for each in found.jobs[0].readings] == [4125.0, 3.85]


def test_days_are_counted_from_1904_where_the_workbook_does(tmp_path: Path) -> None:
    book = Workbook()
    book.epoch = CALENDAR_MAC_1904
    path = save(tmp_path, HEADER, [1, date(2026, 2, 3)], [2, 44594], book=book)
    assert [job.opened for job in look_at(path, MAPPING).jobs] == [date(2026, 2, 3), date(2026, 2, 3)]


def test_a_reading_that_the_spreadsheet_took_for_a_date_is_explained(tmp_path: Path) -> None:
    path = save(tmp_path, HEADER, [1, None, None, date(2026, 4, 3), None, None])
    assert reasons(look_at(path, MAPPING), 2) == [
        "in column 'R': cannot read '2026-04-03'; did the spreadsheet make a date of 3.4? Format the column as text"
    ]


def test_the_sheet_is_found_by_name_or_is_the_first(tmp_path: Path) -> None:
    book = Workbook()
    book.active.append(["Nothing"])
    book.create_sheet("Jobs 2026").append(["Job"])
    path = save(tmp_path, book=book)
    assert read_table(path, mapping_of(NEEDED + "sheet: jobs  2026\n")).header == ("Job",)
    assert read_table(path, mapping_of(NEEDED)).header == ("Nothing",)
    with pytest.raises(NoSuchSheet, match=r"has no sheet 'Jobs 2025'; did you mean 'Jobs 2026'\?"):
        read_table(path, mapping_of(NEEDED + "sheet: Jobs 2025\n"))


def test_merged_headers_gaps_notes_beside_the_table_and_totals(tmp_path: Path) -> None:
    book = Workbook()
    sheet = book.active
    sheet["A2"], sheet["B2"], sheet["A3"], sheet["B3"], sheet["C3"] = "", "Rail", "Job", "R", "V"
    sheet.merge_cells("B2:C2")
    sheet["A5"], sheet["B5"], sheet["C5"], sheet["H5"] = "7", "4k2", 3.8, "scribbled beside it"
    sheet["A9"], sheet["B9"] = "Total", 12
    mapping = NEEDED + "header row: [2, 3]\nchecks: {Rail / R: vsys-ohms, Rail / V: vsys-volts}\n"
    found = look_at(save(tmp_path, book=book), mapping)
    assert verdicts(found) == {5: "taken", 9: "left out"}
    assert [each.value for each in found.jobs[0].readings] == [4200.0, 3.8]


def test_formulas_count_with_their_saved_value_and_are_refused_without_one(tmp_path: Path) -> None:
    path = save(
        tmp_path, HEADER, ["=6+1", None, None, None, None, None], ["8", None, None, "=2+2", None, "=1"]
    )
    found = look_at(path, MAPPING)
    assert verdicts(found) == {2: "refused", 3: "refused"}
    assert reasons(found, 2)[0] == (
        "in column 'Job': the formula =6+1 has no saved value; open the file in a spreadsheet program and save it"
    )
    rewrite(
        path, "xl/worksheets/sheet1.xml", lambda xml: xml.replace(b"<f>6+1</f><v />", b"<f>6+1</f><v>7</v>")
    )
    assert [job.number for job in look_at(path, MAPPING).jobs] == ["7"]


def test_a_formula_in_a_column_that_nothing_reads_does_not_matter(tmp_path: Path) -> None:
    path = save(tmp_path, ["Job", "Other"], [1, "=1+1"])
    assert verdicts(look_at(path, NEEDED)) == {2: "taken"}


def test_failed_formulas_are_refused_and_not_available_says_nothing(tmp_path: Path) -> None:
    path = save(tmp_path, HEADER, [1, None, None, None, None, "#REF!"], [2, None, None, "#N/A", None, None])
    found = look_at(path, MAPPING)
    assert verdicts(found) == {2: "refused", 3: "taken"}
    assert reasons(found, 2) == [
        "in column 'Notes': the formula here failed (#REF!); mend it in the spreadsheet"
    ]


def test_the_contents_decide_whatever_the_name_ends_in(tmp_path: Path) -> None:
    path = save(tmp_path, ["Job"], [1]).rename(tmp_path / "jobs.csv")
    assert read_table(path).header == ("Job",)
    other = tmp_path / "jobs.xlsx"
    other.write_text("Job;A\n1;2\n")
    assert read_table(other).header == ("Job", "A")


def test_macros_do_not_matter(tmp_path: Path) -> None:
    path = save(tmp_path, ["Job"], [1])
    with zipfile.ZipFile(path, "a") as archive:
        archive.writestr("xl/vbaProject.bin", b"Sub Auto_Open()")
    assert verdicts(look_at(path, NEEDED)) == {2: "taken"}


def test_other_archives_are_told_by_what_they_are(tmp_path: Path) -> None:
    for names, what in (
        (["xl/workbook.bin", "[Content_Types].xml"], r"a binary workbook \(.xlsb\)"),
        (["mimetype", "content.xml"], "an OpenDocument file"),
        (["jobs.csv"], "a ZIP archive without a workbook in it"),
    ):
        path = tmp_path / "jobs.xlsx"
        with zipfile.ZipFile(path, "w") as archive:
            for name in names:
                archive.writestr(name, "x")
        with pytest.raises(WrongKind, match=what):
            read_table(path)


def test_a_locked_workbook_is_told(tmp_path: Path) -> None:
    # MS-OFFCRYPTO 2.1.1, from memory: an encrypted workbook is a compound file with a stream "EncryptedPackage".
    path = tmp_path / "jobs.xlsx"
    path.write_bytes(
        b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\0" * 500 + "EncryptedPackage".encode("utf-16-le")
    )
    with pytest.raises(WrongKind, match=r"locked with a password, .*; save it without a password"):
        read_table(path)


def test_a_damaged_workbook_is_told(tmp_path: Path) -> None:
    path = save(tmp_path, ["Job"], *([n] for n in range(500)))
    whole = path.read_bytes()
    for data in (whole[: len(whole) // 2], whole[:40], whole[:200] + b"\0" * 300 + whole[500:]):
        path.write_bytes(data)
        with pytest.raises(TableBroken, match="the workbook is damaged; open it in a spreadsheet program"):
            list(read_table(path).rows())
    path.write_bytes(whole)
    rewrite(path, "xl/worksheets/sheet1.xml", lambda xml: xml[:-300])
    with pytest.raises(TableBroken, match="the workbook is damaged"):
        list(read_table(path).rows())


def test_entities_are_not_expanded(tmp_path: Path) -> None:
    path = save(tmp_path, ["Job"], [1])
    bomb = b'<!DOCTYPE x [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;">]>'
    rewrite(path, "xl/worksheets/sheet1.xml", lambda xml: bomb + xml.replace(b"Job", b"&b;"))
    with pytest.raises(TableBroken, match="the workbook is damaged"):
        list(read_table(path).rows())


def test_a_zip_bomb_is_refused_before_it_is_unpacked(tmp_path: Path) -> None:
    path = save(tmp_path, ["Job"], [1])
    with zipfile.ZipFile(path, "a", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("xl/styles2.xml", b"\0" * (40 * 1024**2))
    with pytest.raises(TableTooLarge, match="holds a part that unpacks to more than 32 MB"):
        read_table(path)


def test_a_row_of_endless_marks_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(xlsx_file, "MOST_TAGS", 500)
    path = save(tmp_path, ["Job"], *([n] for n in range(600)))
    assert len(list(read_table(path).rows())) == 600
    path = save(tmp_path, ["Job"], list(range(400)))
    with pytest.raises(TableTooLarge, match="has a row of more than 500 cells or marks"):
        read_table(path)


def test_places_far_out_are_refused_without_filling_the_memory(tmp_path: Path) -> None:
    path = save(tmp_path, ["Job"], [1], [2])
    rewrite(
        path,
        "xl/worksheets/sheet1.xml",
        lambda xml: xml.replace(b'r="3"', b'r="99999999999"').replace(b"A3", b"A99999999999"),
    )
    with pytest.raises(TableTooLarge, match="has more than 1,048,576 rows"):
        list(read_table(path, mapping_of(NEEDED)).rows())
    path = save(tmp_path, ["Job"], [1])
    rewrite(path, "xl/worksheets/sheet1.xml", lambda xml: xml.replace(b'"A2"', b'"XFD2"'))
    with pytest.raises(TableTooLarge, match="has more than 2,000 columns in row 2"):
        list(read_table(path, mapping_of(NEEDED)).rows())


def test_the_marks_of_a_row_are_counted_across_pieces_of_the_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(xlsx_file, "MOST_TAGS", 500)
    monkeypatch.setattr(xlsx_file, "_CHUNK", 1000)
    path = save(tmp_path, ["Job"], list(range(400)))
    with pytest.raises(TableTooLarge, match="has a row of more than 500 cells or marks"):
        read_table(path)


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (None, ""),
        (" x ", " x "),
        (True, "TRUE"),
        (117, "117"),
        (117.0, "117"),
        (4.125, "4,125"),
        (1e-05, "1e-05"),
        (1e21, "1e+21"),
        (datetime(2026, 2, 3), "2026-02-03"),  # noqa: DTZ001
        (datetime(2026, 2, 3, 14, 22), "2026-02-03 14:22:00"),  # noqa: DTZ001
        (date(2026, 2, 3), "2026-02-03"),
        (time(1, 20), "1:20"),
        (time(0, 0, 7), "0:00:07"),
        (timedelta(hours=26, minutes=5), "26:05"),
        (timedelta(minutes=-5), "-0:05"),
    ],
)
def test_each_kind_of_cell_has_its_text(value: object, text: str) -> None:
    assert xlsx_file.text_of(value, ",") == text
