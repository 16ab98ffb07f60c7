import os
import threading
from datetime import UTC, date, datetime, timedelta, timezone

import pytest
from desk_bench import BOARD, HARD, NINE, RESTARTS, at, bench_library

from benchlore.jobs import (
    Attempt,
    BenchUnstorable,
    EntryConflict,
    Job,
    JobClosed,
    JobNotClosed,
    NoOpenJob,
    NumberTaken,
    Outcome,
    Reading,
    Retest,
    Store,
)
from benchlore.jobs import EntryKind as K
from benchlore.library import (
    Bench,
    BookRefusedError,
    Close,
    Desk,
    EntryRefusedError,
    NoBookError,
    NoComplaintError,
    NoJobError,
    ReadingError,
    ask,
    learn_board,
    plan_complaint,
)
from benchlore.library.recorded import evidence_of_job


@pytest.fixture
def library(tmp_path):
    return bench_library(tmp_path / "library")


@pytest.fixture
def desk(library):
    with Desk(library) as desk:
        yield desk


@pytest.fixture
def job(desk):
    return desk.start(BOARD, HARD, now=NINE, technician="Ines", key="k")


def enter(desk, kind, data=None, *, key="k", moment=None, **more):
    """Enter something after all that was entered, a minute later."""
    last = desk.view(key, NINE).last
    now = at(last + 1 if moment is None else moment)
    return desk.enter(
        key, kind, {**(data or {}), **more}, expected=last, token=f"t-{last}", by="Ines", now=now
    )


def close(desk, outcome=Outcome.REPAIRED, *, key="k", minutes=60.0, **more):
    last = desk.view(key, NINE).last
    return desk.close(
        key, Close(outcome, **more), expected=last, token=f"c-{last}", by="Ines", now=at(minutes)
    )


def stored(library):
    with Store.open(library.store) as store:
        return list(store.jobs())


def test_a_job_is_opened_with_a_number_of_its_day(desk):
    first = desk.start(BOARD, HARD, now=NINE, said="dead since Tuesday", technician="Ines", device="T4-77")
    assert (first.number, first.shop, first.opened) == ("26-1125-1", "My shop", NINE)
    assert (first.said, first.device, first.technician) == ("dead since Tuesday", "T4-77", "Ines")
    assert desk.start(BOARD, RESTARTS, now=NINE).number == "26-1125-2"
    assert desk.start(BOARD, RESTARTS, now=NINE + timedelta(days=1)).number == "26-1126-1"
    assert len(first.key) > 20
    assert desk.view(first.key, NINE).job == first


def test_the_day_is_that_of_the_bench(desk, library):
    here = timezone(timedelta(hours=9))
    job = desk.start(BOARD, HARD, now=datetime(2026, 11, 26, 7, 0, tzinfo=here), key="k")
    assert job.number == "26-1126-1"
    assert job.opened == datetime(2026, 11, 25, 22, 0, tzinfo=UTC)
    now = datetime(2026, 11, 26, 8, 0, tzinfo=here)
    desk.close("k", Close(Outcome.RETURNED), expected=0, token="c", by="", now=now)
    assert stored(library)[0].opened == date(2026, 11, 26)


def test_a_start_that_is_sent_twice_makes_one_job(desk):
    facts = [("fell", "dropped")]
    first = desk.start(BOARD, HARD, now=NINE, key="mine", facts=facts)
    assert desk.start(BOARD, HARD, now=at(1), key="mine", facts=facts) == first
    assert len(desk.jobs(NINE)) == 1
    assert desk.view("mine", NINE).last == 1


def test_facts_are_checks_that_cost_nothing_and_count_as_readings(desk, library):
    assert [check.name for check in desk.facts(BOARD, HARD)] == ["fell"]
    job = desk.start(BOARD, HARD, now=NINE, facts=[("Did it fall?", "Dropped")])
    view = desk.view(job.key, NINE)
    assert [(entry.kind, dict(entry.data)) for entry in view.entries] == [
        (K.READING, {"check": "fell", "text": "Dropped"})
    ]
    assert view.asked.advice == ask(library, BOARD, HARD, Bench((("fell", "dropped"),))).advice


@pytest.mark.parametrize(
    ("arguments", "error", "match"),
    [
        ({"board": "no-such"}, NoBookError, "no book 'no-such'"),
        ({"complaint": "no-such"}, NoComplaintError, "no complaint 'no-such'"),
        ({"facts": [("fell", "perhaps")]}, ReadingError, "'fell' shows dropped or not-dropped"),
        ({"facts": [("fell", "dropped"), ("fell", "dropped")]}, ReadingError, "read already"),
        ({"facts": [("fell", "\ud800")]}, EntryRefusedError, "half a character"),
        ({"comeback_of": ("My shop", "\ud800")}, NoJobError, "no job"),
        ({"comeback_of": ("My shop", "1")}, NoJobError, "no job '1' of shop 'My shop'"),
        ({"said": "x" * 2001}, BenchUnstorable, "said has 2,001"),
    ],
)
def test_what_cannot_be_helped_is_not_opened(desk, arguments, error, match):
    with pytest.raises(error, match=match):
        desk.start(**{"board": BOARD, "complaint": HARD, "now": NINE, **arguments})
    assert desk.jobs(NINE) == ()


@pytest.mark.parametrize(
    ("check", "text"),
    [("no-such", "1"), ("rail-ohms", "3 V"), ("rail-ohms", "abc"), ("fell", "perhaps"), ("rail-ohms", "")],
)
def test_a_reading_that_means_nothing_is_refused_as_next_refuses_it(desk, library, job, check, text):
    with pytest.raises(ReadingError) as wanted:
        ask(library, BOARD, HARD, Bench(((check, text),)))
    with pytest.raises(ReadingError) as refused:
        enter(desk, K.READING, check=check, text=text)
    assert str(refused.value) == str(wanted.value)
    assert desk.view("k", NINE).last == 0


@pytest.mark.parametrize(
    ("kind", "data", "match"),
    [
        (K.READING, {"check": "fell"}, "'text' is missing"),
        (K.READING, {"check": "fell", "text": "dropped", "unit": "V"}, "no field 'unit'; it has check, text"),
        (K.READING, {"check": "fell", "text": 7}, "'7' where a text"),
        (K.FIX, {"fix": "replace-c5", "soak": -1}, "'-1' where minutes"),
        (K.FIX, {"fix": "replace-c5", "soak": True}, "'True' where minutes"),
        (K.FIX, {"fix": "replace-c5", "soak": 1e9}, "minutes from 0 to 20160"),
        (K.SOAK, {"minutes": 5}, "enter the fix first"),
        (K.RETEST, {"result": "gone"}, "enter the fix first"),
        (K.CLOCK, {"to": "lunch"}, "'lunch' where hands-on or waiting or stopped"),
        (K.NOTE, {"text": " \n"}, "says nothing"),
        (K.NOTE, {"text": "a\0b"}, "NUL"),
        (K.READING, {"check": "fell", "text": "\ud800"}, "half a character"),
        (K.READING, {"check": "fell", "text": "dropped", "\ud800": ""}, "no field"),
        (K.UNDO, {"to": 0}, "nothing was entered yet"),
        (K.UNDO, {"to": "0"}, "'0' where"),
        (K.CLOSE, {"outcome": "repaired"}, "ways of their own"),
        (K.REOPEN, {}, "ways of their own"),
    ],
)
def test_an_entry_that_the_job_cannot_take_is_refused_and_not_stored(desk, job, kind, data, match):
    with pytest.raises(EntryRefusedError, match=match):
        enter(desk, kind, **data)
    assert desk.view("k", NINE).last == 0


@pytest.mark.parametrize("to", [-1, 2, 3, True])
def test_an_undo_goes_to_an_earlier_place(desk, job, to):
    enter(desk, K.NOTE, text="a")
    enter(desk, K.NOTE, text="b")
    with pytest.raises(EntryRefusedError, match="a place from 0 to 1"):
        enter(desk, K.UNDO, to=to)
    assert [note.data["text"] for note in enter(desk, K.UNDO, to=1).notes] == ["a"]


def test_a_soak_follows_a_fix_whose_complaint_is_not_back(desk, job):
    enter(desk, K.FIX, fix="replace-c5")
    assert enter(desk, K.SOAK, minutes=30).due.soak.minutes == 30
    enter(desk, K.RETEST, result="gone")
    assert enter(desk, K.SOAK, minutes=30).due is not None
    enter(desk, K.RETEST, result="still there")
    with pytest.raises(EntryRefusedError, match="enter the fix first"):
        enter(desk, K.SOAK, minutes=30)
    enter(desk, K.FIX, fix="replace-u2")
    with pytest.raises(EntryRefusedError, match="0 minutes"):
        enter(desk, K.SOAK, minutes=0)


def test_names_are_stored_as_the_book_writes_them(desk, job):
    enter(desk, K.READING, check="Fuse F1", text=" 0R2 ")
    enter(desk, K.SKIP, name="MAIN RAIL VOLTAGE")
    view = enter(desk, K.WITHOUT, equipment="hot-air")
    assert [dict(entry.data) for entry in view.entries] == [
        {"check": "fuse-ohms", "text": " 0R2 "},
        {"name": "rail-volts"},
        {"equipment": "hot-air"},
    ]
    assert view.bench == Bench((("fuse-ohms", " 0R2 "),), skipped=("rail-volts",), without=("hot-air",))


def test_an_entry_that_is_sent_twice_is_stored_once(desk, job):
    send = {"expected": 0, "token": "a", "by": "Ines", "now": at(1)}
    first = desk.enter("k", K.READING, {"check": "fuse-ohms", "text": "0R2"}, **send)
    again = desk.enter("k", K.READING, {"check": "fuse-ohms", "text": "0R2"}, **send)
    assert first.entries == again.entries
    # Also when it would be refused by now: what was acknowledged is never called wrong afterwards.
    desk.enter("k", K.UNDO, {"to": 0}, expected=1, token="b", by="", now=at(2))
    assert desk.enter("k", K.UNDO, {"to": 99}, expected=0, token="b", by="", now=at(2)).last == 2


def test_an_entry_after_somebody_elses_is_refused_with_theirs(desk, job):
    enter(desk, K.READING, check="fuse-ohms", text="0R2")
    with pytest.raises(EntryConflict, match="Ines made an entry") as refused:
        desk.enter("k", K.NOTE, {"text": "x"}, expected=0, token="b", by="Tomas", now=at(2))
    assert [entry.data["check"] for entry in refused.value.newer] == ["fuse-ohms"]
    # A place that the writer cannot have seen is judged before the entry itself.
    with pytest.raises(EntryConflict, match="after entry 0"):
        desk.enter("k", K.SOAK, {"minutes": 1}, expected=0, token="c", by="", now=at(2))


def test_a_job_that_is_not_there_says_so(desk):
    with pytest.raises(NoOpenJob, match="'nowhere'"):
        desk.view("nowhere", NINE)
    with pytest.raises(NoOpenJob, match="'nowhere'"):
        desk.enter("nowhere", K.NOTE, {"text": "x"}, expected=0, token="a", by="", now=NINE)


def test_closing_writes_the_record_that_learning_sees(desk, library):
    desk.start(
        BOARD,
        HARD,
        now=NINE,
        key="k",
        said="dead",
        device="T4-77",
        technician="Ines",
        facts=[("fell", "Dropped")],
    )
    enter(desk, K.CLOCK, moment=0, to="hands-on")
    enter(desk, K.READING, moment=5, check="rail-volts", text="unclear")
    enter(desk, K.READING, moment=6, check="rail-ohms", text="9 kohm")
    enter(desk, K.UNDO, moment=7, to=3)
    enter(desk, K.READING, moment=8, check="rail-ohms", text="3  ohm")
    enter(desk, K.FIX, moment=20, fix="replace-c5")
    enter(desk, K.RETEST, moment=22, result="still there")
    enter(desk, K.FIX, moment=40, fix="replace-u2")
    enter(desk, K.RETEST, moment=45, result="gone")
    enter(desk, K.READING, moment=46, check="fuse-ohms", text="OL")
    enter(desk, K.NOTE, moment=47, text="both legs lifted")
    view = close(desk, fault="Converter U2 dead", minutes=50)
    assert view.job.closed
    assert view.asked is None
    assert stored(library) == [
        Job(
            shop="My shop",
            number="26-1125-1",
            board=BOARD,
            complaint=HARD,
            opened=date(2026, 11, 25),
            readings=(
                Reading("fell", 1, result="dropped", text="Dropped"),
                Reading("rail-volts", 2, text="unclear"),
                Reading("rail-ohms", 3, value=3.0, text="3 ohm"),
                Reading("fuse-ohms", 6, value=float("inf"), text="OL"),
            ),
            attempts=(
                Attempt("replace-c5", 4, Retest.STILL_THERE),
                Attempt("replace-u2", 5, Retest.GONE),
            ),
            outcome=Outcome.REPAIRED,
            fault="u2-dead",
            hands_on=50.0,
            waiting=0.0,
            technician="Ines",
            notes="both legs lifted",
            extra={"said": "dead", "device": "T4-77"},
        )
    ]
    assert learn_board(library, BOARD).jobs == 1
    assert desk.jobs(NINE) == ()
    assert [line.job.key for line in desk.jobs(NINE, closed=True)] == ["k"]


def test_the_record_says_how_long_each_fix_soaked(desk, library):
    """Clean for two hours, or until it restarted; a fix whose soak nobody noted says nothing of it."""
    desk.start(BOARD, RESTARTS, now=NINE, key="k")
    enter(desk, K.FIX, moment=1, fix="replace-c5")
    enter(desk, K.RETEST, moment=4, result="still there")
    enter(desk, K.FIX, moment=10, fix="replace-u2")
    enter(desk, K.SOAK, moment=10, minutes=120)
    enter(desk, K.RESTART, moment=58, ago=3)
    enter(desk, K.RETEST, moment=59, result="still there")
    enter(desk, K.FIX, moment=70, fix="replace-f1")
    enter(desk, K.SOAK, moment=80, minutes=120)
    enter(desk, K.RETEST, moment=230, result="gone")
    close(desk, minutes=240)
    (job,) = stored(library)
    assert job.attempts == (
        Attempt("replace-c5", 1, Retest.STILL_THERE),
        Attempt("replace-u2", 2, Retest.STILL_THERE, 45.0),
        Attempt("replace-f1", 3, Retest.GONE, 120.0),
    )
    model = learn_board(library, BOARD).models[RESTARTS]
    assert evidence_of_job(model, job).soaked == ((1, 45.0),)


def test_minutes_that_are_given_stand_in_place_of_the_clocks(desk, library, job):
    enter(desk, K.CLOCK, moment=0, to="hands-on")
    close(desk, minutes=30, hands_on=12.5, notes="said otherwise")
    assert [(found.hands_on, found.waiting, found.notes) for found in stored(library)] == [
        (12.5, 0.0, "said otherwise")
    ]


def test_without_a_clock_no_minutes_are_recorded(desk, library, job):
    close(desk, Outcome.RETURNED)
    assert [(found.hands_on, found.waiting) for found in stored(library)] == [(None, None)]


@pytest.mark.parametrize(
    ("close_as", "match"),
    [
        ({"outcome": Outcome.OPEN}, "'open' ends nothing"),
        ({"fault": "u2-ded"}, "no fault 'u2-ded'; did you mean 'u2-dead'.*in words"),
        ({"hands_on": -1.0}, "-1.0 where minutes"),
        ({"waiting": float("nan")}, "nan where minutes"),
    ],
)
def test_a_close_that_says_nothing_sound_is_refused(desk, library, job, close_as, match):
    with pytest.raises(EntryRefusedError, match=match):
        close(desk, **close_as)
    assert not desk.view("k", NINE).job.closed
    assert stored(library) == []


def test_a_fault_that_the_book_does_not_know_is_told_in_words(desk, library, job):
    close(desk, fault="unlisted", fault_text="beetle under the shield")
    assert [(found.fault, found.fault_text) for found in stored(library)] == [
        ("unlisted", "beetle under the shield")
    ]


def test_a_closed_job_takes_no_entries_until_it_is_opened_again(desk, library, job):
    enter(desk, K.READING, check="fuse-ohms", text="0R2")
    close(desk, fault="u2-dead")
    with pytest.raises(JobClosed):
        enter(desk, K.NOTE, text="x")
    view = desk.reopen("k", expected=2, token="r", by="Ines", now=at(70))
    assert view.asked is not None
    assert [(found.outcome, found.fault) for found in stored(library)] == [(Outcome.OPEN, None)]
    assert learn_board(library, BOARD).jobs == 0
    with pytest.raises(JobNotClosed):
        desk.reopen("k", expected=3, token="r2", by="", now=at(70))
    with pytest.raises(EntryRefusedError, match="closed there"):
        enter(desk, K.UNDO, to=2)
    enter(desk, K.UNDO, to=0)
    close(desk, Outcome.RETURNED)
    assert [(found.outcome, found.readings) for found in stored(library)] == [(Outcome.RETURNED, ())]


def test_closing_twice_with_one_token_stores_one_record(desk, library, job):
    send = {"expected": 0, "token": "c", "by": "", "now": at(5)}
    first = desk.close("k", Close(Outcome.RETURNED), **send)
    assert desk.close("k", Close(Outcome.RETURNED), **send).entries == first.entries
    assert len(stored(library)) == 1


def test_a_comeback_is_told_to_the_earlier_job_when_the_later_is_closed(desk, library, job):
    close(desk, fault="u2-dead")
    later = desk.start(BOARD, HARD, now=at(900), comeback_of=(job.shop, job.number), key="later")
    assert [found.comeback for found in stored(library)] == [None]
    close(desk, key="later", minutes=950, fault="c5-short")
    by_number = {found.number: found for found in stored(library)}
    assert by_number[job.number].comeback is True
    assert by_number[later.number].comeback is None
    assert by_number[later.number].extra == {"comeback of": "My shop 26-1125-1"}


def test_a_number_that_another_record_took_is_not_written_over(desk, library, job):
    with Store.open(library.store) as store:
        store.add([Job(job.shop, job.number, "another-board", HARD, outcome=Outcome.REPAIRED)])
    with pytest.raises(NumberTaken, match="another record of job '26-1125-1'"):
        close(desk)
    assert not desk.view("k", NINE).job.closed
    assert [found.board for found in stored(library)] == ["another-board"]


def test_a_list_of_jobs_says_what_each_waits_for(desk, job):
    desk.start(BOARD, RESTARTS, now=at(1), key="soaking")
    enter(desk, K.FIX, key="soaking", moment=2, fix="replace-c5")
    enter(desk, K.SOAK, {"minutes": 60}, key="soaking", moment=3)
    soaking, plain = desk.jobs(at(13))
    assert (plain.job.key, plain.last, plain.touched, plain.fix, plain.soak) == ("k", 0, NINE, "", None)
    assert (soaking.job.key, soaking.fix, soaking.last) == ("soaking", "replace-c5", 2)
    assert (soaking.soak.ran, soaking.soak.until) == (10, at(63))
    assert soaking.clock.counting == "waiting"


def test_a_job_goes_on_at_another_desk_where_it_stood(desk, library, job):
    enter(desk, K.READING, check="fuse-ohms", text="0R2")
    enter(desk, K.FIX, fix="replace-c5", soak=15)
    with Desk(library) as other:
        mine, theirs = desk.view("k", at(9)), other.view("k", at(9))
        assert (mine.entries, mine.history) == (theirs.entries, theirs.history)
        assert (mine.due.planned, mine.due.otherwise.advice, mine.ahead) == (
            theirs.due.planned,
            theirs.due.otherwise.advice,
            theirs.ahead,
        )
        enter(other, K.RETEST, result="still there")
        assert desk.view("k", at(9)).last == 3


def changed(path, old, new):
    text = path.read_text()
    assert old in text
    path.write_text(text.replace(old, new))
    # Some file systems count time coarsely.
    os.utime(path, ns=(path.stat().st_atime_ns, path.stat().st_mtime_ns + 10**9))


def test_a_shop_or_book_that_was_changed_counts_at_once(desk, library, job):
    before = desk.view("k", NINE)
    assert desk.view("k", NINE).model is before.model
    changed(library.shop_file, "\nhour: ", "\nhour: 1")
    dearer = desk.view("k", NINE)
    assert dearer.ahead.to_finish > before.ahead.to_finish
    changed(library.book_file(BOARD), "Main rail to ground", "Rail to ground")
    assert "Rail to ground" in {check.title for check in desk.view("k", NINE).model.checks}


def test_a_procedure_that_was_planned_meanwhile_is_quoted(desk, library, job):
    assert desk.view("k", NINE).asked.advice.best.method != "plan"
    plan_complaint(library, BOARD, HARD)
    view = desk.view("k", NINE)
    assert view.asked.advice.best.method == "plan"
    assert view.asked.advice == ask(library, BOARD, HARD, Bench()).advice


def test_a_book_that_is_broken_meanwhile_does_not_leave_the_bench_alone(desk, library, job):
    before = desk.view("k", NINE)
    changed(library.book_file(BOARD), "reads: main-rail", "reeds: main-rail")
    view = desk.view("k", NINE)
    assert view.asked.advice == before.asked.advice
    assert "has errors" in view.trouble
    assert enter(desk, K.READING, check="fuse-ohms", text="0R2").last == 1
    with Desk(library) as other, pytest.raises(BookRefusedError):
        other.view("k", NINE)
    changed(library.book_file(BOARD), "reeds: main-rail", "reads: main-rail")
    assert desk.view("k", NINE).trouble == ""


def test_an_entry_whose_check_was_taken_out_of_the_book_is_kept_and_named(desk, library, job):
    enter(desk, K.READING, check="fell", text="dropped")
    changed(library.book_file(BOARD), "  fell:\n", "  dropped-once:\n")
    view = desk.view("k", NINE)
    assert [(unread.entry.place, "fell" in unread.reason) for unread in view.unread] == [(1, True)]
    assert view.bench == Bench()
    enter(desk, K.READING, check="fuse-ohms", text="0R2")
    close(desk, Outcome.RETURNED)
    assert [found.readings for found in stored(library)] == [
        (Reading("fell", 1, text="dropped"), Reading("fuse-ohms", 2, value=0.2, text="0R2"))
    ]


def test_thirty_benches_at_one_desk_lose_and_double_nothing(desk):
    failures = []

    def work(key):
        try:
            desk.start(BOARD, HARD, now=NINE, key=key)
            for place, (check, text) in enumerate(
                [("fuse-ohms", "0R2"), ("rail-ohms", "3 ohm"), ("fell", "dropped")]
            ):
                for _ in range(2):
                    view = desk.enter(
                        key,
                        K.READING,
                        {"check": check, "text": text},
                        expected=place,
                        token=f"{key}-{place}",
                        by=key,
                        now=at(place),
                    )
                    assert view.last == place + 1
        except BaseException as failure:
            failures.append(failure)
            raise

    threads = [threading.Thread(target=work, args=(f"bench-{k}",)) for k in range(30)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert not failures
    views = [desk.view(f"bench-{k}", NINE) for k in range(30)]
    assert {view.last for view in views} == {3}
    assert {view.entries[-1].by for view in views} == {f"bench-{k}" for k in range(30)}
    assert all(view.asked.advice == views[0].asked.advice for view in views)
