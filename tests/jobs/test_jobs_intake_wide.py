"""Wide tables as shops keep them."""

from datetime import date
from math import inf
from pathlib import Path

import pytest
from intake_bench import BOOKS, NEEDED, START, look, mapping_of, reasons, verdicts

from benchlore.jobs import Attempt, Job, Outcome, Reading, Retest
from benchlore.jobs.intake import Verdict, preview, read_table

GERMAN = """
mapping: 1
shop: Fennel Street Repairs
dates: day first
decimal: comma
blank: [nicht gemessen]
job: Auftrag
board: {always: halden-t4}
complaint: {column: Fehlerbild, names: {"dunkel*": no-backlight}}
opened: Datum
technician: Wer
hands on: {column: Zeit, unit: min}
waiting: {column: Dauertest, unit: h}
outcome: {column: Ergebnis, names: {erledigt: repaired, retour: returned, hin: ruined}}
fault: {column: Ursache, names: {"Sonst*": unlisted}}
comeback: Rückläufer
notes: Bemerkung
extra: [Farbe]
checks:
  "VSYS (Ohm)": {check: vsys-ohms, unit: ohm}
  VSYS Spannung: vsys-volts
  Feuchte: {check: liquid-mark, names: {ja: wet, nein: dry}}
fixes:
  - {column: Reparatur, split: "+", names: {L1204 neu verlötet: reflow-l1204}, retest: {from: outcome}}
"""

DIRTY = """
Auftrag;Datum;Fehlerbild;VSYS (Ohm);VSYS  Spannung;Feuchte;Reparatur;Ergebnis;Zeit;Dauertest;Ursache;Rückläufer;Wer;Bemerkung;Farbe;
26-0117;03.02.2026;startet neu;4,3k;3,41 V;nein;L1204 neu verlötet;erledigt;55;1,5;KALTE LOTSTELLE L1204;nein;Ines;"Lief; dann aus";rot;
26-0118;3.2.26;Startet   Neu;OL;n/a;ja;–;retour;0:20;;Sonst: Wasser;;;;;

26-0119;2026-02-04;dunkel, kein Bild;nicht gemessen;3,85;k.A.;clean u7 + reflow-l1204;erledigt;1 Std 5 Min;;U7 corroded;ja;;;;
Summe;;;;;;;;140;;;;;;;
"""


def test_a_dirty_table_becomes_jobs(tmp_path: Path) -> None:
    found = look(tmp_path, GERMAN, DIRTY)
    assert found.jobs == (
        Job(
            shop="Fennel Street Repairs",
            number="26-0117",
            board="halden-t4",
            complaint="restarts",
            opened=date(2026, 2, 3),
            readings=(
                Reading("vsys-ohms", 1, None, 4300.0, "4,3k"),
                Reading("vsys-volts", 2, None, 3.41, "3,41 V"),
                Reading("liquid-mark", 3, "dry", None, "nein"),
            ),
            attempts=(Attempt("reflow-l1204", 4, Retest.GONE),),
            outcome=Outcome.REPAIRED,
            fault="l1204-joint",
            fault_text="KALTE LOTSTELLE L1204",
            hands_on=55.0,
            waiting=90.0,
            comeback=False,
            technician="Ines",
            notes="Lief; dann aus",
            extra={"Farbe": "rot"},
        ),
        Job(
            shop="Fennel Street Repairs",
            number="26-0118",
            board="halden-t4",
            complaint="restarts",
            opened=date(2026, 2, 3),
            readings=(Reading("vsys-ohms", 1, None, inf, "OL"), Reading("liquid-mark", 3, "wet", None, "ja")),
            outcome=Outcome.RETURNED,
            fault="unlisted",
            fault_text="Sonst: Wasser",
            hands_on=20.0,
        ),
        Job(
            shop="Fennel Street Repairs",
            number="26-0119",
            board="halden-t4",
            complaint="no-backlight",
            opened=date(2026, 2, 4),
            readings=(Reading("vsys-volts", 2, None, 3.85, "3,85"),),
            attempts=(
                Attempt("clean-u7", 4, Retest.STILL_THERE),
                Attempt("reflow-l1204", 5, Retest.GONE),
            ),
            outcome=Outcome.REPAIRED,
            fault="u7-corroded",
            fault_text="U7 corroded",
            hands_on=65.0,
            comeback=True,
        ),
    )
    assert verdicts(found) == {2: Verdict.TAKEN, 3: Verdict.TAKEN, 5: Verdict.TAKEN, 6: Verdict.LEFT_OUT}
    assert reasons(found, 6) == ["in column 'Auftrag': this looks like a row of totals"]


def test_every_unreadable_cell_of_a_row_is_named_and_the_other_rows_are_taken(tmp_path: Path) -> None:
    table = """
Auftrag;Datum;Fehlerbild;VSYS (Ohm);VSYS Spannung;Feuchte;Reparatur;Ergebnis;Zeit;Dauertest;Ursache;Rückläufer;Wer;Bemerkung;Farbe
1;31.02.2026;startet neu;12 V;3,4;naß;reflow;fertig;bald;;U8 corroded;vielleicht;;;
2;01.02.2026;startet neu;;;;;;;;;;;;
;01.02.2026;startet neu;;;;;;;;;;;;
4;01.02.2026;;;;;;;;;;;;;
"""
    found = look(tmp_path, GERMAN, table)
    assert verdicts(found) == {2: Verdict.REFUSED, 3: Verdict.TAKEN, 4: Verdict.REFUSED, 5: Verdict.REFUSED}
    assert reasons(found, 2) == [
        "in column 'Datum': '31.02.2026' is not in the calendar; write it as 2026-02-03",
        "in column 'Zeit': cannot read 'bald'; write a duration such as 25 min, 1 h 30 min, 1:30, 90 s or 2 d",
        "in column 'Ergebnis': 'fertig' is no outcome of a job; there are 'repaired', 'returned', 'ruined' and 'open'",
        "in column 'Rückläufer': 'vielleicht' is no yes-or-no answer; there are 'yes' and 'no'",
        "in column 'Ursache': 'U8 corroded' is no fault of halden-t4; did you mean 'u7-corroded'?",
        "in column 'VSYS (Ohm)': 'V' is a unit of voltage, not of resistance, in '12 V'; write resistance as 4.7 kohm, 4k7 or 470R",
        "in column 'Feuchte': 'naß' is no result of liquid-mark; there are 'wet' and 'dry'",
        "in column 'Reparatur': 'reflow' is no fix of halden-t4; did you mean 'reflow-l1204'?",
    ]
    assert reasons(found, 4) == ["in column 'Auftrag': there is no job number; write one"]
    assert reasons(found, 5) == ["in column 'Fehlerbild': there is no complaint; write one"]


def test_a_close_spelling_is_taken_with_a_doubt(tmp_path: Path) -> None:
    mapping = NEEDED + "fault: Cause\n"
    found = look(tmp_path, mapping, "Job,Cause\n1,U7 coroded\n2,U8 corroded\n")
    assert verdicts(found) == {2: Verdict.DOUBTFUL, 3: Verdict.REFUSED}
    assert reasons(found, 2) == ["in column 'Cause': 'U7 coroded' was read as 'u7-corroded'"]
    assert [job.fault for job in found.jobs] == ["u7-corroded"]


def test_a_fault_that_matches_nothing_can_be_unlisted_or_not_confirmed(tmp_path: Path) -> None:
    table = "Job,Cause\n1,rat bite\n2,\n3,unlisted\n"
    unlisted = look(tmp_path, NEEDED + "fault: {column: Cause, otherwise: unlisted}\n", table)
    assert [(job.fault, job.fault_text) for job in unlisted.jobs] == [
        ("unlisted", "rat bite"),
        (None, ""),
        ("unlisted", "unlisted"),
    ]
    unconfirmed = look(tmp_path, NEEDED + "fault: {column: Cause, otherwise: not confirmed}\n", table)
    assert next((job.fault, job.fault_text) for job in unconfirmed.jobs) == (None, "rat bite")


def test_unreadable_readings_can_be_left_out(tmp_path: Path) -> None:
    mapping = NEEDED + "checks: {R: vsys-ohms, V: vsys-volts}\n"
    table = "Job,R,V\n1,lots,3.4\n"
    assert verdicts(look(tmp_path, mapping, table)) == {2: Verdict.REFUSED}
    found = look(tmp_path, mapping + "unreadable readings: leave out\n", table)
    assert verdicts(found) == {2: Verdict.DOUBTFUL}
    assert reasons(found, 2) == [
        "in column 'R': cannot read 'lots' (left out); write resistance as 4.7 kohm, 4k7 or 470R"
    ]
    assert found.jobs[0].readings == (Reading("vsys-volts", 2, None, 3.4, "3.4"),)


def test_a_second_row_of_a_job_must_say_the_same(tmp_path: Path) -> None:
    mapping = NEEDED + "notes: Notes\n"
    found = look(tmp_path, mapping, "Job,Notes\n7,a\n8,b\n7,a\n8,c\n")
    assert verdicts(found) == {2: "taken", 3: "taken", 4: "already there", 5: "refused"}
    assert reasons(found, 4) == ["in column 'Job': job 7 stands in row 2 already"]
    assert reasons(found, 5)[0].startswith(
        "in column 'Job': job 8 stands in row 3 already, with other contents;"
    )
    assert [job.notes for job in found.jobs] == ["a", "b"]


def test_rows_about_other_boards_are_left_out_if_the_mapping_says_so(tmp_path: Path) -> None:
    start = START + "job: Job\ncomplaint: Says\n"
    table = "Job,Device,Says\n1,T4,restarts\n2,kettle,boils over\n3,orme k2 scanner,dead\n"
    strict = look(tmp_path, start + "board: {column: Device, names: {T4: halden-t4}}\n", table)
    assert verdicts(strict) == {2: "taken", 3: "refused", 4: "taken"}
    found = look(
        tmp_path, start + "board: {column: Device, names: {T4: halden-t4}, otherwise: leave out}\n", table
    )
    assert verdicts(found) == {2: "taken", 3: "left out", 4: "taken"}
    assert [(job.board, job.complaint) for job in found.jobs] == [
        ("halden-t4", "restarts"),
        ("orme-k2", "dead"),
    ]


def test_a_reading_of_a_check_that_the_boards_book_lacks_is_refused(tmp_path: Path) -> None:
    mapping = START + "job: Job\nboard: Board\ncomplaint: Says\nchecks: {R: vsys-ohms, R2: v33-ohms}\n"
    found = look(tmp_path, mapping, "Job,Board,Says,R,R2\n1,halden-t4,restarts,4k7,\n2,orme-k2,dead,4k7,1k\n")
    assert verdicts(found) == {2: "taken", 3: "refused"}
    assert reasons(found, 3) == [
        "in column 'R': the book of orme-k2 has no check 'vsys-ohms'; leave the cell empty, or add the check"
    ]


def test_readings_come_first_or_stand_as_the_columns_do(tmp_path: Path) -> None:
    mapping = NEEDED + "checks: {After: vsys-volts, Before: vsys-ohms}\nfixes: Fix\n"
    table = "Job,Before,Fix,After\n1,4k2,clean-u7,3.8\n"
    first = look(tmp_path, mapping, table).jobs[0]
    assert [(each.check, each.step) for each in first.readings] == [("vsys-ohms", 1), ("vsys-volts", 2)]
    assert [each.step for each in first.attempts] == [3]
    mixed = look(tmp_path, mapping + "order: as columns\n", table).jobs[0]
    steps = {each.check: each.step for each in mixed.readings}
    assert steps["vsys-ohms"] < mixed.attempts[0].step < steps["vsys-volts"]


def test_filling_in_a_cell_later_keeps_the_steps_of_the_others(tmp_path: Path) -> None:
    mapping = NEEDED + "checks: {R: vsys-ohms, V: vsys-volts}\nfixes: {column: Fix, split: '+'}\n"
    early = look(tmp_path, mapping, "Job,R,V,Fix\n1,,3.8,clean-u7\n").jobs[0]
    late = look(tmp_path, mapping, "Job,R,V,Fix\n1,4k2,3.8,clean-u7 + reflow-l1204\n").jobs[0]
    assert set(early.readings) <= set(late.readings)
    assert set(early.attempts) <= set(late.attempts)


def test_retests_come_from_a_column_and_a_single_one_counts_for_the_last_fix(tmp_path: Path) -> None:
    mapping = (
        NEEDED
        + """
fixes:
  - {column: Fix, split: "+", retest: {column: After, names: {ok: gone, nok: still there}}}
"""
    )
    table = """
Job,Fix,After
1,clean-u7 + reflow-l1204,nok + ok
2,clean-u7 + reflow-l1204,ok
3,clean-u7,
4,clean-u7,nok + ok
"""
    found = look(tmp_path, mapping, table)
    gone, there, unknown = Retest.GONE, Retest.STILL_THERE, Retest.UNKNOWN
    assert [[each.retest for each in job.attempts] for job in found.jobs] == [
        [there, gone],
        [unknown, gone],
        [unknown],
    ]
    assert reasons(found, 5) == ["in column 'After': 2 retests for 1 fixes; give one, or one for each fix"]


def test_soaks_come_from_a_column_in_its_unit_and_a_single_one_counts_for_the_last_fix(
    tmp_path: Path,
) -> None:
    mapping = NEEDED + "fixes:\n  - {column: Fix, split: '+', soaked: {column: Ran, unit: h}}\n"
    table = """
Job,Fix,Ran
1,clean-u7 + reflow-l1204,20 min + 3
2,clean-u7 + reflow-l1204,1:30
3,clean-u7,
4,clean-u7,1 + 2
5,clean-u7,over night
"""
    found = look(tmp_path, mapping, table)
    assert [[each.soaked for each in job.attempts] for job in found.jobs] == [[20, 180], [None, 90], [None]]
    assert reasons(found, 5) == ["in column 'Ran': 2 times for 1 fixes; give one, or one for each fix"]
    assert verdicts(found)[6] == "refused"


def test_retests_from_the_outcome_claim_nothing_of_an_open_job(tmp_path: Path) -> None:
    mapping = NEEDED + "outcome: Out\nfixes: {column: Fix, split: '+', retest: {from: outcome}}\n"
    found = look(
        tmp_path, mapping, "Job,Fix,Out\n1,clean-u7 + reflow-l1204,\n2,clean-u7,returned\n3,clean-u7,ruined\n"
    )
    gone, there, unknown = Retest.GONE, Retest.STILL_THERE, Retest.UNKNOWN
    assert gone not in {each.retest for job in found.jobs for each in job.attempts}
    assert [[each.retest for each in job.attempts] for job in found.jobs] == [
        [there, unknown],
        [there],
        [unknown],
    ]


def test_a_fixs_own_word_may_hold_the_separator(tmp_path: Path) -> None:
    mapping = NEEDED + 'fixes: {column: Fix, split: "+", names: {clean + dry: clean-u7}}\n'
    found = look(tmp_path, mapping, "Job,Fix\n1,clean + dry\n2,clean u7+reflow l1204\n")
    assert [[each.fix for each in job.attempts] for job in found.jobs] == [
        ["clean-u7"],
        ["clean-u7", "reflow-l1204"],
    ]


def test_a_word_of_the_mapping_counts_even_if_it_looks_blank(tmp_path: Path) -> None:
    mapping = NEEDED + 'checks: {Mark: {check: liquid-mark, names: {"-": dry, "+": wet}}}\n'
    found = look(tmp_path, mapping, "Job,Mark\n1,-\n2,+\n3,n/a\n")
    assert [[each.result for each in job.readings] for job in found.jobs] == [["dry"], ["wet"], []]


def test_words_may_stand_for_readings(tmp_path: Path) -> None:
    mapping = NEEDED + 'checks: {R: {check: vsys-ohms, unit: kohm, names: {kurz: 0 ohm, "> 20 MOhm": OL}}}\n'
    found = look(tmp_path, mapping, "Job,R\n1,KURZ\n2,> 20 MOhm\n3,4.2\n")
    assert [job.readings[0].value for job in found.jobs] == [0.0, inf, 4200.0]
    assert [job.readings[0].text for job in found.jobs] == ["KURZ", "> 20 MOhm", "4.2"]


def test_a_job_number_may_be_made_of_several_columns(tmp_path: Path) -> None:
    mapping = START + "job: [Date, Serial]\nboard: {always: halden-t4}\ncomplaint: {always: restarts}\n"
    found = look(tmp_path, mapping, "Date,Serial\n2026-02-03,A 7\n2026-02-03,\n")
    assert [job.number for job in found.jobs] == ["2026-02-03 A 7"]
    assert reasons(found, 3) == ["in column 'Serial': this part of the job number is missing; write it"]


def test_text_that_looks_like_a_formula_is_text(tmp_path: Path) -> None:
    found = look(tmp_path, NEEDED + "notes: Notes\n", 'Job,Notes\n=1+1,"=HYPERLINK(""x"")"\n')
    assert (found.jobs[0].number, found.jobs[0].notes) == ("=1+1", '=HYPERLINK("x")')


def test_what_the_store_has_already_is_told_apart(tmp_path: Path) -> None:
    mapping = NEEDED + "outcome: Out\nnotes: Notes\n"
    stored = look(tmp_path, mapping, "Job,Out,Notes\n1,repaired,a\n2,,b\n3,repaired,c\n").jobs
    found = look(
        tmp_path, mapping, "Job,Out,Notes\n1,repaired,a\n2,repaired,b\n3,ruined,c\n4,open,d\n", stored=stored
    )
    assert verdicts(found) == {2: "already there", 3: "taken", 4: "refused", 5: "taken"}
    assert reasons(found, 4) == [
        (
            "in this row: outcome is ruined here and repaired in the store; correct the one that is wrong; "
            "another device needs a job number of its own"
        )
    ]
    assert [job.number for job in found.jobs] == ["2", "4"]


def test_jobs_of_other_shops_in_the_store_do_not_matter(tmp_path: Path) -> None:
    other = Job("Elsewhere", "1", "halden-t4", "restarts", notes="x")
    found = look(tmp_path, NEEDED + "notes: Notes\n", "Job,Notes\n1,y\n", stored=(other,))
    assert verdicts(found) == {2: Verdict.TAKEN}


def test_counts_first_rows_and_unused_columns_are_told(tmp_path: Path) -> None:
    found = look(tmp_path, NEEDED, "Job,Colour\n1,red\n,blue\n3,green\n")
    assert found.counts() == {
        Verdict.TAKEN: 2,
        Verdict.DOUBTFUL: 0,
        Verdict.ALREADY_THERE: 0,
        Verdict.LEFT_OUT: 0,
        Verdict.REFUSED: 1,
    }
    assert found.first_rows() == {"1": 2, "3": 4}
    assert found.unused == ("Colour",)


def test_a_total_is_a_job_if_it_says_what_only_jobs_say(tmp_path: Path) -> None:
    mapping = START + "job: Job\nboard: {always: halden-t4}\ncomplaint: Says\n"
    found = look(tmp_path, mapping, "Job,Says,Minutes\nTotal 5,restarts,\nTotal,,90\n")
    assert verdicts(found) == {2: "taken", 3: "left out"}


def test_another_fix_in_a_cell_does_not_move_what_stands_right_of_it(tmp_path: Path) -> None:
    mapping = NEEDED + "order: as columns\nfixes: {column: Fix, split: '+'}\nchecks: {R: vsys-ohms}\n"
    early = look(tmp_path, mapping, "Job,Fix,R\n1,clean-u7,4k2\n").jobs[0]
    late = look(tmp_path, mapping, "Job,Fix,R\n1,clean-u7 + reflow-l1204,4k2\n").jobs[0]
    assert early.readings == late.readings
    assert late.attempts[-1].step < late.readings[0].step


def test_a_retest_that_a_column_tells_is_not_judged_by_the_outcome(tmp_path: Path) -> None:
    mapping = (
        NEEDED
        + """
outcome: Out
fixes:
  - {column: First, retest: After}
  - {column: Second, retest: {from: outcome}}
"""
    )
    found = look(tmp_path, mapping, "Job,First,After,Second,Out\n1,clean-u7,gone,reflow-l1204,repaired\n")
    assert [each.retest for each in found.jobs[0].attempts] == [Retest.GONE, Retest.GONE]


def test_progress_is_told_now_and_then_and_at_the_end(tmp_path: Path) -> None:
    path = tmp_path / "jobs.csv"
    path.write_text("Job,A\n" + "".join(f"{number},\n" for number in range(1200)) + "\n" * 50)
    mapping = mapping_of(NEEDED)
    told: list[tuple[int, int]] = []
    preview(
        read_table(path, mapping), mapping, BOOKS, progress=lambda done, total: told.append((done, total))
    )
    assert told == [(500, 1250), (1000, 1250), (1200, 1200)]


def test_a_serial_number_for_a_day_is_doubtful_in_a_csv_file(tmp_path: Path) -> None:
    found = look(tmp_path, NEEDED + "opened: Date\n", "Job,Date\n1,46056\n")
    assert found.jobs[0].opened == date(2026, 2, 3)
    assert verdicts(found) == {2: "read with a doubt"}
    assert reasons(found, 2) == [
        "in column 'Date': '46056' was read as a spreadsheet's number of the day 2026-02-03"
    ]


@pytest.mark.parametrize("opened", ["2026-03-06", "46087"])
def test_a_job_of_the_future_is_refused_where_the_day_is_known(tmp_path: Path, opened: str) -> None:
    text = f"Job,Date\n1,2026-03-05\n2,{opened}\n"
    found = look(tmp_path, NEEDED + "opened: Date\n", text, today=date(2026, 3, 4))
    assert verdicts(found) == {2: "taken", 3: "refused"}
    assert reasons(found, 3)[0] == (
        f"in column 'Date': '{opened}' is 2026-03-06, which lies in the future (today is 2026-03-04); "
        "write the day on which the job was opened"
    )
    assert [job.number for job in look(tmp_path, NEEDED + "opened: Date\n", text).jobs] == ["1", "2"]


def test_more_than_a_week_at_work_is_doubted(tmp_path: Path) -> None:
    mapping = NEEDED + "hands on: {column: Work, unit: h}\nwaiting: {column: Soak, unit: h}\n"
    found = look(tmp_path, mapping, "Job,Work,Soak\n1,168,900\n2,170,0\n")
    assert verdicts(found) == {2: "taken", 3: "read with a doubt"}
    assert reasons(found, 3) == ["in column 'Work': '170' was read as 7 d 2 h"]
    assert found.jobs[1].hands_on == 170 * 60
