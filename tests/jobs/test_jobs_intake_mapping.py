import re
from pathlib import Path

import pytest
from intake_bench import BOOKS, NEEDED, START, mapping_of

from benchlore.jobs.intake import Layout, read_mapping, read_table
from benchlore.jobs.intake.fit import check_mapping
from benchlore.jobs.intake.mapping import DateOrder, Order, Source, Unreadable

MANUAL = (Path(__file__).parents[2] / "docs" / "intake.md").read_text(encoding="utf-8")


def problems(text: str) -> list[str]:
    read = read_mapping(text, "m.yaml")
    assert (read.mapping is None) == bool(read.problems)
    return [str(problem) for problem in read.problems]


def test_the_manuals_mappings_are_read_without_a_problem() -> None:
    texts = re.findall(r"```yaml\n(.*?)```", MANUAL, re.DOTALL)
    assert [mapping_of(text).layout for text in texts] == [Layout.WIDE, Layout.LONG]


def test_the_manuals_wide_mapping_is_read_as_it_says() -> None:
    mapping = mapping_of(re.findall(r"```yaml\n(.*?)```", MANUAL, re.DOTALL)[0])
    assert (mapping.shop, mapping.sheet, mapping.header_rows) == ("Fennel Street Repairs", "Jobs 2026", (3,))
    assert (mapping.separator, mapping.encoding, mapping.decimal) == (";", "windows-1252", "comma")
    assert (mapping.dates, mapping.order) == (DateOrder.DAY_FIRST, Order.READINGS_FIRST)
    assert mapping.unreadable is Unreadable.REFUSE
    assert mapping.blank == ("nicht gemessen", "entfällt")
    assert mapping.job == Source(("job",), ("Auftrag",))
    assert mapping.board == Source(("board",), always="halden-t4")
    assert mapping.waiting == Source(("waiting",), ("Dauertest",), unit="h")
    assert [(each.column, each.check, each.unit) for each in mapping.checks] == [
        ("VSYS (Ohm)", "vsys-ohms", "ohm"),
        ("VSYS Spannung", "vsys-volts", None),
        ("Feuchte", "liquid-mark", None),
    ]
    assert mapping.fixes[0].split == "+"
    assert mapping.fixes[0].retest is not None
    assert mapping.fixes[0].retest.source is None


def test_all_mistakes_are_told_at_once_with_their_lines() -> None:
    text = """\
mapping: 2
shop:
layot: wide
header row: zero
separator: ";;"
encoding: klingon
dates: day frist
decimal: dot
unreadable readings: keep
job: {always: "7"}
board: {column: A, always: b}
complaint: {column: C, names: {x: }}
hands on: {column: Z, unit: parsec}
fault: {column: F, otherwise: guess}
checks: [a]
fixes: [{split: "+"}]
reading: {check: A}
"""
    found = problems(text)
    lines = sorted({int(each.split(":")[1]) for each in found})
    assert lines == list(range(1, 18)), found


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "the mapping file is empty; begin with 'mapping: 1'"),
        ("- a", "a mapping file holds lines such as 'job: Auftrag'; this is something else"),
        ("a: [", r"m\.yaml:1:"),
        ("job: A", "'mapping' is missing; see that the file says it"),
        (NEEDED + "mapping: 1\n", "'mapping' stands twice"),
        (
            NEEDED.replace("mapping: 1", "mapping: 2"),
            "'mapping' is the format's version, 1; this file says '2'",
        ),
        (NEEDED + "layot: wide", "layot: unknown entry 'layot'; did you mean 'layout'?"),
        (NEEDED + "layout: broad", "layout: 'broad' is none of 'wide' or 'long'"),
        (NEEDED + "layout: long", "a long table needs 'reading', 'fix' or both"),
        (
            NEEDED + "reading: {check: A, value: B}",
            "'reading' belongs to 'layout: long', and this is 'layout: wide'",
        ),
        (NEEDED + "header row: 0", "header row: '0' is not a whole number from 1 to 1,048,576"),
        (NEEDED + "header row: [3, 2]", r"name the header's rows from top to bottom, such as \[2, 3\]"),
        (NEEDED + "separator: ab", "'ab' cannot separate columns; write ';', ',', '|' or tab"),
        (
            NEEDED + "encoding: klingon",
            "unknown encoding 'klingon'; write utf-8, utf-16 or windows-1252, or leave it out",
        ),
        (NEEDED + "encoding: unicode_escape", "unknown encoding 'unicode_escape'"),
        (NEEDED + "dates: day frist", "'day frist' is none of 'day first', 'month first' or 'year first'"),
        (NEEDED + "decimal: dot", "'dot' is none of 'comma', 'point' or 'either'"),
        (NEEDED + "opened: [a, b]", "'opened' takes a text, and a list stands there"),
        (NEEDED + "opened: {col: A}", "unknown entry 'col'"),
        (NEEDED + "opened: {column: A, always: b}", "say either 'column' .* or 'always'"),
        (
            NEEDED + "outcome: {column: A, names: [x]}",
            "'names' takes the shop's words and what they stand for",
        ),
        (NEEDED + "outcome: {column: A, names: {x: }}", "say what 'x' stands for, as one text"),
        (NEEDED + "hands on: {column: A, unit: parsec}", "'parsec' is no unit of time; write min, h, s or d"),
        (NEEDED + "hands on: {column: A, per: week}", "'week' is not 'row' or 'job'"),
        (NEEDED + "fault: {column: A, otherwise: guess}", "'guess' is not 'unlisted' or 'not confirmed'"),
        (NEEDED + "checks: [a]", "'checks' takes lines such as 'VSYS \\(Ohm\\): vsys-ohms', column: check"),
        (NEEDED + "checks: {A: {unit: ohm}}", "say which check the column 'A' holds, as 'check: …'"),
        (NEEDED + "fixes: {always: x}", "fixes stand in a column; name it with 'column'"),
        (NEEDED + "fixes: {column: A, retest: {from: luck}}", "'luck' is not 'outcome'"),
        (NEEDED.replace("job: Job", "job: {always: x}"), "each job has a number of its own"),
        (NEEDED + "layout: long\nreading: {check: A}", "'reading' needs 'check' and 'value'"),
        (
            NEEDED + "layout: long\nreading: {check: A, value: B, results: x}",
            "'results' takes for each check its words",
        ),
    ],
)
def test_a_mistake_is_told_in_plain_words(text: str, message: str) -> None:
    assert any(re.search(message, each) for each in problems(text)), problems(text)


def unfit(folder: Path, mapping: str, header: str = "Job;Device;R;Mark;Fix;After;Out\n") -> list[str]:
    path = folder / "t.csv"
    path.write_text(header, encoding="utf-8")
    meaning = mapping_of(mapping)
    return [str(each) for each in check_mapping(meaning, read_table(path, meaning), BOOKS)]


def test_a_mapping_that_fits_has_no_problem(tmp_path: Path) -> None:
    assert unfit(tmp_path, NEEDED + "checks: {r: {check: vsys-ohms, unit: kohm}}\nfixes: FIX\n") == []


@pytest.mark.parametrize(
    ("line", "message"),
    [
        (
            "opened: Devise",
            "mapping.yaml:6:1: error: opened: the table has no column 'Devise'; did you mean 'Device'? ",
        ),
        ("checks: {X: vsys-ohms}", "checks › X: the table has no column 'X'; there are 'Job', 'Device', "),
        ("checks: {R: vsys-ohm}", "checks › R: no book has a check 'vsys-ohm'; did you mean 'vsys-ohms'?"),
        (
            "checks: {R: {check: vsys-ohms, unit: V}}",
            "checks › R › unit: 'V' is a unit of voltage, not of resistance",
        ),
        (
            "checks: {Mark: {check: liquid-mark, unit: V}}",
            "liquid-mark has results, not numbers, and takes no unit",
        ),
        (
            "checks: {Mark: {check: liquid-mark, names: {x: damp}}}",
            "checks › Mark › names › x: 'x' stands for 'damp', which liquid-mark cannot show; there are 'wet' and 'dry'",
        ),
        (
            "checks: {R: {check: vsys-ohms, names: {x: huge}}}",
            "'x' stands for 'huge', which vsys-ohms cannot show; write a reading such as OL or 0 ohm",
        ),
        (
            "fixes: {column: Fix, names: {x: reflow}}",
            "fixes › names › x: 'x' stands for the fix 'reflow', which is not known; did you mean 'reflow-l1204'?",
        ),
        (
            "fixes: {column: Fix, retest: {column: After, names: {x: fine}}}",
            "'x' stands for the outcome of a retest 'fine', which is not known; there are 'gone', 'still there' and 'unknown'",
        ),
        ("outcome: {column: Out, names: {x: fine}}", "'x' stands for the outcome 'fine', which is not known"),
        (
            "fault: {column: Out, names: {x: c5-short}}",
            "'x' stands for the fault 'c5-short', which is not known",
        ),
        ("opened: {always: soon}", "opened › always: 'soon' is no date; write it as 2026-02-03"),
        ("outcome: {always: fine}", "outcome › always: 'fine' is no outcome of a job; there are "),
    ],
)
def test_what_does_not_fit_the_table_or_the_books_is_told(tmp_path: Path, line: str, message: str) -> None:
    (found,) = unfit(tmp_path, NEEDED + line + "\n")
    assert message in found


def test_a_board_written_where_a_column_belongs_is_explained(tmp_path: Path) -> None:
    mapping = START + "job: Job\nboard: Halden T4 main board\ncomplaint: {always: restarts}\n"
    (found,) = unfit(tmp_path, mapping)
    assert found.endswith(
        "the table has no column 'Halden T4 main board'; for the same board in every row write "
        "{always: Halden T4 main board} [no-such-column]"
    )


def test_an_unknown_board_or_complaint_for_all_rows_is_told(tmp_path: Path) -> None:
    mapping = START + "job: Job\nboard: {always: T5}\ncomplaint: {always: reboots}\n"
    found = unfit(tmp_path, mapping)
    assert "board › always: 'T5' is no board of this library; there are 'halden-t4' and 'orme-k2'" in found[0]
    assert "complaint › always: 'reboots' is no complaint of halden-t4" in found[1]


def test_a_library_without_books_takes_nothing_in(tmp_path: Path) -> None:
    path = tmp_path / "t.csv"
    path.write_text("Job\n")
    meaning = mapping_of(NEEDED)
    (found,) = check_mapping(meaning, read_table(path, meaning), {})
    assert found.message == "the library has no fault book that the jobs could be about"


def test_long_tables_are_checked_alike(tmp_path: Path) -> None:
    mapping = (
        NEEDED
        + """\
layout: long
reading:
  check: {column: Job, names: {x: vsys}}
  value: R
  units: {vsys-ohms: V, vsys-oms: ohm}
  results: {liquid-mark: {x: damp}, nothing: {x: y}}
"""
    )
    found = [each.split("error: ")[1] for each in unfit(tmp_path, mapping)]
    assert [each.split(":")[0] for each in found] == [
        "reading › check › names › x",
        "reading › units › vsys-ohms",
        "reading › units › vsys-oms",
        "reading › results › liquid-mark › x",
        "reading › results › nothing",
    ]
