from datetime import date

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from job_samples import JOB, alike_jobs, changed, jobs

from benchlore.jobs.merge import canonical, merge
from benchlore.jobs.values import UNLISTED, Attempt, Job, Outcome, Reading, Retest


def bare(**fields) -> Job:
    return Job("s", "1", "b", "c", **fields)


def repeated_readings() -> st.SearchStrategy[Job]:
    """Records whose readings are all of one check, at two steps."""
    reading = st.builds(
        Reading,
        st.just("a"),
        st.integers(1, 2),
        st.sampled_from([None, "x"]),
        st.none(),
        st.sampled_from(["", "p", "q"]),
    )
    return st.lists(reading, max_size=3).map(lambda readings: bare(readings=tuple(readings)))


def test_the_same_record_adds_nothing():
    assert merge(JOB, changed()).job is JOB


def soaked(retest: Retest, minutes: float | None) -> Job:
    return bare(attempts=(Attempt("a", 1, retest, minutes),))


@pytest.mark.parametrize("minutes", [None, 60.0])
def test_minutes_of_soak_fill_a_blank_and_those_before_the_retest_give_way(minutes):
    known, before = soaked(Retest.GONE, 180.0), soaked(Retest.UNKNOWN, minutes)
    assert merge(before, known).job == known
    assert merge(known, before).job is known
    assert merge(soaked(Retest.GONE, None), known).job == known
    assert merge(soaked(Retest.UNKNOWN, 60.0), soaked(Retest.UNKNOWN, 90.0)).job.attempts[0].soaked == 90.0


def test_two_soaks_of_one_retest_deny_each_other():
    (conflict,) = merge(soaked(Retest.GONE, 60.0), soaked(Retest.GONE, 61.0)).conflicts
    assert (conflict.field, conflict.stored, conflict.offered) == (
        "attempt 'a' at step 1",
        "gone after 60 min of soak",
        "gone after 61 min of soak",
    )


def test_readings_in_another_order_add_nothing():
    assert merge(JOB, changed(readings=JOB.readings[::-1])).job is JOB


@pytest.mark.parametrize(
    ("field", "blank"),
    [
        ("opened", None),
        ("readings", ()),
        ("attempts", ()),
        ("outcome", Outcome.OPEN),
        ("fault", None),
        ("fault", UNLISTED),
        ("fault_text", ""),
        ("hands_on", None),
        ("waiting", None),
        ("comeback", None),
        ("technician", ""),
        ("notes", ""),
        ("extra", {}),
    ],
)
def test_a_blank_is_filled_from_either_side(field, blank):
    assert merge(changed(**{field: blank}), JOB).job == JOB
    assert merge(JOB, changed(**{field: blank})).job is JOB


@pytest.mark.parametrize(
    ("field", "other"),
    [
        ("board", "halden-t5"),
        ("complaint", "dead"),
        ("opened", date(2026, 4, 1)),
        ("outcome", Outcome.RUINED),
        ("fault", "sense-via"),
        ("fault_text", "via"),
        ("hands_on", 26.0),
        ("waiting", 0.0),
        ("comeback", True),
        ("technician", "Ben"),
        ("notes", "Wet."),
    ],
)
def test_a_denial_keeps_the_stored_job_and_names_the_field(field, other):
    merged = merge(JOB, changed(**{field: other, "readings": ()}))
    assert merged.job is JOB
    assert [(each.field, each.stored, each.offered) for each in merged.conflicts] == [
        (field, getattr(JOB, field), other)
    ]


def test_every_denial_is_told_at_once():
    merged = merge(JOB, changed(fault="sense-via", technician="Ben", extra={"shelf": "8"}))
    assert [each.field for each in merged.conflicts] == ["fault", "technician", "extra 'shelf'"]


def test_a_conflict_says_which_job_and_both_values():
    (conflict,) = merge(JOB, changed(fault="sense-via")).conflicts
    assert str(conflict) == (
        "job 'Q-1041' of shop 'Quay Street Bench': fault is 'l1204-joint' in the store and 'sense-via' in this "
        "record; the stored job stays as it is"
    )


def test_a_record_that_denies_one_thing_adds_nothing_else():
    stored = changed(technician="")
    assert merge(stored, changed(fault="sense-via")).job is stored


def test_a_check_not_recorded_before_is_added_in_the_order_of_steps():
    stored = bare(readings=(Reading("a", 1, "x"), Reading("c", 5, "x")))
    merged = merge(stored, bare(readings=(Reading("b", 3, "y"),)))
    assert merged.job.readings == (Reading("a", 1, "x"), Reading("b", 3, "y"), Reading("c", 5, "x"))


def test_another_value_of_a_check_at_the_same_step_is_a_conflict():
    merged = merge(
        bare(readings=(Reading("a", 1, value=4180.0),)),
        bare(readings=(Reading("a", 1, value=12.0, text="12R"),)),
    )
    (conflict,) = merged.conflicts
    assert (conflict.field, conflict.stored, conflict.offered) == (
        "reading 'a' at step 1",
        "4180",
        "12, written '12R'",
    )


def test_a_result_against_a_number_is_a_conflict():
    assert merge(
        bare(readings=(Reading("a", 1, "x"),)), bare(readings=(Reading("a", 1, value=2.0),))
    ).conflicts


def test_a_reading_that_was_not_understood_is_filled_by_the_same_words():
    stored, offered = Reading("a", 1, text="4k18"), Reading("a", 1, value=4180.0, text="4k18")
    assert merge(bare(readings=(stored,)), bare(readings=(offered,))).job.readings == (offered,)
    assert merge(
        bare(readings=(stored,)), bare(readings=(Reading("a", 1, value=12.0, text="12R"),))
    ).conflicts


def test_the_same_value_in_other_words_is_the_same_reading():
    stored, offered = (
        Reading("a", 1, value=4180.0, text="4.18 kohm"),
        Reading("a", 1, value=4180.0, text="4k18"),
    )
    assert merge(bare(readings=(stored,)), bare(readings=(offered,))).job.readings == (stored,)


def test_steps_that_are_numbered_anew_make_no_new_readings():
    stored = bare(readings=(Reading("a", 1, "x"), Reading("b", 2, "y")), attempts=(Attempt("fix", 3),))
    offered = bare(
        readings=(Reading("new", 1, "z"), Reading("a", 2, "x"), Reading("b", 3, "y")),
        attempts=(Attempt("fix", 4, Retest.GONE),),
    )
    merged = merge(stored, offered).job
    assert [each.check for each in merged.readings] == ["a", "new", "b"]
    assert merged.attempts == (Attempt("fix", 3, Retest.GONE),)


def test_a_check_that_was_done_again_is_kept_twice():
    first, again = Reading("a", 1, value=12.0), Reading("a", 4, value=4180.0)
    assert merge(bare(readings=(first,)), bare(readings=(first, again))).job.readings == (first, again)
    assert merge(bare(readings=(first,)), bare(readings=(again,))).job.readings == (first, again)


def test_several_outcomes_of_a_check_at_one_step_are_a_conflict_unless_both_say_all_of_them():
    stored = bare(readings=(Reading("a", 1, "x"), Reading("a", 1, "y")))
    assert merge(stored, bare(readings=stored.readings[::-1])).job is stored
    (conflict,) = merge(stored, bare(readings=(Reading("a", 1, "x"), Reading("a", 1, "z")))).conflicts
    assert (conflict.stored, conflict.offered) == ("x and y", "x and z")


def test_another_retest_of_the_same_attempt_is_a_conflict():
    stored, offered = (
        bare(attempts=(Attempt("fix", 1, Retest.GONE),)),
        bare(attempts=(Attempt("fix", 1, Retest.STILL_THERE),)),
    )
    (conflict,) = merge(stored, offered).conflicts
    assert (conflict.field, conflict.stored, conflict.offered) == (
        "attempt 'fix' at step 1",
        "gone",
        "still there",
    )


def test_minutes_of_an_open_job_are_so_far():
    still_open = bare(hands_on=10.0)
    finished = bare(hands_on=55.0, outcome=Outcome.REPAIRED)
    assert merge(still_open, finished).job.hands_on == 55.0
    assert merge(finished, still_open).job is finished
    assert merge(still_open, bare(hands_on=20.0)).job.hands_on == 20.0
    assert merge(still_open, bare(outcome=Outcome.REPAIRED)).job.hands_on == 10.0


def test_notes_may_go_on():
    assert merge(bare(notes="Wet."), bare(notes="Wet. Dried.")).job.notes == "Wet. Dried."
    assert merge(bare(notes="Wet. Dried."), bare(notes="Wet.")).job.notes == "Wet. Dried."


def test_unlisted_gives_way_to_a_name_and_never_back():
    assert merge(bare(fault=UNLISTED), bare(fault="f")).job.fault == "f"
    assert merge(bare(fault="f"), bare(fault=UNLISTED)).job.fault == "f"
    assert merge(bare(fault=None), bare(fault=UNLISTED)).job.fault == UNLISTED


def test_two_jobs_cannot_be_joined():
    with pytest.raises(ValueError, match="job 'Q-1041' of shop 'Quay Street Bench' and job '2' of shop"):
        merge(JOB, changed(number="2"))


@given(jobs("s", "1"))
def test_joining_a_job_with_itself_changes_nothing(job):
    assert merge(job, job).job is job
    assert merge(job, canonical(job)).job is job


@settings(max_examples=250)
@given(alike_jobs(), alike_jobs())
def test_the_order_of_two_records_does_not_matter(one, two):
    there, back = merge(one, two), merge(two, one)
    assert {each.field for each in there.conflicts} == {each.field for each in back.conflicts}
    assume(not there.conflicts)
    assert canonical(there.job) == canonical(back.job)


@settings(max_examples=250)
@given(alike_jobs(), alike_jobs())
def test_joining_again_adds_nothing(one, two):
    merged = merge(one, two)
    assume(not merged.conflicts)
    assert merge(merged.job, one).job is merged.job
    assert merge(merged.job, two).job is merged.job


@settings(max_examples=250)
@given(repeated_readings(), repeated_readings())
def test_the_laws_hold_for_a_check_that_stands_several_times_at_one_step(one, two):
    there, back = merge(one, two), merge(two, one)
    assert bool(there.conflicts) == bool(back.conflicts)
    assume(not there.conflicts)
    assert canonical(there.job) == canonical(back.job)
    assert merge(there.job, one).job is there.job
    assert merge(there.job, two).job is there.job


@settings(max_examples=200)
@given(alike_jobs(), alike_jobs())
def test_nothing_that_was_recorded_is_lost(one, two):
    merged = merge(one, two)
    assume(not merged.conflicts)
    for record in (one, two):
        assert {each.check for each in record.readings} <= {each.check for each in merged.job.readings}
        assert {each.fix for each in record.attempts} <= {each.fix for each in merged.job.attempts}
        assert record.extra.items() <= merged.job.extra.items()
        assert record.notes in merged.job.notes


@given(alike_jobs(), st.randoms(use_true_random=False))
def test_the_order_in_which_readings_are_listed_does_not_matter(job, random):
    shuffled = list(job.readings)
    random.shuffle(shuffled)
    assert canonical(changed(readings=tuple(shuffled))) == canonical(changed(readings=job.readings))
