import csv
import io
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchlore.jobs.demand import DemandRecord
from benchlore.jobs.open_repair import read_open_repair
from benchlore.jobs.open_repair_row import BARRIERS, STATUSES
from benchlore.notation import FileMissing, Problem, Severity

# Open Repair Data Standard 0.3 (Open Repair Alliance, CC BY-SA 4.0): the columns in published order.
HEAD = (
    "id,data_provider,country,partner_product_category,product_category,product_category_id,brand,"
    "year_of_manufacture,product_age,repair_status,repair_barrier_if_end_of_life,group_identifier,event_date,problem\n"
)
ROW = 'kestrel_7,Kestrel Menders,NZL,Kitchen ~ Kettle,Kettle,14,Norwick,2009,11,Fixed,"",Harbour,2025-03-29,No heat\n'
RECORD = DemandRecord(
    id="kestrel_7",
    provider="Kestrel Menders",
    country="NZL",
    partner_category="Kitchen ~ Kettle",
    category="Kettle",
    category_id=14,
    brand="Norwick",
    year=2009,
    age=11.0,
    status="Fixed",
    barrier="",
    group="Harbour",
    event_date=date(2025, 3, 29),
    problem="No heat",
)


def row(**cells):
    """Return a row like ``ROW`` with some cells replaced."""
    names = HEAD.strip().split(",")
    values = dict(zip(names, next(csv.reader([ROW])), strict=True)) | cells
    out = io.StringIO()
    csv.writer(out, lineterminator="\n").writerow(values.values())
    return out.getvalue()


@pytest.fixture
def read(tmp_path):
    def run(content):
        path = tmp_path / "events.csv"
        path.write_bytes(content if isinstance(content, bytes) else content.encode())
        found = list(read_open_repair(path))
        records = [each for each in found if isinstance(each, DemandRecord)]
        return records, [each for each in found if isinstance(each, Problem)]

    return run


def places(problems):
    return [(each.rule, each.severity, each.position and each.position.line) for each in problems]


def test_a_row_becomes_a_record(read):
    assert read(HEAD + ROW) == ([RECORD], [])


@pytest.mark.parametrize(
    "content",
    [
        b"\xef\xbb\xbf" + (HEAD + ROW).encode(),
        (HEAD + ROW).replace("\n", "\r\n").encode(),
        (HEAD + ROW).rstrip().encode(),
        ("\n" + HEAD + "\n" + ROW + "\n,,,,,,,,,,,,,\n").encode(),
        ("sep=,\n" + HEAD + ROW).encode(),
        (HEAD + ROW).replace(",", ";").encode(),
        (HEAD + ROW).replace(",", "\t").encode(),
        (HEAD.replace("data_provider", " Data Provider ") + ROW).encode(),
        (HEAD.strip() + ",extra\n" + ROW.strip() + ",more\n").encode(),
    ],
    ids=[
        "mark",
        "crlf",
        "no last line end",
        "empty rows",
        "sep",
        "semicolons",
        "tabs",
        "head case",
        "extra column",
    ],
)
def test_how_the_file_was_saved_does_not_matter(read, content):
    assert read(content) == ([RECORD], [])


def test_columns_may_stand_in_any_order(read):
    names, cells = HEAD.strip().split(","), next(csv.reader([ROW]))
    assert read(f"{','.join(names[::-1])}\n{','.join(cells[::-1])}\n") == ([RECORD], [])


def test_optional_columns_may_be_missing(read):
    head = "id,data_provider,country,partner_product_category,repair_status,event_date,problem\n"
    records, problems = read(head + "a_1,Kestrel Menders,NZL,Lamp,Fixed,2025-03-29,Dark\n")
    assert problems == []
    assert (records[0].brand, records[0].year, records[0].category_id, records[0].barrier) == (
        "",
        None,
        None,
        "",
    )


def test_missing_required_columns_are_named_and_cost_only_their_values(read):
    records, problems = read("id,data_provider,repair_status,brand\na_1,Kestrel Menders,Fixed,Norwick\n")
    assert [(each.id, each.brand, each.country, each.event_date) for each in records] == [
        ("a_1", "Norwick", "", None)
    ]
    assert places(problems) == [("missing-column", Severity.WARNING, 1)]
    assert (
        "'country', 'partner_product_category', 'event_date' and 'problem' are missing" in problems[0].message
    )


def test_quoted_texts_keep_their_commas_quotes_and_lines(read):
    records, problems = read(HEAD + row(problem='says "no", then,\nfalls silent') + row(id="kestrel_8"))
    assert [each.problem for each in records] == ['says "no", then,\nfalls silent', "No heat"]
    assert problems == []


def test_marks_and_addresses_in_texts_stay_plain_text(read):
    text = '<script>alert(1)</script> &amp; =HYPERLINK("http://example.org")'
    assert read(HEAD + row(problem=text))[0][0].problem == text


def test_statuses_and_barriers_may_be_codes(read):
    # Open Repair Data Standard 0.3: repair_status 0 to 3, repair_barrier_if_end_of_life 1 to 6.
    assert STATUSES == ("Unknown", "Fixed", "Repairable", "End of life")
    assert BARRIERS == (
        "Spare parts not available",
        "Spare parts too expensive",
        "No way to open product",
        "Repair information not available",
        "Lack of equipment",
        "Item too worn out",
    )
    rows = [row(id=f"s{code}", repair_status=str(code)) for code in range(4)]
    rows += [row(id=f"b{code}", repair_barrier_if_end_of_life=str(code)) for code in range(1, 7)]
    records, problems = read(HEAD + "".join(rows))
    assert [each.status for each in records[:4]] == list(STATUSES)
    assert [each.barrier for each in records[4:]] == list(BARRIERS)
    assert problems == []


@pytest.mark.parametrize(
    ("written", "barrier"),
    [
        ("No way to open the product", "No way to open product"),
        ("Too worn out", "Item too worn out"),
        ("lack of equipment", "Lack of equipment"),
        ("Shop closed", "Shop closed"),
    ],
)
def test_barriers_in_other_spellings_are_known_and_strange_ones_kept(read, written, barrier):
    records, problems = read(HEAD + row(repair_status="end of life", repair_barrier_if_end_of_life=written))
    assert (records[0].status, records[0].barrier, problems) == ("End of life", barrier, [])


def test_an_unknown_brand_says_nothing(read):
    assert [each.brand for each in read(HEAD + row(brand="Unknown") + row(id="a", brand=""))[0]] == ["", ""]


@pytest.mark.parametrize(
    ("column", "text", "field", "value"),
    [
        ("product_age", "61.5", "age", 61.5),
        ("product_age", "2,5", "age", 2.5),
        ("product_age", "150", "age", 150.0),
        ("year_of_manufacture", "1869", "year", 1869),
        ("year_of_manufacture", "2009.0", "year", 2009),
        ("product_category_id", " 7 ", "category_id", 7),
        ("event_date", "2025-03-29T10:00:00Z", "event_date", date(2025, 3, 29)),
        ("repair_status", "", "status", "Unknown"),
        ("country", "nzl", "country", "NZL"),
    ],
)
def test_odd_but_readable_cells_are_read(read, column, text, field, value):
    records, problems = read(HEAD + row(**{column: text}))
    assert (getattr(records[0], field), problems) == (value, [])


@pytest.mark.parametrize(
    ("column", "text", "field", "value", "expected"),
    [
        ("product_age", "old", "age", None, "'old' is not a number of years up to 200"),
        ("product_age", "-3", "age", None, "'-3' is not a number of years"),
        ("product_age", "2009", "age", None, "'2009' is not a number of years up to 200"),
        ("product_age", "nan", "age", None, "'nan' is not a number of years"),
        ("year_of_manufacture", "209", "year", None, "'209' is not a year between 1800 and 2200"),
        ("year_of_manufacture", "1990s", "year", None, "'1990s' is not a year"),
        ("product_category_id", "seven", "category_id", None, "'seven' is not a whole number"),
        ("event_date", "29/03/2025", "event_date", None, "'29/03/2025' is not a date such as 2025-03-31"),
        ("event_date", "2025-02-30", "event_date", None, "'2025-02-30' is not a date"),
        ("repair_status", "Mended", "status", "Unknown", "'Mended' is not one of Unknown, Fixed"),
    ],
)
def test_an_unreadable_cell_costs_its_value_and_not_the_row(read, column, text, field, value, expected):
    records, problems = read(HEAD + row(**{column: text}))
    assert getattr(records[0], field) == value
    assert places(problems) == [("unreadable-value", Severity.WARNING, 2)]
    assert problems[0].key == (column,)
    assert f"{column} {expected}" in problems[0].message
    assert problems[0].message.endswith("it was left out")


@pytest.mark.parametrize(
    ("bad", "rule", "message"),
    [
        (row(id=""), "missing-id", "id is empty"),
        (row(data_provider=" "), "missing-id", "data_provider is empty"),
        ("kestrel_9,Kestrel Menders,NZL\n", "broken-row", "3 cells where the head has 14"),
        (row().strip() + ",more\n", "broken-row", "15 cells where the head has 14"),
        (row(brand="other"), "repeated-id", "'kestrel_7' of 'Kestrel Menders' was read before"),
    ],
)
def test_a_refused_row_is_named_by_file_and_line_and_the_rest_is_read(read, bad, rule, message):
    records, problems = read(HEAD + ROW + bad + row(id="kestrel_10"))
    assert [each.id for each in records] == ["kestrel_7", "kestrel_10"]
    assert places(problems) == [(rule, Severity.ERROR, 3)]
    assert message in problems[0].message
    assert problems[0].file.endswith("events.csv")


def test_the_line_of_a_problem_counts_lines_inside_cells(read):
    _, problems = read(HEAD + row(problem="one\ntwo\nthree") + row(id=""))
    assert places(problems) == [("missing-id", Severity.ERROR, 5)]


def test_rows_that_a_stray_quotation_mark_swallowed_are_refused_not_stored_as_text(read):
    swallowing = (
        ROW.replace("No heat", '"No heat') + row(id="b") + row(id="c", problem="x").replace(",x", ',"x y"')
    )
    records, problems = read(HEAD + swallowing + row(id="d"))
    assert [each.id for each in records] == ["d"]
    assert places(problems) == [("broken-row", Severity.ERROR, 2)]
    assert "cell 14 holds more rows; is a quotation mark not closed?" in problems[0].message


def test_a_quotation_that_never_closes_does_not_fill_the_memory(read):
    rows = "".join(row(id=f"k{number}") for number in range(2000))
    records, problems = read(HEAD + ROW.replace("No heat", '"No heat') + rows)
    assert places(problems)[0] == ("broken-row", Severity.ERROR, 2)
    assert "is a quotation mark not closed?" in problems[0].message
    assert [each.id for each in records][-1] == "k1999"


def test_a_lone_carriage_return_breaks_only_its_row(read):
    records, problems = read(HEAD + ROW.replace("No heat", "No\rheat") + row(id="b"))
    assert [each.id for each in records] == ["b"]
    assert places(problems) == [("broken-row", Severity.ERROR, 2)]


def test_a_row_in_another_encoding_is_read_with_a_warning(read):
    content = (
        (HEAD + ROW).encode() + row(id="b", problem="défaut").encode("windows-1252") + row(id="c").encode()
    )
    records, problems = read(content)
    assert [each.problem for each in records] == ["No heat", "défaut", "No heat"]
    assert places(problems) == [("encoding", Severity.WARNING, 3)]


def test_nul_characters_are_dropped(read):
    assert read((HEAD + row(problem="No\0 heat")).encode())[0] == [RECORD]


@pytest.mark.parametrize(
    ("content", "what", "severity"),
    [
        ("product_category_id,product_category\n1,Kettle\n", "the list of product categories", Severity.NOTE),
        (
            "data_provider,product_category,repair_status,total\nKestrel Menders,Unpowered - Toy,Fixed,3\n",
            "this is a table of counts, not repair records; it was skipped",
            Severity.NOTE,
        ),
        ("number,complaint\n1,dark\n", "no column 'id', 'data_provider' or 'repair_status'", Severity.ERROR),
        ("", "this file is empty", Severity.ERROR),
        ("\n \n", "this file is empty", Severity.ERROR),
    ],
)
def test_a_file_without_repair_records_is_told_apart(read, content, what, severity):
    records, problems = read(content)
    assert records == []
    assert places(problems) == [("not-repair-records", severity, None)]
    assert what in problems[0].message


@pytest.mark.parametrize("content", [(HEAD + ROW).encode("utf-16"), b"PK\x03\x04\x14\0\x06\0binary\n"])
def test_a_file_that_is_no_text_is_refused(read, content):
    records, problems = read(content)
    assert (records, places(problems)) == ([], [("not-text", Severity.ERROR, 1)])
    assert "save it as CSV in UTF-8" in problems[0].message


def test_a_line_without_end_does_not_fill_the_memory(read):
    records, problems = read((HEAD + ROW).encode() + b"x" * (5 * 1024**2))
    assert records == [RECORD]
    assert places(problems) == [("not-text", Severity.ERROR, 3)]


def test_a_folder_is_read_file_by_file_in_order_of_names(tmp_path):
    (tmp_path / "b.csv").write_text(HEAD + row(id="b"))
    (tmp_path / "a.CSV").write_text(HEAD + row(id="a"))
    (tmp_path / "codes.csv").write_text("product_category_id,product_category\n1,Kettle\n")
    (tmp_path / "README.md").write_text("not a table")
    found = list(read_open_repair(tmp_path))
    assert [each.id for each in found if isinstance(each, DemandRecord)] == ["a", "b"]
    assert [each.rule for each in found if isinstance(each, Problem)] == ["not-repair-records"]


def test_a_record_in_two_files_is_read_once(tmp_path):
    (tmp_path / "a.csv").write_text(HEAD + ROW)
    (tmp_path / "b.csv").write_text(HEAD + ROW)
    found = list(read_open_repair(tmp_path))
    assert found[0] == RECORD
    assert [(each.rule, each.file) for each in found[1:]] == [("repeated-id", str(tmp_path / "b.csv"))]


def test_the_same_id_of_two_providers_is_two_records(read):
    records, problems = read(HEAD + ROW + row(data_provider="Rook Repairs"))
    assert ([each.provider for each in records], problems) == (["Kestrel Menders", "Rook Repairs"], [])


def test_an_empty_folder_says_so(tmp_path):
    problems = list(read_open_repair(tmp_path))
    assert [each.rule for each in problems] == ["no-files"]


def test_a_missing_file_is_an_error(tmp_path):
    with pytest.raises(FileMissing, match="there is no such file"):
        list(read_open_repair(tmp_path / "none.csv"))


def test_progress_runs_from_the_first_bytes_to_the_last(tmp_path):
    rows = "".join(row(id=f"k{number}") for number in range(8000))
    (tmp_path / "a.csv").write_text(HEAD + rows)
    (tmp_path / "b.csv").write_text("product_category_id,product_category\n1,Kettle\n")
    told = []
    list(read_open_repair(tmp_path, progress=lambda done, total: told.append((done, total))))
    total = sum(each.stat().st_size for each in tmp_path.iterdir())
    assert len(told) > 3
    assert told[-1] == (total, total)
    assert told == sorted(told)
    assert told.count((total, total)) == 1


@given(st.binary(max_size=400))
def test_no_bytes_raise_anything(tmp_path_factory, noise):
    path = tmp_path_factory.mktemp("noise") / "events.csv"
    path.write_bytes(HEAD.encode() + noise + b"\n" + ROW.encode())
    assert all(isinstance(each, DemandRecord | Problem) for each in read_open_repair(path))


CELLS = st.text(st.characters(codec="utf-8", exclude_characters="\0\r\n"), max_size=12)


@given(st.lists(st.tuples(CELLS, CELLS, CELLS), max_size=8))
def test_every_row_ends_as_a_record_or_as_an_error(tmp_path_factory, triples):
    path = tmp_path_factory.mktemp("rows") / "events.csv"
    rows = [row(id=name, data_provider=provider, problem=text) for name, provider, text in triples]
    path.write_text(HEAD + "".join(rows), encoding="utf-8")
    found = list(read_open_repair(path))
    records = [each for each in found if isinstance(each, DemandRecord)]
    errors = [each for each in found if isinstance(each, Problem) and each.severity is Severity.ERROR]
    assert len(records) + len(errors) == len(rows)
    written = {
        (provider.strip(), name.strip()) for name, provider, _ in triples if provider.strip() and name.strip()
    }
    assert {(each.provider, each.id) for each in records} == written
