"""Pointing at columns and the mapping's text in step."""

import pytest
from intake_bench import BOOKS, START

from benchlore.jobs.intake import (
    UnpointableError,
    meanings_of,
    point,
    read_mapping,
    read_table,
    settings_of,
    suggest_mapping,
)

WIDE = (
    START
    + """# a remark
job: Job
board: {always: halden-t4}
complaint: {column: Says, names: {"x*": restarts}}   # another
checks:
  R: {check: vsys-ohms, unit: kohm}
fixes:
  - {column: Did, split: "+", retest: After}
extra: [Shelf]
"""
)
LONG = (
    START
    + """layout: long
job: [Date, Job]
board: {always: halden-t4}
complaint: Says
opened: Date
reading: {check: What, value: Got}
fix: {column: What, retest: After}
"""
)


@pytest.fixture
def table(tmp_path):
    path = tmp_path / "jobs.csv"
    path.write_text("Job,Date,Says,R,Did,After,Shelf,What,Got,Größe: #1\n1,,,,,,,,,\n")
    return read_table(path)


def said(text, table):
    return {
        name: " + ".join(each)
        for name, each in zip(table.header, meanings_of(text, table), strict=True)
        if each
    }


def test_the_text_says_what_each_column_means(table):
    assert said(WIDE, table) == {
        "Job": "job",
        "Says": "complaint",
        "R": "check vsys-ohms",
        "Did": "fix",
        "After": "retest",
        "Shelf": "extra",
    }
    assert said(LONG, table) == {
        "Job": "job",
        "Date": "job + opened",
        "Says": "complaint",
        "After": "retest",
        "What": "fix + reading check",
        "Got": "reading value",
    }


def pointed(text, table, board="halden-t4", **changes):
    places = {table.header.index(name.replace("_", " ")): meaning for name, meaning in changes.items()}
    return point(text, table, places, board=board)


def test_only_the_lines_pointed_at_change(table):
    text = pointed(WIDE, table, Date="opened")
    assert text == WIDE + "opened: Date\n"


@pytest.mark.parametrize(
    ("changes", "found"),
    [
        ({"R": ""}, {"R": ""}),
        ({"R": "check vsys-volts"}, {"R": "check vsys-volts"}),
        ({"Date": "job"}, {"Date": "job", "Job": ""}),
        ({"Date": "complaint"}, {"Date": "complaint", "Says": ""}),
        ({"Did": ""}, {"Did": "", "After": ""}),
        ({"After": "fix"}, {"After": "fix", "Did": "fix"}),
        ({"Got": "soaked"}, {"Got": "soaked"}),
        ({"Got": "soaked", "After": ""}, {"Got": "soaked", "After": ""}),
        ({"After": ""}, {"After": ""}),
        ({"Date": "extra"}, {"Date": "extra"}),
        ({"Shelf": "notes"}, {"Shelf": "notes"}),
        ({"Got": "hands on"}, {"Got": "hands on"}),
        ({"Job": "Date", "Date": "job"}, {"Job": "", "Date": "job"}),
        ({"Job": "fault", "Says": "job"}, {"Job": "fault", "Says": "job"}),
    ],
)
def test_a_column_means_what_was_pointed_at(table, changes, found):
    text = pointed(WIDE, table, **changes)
    expected = {name: each for name, each in {**said(WIDE, table), **found}.items() if each}
    assert said(text, table) == expected


def test_a_soak_is_pointed_at_with_its_unit_and_taken_away(table):
    text = pointed(LONG, table, Got="soaked", R="reading value")
    assert "soaked: {column: Got, unit: min}" in text
    assert said(pointed(text, table, Got=""), table)["After"] == "retest"
    assert read_mapping(text, "m").mapping.fix.soaked.columns == ("Got",)


def test_the_shops_words_stay_where_a_field_has_another_column(table):
    text = pointed(WIDE, table, Date="complaint")
    assert 'complaint: {column: Date, names: {"x*": restarts}}   # another' in text
    assert 'split: "+"' in text


def test_a_long_table_is_pointed_at_too(table):
    text = pointed(LONG, table, Got="", R="reading value", Shelf="reading unit", Did="step", Date="")
    assert said(text, table) == {
        "Job": "job",
        "Says": "complaint",
        "R": "reading value",
        "Did": "step",
        "After": "retest",
        "Shelf": "reading unit",
        "What": "fix + reading check",
    }
    assert read_mapping(text, "m").mapping is not None


def test_a_board_without_a_column_is_the_same_for_all(table):
    text = pointed(pointed(WIDE, table, Date="board"), table, Date="")
    assert "board: {always: halden-t4}" in text


def test_headers_with_signs_of_the_notation_are_quoted(table):
    text = point(WIDE, table, {9: "check liquid-mark"}, board="halden-t4")
    read = read_mapping(text, "m")
    assert read.mapping is not None
    assert [check.column for check in read.mapping.checks] == ["R", "Größe: #1"]


def test_settings_are_read_and_set(table):
    text = point(
        WIDE, table, {}, board="x", settings={"shop": "Süd: #1", "dates": "day first", "decimal": ""}
    )
    assert settings_of(text) == {"shop": "Süd: #1", "dates": "day first", "decimal": ""}
    assert settings_of("nonsense") == {"shop": "", "dates": "", "decimal": ""}
    assert "dates" not in point(text, table, {}, board="x", settings={"dates": ""})


def test_every_draft_can_be_pointed_at(table):
    draft = suggest_mapping(table, BOOKS["halden-t4"])
    text = pointed(draft, table, Got="check vsys-volts")
    assert said(text, table)["Got"] == "check vsys-volts"
    assert "# Look at every line" in text


@pytest.mark.parametrize(
    "text", ["", "- a\n", "a: [", "a: !!python/object:os.system {}", "a: 1\na: 2\n", "\0"]
)
def test_what_cannot_be_read_is_not_changed_but_refused(table, text):
    assert said(text, table) == {}
    with pytest.raises(UnpointableError, match="mend it first"):
        point(text, table, {0: "job"}, board="x")


@pytest.mark.parametrize(
    "text",
    [
        "job: {column: [Job]}\n",
        "checks: [R]\nfixes: Did\n",
        "reading: 3\nfix: {}\n",
        "fixes: [[Did]]\nextra: Job\n",
    ],
)
@pytest.mark.parametrize("meaning", ["", "job", "check x", "fix", "retest", "extra", "reading check", "step"])
def test_unfinished_texts_are_borne(table, text, meaning):
    changed = point(text, table, {0: meaning, 4: meaning}, board="b")
    assert load(changed)


def load(text):
    from benchlore.notation import load_yaml

    return load_yaml(text, "m").data
