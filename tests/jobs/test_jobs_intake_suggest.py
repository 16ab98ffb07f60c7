from pathlib import Path

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from intake_bench import BOOKS, mapping_of, verdicts
from openpyxl import Workbook

from benchlore.jobs.intake import preview, read_table, suggest_mapping
from benchlore.jobs.intake.fit import check_mapping

BOOK = BOOKS["halden-t4"]


def draft(folder: Path, table: str) -> str:
    path = folder / "jobs.csv"
    path.write_text(table.lstrip("\n"), encoding="utf-8")
    return suggest_mapping(read_table(path), BOOK)


def test_a_wide_tables_draft_names_what_it_guessed_and_asks_for_the_rest(tmp_path: Path) -> None:
    table = """
Aufträge 2026;;;;;;;;;;
Auftrag;Eingang;Fehlerbild;VSYS Widerstand (kOhm);Feuchte;Reparatur;Ergebnis;Zeit (h);Ursache;Rückläufer;Kunde
1;25.02.2026;startet neu;4,3;ja;clean u7 + Reflow L1204;erledigt;0,5;U7 corroded;nein;Ott
2;26.02.2026;geht aus;4,1;nein;;erledigt;1,0;U7 coroded;ja;Rau
"""
    assert (
        draft(tmp_path, table)
        == """\
# A draft, guessed from jobs.csv and the book halden-t4.
# Look at every line: '#' begins a remark, '?' asks for a name. Then look at the preview.
mapping: 1
shop: My shop                 # this shop's name; keep it the same for ever
layout: wide
header row: 2
dates: day first
decimal: comma

job: Auftrag
board: {always: halden-t4}
complaint:
  column: Fehlerbild
  # names to choose from: restarts, no-backlight
  # names:
  #   geht aus: ?
opened: Eingang
hands on: {column: Zeit (h), unit: h}
outcome:
  column: Ergebnis
  # names to choose from: repaired, returned, ruined, open
  # names:
  #   erledigt: ?   # in 2 of the first rows
fault:
  column: Ursache
  names:
    U7 coroded: u7-corroded   # ? a close spelling
comeback: Rückläufer

checks:
  VSYS Widerstand (kOhm): {check: vsys-ohms, unit: kOhm}
  Feuchte:
    check: liquid-mark
    # names to choose from: wet, dry
    # names:
    #   ja: ?
    #   nein: ?

fixes:
  - column: Reparatur
    split: "+"

# Not used: Kunde.
# 'extra: [ ]' keeps a column with its job as it stands; leave out what is about customers.
"""
    )


def test_a_long_table_is_recognised(tmp_path: Path) -> None:
    table = """
Order,Date,Test,Value,Unit,Repair,After,Soaked (h)
1,2026-02-03,vsys ohms,4.3,kohm,,,
1,2026-02-03,VSYS Spannung,3.85,V,,,
1,2026-02-03,,,,clean u7,gone,3
"""
    text = draft(tmp_path, table)
    assert (
        text.split("\n\n", 1)[1]
        == """\
job: Order
board: {always: halden-t4}
complaint: {always: restarts}   # ? or one of: restarts, no-backlight
opened: Date

reading:
  check: Test
  value: Value
  unit: Unit
fix: {column: Repair, retest: After, soaked: {column: Soaked (h), unit: h}}
"""
    )


def test_a_column_of_soaks_is_guessed_beside_a_column_of_fixes_alone(tmp_path: Path) -> None:
    text = draft(tmp_path, "Job;Fix;Dauerlauf;Minutes\n1;clean-u7;90;12\n")
    assert "\nhands on: {column: Minutes, unit: Minutes}\n" in text
    assert text.endswith("fixes:\n  - column: Fix\n    soaked: {column: Dauerlauf, unit: min}\n")
    assert "\n# Not used: Dauerlauf.\n" in draft(tmp_path, "Job;Symptom;Dauerlauf\n1;restarts;90\n")


def test_a_draft_can_be_used_at_once(tmp_path: Path) -> None:
    draft(tmp_path, "Job;Symptom;VSYS Spannung\n1;restarts;3,85\n2;startet neu;OL\n")
    table = read_table(tmp_path / "jobs.csv")
    mapping = mapping_of(suggest_mapping(table, BOOK))
    assert verdicts(preview(read_table(tmp_path / "jobs.csv", mapping), mapping, BOOKS)) == {
        2: "taken",
        3: "taken",
    }


def test_dates_that_can_be_read_either_way_are_asked_about(tmp_path: Path) -> None:
    text = draft(tmp_path, "Job;Date;Fix\n1;3/2/2026;clean-u7\n")
    assert "# dates: day first   # ? or month first: the first rows can be read either way\n" in text


def test_a_workbooks_draft_names_its_sheet(tmp_path: Path) -> None:
    book = Workbook()
    book.active.title = "Jobs, 2026"
    book.active.append(["Job"])
    book.save(tmp_path / "jobs.xlsx")
    assert '\nsheet: "Jobs, 2026"\n' in suggest_mapping(read_table(tmp_path / "jobs.xlsx"), BOOK)


CELL = st.one_of(
    st.text(st.characters(codec="utf-8", exclude_characters="\0"), max_size=8),
    st.sampled_from(
        [
            "Job",
            "Datum",
            "VSYS ohms",
            "vsys-volts",
            "Repair",
            "wet",
            "3,4",
            "3.2.2026",
            "null",
            "~",
            "- a",
            "{",
            "# x",
        ]
    ),
)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=60, deadline=None)
@given(st.lists(st.lists(CELL, min_size=1, max_size=5), min_size=1, max_size=5))
def test_every_draft_is_a_mapping_that_fits_its_table(tmp_path: Path, rows: list[list[str]]) -> None:
    path = tmp_path / "jobs.xlsx"
    book = Workbook()
    for row in [["Job", "x"], *rows]:
        book.active.append([cell if cell.isprintable() and not cell.startswith("=") else "x" for cell in row])
    book.save(path)
    mapping = mapping_of(suggest_mapping(read_table(path), BOOK))
    assert check_mapping(mapping, read_table(path, mapping), BOOKS) == ()


def test_a_decimal_mark_is_stated_only_where_the_table_has_one(tmp_path: Path) -> None:
    assert "decimal: comma\n" in draft(tmp_path, "Job;VSYS ohms\n1;4,2\n2;OL\n")
    assert "decimal: point\n" in draft(tmp_path, "Job;VSYS ohms\n1;4.2\n2;OL\n")
    assert "decimal" not in draft(tmp_path, "Job;VSYS ohms\n1;4.2\n2;4,3\n")
    assert "decimal" not in draft(tmp_path, "Job;VSYS ohms\n1;42\n2;OL\n")
