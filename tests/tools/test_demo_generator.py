"""The demo's tables: drawn again byte for byte, with every kind of dirt, and read as they should be."""

import csv
import importlib
import io
import re
from datetime import datetime
from pathlib import Path

import openpyxl
import pytest

from benchlore.book import Book, read_book
from benchlore.jobs import UNLISTED, Job, Outcome
from benchlore.jobs.intake import Preview, Verdict, preview, read_mapping, read_table

ROOT = Path(__file__).resolve().parents[2]
DEMO = ROOT / "src" / "benchlore" / "demo"
BOARDS = ("halden-t4", "tornvik-mc2")
TABLES = (
    "werkbank-sued-tablets.csv",
    "werkbank-sued-raeder.csv",
    "vuurtoren-reparaties.xlsx",
    "tidewater-bench-log.csv",
)
BAD_PLACES = {"date": "is not in the calendar", "fault": "is no fault of", "reading": "cannot read"}


@pytest.fixture(scope="module")
def generator():
    with pytest.MonkeyPatch.context() as patch:
        patch.syspath_prepend(str(ROOT / "tools"))
        yield importlib.import_module("make_demo_jobs")


@pytest.fixture(scope="module")
def tables(generator):
    return generator.tables()


@pytest.fixture(scope="module")
def books() -> dict[str, Book]:
    found = {}
    for board in BOARDS:
        text = (DEMO / "books" / board / "book.yaml").read_text(encoding="utf-8")
        found[board] = read_book(text, file=board, name=board).book
    return found


@pytest.fixture(scope="module")
def previews(books) -> dict[str, Preview]:
    found = {}
    for name in TABLES:
        path = (DEMO / "intake" / name).with_suffix(".mapping.yaml")
        mapping = read_mapping(path.read_text(encoding="utf-8"), file=path.name)
        assert mapping.problems == ()
        found[name] = preview(read_table(DEMO / "intake" / name, mapping.mapping), mapping.mapping, books)
    return found


def jobs_of(previews: dict[str, Preview], board: str) -> list[Job]:
    return [job for each in previews.values() for job in each.jobs if job.board == board]


def test_the_committed_tables_are_those_that_the_generator_draws(tables):
    assert set(tables) == set(TABLES)
    for name, (content, _) in tables.items():
        assert (DEMO / "intake" / name).read_bytes() == content, f"{name}: run tools/make_demo_jobs.py"


def test_the_command_line_writes_the_same_bytes(generator, tables, tmp_path, monkeypatch, capsys):
    monkeypatch.setattr("sys.argv", ["make_demo_jobs.py", str(tmp_path / "new" / "folder")])
    generator.main()
    for name, (content, _) in tables.items():
        assert (tmp_path / "new" / "folder" / name).read_bytes() == content
    assert "tidewater-bench-log.csv" in capsys.readouterr().out


def test_another_seed_gives_other_tables(generator, tables):
    other = generator.tables(seed=7)
    assert all(other[name][0] != content for name, (content, _) in tables.items())


def test_the_generator_uses_nothing_of_the_product():
    sources = [ROOT / "tools" / "make_demo_jobs.py", *(ROOT / "tools" / "demo_jobs").glob("*.py")]
    assert len(sources) > 5
    for source in sources:
        assert not re.search(
            r"^\s*(?:import|from) benchlore", source.read_text(encoding="utf-8"), re.MULTILINE
        )


@pytest.mark.parametrize("board", BOARDS)
def test_each_board_has_150_to_300_jobs_of_both_complaints(previews, books, board):
    jobs = jobs_of(previews, board)
    assert 150 <= len(jobs) <= 300
    assert {job.complaint for job in jobs} == set(books[board].complaints)


@pytest.mark.parametrize("name", TABLES)
def test_more_than_95_of_100_rows_are_taken(previews, name):
    rows = previews[name].rows
    taken = sum(row.verdict in {Verdict.TAKEN, Verdict.DOUBTFUL} for row in rows)
    asked = sum(row.verdict in {Verdict.TAKEN, Verdict.DOUBTFUL, Verdict.REFUSED} for row in rows)
    assert taken / asked > 0.95
    assert previews[name].problems == ()
    assert previews[name].unused == ()


@pytest.mark.parametrize("name", TABLES)
def test_just_the_bad_rows_are_refused_and_for_their_reason(previews, tables, name):
    sheet = tables[name][1]
    refused = [row for row in previews[name].rows if row.verdict is Verdict.REFUSED]
    said = sorted(reason.message for row in refused for reason in row.reasons)
    assert len(refused) == len(sheet.bad)
    for kind, phrase in BAD_PLACES.items():
        assert sum(phrase in message for message in said) == list(sheet.bad.values()).count(kind), kind
    assert sum("already, with other" in each or "of the same job" in each for each in said) == 1


@pytest.mark.parametrize("name", TABLES[:3])
def test_a_row_that_was_pasted_twice_counts_once(previews, name):
    assert previews[name].counts()[Verdict.ALREADY_THERE] == 2
    numbers = [job.number for job in previews[name].jobs]
    assert len(numbers) == len(set(numbers))


def test_slips_of_the_pen_are_read_with_a_doubt(previews):
    doubts = [row for each in previews.values() for row in each.rows if row.verdict is Verdict.DOUBTFUL]
    assert len(doubts) > 20
    assert all("was read as" in reason.message for row in doubts for reason in row.reasons)


def test_totals_and_devices_of_others_are_left_out(previews):
    left = {name: each.counts()[Verdict.LEFT_OUT] for name, each in previews.items()}
    assert left["vuurtoren-reparaties.xlsx"] == 1
    assert left["tidewater-bench-log.csv"] == 3


@pytest.mark.parametrize("board", BOARDS)
def test_the_jobs_hold_what_learning_needs(previews, books, board):
    jobs = jobs_of(previews, board)
    assert {Outcome.REPAIRED, Outcome.RETURNED, Outcome.RUINED} <= {job.outcome for job in jobs}
    assert {True, False, None} == {job.comeback for job in jobs}
    assert sum(job.fault == UNLISTED for job in jobs) >= 2
    assert sum(job.fault is None for job in jobs) >= 10
    # The minutes of a job with a refused row are not known in all.
    assert sum(job.hands_on is not None for job in jobs) >= len(jobs) - 7
    assert sum(job.waiting is not None for job in jobs) > len(jobs) / 2
    assert len({*books[board].faults} - {job.fault for job in jobs}) <= 3  # rare ones may not have come in
    used = {reading.check for job in jobs for reading in job.readings}
    assert len(used) > 0.9 * len(books[board].checks)


def test_the_german_tables_are_dirty_as_promised():
    text = (DEMO / "intake" / TABLES[0]).read_bytes().decode("cp1252")
    with pytest.raises(UnicodeDecodeError):
        (DEMO / "intake" / TABLES[0]).read_bytes().decode("utf-8")
    for dirt in (
        r";k\.A\.;",
        r";\d+,\d+;",
        r";\d+k\d+;",
        r";[\d,]+ kOhm;",
        r";OL;|;O\.L\.;|;0L;",
        r"\d:\d\d;",
    ):
        assert re.search(dirt, text), dirt
    for date in (
        r";\d\d\.\d\d\.\d{4};",
        r";\d{1,2}\.\d{1,2}\.\d\d;",
        r";\d{4}-\d\d-\d\d;",
        r";\d+\. \w+\.? \d{4};",
    ):
        assert re.search(date, text), date
    assert re.search(r"^;+\r$", text, re.MULTILINE)


def test_the_workbook_is_dirty_as_promised():
    page = openpyxl.load_workbook(DEMO / "intake" / TABLES[2])["Tablets 2025-26"]
    merged = [str(each) for each in page.merged_cells.ranges]
    opened = [page.cell(row, 2).value for row in range(6, page.max_row)]
    assert page["A3"].value is None
    assert page["A5"].value == "Bonnr"
    assert "A1:H1" in merged
    assert any(re.fullmatch(r"B(\d+):B(\d+)", each) for each in merged)
    assert any(isinstance(each, datetime) for each in opened)
    assert any(isinstance(each, str) for each in opened)
    assert page.cell(page.max_row, 1).value == "Totaal"


def test_the_bench_log_is_dirty_as_promised():
    with (DEMO / "intake" / TABLES[3]).open(encoding="utf-8", newline="") as stream:
        rows = list(csv.DictReader(stream))
    assert sum(not row["Job"] for row in rows) > 100
    for column, words in {
        "Gadget": {"T4", "halden t4", "HALDEN T4", "cargo ctrl", "toaster"},
        "Result": {"fixed", "FIXED", "gave up", "killed it"},
        "After": {"ok", "nope", "NOPE", "same"},
        "Who": {"lupe", "Dez", "PRIYA"},
        "Got": {"OL", "dead", "nope", "DEAD"},
    }.items():
        assert words <= {row[column] for row in rows}, column
    assert any(row["Test"].isupper() for row in rows)
    assert any("  " in row["Test"] for row in rows)
    assert any(re.fullmatch(r"[A-Z][a-z]{2} \d+, \d{4}", row["In"]) for row in rows)


def test_a_workbook_keeps_no_time_of_its_own(tables):
    content = tables[TABLES[2]][0]
    assert (
        openpyxl.load_workbook(io.BytesIO(content)).properties.modified.isoformat() == "2026-03-20T17:30:00"
    )
