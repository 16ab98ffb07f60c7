import csv
from dataclasses import replace
from math import inf, nan
from pathlib import Path

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st
from job_samples import JOB, changed, jobs, numbered, texts

from benchlore.jobs import (
    Attempt,
    ExportExists,
    ExportUnreadable,
    Job,
    JobUnstorable,
    Outcome,
    Reading,
    Retest,
    Store,
    export_csv,
    import_csv,
)
from benchlore.jobs.errors import ExportTrouble
from benchlore.jobs.export_cells import (
    number_cell,
    number_of,
    optional_text_cell,
    optional_text_of,
    text_cell,
    text_of,
)

FORMULA_SIGNS = ("=", "+", "-", "@", "\t", "\r", "＝", "＋", "－", "＠")
"""Cells that begin so are run by spreadsheets: OWASP Foundation, "CSV Injection" (from memory)."""


def test_the_files_are_plain_rfc_4180(tmp_path):
    # RFC 4180, section 2: lines end in CRLF, a cell with a comma, quote or line end is quoted, quotes are doubled.
    job = Job(
        "s",
        "1",
        "b",
        'says "dead", sometimes',
        notes="a\nb",
        readings=(Reading("c", 1, value=inf, text="OL"),),
        attempts=(Attempt("f", 2, soaked=90.5),),
    )
    assert export_csv([job], tmp_path / "out") == 1
    assert (tmp_path / "out" / "jobs.csv").read_bytes() == (
        b"shop,number,board,complaint,opened,outcome,fault,fault_text,hands_on_minutes,waiting_minutes,comeback,technician,notes,extra\r\n"
        b's,1,b,"says ""dead"", sometimes",,open,,,,,,,"a\nb",\r\n'
    )
    assert (
        tmp_path / "out" / "readings.csv"
    ).read_bytes() == b"shop,number,step,check,result,value,text\r\ns,1,1,c,,OL,OL\r\n"
    assert (
        tmp_path / "out" / "attempts.csv"
    ).read_bytes() == b"shop,number,step,fix,retest,soaked_minutes\r\ns,1,2,f,unknown,90.5\r\n"


def test_a_full_job_is_written_as_people_read_it(tmp_path):
    export_csv([JOB], tmp_path / "out")
    with (tmp_path / "out" / "jobs.csv").open(encoding="utf-8", newline="") as stream:
        (row,) = csv.DictReader(stream)
    assert row["opened"] == "2026-03-31"
    assert (row["hands_on_minutes"], row["waiting_minutes"], row["comeback"]) == ("25.0", "8.5", "no")
    assert row["extra"] == '{"colour": "µ-grey", "shelf": "7"}'


def test_an_export_of_before_soaks_were_recorded_is_read(tmp_path):
    export_csv([JOB], tmp_path / "out")
    file = tmp_path / "out" / "attempts.csv"
    file.write_text("shop,number,step,fix,retest\nQuay Street Bench,Q-1041,4,reflow-l1204,gone\n")
    assert import_csv(tmp_path / "out") == [changed(attempts=(Attempt("reflow-l1204", 4, Retest.GONE),))]
    file.write_text("shop,number,step,fix,retest\nQuay Street Bench,Q-1041,4,reflow-l1204,gone,7\n")
    with pytest.raises(ExportUnreadable, match=r"line 2: there are 7 cells"):
        import_csv(tmp_path / "out")


@settings(max_examples=120, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(records=st.lists(jobs(), max_size=5, unique_by=lambda job: (job.shop, job.number)))
@example(
    records=[
        Job(
            "'",
            "=1",
            "",
            "",
            fault="",
            readings=(Reading("", 0, "", 5e-324, "'"), Reading("", -3, "'", -inf)),
        )
    ]
)
@example(
    records=[changed(notes="x" * 200_000), Job("", "", "", "", extra={"": "", "'": "=x"}, comeback=True)]
)
def test_any_jobs_come_back_exactly(records, tmp_path_factory):
    folder = tmp_path_factory.mktemp("any") / "out"
    assert export_csv(iter(records), folder) == len(records)
    assert import_csv(folder) == records


@given(texts())
def test_no_text_is_taken_for_a_formula_and_each_comes_back(text):
    cell = text_cell(text)
    assert text_of(cell) == text
    assert not cell.startswith(FORMULA_SIGNS)
    assert optional_text_of(optional_text_cell(text)) == text


@pytest.mark.parametrize(
    "text", ["=HYPERLINK(1)", "+1", "-1", "@SUM(1)", "\t=1", "\r=1", " =1", "\n+1", "＝1", "'", "'=1", "''"]
)
def test_what_a_spreadsheet_would_run_gets_an_apostrophe(text):
    assert text_cell(text) == f"'{text}"
    assert text_of(f"'{text}") == text


@pytest.mark.parametrize("text", ["", "a=b", "1 - 2", "Ω", '"', "a'b"])
def test_other_texts_stay_as_they_are(text):
    assert text_cell(text) == text


def test_nothing_and_the_empty_text_are_two_things():
    assert [optional_text_cell(text) for text in (None, "", "'")] == ["", "'", "''"]
    assert [optional_text_of(cell) for cell in ("", "'", "''")] == [None, "", "'"]


@given(st.floats(allow_nan=False))
def test_any_number_comes_back(number):
    assert number_of(number_cell(number)) == number


def test_an_export_of_a_store_goes_into_another_store(tmp_path):
    (tmp_path / "other").mkdir()
    with Store.open(tmp_path) as store, Store.open(tmp_path / "other") as other:
        store.add([JOB, *numbered(10)])
        export_csv(store.jobs(), tmp_path / "out")
        assert other.add(import_csv(tmp_path / "out")).new == 11
        assert list(other.jobs()) == list(store.jobs())


def test_equal_jobs_give_equal_bytes(tmp_path):
    export_csv([changed(extra={"a": "1", "b": "2"})], tmp_path / "one")
    export_csv([changed(extra={"b": "2", "a": "1"})], tmp_path / "two")
    assert all(
        (tmp_path / "one" / name).read_bytes() == (tmp_path / "two" / name).read_bytes()
        for name in ("jobs.csv", "readings.csv")
    )


def test_an_older_export_is_replaced_whole(tmp_path):
    export_csv(numbered(5), tmp_path / "out")
    export_csv([JOB], tmp_path / "out")
    assert import_csv(tmp_path / "out") == [JOB]
    assert [each.name for each in tmp_path.iterdir()] == ["out"]


def test_an_empty_folder_may_be_there(tmp_path):
    export_csv([JOB], tmp_path)
    assert import_csv(tmp_path) == [JOB]


def test_a_folder_with_other_things_in_it_is_left_alone(tmp_path):
    (tmp_path / "book.yaml").write_text("book: 1")
    with pytest.raises(
        ExportExists,
        match=r"this folder holds 'book\.yaml', so that an export would overwrite it; give a folder",
    ):
        export_csv([JOB], tmp_path)
    with pytest.raises(ExportExists, match=r"book\.yaml: this is a file"):
        export_csv([JOB], tmp_path / "book.yaml")
    assert [each.name for each in tmp_path.iterdir()] == ["book.yaml"]


def test_the_folder_that_one_is_in_is_not_swapped_away(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    with pytest.raises(ExportExists, match="this is the folder that you are in, so that"):
        export_csv([JOB], Path())
    export_csv([JOB], Path("out"))
    assert import_csv(Path("out")) == [JOB]


def test_an_export_goes_where_a_link_points(tmp_path):
    (tmp_path / "far").mkdir()
    (tmp_path / "link").symlink_to(tmp_path / "far")
    export_csv([JOB], tmp_path / "link")
    assert import_csv(tmp_path / "far") == [JOB]
    assert (tmp_path / "link").is_symlink()


def broken_off():
    yield JOB
    raise RuntimeError("the store broke off")


@pytest.mark.parametrize(
    ("records", "kind", "message"),
    [
        (broken_off(), RuntimeError, "broke off"),
        ([JOB, changed(notes="\0")], JobUnstorable, "notes holds a NUL"),
        ([JOB, changed(hands_on=nan)], JobUnstorable, "hands_on is not a number"),
        (
            [JOB, replace(JOB, board="x")],
            ValueError,
            "job 'Q-1041' of shop 'Quay Street Bench' is there twice",
        ),
    ],
)
def test_an_export_that_breaks_off_leaves_the_old_one(tmp_path, records, kind, message):
    export_csv(numbered(2), tmp_path / "out")
    with pytest.raises(kind, match=message):
        export_csv(records, tmp_path / "out")
    assert import_csv(tmp_path / "out") == numbered(2)
    assert [each.name for each in tmp_path.iterdir()] == ["out"]


def test_an_export_that_cannot_be_put_in_place_leaves_the_old_one(tmp_path, monkeypatch):
    export_csv(numbered(2), tmp_path / "out")
    real = Path.replace

    def refuses(path, target):
        if path.suffix == ".new":
            raise PermissionError(13, "Permission denied")
        return real(path, target)

    monkeypatch.setattr(Path, "replace", refuses)
    with pytest.raises(ExportTrouble, match="the export was not written: permission denied"):
        export_csv([JOB], tmp_path / "out")
    assert import_csv(tmp_path / "out") == numbered(2)
    assert [each.name for each in tmp_path.iterdir()] == ["out"]


def test_a_folder_that_cannot_be_made_is_told(tmp_path):
    with pytest.raises(
        ExportTrouble, match="missing/out: the export was not written: there is no such file or folder"
    ):
        export_csv([JOB], tmp_path / "missing" / "out")


def spoil(folder: Path, name: str, old: str, new: str) -> None:
    text = (folder / name).read_bytes().decode()
    assert old in text
    (folder / name).write_bytes(text.replace(old, new).encode())


@pytest.mark.parametrize(
    ("name", "old", "new", "message"),
    [
        (
            "jobs.csv",
            "2026-03-31",
            "31.3.2026",
            r"jobs\.csv: line 2: '31\.3\.2026' is not a date; write 2026-03-31",
        ),
        ("jobs.csv", "repaired", "fixed", r"line 2: 'fixed' is not one of repaired, returned, ruined, open"),
        ("jobs.csv", "25.0", "25 min", r"line 2: '25 min' is not a number; write 4200\.0 or OL"),
        ("jobs.csv", "25.0", "nan", r"'nan' is not a number"),
        ("jobs.csv", ",no,", ",nein,", r"'nein' is neither yes nor no"),
        ("jobs.csv", "{", "[", r"is not a JSON object of texts"),
        ("jobs.csv", '""7""', "7", r"is not a JSON object of texts"),
        (
            "jobs.csv",
            "shop,number",
            "number,shop",
            r"line 1: the columns are number, shop, board.* an export has shop, number, board",
        ),
        ("jobs.csv", "restarts,", "restarts,,", r"line 2: there are 15 cells; an export has 14"),
        ("jobs.csv", '"{', '"{" ', r"line \d: "),
        (
            "readings.csv",
            "Bench,Q-1041,2",
            "Bench,Q-1042,2",
            r"readings\.csv: line 3: job 'Q-1042' of shop 'Quay Street Bench' is not in jobs\.csv",
        ),
        ("readings.csv", ",3,coil", ",three,coil", r"line 4: 'three' is not a whole number"),
        (
            "attempts.csv",
            "gone",
            "away",
            r"attempts\.csv: line 2: 'away' is not one of gone, still there, unknown",
        ),
    ],
)
def test_an_export_that_somebody_edited_is_told_by_line(tmp_path, name, old, new, message):
    export_csv([JOB], tmp_path / "out")
    spoil(tmp_path / "out", name, old, new)
    with pytest.raises(
        ExportUnreadable, match=f"{message}.*take an export that nobody edited, or mend this file"
    ):
        import_csv(tmp_path / "out")


def test_a_job_that_stands_twice_in_an_export_is_told(tmp_path):
    export_csv(numbered(2), tmp_path / "out")
    spoil(tmp_path / "out", "jobs.csv", "Q-00001", "Q-00000")
    with pytest.raises(
        ExportUnreadable, match="line 3: job 'Q-00000' of shop 'Quay Street Bench' is there twice"
    ):
        import_csv(tmp_path / "out")


@pytest.mark.parametrize(
    ("content", "message"),
    [
        (None, "there is no such file or folder"),
        (b"", "it is empty"),
        ("shöp".encode("latin-1"), "it is not UTF-8 text"),
    ],
)
def test_a_missing_or_other_file_is_told(tmp_path, content, message):
    export_csv([JOB], tmp_path / "out")
    (tmp_path / "out" / "attempts.csv").unlink()
    if content is not None:
        (tmp_path / "out" / "attempts.csv").write_bytes(content)
    with pytest.raises(ExportUnreadable, match=rf"attempts\.csv: {message}"):
        import_csv(tmp_path / "out")


def test_an_export_that_an_editor_saved_with_a_byte_order_mark_is_read(tmp_path):
    export_csv([JOB], tmp_path / "out")
    file = tmp_path / "out" / "jobs.csv"
    file.write_bytes(b"\xef\xbb\xbf" + file.read_bytes().replace(b"\r\n", b"\n"))
    assert import_csv(tmp_path / "out") == [JOB]


def test_the_limit_for_cells_of_other_readers_stays(tmp_path):
    limit = csv.field_size_limit()
    export_csv([changed(notes="x" * 200_000)], tmp_path / "out")
    assert len(import_csv(tmp_path / "out")[0].notes) == 200_000
    assert csv.field_size_limit() == limit


def test_every_outcome_and_retest_comes_back(tmp_path):
    records = [changed(number=str(place), outcome=outcome) for place, outcome in enumerate(Outcome)]
    records.append(changed(number="retests", attempts=tuple(Attempt("f", 1, retest) for retest in Retest)))
    export_csv(records, tmp_path / "out")
    assert import_csv(tmp_path / "out") == records
