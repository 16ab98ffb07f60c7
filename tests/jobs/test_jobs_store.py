from dataclasses import replace
from datetime import UTC, date, datetime, timedelta, timezone
from math import inf, nan

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from job_samples import JOB, changed, jobs, numbered

from benchlore.jobs import (
    Added,
    Attempt,
    IntakeRecord,
    Job,
    JobUnstorable,
    Outcome,
    Place,
    Reading,
    Store,
    StoreDamaged,
    tables,
    would_add,
)
from benchlore.jobs.store_rows import CHUNK

BARE = Job("s", "1", "b", "c")


def intake(**fields) -> IntakeRecord:
    record = IntakeRecord(
        "march.csv", "ab" * 32, datetime(2026, 4, 1, 9, 30, tzinfo=UTC), "march", rows=3, refused=1
    )
    return replace(record, **fields)


def test_a_new_store_is_empty(place):
    with Store.open(place) as store:
        assert list(store.jobs()) == []
        assert store.count() == 0
        assert store.boards() == {}
        assert store.intakes() == ()
        assert store.job("s", "1") is None


def test_a_job_comes_back_as_it_was_after_reopening(place):
    with Store.open(place) as store:
        assert store.add([JOB, BARE]) == Added(new=2)
    with Store.open(place, create=False) as store:
        assert store.job(JOB.shop, JOB.number) == JOB
        assert store.job("s", "1") == BARE
        assert store.job("s", "2") is None


def test_over_range_and_the_order_of_readings_survive(place):
    job = changed(
        readings=(Reading("b", 2, value=inf), Reading("a", 1, value=-inf), Reading("a", 1, value=-0.0))
    )
    with Store.open(place) as store:
        store.add([job])
        assert store.job(job.shop, job.number) == job


@pytest.mark.parametrize("kind", ["sqlite", "postgresql"])
@settings(max_examples=30, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(records=st.lists(jobs(), max_size=6, unique_by=lambda job: (job.shop, job.number)))
def test_any_job_comes_back_as_it_was(kind, request, tmp_path_factory, records):
    place = tmp_path_factory.mktemp("any") if kind == "sqlite" else request.getfixturevalue("server").schema()
    with Store.open(place) as store:
        assert store.add(records) == Added(new=len(records))
        assert list(store.jobs()) == sorted(records, key=lambda job: (job.shop.encode(), job.number.encode()))
        assert store.add(records) == Added(same=len(records))


def test_the_same_jobs_again_change_nothing(place):
    with Store.open(place) as store:
        store.add([JOB, BARE])
        assert store.add([changed(readings=JOB.readings[::-1]), BARE]) == Added(same=2)
        assert store.job(JOB.shop, JOB.number) == JOB


def test_a_record_that_fills_blanks_is_merged_and_stored(place):
    partly = changed(outcome=Outcome.OPEN, fault=None, readings=JOB.readings[:1], hands_on=None, opened=None)
    with Store.open(place) as store:
        store.add([partly])
        assert store.add([JOB]) == Added(merged=1)
        assert store.job(JOB.shop, JOB.number) == JOB


def test_a_record_that_denies_the_stored_job_is_told_and_not_stored(place):
    other = changed(fault="sense-via", notes="")
    with Store.open(place) as store:
        store.add([JOB])
        added = store.add([other, BARE])
        assert (added.new, added.conflicting) == (1, 1)
        assert [(each.job, each.field) for each in added.conflicts] == [(other, "fault")]
        assert store.job(JOB.shop, JOB.number) == JOB


def test_a_job_that_stands_twice_among_the_offered_is_joined(place):
    records = [
        replace(BARE, technician="Ines"),
        replace(BARE, notes="Wet."),
        BARE,
        replace(BARE, technician="Ben"),
    ]
    with Store.open(place) as store:
        added = store.add(records)
        assert (added.new, added.merged, added.same, added.conflicting) == (1, 1, 1, 1)
        assert store.job("s", "1") == replace(BARE, technician="Ines", notes="Wet.")


def test_a_stored_job_that_stands_twice_among_the_offered_is_joined_with_both(place):
    records = [replace(BARE, technician="Ines"), replace(BARE, notes="Wet."), replace(BARE, technician="Ben")]
    with Store.open(place) as store:
        store.add([BARE])
        assert (would := store.would_add(records)) == store.add(records)
        assert (would.merged, would.conflicting) == (2, 1)
        assert store.job("s", "1") == replace(BARE, technician="Ines", notes="Wet.")


def test_a_job_that_stands_twice_far_apart_is_joined(place):
    records = [replace(BARE, technician="Ines"), *numbered(CHUNK, readings=()), replace(BARE, notes="Wet.")]
    with Store.open(place) as store:
        added = store.add(records, intake=intake())
        assert (added.new, added.merged) == (CHUNK + 1, 1)
        assert store.job("s", "1") == replace(BARE, technician="Ines", notes="Wet.")
        assert len(store.sources("s", "1")) == 1


def test_what_would_be_added_is_what_is_added_and_nothing_is_written(place):
    stored = [JOB, *numbered(5)]
    offered = [
        JOB,
        changed(fault="sense-via"),
        *numbered(8, notes="Dropped on its corner. Dried."),
        BARE,
        replace(BARE, notes="x"),
    ]
    with Store.open(place) as store:
        store.add(stored)
        would = store.would_add(offered)
        assert list(store.jobs()) == sorted(stored, key=lambda job: job.number)
        assert would == store.add(offered)
    assert (would.new, would.same, would.merged, would.conflicting) == (4, 1, 6, 1)


def test_what_would_be_added_to_no_store_at_all():
    assert would_add([BARE, BARE, replace(BARE, number="2")]) == Added(new=2, same=1)


def test_jobs_come_in_the_order_of_shop_and_number(place):
    names = [("b", "2"), ("b", "10"), ("B", "1"), ("ä", "1"), ("a", "é"), ("a", "f"), ("a", "")]
    with Store.open(place) as store:
        store.add(replace(BARE, shop=shop, number=number) for shop, number in names)
        found = [(job.shop, job.number) for job in store.jobs()]
    assert found == [("B", "1"), ("a", ""), ("a", "f"), ("a", "é"), ("b", "10"), ("b", "2"), ("ä", "1")]


def test_more_jobs_than_are_read_at_a_time_come_in_order_with_their_readings(place):
    records = [
        replace(job, readings=(Reading("n", 1, value=float(place_)),))
        for place_, job in enumerate(numbered(CHUNK + 7))
    ]
    with Store.open(place) as store:
        store.add(reversed(records))
        assert list(store.jobs()) == records


@pytest.mark.parametrize(
    ("chosen", "numbers"),
    [
        ({}, ["1", "2", "3", "4"]),
        ({"board": "b"}, ["1", "2", "3"]),
        ({"board": "b", "complaint": "dead"}, ["3"]),
        ({"shop": "s"}, ["1", "2", "3", "4"]),
        ({"shop": "nobody"}, []),
        ({"since": date(2026, 1, 2)}, ["2", "4"]),
        ({"until": date(2026, 1, 2)}, ["1", "2"]),
        ({"since": date(2026, 1, 2), "until": date(2026, 1, 2), "board": "b"}, ["2"]),
        ({"board": ""}, []),
    ],
)
def test_jobs_are_chosen_and_counted_alike(place, chosen, numbers):
    records = [
        Job("s", "1", "b", "restarts", opened=date(2026, 1, 1)),
        Job("s", "2", "b", "restarts", opened=date(2026, 1, 2)),
        Job("s", "3", "b", "dead"),
        Job("s", "4", "other", "dead", opened=date(2026, 1, 3)),
    ]
    with Store.open(place) as store:
        store.add(records)
        assert [job.number for job in store.jobs(**chosen)] == numbers
        assert store.count(**chosen) == len(numbers)


def test_boards_are_counted_in_the_order_of_names(place):
    with Store.open(place) as store:
        store.add([*numbered(3), changed(number="x", board="Z"), changed(number="y", board="a")])
        assert list(store.boards().items()) == [("Z", 1), ("a", 1), ("halden-t4", 3)]


def test_jobs_are_those_of_the_moment_when_reading_began(place):
    with Store.open(place) as store:
        store.add(numbered(CHUNK + 5))
        reading = store.jobs()
        first = next(reading)
        store.add([changed(number="Z-1")])
        store.remove(first.shop, f"Q-{CHUNK:05}")
        assert len([first, *reading]) == CHUNK + 5
        assert store.count() == CHUNK + 5


def test_a_removed_job_takes_its_readings_and_source_with_it(place):
    with Store.open(place) as store:
        store.add([JOB, BARE], intake=intake())
        assert store.remove(JOB.shop, JOB.number)
        assert not store.remove(JOB.shop, JOB.number)
        assert list(store.jobs()) == [BARE]
        assert store.sources(JOB.shop, JOB.number) == ()
        with store.database.reading() as connection:
            assert connection.execute(tables.reading.select()).all() == []
            assert connection.execute(tables.attempt.select()).all() == []
        assert store.add([JOB]) == Added(new=1)
        assert store.job(JOB.shop, JOB.number) == JOB


def test_a_replaced_job_is_the_new_one_whole(place):
    with Store.open(place) as store:
        assert not store.replace(JOB)
        assert store.replace(changed(fault="sense-via", readings=(), extra={}))
        assert list(store.jobs()) == [changed(fault="sense-via", readings=(), extra={})]


def test_progress_counts_the_jobs_and_may_stop_the_work(place):
    class StoppedError(Exception):
        pass

    told = []

    def stop(done):
        told.append(done)
        if done > CHUNK:
            raise StoppedError

    with Store.open(place) as store:
        with pytest.raises(StoppedError):
            store.add(numbered(CHUNK + 3), intake=intake(), progress=stop)
        assert told == [CHUNK, CHUNK + 3]
        assert store.count() == 0
        assert store.intakes() == ()


def test_jobs_that_break_off_leave_nothing_behind(place):
    def broken():
        yield from numbered(CHUNK + 1)
        raise ValueError("row 2002 is torn")

    with Store.open(place) as store:
        with pytest.raises(ValueError, match="row 2002 is torn"):
            store.add(broken(), intake=intake())
        assert store.count() == 0
        assert store.add([JOB]) == Added(new=1)


@pytest.mark.parametrize(
    ("job", "message"),
    [
        (changed(notes="a\0b"), "notes holds a NUL character"),
        (changed(technician="\ud800"), "technician holds half a character"),
        (changed(hands_on=nan), "hands_on is not a number"),
        (changed(readings=(Reading("c", 1, value=nan),)), "the value of reading 'c' is not a number"),
        (changed(readings=(Reading("c", 2**63),)), "the step of reading 'c' is too large"),
        (changed(attempts=(Attempt("f\0", 1),)), "the fix of attempt 'f.x00' holds a NUL"),
        (changed(extra={"k": "\0"}), "extra 'k' holds a NUL"),
        (changed(extra={"k\0": ""}), "the name of extra 'k.x00' holds a NUL"),
    ],
)
def test_a_job_that_no_store_keeps_is_refused_before_anything_is_written(place, job, message):
    with Store.open(place) as store:
        with pytest.raises(JobUnstorable, match=f"job 'Q-1041' of shop 'Quay Street Bench': {message}"):
            store.add([BARE, job])
        with pytest.raises(JobUnstorable, match=message):
            store.replace(job)
        with pytest.raises(JobUnstorable, match=message):
            store.would_add([job])
        assert store.count() == 0


def test_an_intake_is_remembered_with_its_counts_and_where_each_job_stood(place):
    record = intake(places={("s", "1"): Place("Sheet 2", 17), (JOB.shop, JOB.number): Place("", 2)})
    with Store.open(place) as store:
        store.add([JOB])
        store.add([BARE, changed(fault="sense-via"), replace(BARE, number="2")], intake=record)
        (found,) = store.intakes()
        assert (found.file, found.sha256, found.taken, found.mapping) == (
            "march.csv",
            "ab" * 32,
            record.taken,
            "march",
        )
        assert (found.rows, found.refused) == (3, 1)
        assert (found.new, found.same, found.merged, found.conflicting) == (2, 0, 0, 1)
        (source,) = store.sources("s", "1")
        assert (source.intake, source.place) == (found, Place("Sheet 2", 17))
        assert store.sources("s", "2")[0].place is None
        assert store.sources(JOB.shop, JOB.number) == ()


def test_a_job_comes_from_every_file_that_added_to_it(place):
    with Store.open(place) as store:
        store.add([BARE], intake=intake(file="march.csv"))
        store.add([BARE], intake=intake(file="again.csv"))
        store.add([replace(BARE, notes="Wet.")], intake=intake(file="april.csv"))
        assert [each.intake.file for each in store.sources("s", "1")] == ["march.csv", "april.csv"]
        assert [(each.new, each.same, each.merged) for each in store.intakes()] == [
            (1, 0, 0),
            (0, 1, 0),
            (0, 0, 1),
        ]


def test_a_file_that_was_taken_in_before_is_known_by_its_contents(place):
    with Store.open(place) as store:
        store.add([BARE], intake=intake(file="march.csv"))
        store.add([BARE], intake=intake(file="renamed.csv"))
        assert store.taken("ab" * 32).file == "renamed.csv"
        assert store.taken("cd" * 32) is None


def test_the_moment_of_an_intake_is_the_same_in_any_time_zone(place):
    taken = datetime(2026, 4, 1, 9, 30, tzinfo=timezone(timedelta(hours=2)))
    with Store.open(place) as store:
        store.add([], intake=intake(taken=taken))
        assert store.intakes()[0].taken == taken
        assert store.intakes()[0].taken.tzinfo is UTC


def test_a_moment_without_a_time_zone_is_refused(place):
    with Store.open(place) as store, pytest.raises(Exception, match="has no time zone"):
        store.add([], intake=intake(taken=datetime(2026, 4, 1)))  # noqa: DTZ001


def test_a_value_that_no_job_has_is_told_as_damage(tmp_path):
    import sqlite3

    with Store.open(tmp_path) as store:
        store.add([JOB])
    connection = sqlite3.connect(tmp_path / "jobs.sqlite")
    connection.execute("UPDATE job SET outcome = 'fixed'")
    connection.commit()
    connection.close()
    with Store.open(tmp_path) as store:
        for ask in (
            lambda: list(store.jobs()),
            lambda: store.job(JOB.shop, JOB.number),
            lambda: store.columns(JOB.board),
        ):
            with pytest.raises(StoreDamaged, match=r"it holds what no job holds: .*fixed"):
                ask()
