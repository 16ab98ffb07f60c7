import csv
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from intake_bench import NEEDED, START, look, look_at, mapping_of, reasons, verdicts
from openpyxl import Workbook

from benchlore.jobs import merge
from benchlore.jobs.intake import mended_text, read_table, rejects_text, write_rejects
from benchlore.notation import FileNotWritten

WIDE = NEEDED + "header row: 3\nopened: Date\nchecks: {R: vsys-ohms}\nnotes: Note\n"
TABLE = (
    'My jobs;;;\n\nJob;Date;R;Note\n1;2026-02-03;4k2;fine\n2;2026-02-03;lots;"a; ""b"""\n3;soon;4k2; =1+1 \n'
)


def test_refused_rows_are_written_as_they_stand_with_their_row_and_why(tmp_path: Path) -> None:
    found = look(tmp_path, WIDE, TABLE)
    assert rejects_text(found) == (
        "My jobs;;;\r\n"
        "\r\n"
        "Job;Date;R;Note;row;why\r\n"
        '2;2026-02-03;lots;"a; ""b""";5;"in column \'R\': cannot read \'lots\'; write resistance as 4.7 kohm, 4k7 or 470R"\r\n'
        "3;soon;4k2; =1+1 ;6;\"in column 'Date': 'soon' is no date; write it as 2026-02-03\"\r\n"
    )


def test_mended_rows_are_taken_in_with_the_same_mapping_and_keep_their_numbers(tmp_path: Path) -> None:
    path = tmp_path / "refused.csv"
    assert write_rejects(look(tmp_path, WIDE, TABLE), path) == 2
    path.write_bytes(path.read_bytes().replace(b"lots", b"4k7"))
    found = look_at(path, WIDE)
    assert verdicts(found) == {5: "taken", 6: "refused"}
    assert [(job.number, job.notes, job.readings[0].value) for job in found.jobs] == [("2", 'a; "b"', 4700.0)]
    again = tmp_path / "refused-again.csv"
    assert write_rejects(found, again) == 1
    assert again.read_text(encoding="utf-8-sig").splitlines()[2:] == [
        "Job;Date;R;Note;row;why",
        "3;soon;4k2; =1+1 ;6;\"in column 'Date': 'soon' is no date; write it as 2026-02-03\"",
    ]


def test_a_row_with_too_many_cells_keeps_them_all(tmp_path: Path) -> None:
    path = tmp_path / "refused.csv"
    mapping = NEEDED + "notes: Note\n"
    write_rejects(look(tmp_path, mapping, "Job,Note\n1,slow, then dead\n"), path)
    assert path.read_text(encoding="utf-8-sig").splitlines()[:2] == [
        "Job,Note,,row,why",
        (
            "1,slow, then dead,2,\"in this row: 3 cells, where the header has 2; 'then dead' is too many; put a text "
            'that holds the separator in quotation marks"'
        ),
    ]
    assert verdicts(look_at(path, mapping)) == {2: "refused"}


def test_nothing_is_written_if_nothing_was_refused(tmp_path: Path) -> None:
    path = tmp_path / "refused.csv"
    assert write_rejects(look(tmp_path, NEEDED, "Job\n1\n"), path) == 0
    assert not path.exists()


def test_a_file_that_cannot_be_written_is_told(tmp_path: Path) -> None:
    with pytest.raises(FileNotWritten, match="was not written"):
        write_rejects(look(tmp_path, NEEDED, "Job,A\n,1\n"), tmp_path / "no" / "such" / "folder.csv")


def test_a_table_with_columns_called_row_and_why_elsewhere_is_no_file_of_refused_rows(tmp_path: Path) -> None:
    mapping = START + "job: row\nboard: {always: halden-t4}\ncomplaint: {always: restarts}\nnotes: why\n"
    found = look(tmp_path, mapping, "row,why,other\n7,dropped,x\n")
    assert [(job.number, job.notes) for job in found.jobs] == [("7", "dropped")]


def test_cells_of_a_workbook_are_read_again_as_they_were(tmp_path: Path) -> None:
    book = Workbook()
    for row in (["Job", "R", "Note"], [1, 4.125, "x"], [2, "lots", 7.5], [None, 3.25, None]):
        book.active.append(row)
    path = tmp_path / "jobs.xlsx"
    book.save(path)
    mapping = (
        NEEDED + "decimal: comma\nsheet: Sheet\nchecks: {R: {check: vsys-ohms, unit: kohm}}\nnotes: Note\n"
    )
    refused = tmp_path / "refused.csv"
    write_rejects(look_at(path, mapping), refused)
    lines = refused.read_text(encoding="utf-8-sig").splitlines()
    assert [line.split(";")[:4] for line in lines] == [
        ["Job", "R", "Note", "row"],
        ["2", "lots", "7,5", "3"],
        ["", "3,25", "", "4"],
    ]
    refused.write_bytes(refused.read_bytes().replace(b"\r\n;3", b"\r\n9;3").replace(b"lots", b"4,125"))
    assert [job.readings[0].value for job in look_at(refused, mapping).jobs] == [4125.0, 3250.0]


LONG = NEEDED + "layout: long\nnotes: Note\nreading: {check: Test, value: Value}\nfix: Fix\n"
LONG_TABLE = """
Job,Test,Value,Fix,Note
1,vsys-ohms,4k2,,a
,vsys-volts,lots,,
,,,clean-u7,b
2,vsys-ohms,4k2,,
,liquid-mark,wet,,
"""


def test_a_long_tables_mended_row_completes_its_job(tmp_path: Path) -> None:
    first = look(tmp_path, LONG, LONG_TABLE)
    assert verdicts(first) == {2: "taken", 3: "refused", 4: "taken", 5: "taken", 6: "taken"}
    path = tmp_path / "refused.csv"
    assert write_rejects(first, path) == 1
    assert [line.split(",")[:7] for line in path.read_text(encoding="utf-8-sig").splitlines()] == [
        ["Job", "Test", "Value", "Fix", "Note", "row", "why"],
        ["1", "vsys-ohms", "4k2", "", "a", "2", ""],
        [
            "",
            "vsys-volts",
            "lots",
            "",
            "",
            "3",
            "in column 'Value': cannot read 'lots'; write voltage as 3.3 V or 50 mV",
        ],
        ["", "", "", "clean-u7", "b", "4", ""],
    ]
    path.write_bytes(path.read_bytes().replace(b"lots", b"3.8 V"))
    mended = look_at(path, LONG, stored=first.jobs)
    assert set(verdicts(mended).values()) == {"taken"}
    whole = look(tmp_path, LONG, LONG_TABLE.replace("lots", "3.8 V")).jobs[0]
    joined = merge(first.jobs[0], mended.jobs[0])
    assert (joined.conflicts, joined.job) == ((), whole)


def test_taking_the_same_table_in_again_adds_nothing(tmp_path: Path) -> None:
    first = look(tmp_path, LONG, LONG_TABLE)
    again = look(tmp_path, LONG, LONG_TABLE, stored=first.jobs)
    assert verdicts(again) == {
        2: "already there",
        3: "refused",
        4: "already there",
        5: "already there",
        6: "already there",
    }
    assert again.jobs == ()


ANY_CELL = st.text(st.characters(exclude_categories=["Cc", "Cs"], include_characters="\n\r\t"), max_size=6)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=80, deadline=None)
@given(
    rows=st.lists(st.tuples(ANY_CELL, ANY_CELL, ANY_CELL), min_size=1, max_size=5),
    separator=st.sampled_from([";", ",", "|"]),
)
def test_any_refused_row_comes_back_with_the_same_verdict(
    tmp_path: Path, rows: list[tuple[str, str, str]], separator: str
) -> None:
    path, refused = tmp_path / "jobs.csv", tmp_path / "refused.csv"
    mapping = NEEDED + f'separator: "{separator}"\nopened: Date\nchecks: {{R: vsys-ohms}}\n'
    with path.open("w", newline="", encoding="utf-8") as stream:
        csv.writer(stream, delimiter=separator).writerows([("Job", "Date", "R"), *rows])
    first = look_at(path, mapping)
    expected = {row.row: reasons(first, row.row) for row in first.rows if row.verdict == "refused"}
    if not write_rejects(first, refused):
        assert not expected
        return
    second = look_at(refused, mapping)
    cells = {row.number: row.cells for row in read_table(path, mapping_of(mapping)).rows()}
    back = {row.number: row.cells for row in read_table(refused, mapping_of(mapping)).rows()}
    assert back == {number: cells[number] for number in expected}
    told = {row.row: reasons(second, row.row) for row in second.rows}
    assert all(told[row] == why for row, why in expected.items() if "already" not in str(why))


def test_the_separator_is_stated_where_the_rows_would_hide_it(tmp_path: Path) -> None:
    book = Workbook()
    for row in (["Job", "Note"], [None, "a;b;c;d;e;f;g"], [None, "a;b;c;d;e;f;g"]):
        book.active.append(row)
    path = tmp_path / "jobs.xlsx"
    book.save(path)
    mapping = NEEDED + "notes: Note\n"
    refused = tmp_path / "refused.csv"
    write_rejects(look_at(path, mapping), refused)
    assert refused.read_text(encoding="utf-8-sig").splitlines()[:2] == ["sep=,", "Job,Note,row,why"]
    assert verdicts(look_at(refused, mapping)) == {2: "refused", 3: "refused"}


def test_cells_are_mended_by_row_number_and_place_and_no_row_is_lost(tmp_path: Path) -> None:
    path = tmp_path / "refused.csv"
    write_rejects(look(tmp_path, WIDE, TABLE), path)
    mapping = mapping_of(WIDE)
    table = read_table(path, mapping)
    path.write_text(
        mended_text(table, mapping, {(5, 2): "4k7", (6, 3): "so; so", (99, 0): "x"}), encoding="utf-8"
    )
    found = look_at(path, WIDE)
    assert verdicts(found) == {5: "taken", 6: "refused"}
    assert found.jobs[0].readings[0].value == 4700.0
    assert "so; so" in rejects_text(found)
