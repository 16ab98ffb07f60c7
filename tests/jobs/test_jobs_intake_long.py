"""Long tables: a row a reading or a fix tried."""

from datetime import date
from pathlib import Path

from intake_bench import NEEDED, START, look, reasons, verdicts

from benchlore.jobs import Attempt, Job, Outcome, Reading, Retest
from benchlore.jobs.intake import Verdict

LONG = """
mapping: 1
shop: Quayside
layout: long
job: Order
board: {column: Device, names: {T4: halden-t4}, otherwise: leave out}
complaint: Complaint
opened: Received
outcome: Result
fault: Cause
technician: By
notes: Notes
hands on: {column: Minutes, per: row}
step: "No."
reading:
  check: {column: Test, names: {rail to gnd: vsys-ohms}}
  value: Value
  unit: Unit
  units: {vsys-volts: mV}
  results: {liquid-mark: {"1": wet, "0": dry}}
fix: {column: Repair, retest: {column: After, names: {ok: gone, nok: still there}}, soaked: Ran}
"""
HEADER = (
    "Order,Received,Device,Complaint,No.,Test,Value,Unit,Repair,After,Result,Cause,By,Notes,Minutes,Ran\n"
)


def test_rows_are_gathered_into_jobs(tmp_path: Path) -> None:
    table = HEADER + (
        "5120,2026-02-04,T4,restarts,1,rail to gnd,4.3,kohm,,,,,Ines,first look,10\n"
        ",2026-02-03,,,2,VSYS volts,3410,,,,,,Tom,,5\n"
        "5121,2026-02-05,T4,no backlight,,liquid mark,1,,,,,,,,\n"
        "5120,,,,4,,,,clean u7,nok,,,,,20,12\n"
        "5120,,,,3,,,,Reflow L1204,nok,,,,nothing changed,\n"
        "5120,,,,5,vsys-volts,3.85 V,,reflow-l1204,ok,repaired,L1204 joint,,first look,15\n"
    )
    found = look(tmp_path, LONG, table)
    assert found.jobs == (
        Job(
            shop="Quayside",
            number="5120",
            board="halden-t4",
            complaint="restarts",
            opened=date(2026, 2, 3),
            readings=(
                Reading("vsys-ohms", 1, None, 4300.0, "4.3"),
                Reading("vsys-volts", 2, None, 3.41, "3410"),
                Reading("vsys-volts", 5, None, 3.85, "3.85 V"),
            ),
            attempts=(
                Attempt("reflow-l1204", 3, Retest.STILL_THERE),
                Attempt("clean-u7", 4, Retest.STILL_THERE, 12.0),
                Attempt("reflow-l1204", 6, Retest.GONE),
            ),
            outcome=Outcome.REPAIRED,
            fault="l1204-joint",
            fault_text="L1204 joint",
            hands_on=50.0,
            technician="Ines",
            notes="first look; nothing changed",
        ),
        Job(
            shop="Quayside",
            number="5121",
            board="halden-t4",
            complaint="no-backlight",
            opened=date(2026, 2, 5),
            readings=(Reading("liquid-mark", 1, "wet", None, "1"),),
        ),
    )
    assert set(verdicts(found).values()) == {Verdict.TAKEN}


def test_a_refused_row_leaves_the_other_rows_of_its_job_and_their_steps(tmp_path: Path) -> None:
    table = HEADER + (
        "1,2026-02-03,T4,restarts,,rail to gnd,lots,,,,,,,,10\n"
        ",,,,,vsys volts,3850,,,,,,,,5\n"
        ",,,,,,,,clean u7,ok,repaired,,,,5\n"
    )
    found = look(tmp_path, LONG, table)
    assert verdicts(found) == {2: "refused", 3: "taken", 4: "taken"}
    assert reasons(found, 2) == [
        "in column 'Value': cannot read 'lots'; write resistance as 4.7 kohm, 4k7 or 470R"
    ]
    (job,) = found.jobs
    assert (job.board, job.complaint, job.opened) == ("halden-t4", "restarts", date(2026, 2, 3))
    assert job.readings == (Reading("vsys-volts", 2, None, 3.85, "3850"),)
    assert job.attempts == (Attempt("clean-u7", 3, Retest.GONE),)
    assert job.hands_on is None  # minutes that are added up wait until no row is missing
    mended = look(tmp_path, LONG, table.replace("lots", "4.2k"), stored=found.jobs)
    assert set(verdicts(mended).values()) == {Verdict.TAKEN}
    assert mended.jobs[0].hands_on == 20.0
    assert set(job.readings) <= set(mended.jobs[0].readings)


def test_rows_that_disagree_about_their_job_are_refused(tmp_path: Path) -> None:
    mapping = LONG.replace(", per: row", "")
    table = HEADER + (
        "1,,T4,restarts,,rail to gnd,4k,,,,,,,,10\n"
        "1,,orme-k2,,,rail to gnd,4k,,,,,,,,\n"
        "1,,,no backlight,,rail to gnd,4k,,,,,,,,\n"
        "1,,,,,,,,,,open,,,,\n"
        "1,,,,,,,,,,returned,u7 corroded,,,12\n"
        "1,,,,,,,,,,ruined,,,,10\n"
    )
    found = look(tmp_path, mapping, table)
    assert verdicts(found) == {2: "taken", 3: "refused", 4: "refused", 5: "taken", 6: "refused", 7: "refused"}
    advice = "; let them agree, or give this job a number of its own"
    assert reasons(found, 3) == [
        f"in column 'Device': row 2 says 'T4' of the same job, and this one 'orme-k2'{advice}"
    ]
    assert reasons(found, 6) == [
        f"in column 'Minutes': row 2 says '10' of the same job, and this one '12'{advice}"
    ]
    assert reasons(found, 7) == [
        f"in column 'Result': row 6 says 'returned' of the same job, and this one 'ruined'{advice}"
    ]
    assert len(found.jobs[0].readings) == 1


def test_a_job_whose_board_no_row_tells_is_refused_as_a_whole(tmp_path: Path) -> None:
    table = HEADER + "1,,,restarts,,rail to gnd,4k,,,,,,,,\n,,,,,vsys volts,3850,,,,,,,,\n"
    found = look(tmp_path, LONG, table)
    assert verdicts(found) == {2: "refused", 3: "refused"}
    assert reasons(found, 3) == [
        "in column 'Device': no row of job 1 has a board that can be read; write it in one"
    ]
    assert not found.jobs


def test_a_job_about_another_board_is_left_out_with_all_its_rows(tmp_path: Path) -> None:
    table = HEADER + "1,,kettle,boils,,rail to gnd,4k,,,,,,,,\n,,,,,vsys volts,3850,,,,,,,,\n"
    found = look(tmp_path, LONG, table)
    assert verdicts(found) == {2: "left out", 3: "left out"}
    assert reasons(found, 3) == ["in column 'Device': job 1 is left out because of its board in row 2"]


def test_a_row_before_the_first_job_number_is_refused(tmp_path: Path) -> None:
    found = look(
        tmp_path, LONG, HEADER + ",,T4,restarts,,rail to gnd,4k,,,,,,,,\n1,,T4,restarts,,,,,,,,,,,\n"
    )
    assert verdicts(found) == {2: "refused", 3: "taken"}
    assert reasons(found, 2) == [
        "in column 'Order': there is no job number; write one; a row without one belongs to the job in the row above"
    ]


def test_rows_below_an_unreadable_job_number_do_not_slip_into_the_job_above_it(tmp_path: Path) -> None:
    table = HEADER + "1,,T4,restarts,,,,,,,,,,,\n#REF!,,T4,restarts,,,,,,,,,,,\n,,,,,rail to gnd,4k,,,,,,,,\n"
    found = look(tmp_path, LONG, table)
    assert verdicts(found) == {2: "taken", 3: "refused", 4: "refused"}
    assert found.jobs[0].readings == ()


def test_a_value_without_a_check_is_refused_and_a_check_without_a_value_says_nothing(tmp_path: Path) -> None:
    table = HEADER + "1,,T4,restarts,,,4k,,,,,,,,\n,,,,,rail to gnd,n/a,,,,,,,,\n"
    found = look(tmp_path, LONG, table)
    assert verdicts(found) == {2: "refused", 3: "taken"}
    assert reasons(found, 2) == ["in column 'Value': the value '4k' belongs to no check; name the check"]
    assert found.jobs[0].readings == ()


def test_unreadable_values_can_be_left_out_but_unknown_checks_cannot(tmp_path: Path) -> None:
    table = HEADER + "1,,T4,restarts,,rail to gnd,lots,,,,,,,,\n,,,,,rail to moon,4k,,,,,,,,\n"
    found = look(tmp_path, LONG + "unreadable readings: leave out\n", table)
    assert verdicts(found) == {2: "read with a doubt", 3: "refused"}
    assert reasons(found, 3)[0].startswith("in column 'Test': 'rail to moon' is no check of halden-t4; ")


def test_checks_and_fixes_may_share_a_column(tmp_path: Path) -> None:
    mapping = (
        NEEDED
        + """
layout: long
reading: {check: {column: What, names: {mark?: liquid-mark}}, value: Value}
fix: {column: What, split: "+", names: {hot air: reflow-l1204}, retest: Value}
"""
    )
    table = """
Job,What,Value
1,VSYS ohms,4k2
1,mark?,wet
1,clean-u7 + hot air,gone
1,dance,
"""
    found = look(tmp_path, mapping, table)
    assert verdicts(found) == {2: "taken", 3: "taken", 4: "taken", 5: "refused"}
    (job,) = found.jobs
    assert [(each.check, each.step) for each in job.readings] == [("vsys-ohms", 1), ("liquid-mark", 2)]
    assert job.attempts == (Attempt("clean-u7", 3, Retest.UNKNOWN), Attempt("reflow-l1204", 4, Retest.GONE))


def test_a_table_of_fixes_alone_is_long_too(tmp_path: Path) -> None:
    mapping = NEEDED + "layout: long\noutcome: Out\nfix: {column: Fix, retest: {from: outcome}}\n"
    found = look(
        tmp_path, mapping, "Job,Fix,Out\n1,clean-u7,\n1,reflow-l1204,repaired\n2,clean-u7,returned\n"
    )
    assert [[each.retest for each in job.attempts] for job in found.jobs] == [
        [Retest.STILL_THERE, Retest.GONE],
        [Retest.STILL_THERE],
    ]


def test_retests_from_the_outcome_wait_until_no_row_is_refused(tmp_path: Path) -> None:
    mapping = NEEDED + "layout: long\noutcome: Out\nfix: {column: Fix, retest: {from: outcome}}\n"
    found = look(tmp_path, mapping, "Job,Fix,Out\n1,clean-u7,repaired\n1,dance,\n")
    assert [each.retest for each in found.jobs[0].attempts] == [Retest.UNKNOWN]


def test_the_same_word_may_mean_different_results_for_different_checks(tmp_path: Path) -> None:
    mapping = (
        START
        + """
layout: long
job: Job
board: {always: halden-t4}
complaint: {always: restarts}
reading: {check: Test, value: Value, results: {liquid-mark: {bad: wet}, vsys-ohms: {bad: 0 ohm}}}
"""
    )
    found = look(tmp_path, mapping, "Job,Test,Value\n1,liquid-mark,bad\n1,vsys-ohms,bad\n1,vsys-volts,bad\n")
    assert verdicts(found) == {2: "taken", 3: "taken", 4: "refused"}
    assert [(each.result, each.value) for each in found.jobs[0].readings] == [("wet", None), (None, 0.0)]
