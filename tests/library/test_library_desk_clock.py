from datetime import timedelta

import pytest
from desk_bench import at, entry

from benchlore.jobs import EntryKind as K
from benchlore.jobs import Retest
from benchlore.library.desk_clock import clock_of, soaked_of, trial_of


def shown(entries, now):
    clock = clock_of(entries, at(now))
    return clock.counting, clock.hands_on, clock.waiting


def test_no_time_counts_before_the_clock_is_set():
    clock = clock_of([entry(1, K.NOTE, text="x")], at(60))
    assert (clock.counting, clock.hands_on, clock.waiting, clock.ran) == ("stopped", 0, 0, False)


def test_hands_on_and_waiting_are_counted_apart():
    entries = [
        entry(1, K.CLOCK, 0, to="hands-on"),
        entry(2, K.READING, 4, check="a", text="b"),
        entry(3, K.CLOCK, 10, to="waiting"),
        entry(4, K.CLOCK, 25, to="stopped"),
        entry(5, K.CLOCK, 100, to="hands-on"),
    ]
    assert shown(entries, 103) == ("hands-on", 13, 15)
    assert shown(entries[:3], 12) == ("waiting", 10, 2)
    assert clock_of(entries, at(103)).ran


def test_a_soak_waits_for_its_planned_time_at_most_and_the_clock_goes_on_after_its_retest():
    entries = [entry(1, K.CLOCK, 0, to="hands-on"), entry(2, K.SOAK, 10, minutes=60)]
    assert shown(entries, 40) == ("waiting", 10, 30)
    # Left alone over night, the bench did not work for a night.
    assert shown(entries, 1000) == ("stopped", 10, 60)
    assert shown([*entries, entry(3, K.RETEST, 1000, result="gone")], 1005) == ("hands-on", 15, 60)


def test_a_soak_waits_even_while_the_clock_is_stopped():
    assert shown([entry(1, K.SOAK, 0, minutes=5)], 3) == ("waiting", 0, 3)


@pytest.mark.parametrize(
    "ending",
    [
        entry(3, K.CLOCK, 20, to="hands-on"),
        entry(3, K.UNDO, 20, to=1),
        entry(3, K.FIX, 20, fix="a"),
    ],
)
def test_what_shows_that_somebody_works_ends_a_soak(ending):
    entries = [entry(1, K.CLOCK, 0, to="hands-on"), entry(2, K.SOAK, 10, minutes=60), ending]
    assert shown(entries, 25) == ("hands-on", 15, 10)


def test_an_undo_gives_no_time_back():
    entries = [entry(1, K.CLOCK, 0, to="hands-on"), entry(2, K.UNDO, 10, to=0)]
    assert shown(entries, 12) == ("hands-on", 12, 0)


def test_closing_stops_the_clock_and_reopening_does_not_start_it():
    entries = [entry(1, K.CLOCK, 0, to="hands-on"), entry(2, K.CLOSE, 10), entry(3, K.REOPEN, 500)]
    assert shown(entries, 600) == ("stopped", 10, 0)


def test_a_machine_whose_clock_is_behind_takes_no_time_away():
    entries = [entry(1, K.CLOCK, 10, to="hands-on"), entry(2, K.CLOCK, 5, to="waiting")]
    assert shown(entries, 12) == ("waiting", 0, 2)
    assert shown(entries, 7) == ("waiting", 0, 0)


def test_without_a_fix_there_is_no_trial():
    assert trial_of([entry(1, K.NOTE, text="x")], at(9)) is None


def test_after_a_fix_its_retest_is_due_until_it_is_made():
    fix = entry(1, K.FIX, 0, fix="a", soak=60)
    due = trial_of([fix], at(5))
    assert (due.due, due.held, due.soak, due.soaked) == (True, True, None, 0)
    gone = trial_of([fix, entry(2, K.RETEST, 9, result="gone")], at(10))
    assert (gone.due, gone.held, gone.retest) == (False, True, Retest.GONE)
    there = trial_of([fix, entry(2, K.RETEST, 9, result="still there")], at(10))
    assert (there.due, there.held, there.retest) == (False, False, Retest.STILL_THERE)


def test_a_soak_runs_until_its_end_whatever_happened_to_the_program():
    entries = [entry(1, K.FIX, 0, fix="a"), entry(2, K.SOAK, 10, minutes=60)]
    soak = trial_of(entries, at(30)).soak
    assert (soak.ran, soak.over, soak.until) == (20, False, at(70))
    assert soak.until - soak.started == timedelta(minutes=60)
    late = trial_of(entries, at(500)).soak
    assert (late.ran, late.over) == (60, True)


def test_soaks_add_up_and_count_no_longer_than_they_ran():
    entries = [
        entry(1, K.FIX, 0, fix="a"),
        entry(2, K.SOAK, 10, minutes=60),
        entry(3, K.SOAK, 30, minutes=15),
        entry(4, K.RETEST, 100, result="gone"),
    ]
    assert trial_of(entries[:3], at(40)).soaked == 20 + 10
    assert trial_of(entries, at(999)).soaked == 20 + 15
    more = [*entries, entry(5, K.SOAK, 200, minutes=30)]
    assert (trial_of(more, at(210)).soaked, trial_of(more, at(210)).due) == (45, True)


def test_minutes_that_were_soaked_without_the_clock_count_too():
    entries = [entry(1, K.FIX, 0, fix="a"), entry(2, K.RETEST, 5, result="gone", minutes=90)]
    assert trial_of(entries, at(6)).soaked == 90


def test_a_new_fix_begins_anew():
    entries = [
        entry(1, K.FIX, 0, fix="a"),
        entry(2, K.SOAK, 0, minutes=60),
        entry(3, K.RETEST, 60, result="still there"),
        entry(4, K.FIX, 70, fix="b"),
    ]
    trial = trial_of(entries, at(80))
    assert (trial.entry.data["fix"], trial.due, trial.soak, trial.soaked) == ("b", True, None, 0)


FIX, SOAK = entry(1, K.FIX, 0, fix="a"), entry(2, K.SOAK, 10, minutes=60)


@pytest.mark.parametrize(
    ("entries", "soaked"),
    [
        ([], {}),
        ([FIX, entry(2, K.RETEST, 90, result="gone")], {}),
        ([FIX, SOAK], {1: 40}),
        ([FIX, SOAK, entry(3, K.RETEST, 40, result="gone")], {1: 30}),
        ([FIX, SOAK, entry(3, K.RETEST, 400, result="gone")], {1: 60}),
        ([FIX, entry(2, K.RETEST, 90, result="gone", minutes=75)], {1: 75}),
        ([FIX, SOAK, entry(3, K.RETEST, 40, result="gone", minutes=75)], {1: 105}),
        # Switched off for a quarter of an hour.
        (
            [
                FIX,
                SOAK,
                entry(3, K.POWER, 20, to="off"),
                entry(4, K.POWER, 35, to="on"),
                entry(5, K.RETEST, 45, result="gone"),
            ],
            {1: 20},
        ),
        # It showed itself 8 minutes before it was noted, and that before the retest was.
        (
            [FIX, SOAK, entry(3, K.RESTART, 35, ago=8), entry(4, K.RETEST, 44, result="still there")],
            {1: 17},
        ),
        ([FIX, SOAK, entry(3, K.RETEST, 44, result="still there")], {1: 34}),
        # A pulled cable: it counts as gone, for all of its time.
        ([FIX, SOAK, entry(3, K.RESTART, 35, ago=0), entry(4, K.RETEST, 44, result="gone")], {1: 34}),
        # Nothing for half an hour, then 20 minutes of another soak until it was back.
        (
            [
                FIX,
                SOAK,
                entry(3, K.RETEST, 40, result="gone"),
                entry(4, K.SOAK, 50, minutes=60),
                entry(5, K.RESTART, 70, ago=0),
                entry(6, K.RETEST, 75, result="still there"),
            ],
            {1: 50},
        ),
        # What is still there after the second fix was left by the first one too.
        (
            [
                FIX,
                SOAK,
                entry(3, K.FIX, 40, fix="b"),
                entry(4, K.SOAK, 50, minutes=60),
                entry(5, K.RESTART, 70, ago=0),
                entry(6, K.RETEST, 75, result="still there"),
            ],
            {1: 50, 3: 20},
        ),
        # What was gone after the first, until somebody did a second, ran for its own time.
        (
            [
                FIX,
                SOAK,
                entry(3, K.FIX, 40, fix="b"),
                entry(4, K.SOAK, 45, minutes=60),
                entry(5, K.RETEST, 105, result="gone"),
            ],
            {1: 30, 3: 60},
        ),
    ],
)
def test_minutes_of_soak_after_each_fix(entries, soaked):
    assert soaked_of(entries, at(50)) == soaked
