"""CSV files in the forms in which they are met, and in forms made to hurt."""

import csv
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from intake_bench import NEEDED, look, mapping_of, reasons, verdicts

from benchlore.jobs.intake import (
    NoTable,
    TableBroken,
    TableTooLarge,
    WrongKind,
    csv_file,
    read_table,
)
from benchlore.notation import FileMissing, FileUnreadable

TEXT = "Job;Fehlerbild;Größe\n1;aus;4,7\n2;„an“;5,1\n"


def table_of(folder: Path, data: bytes, mapping: str | None = None):
    path = folder / "jobs.csv"
    path.write_bytes(data)
    return read_table(path, mapping_of(mapping) if mapping else None)


def cells(table) -> list[tuple[str, ...]]:
    return [row.cells for row in table.rows()]


@pytest.mark.parametrize(
    "encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "utf-32", "windows-1252"]
)
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_the_encoding_is_found(tmp_path: Path, encoding: str, end: str) -> None:
    table = table_of(tmp_path, TEXT.replace("\n", end).encode(encoding))
    assert table.header == ("Job", "Fehlerbild", "Größe")
    assert cells(table) == [("1", "aus", "4,7"), ("2", "„an“", "5,1")]


def test_a_stated_encoding_counts_but_for_a_byte_order_mark(tmp_path: Path) -> None:
    stated = NEEDED + "encoding: cp850\n"
    assert table_of(tmp_path, "Job;Größe\n".encode("cp850"), stated).header == ("Job", "Größe")
    assert table_of(tmp_path, "Job;Größe\n".encode("utf-8-sig"), stated).header == ("Job", "Größe")


def test_a_file_that_became_utf8_in_an_editor_is_read_as_such(tmp_path: Path) -> None:
    stated = NEEDED + "encoding: windows-1252\n"
    assert table_of(tmp_path, "Job;Größe\n".encode(), stated).header == ("Job", "Größe")
    assert table_of(tmp_path, "Job;Größe\n".encode("windows-1252"), stated).header == ("Job", "Größe")


def test_a_file_in_no_known_encoding_is_refused_with_its_line(tmp_path: Path) -> None:
    with pytest.raises(
        TableBroken, match="line 3 is not utf-8 or windows-1252 text; say 'encoding: …' in the mapping"
    ):
        table_of(tmp_path, b"Job;A\n1;b\n2;\x81\n")
    with pytest.raises(TableBroken, match="line 2 is not utf-8 or ascii text"):
        table_of(tmp_path, "Job\nä\n".encode("windows-1252"), NEEDED + "encoding: ascii\n")
    with pytest.raises(TableBroken, match="is not utf-8-sig text"):
        table_of(tmp_path, b"\xef\xbb\xbfJob\n\xff\n")


@pytest.mark.parametrize("separator", list(";,\t|"))
def test_the_separator_is_found(tmp_path: Path, separator: str) -> None:
    lines = [["Job", "Size, or so", "Note"], ["1", "4,7", "a; b"], ["2", "5,1", 'say "x"'], ["3", "1|2", ""]]
    path = tmp_path / "t.csv"
    with path.open("w", newline="", encoding="utf-8") as stream:
        csv.writer(stream, delimiter=separator).writerows(lines)
    table = read_table(path)
    assert [table.header, *cells(table)] == [tuple(line) for line in lines]


def test_a_first_line_may_state_the_separator_and_is_no_row(tmp_path: Path) -> None:
    table = table_of(tmp_path, b"sep=|\r\nJob|A;B;C\r\n1|a;b;c\r\n")
    assert table.header == ("Job", "A;B;C")
    assert [row.number for row in table.rows()] == [2]


def test_the_mapping_may_state_the_separator(tmp_path: Path) -> None:
    table = table_of(tmp_path, b"Job:A;B\n1:a;b\n", NEEDED + 'separator: ":"\n')
    assert table.header == ("Job", "A;B")


def test_quotes_lines_in_cells_and_doubled_quotes_are_read_by_rfc_4180(tmp_path: Path) -> None:
    # The examples of RFC 4180, section 2 (Shafranovich, 2005), rules 5 to 7.
    data = (
        b'aaa,bbb,ccc\r\n"aaa","bbb","ccc"\r\n"aaa","b\r\nbb","ccc"\r\nzzz,yyy,xxx\r\n"aaa","b""bb","ccc"\r\n'
    )
    assert cells(table_of(tmp_path, data)) == [
        ("aaa", "bbb", "ccc"),
        ("aaa", "b\r\nbb", "ccc"),
        ("zzz", "yyy", "xxx"),
        ("aaa", 'b"bb', "ccc"),
    ]


def test_the_header_is_the_first_row_that_is_not_empty_or_where_the_mapping_says(tmp_path: Path) -> None:
    data = b"\n;;\nJob;A\n1;a\n"
    assert table_of(tmp_path, data, NEEDED).header == ("Job", "A")
    title = b"Jobs of 2026;;\n\nJob;A\n1;a\n"
    assert table_of(tmp_path, title, NEEDED + "header row: 3\n").header == ("Job", "A")
    assert table_of(tmp_path, title).header == ("Job", "A")  # without a mapping, by its looks


def test_a_header_of_two_rows_is_joined(tmp_path: Path) -> None:
    data = b";Rail;;Repair\nJob;Ohm;Volt;\n1;4k7;3.8;x\n"
    table = table_of(tmp_path, data, NEEDED + "header row: [1, 2]\n")
    assert table.header == ("Job", "Rail / Ohm", "Rail / Volt")
    assert table.place("rail / volt") == 2


def test_headers_that_stand_twice_or_are_missing_get_names(tmp_path: Path) -> None:
    table = table_of(tmp_path, b"Job;Value;;Value;value;\n1;a;b;c;d;\n")
    assert table.header == ("Job", "Value", "column C", "Value (2)", "value")
    assert [
        table.place(name) for name in ("Value", "value", "VALUE", "value (2)", "Column C", "column AA")
    ] == [
        1,
        4,
        None,
        3,
        2,
        26,
    ]


def test_headers_are_found_whatever_their_case_accents_and_spaces(tmp_path: Path) -> None:
    table = table_of(tmp_path, "Job Nr.;Rückläufer\n".encode())
    assert (table.place("JOB-NR"), table.place("ruckläufer"), table.place("Rückläufe")) == (0, 1, None)


def test_empty_rows_and_empty_columns_at_the_right_do_not_matter(tmp_path: Path) -> None:
    found = look(tmp_path, NEEDED, "Job;A;;\n1;a;;\n;;;\n\n2;b\n3;c;;;;;;\n")
    assert verdicts(found) == {2: "taken", 5: "taken", 6: "taken"}


def test_a_row_with_too_many_cells_is_refused(tmp_path: Path) -> None:
    found = look(tmp_path, NEEDED + "notes: Note\n", "Job,Note,\n1,slow, then dead\n2,fine\n")
    assert verdicts(found) == {2: "refused", 3: "taken"}
    assert reasons(found, 2) == [
        (
            "in this row: 3 cells, where the header has 2; 'then dead' is too many; "
            "put a text that holds the separator in quotation marks"
        )
    ]


def test_a_quotation_mark_that_never_closes_is_found(tmp_path: Path) -> None:
    with pytest.raises(
        TableBroken, match=r"jobs.csv, row 3: a quotation mark opens in this row and never closes"
    ):
        look(tmp_path, NEEDED, 'Job;A\n1;a\n2;"b\n3;c\n')


def test_rows_that_two_stray_quotation_marks_swallowed_are_not_lost_unseen(tmp_path: Path) -> None:
    found = look(tmp_path, NEEDED + "notes: N\n", 'Job;A;N\n1;a;"b\n2;b;c\n3;c;d"\n4;d;"two\nlines"\n')
    assert verdicts(found) == {2: "refused", 3: "taken"}
    assert reasons(found, 2) == [
        "in column 'N': this cell holds 3 lines that look like rows; is a quotation mark not closed?"
    ]


def test_a_quotation_mark_within_a_cell_is_text(tmp_path: Path) -> None:
    assert cells(table_of(tmp_path, b'Job;A\n1;3.5" disc\n2;"3.5" disc\n')) == [
        ("1", '3.5" disc'),
        ("2", "3.5 disc"),
    ]


def test_what_is_no_table_is_told_by_what_it_is(tmp_path: Path) -> None:
    for data, what in (
        (b"%PDF-1.7 ...", "a PDF document"),
        (b"\x89PNG\r\n\x1a\n", "a picture"),
        (b"\x1f\x8b\x08\0", "a packed file"),
        (b"<html><table>", "a web page or XML document"),
        (b"  <!DOCTYPE html>", "a web page or XML document"),
        (b"\x00\x01\x02\x03" * 50, "binary data"),
        (b"\x05\x06\x0e\x0f" * 50, "binary data"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\0" * 600, "an old binary workbook"),
    ):
        with pytest.raises(WrongKind, match=what) as told:
            table_of(tmp_path, data)
        assert str(told.value) == f"{told.value.path}: {told.value.said}"
        assert str(told.value.path) not in told.value.said


def test_an_empty_file_is_no_table(tmp_path: Path) -> None:
    with pytest.raises(NoTable, match="the file is empty"):
        table_of(tmp_path, b"")
    with pytest.raises(NoTable, match="there is no row with anything in it"):
        table_of(tmp_path, b";;;\n;;\n")
    with pytest.raises(NoTable, match="the header should stand in row 7, and there is nothing there"):
        table_of(tmp_path, b"Job\n1\n", NEEDED + "header row: 7\n")


def test_a_file_that_is_missing_or_a_folder_is_told(tmp_path: Path) -> None:
    with pytest.raises(FileMissing, match="there is no such file"):
        read_table(tmp_path / "none.csv")
    with pytest.raises(FileUnreadable, match="is a directory"):
        read_table(tmp_path)
    with pytest.raises(FileUnreadable, match="cannot be read"):
        read_table(tmp_path / "a\0b")


def test_a_huge_file_cell_row_or_width_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with pytest.raises(TableBroken, match="row 2: a cell has more than 131,072 characters"):
        cells(table_of(tmp_path, b"Job;A\n1;" + b"x" * 200_000 + b"\n"))
    with pytest.raises(TableTooLarge, match="has more than 2,000 columns in row 2"):
        cells(table_of(tmp_path, b"Job;A\n" + b"1;" * 3000 + b"\n"))
    with pytest.raises(TableTooLarge, match="has a row of more than 4,194,304 characters"):
        cells(table_of(tmp_path, b"Job;A\n" + b"1;" * 3_000_000 + b"\n"))
    monkeypatch.setattr(csv_file, "MOST_BYTES", 100)
    with pytest.raises(TableTooLarge, match="split the table"):
        table_of(tmp_path, b"Job;A\n" * 100)


CELLS = st.text(st.characters(codec="utf-8", exclude_characters="\r\n\0"), max_size=8)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=60)
@given(
    rows=st.lists(st.lists(CELLS, min_size=3, max_size=3), min_size=1, max_size=6),
    separator=st.sampled_from(";,\t|"),
    encoding=st.sampled_from(["utf-8", "utf-8-sig", "utf-16"]),
)
def test_what_the_csv_module_writes_is_read_back(
    tmp_path: Path, rows: list[list[str]], separator: str, encoding: str
) -> None:
    # The standard library's writer is the reference; the separator is stated, since arbitrary text may hide it.
    path = tmp_path / "t.csv"
    with path.open("w", newline="", encoding=encoding) as stream:
        csv.writer(stream, delimiter=separator).writerows([["Job", "A", "B"], *rows])
    mapping = mapping_of(
        NEEDED + f"separator: {'tab' if separator == chr(9) else repr(separator)}\nencoding: {encoding}\n"
    )
    assert cells(read_table(path, mapping)) == [
        tuple(row) for row in rows if any(cell.strip() for cell in row)
    ]


def test_a_line_that_looks_like_a_stated_separator_is_a_row_elsewhere(tmp_path: Path) -> None:
    assert cells(table_of(tmp_path, b"Job;A\nsep=,\n1;2\n")) == [("sep=,",), ("1", "2")]
