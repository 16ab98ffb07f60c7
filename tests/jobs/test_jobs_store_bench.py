import sqlite3
from contextlib import closing as closed_after
from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone

import pytest
from bench_samples import FINISHED, NINE, OPEN_JOB, closing, draft, job_with, reopening
from job_samples import JOB, changed

from benchlore.jobs import (
    Attempt,
    BenchUnstorable,
    EntryConflict,
    EntryKind,
    JobClosed,
    JobNotClosed,
    NoOpenJob,
    NumberTaken,
    Outcome,
    Retest,
    Store,
    StoreDamaged,
    copy_store,
)


@pytest.fixture
def store(place):
    with Store.open(place) as store:
        yield store


def test_an_open_job_comes_back_as_it_was_put_there(store):
    job = job_with(comeback_of=("Quay Street Bench", "Q-7"))
    assert store.open_job(job) == job
    assert store.open_job_of("k-1") == job
    assert store.open_jobs() == (job,)
    assert store.journal("k-1") == (job, ())
    assert store.open_job_of("k-2") is None


def test_entries_come_back_in_order_with_places_from_one(store):
    store.open_job(OPEN_JOB)
    drafts = [
        draft(EntryKind.READING, token="a", check="vsys-ohms", text="4k7"),
        draft(EntryKind.RETEST, token="b", result="gone", minutes=2.5),
        draft(EntryKind.CLOSE, token="c", fault=None, hands_on=0.1 + 0.2, waiting=7),
    ]
    stored = [store.append("k-1", each, expected=k) for k, each in enumerate(drafts)]
    assert [entry.place for entry in stored] == [1, 2, 3]
    assert [(entry.kind, dict(entry.data), entry.at, entry.by, entry.token) for entry in stored] == [
        (each.kind, dict(each.data), each.at, each.by, each.token) for each in drafts
    ]
    assert store.entries("k-1") == tuple(stored)
    assert store.entries("k-1", after=2) == tuple(stored[2:])


SOAKING = [
    draft(EntryKind.FIX, token="fix", fix="reflow-l1204", soak=180.0),
    replace(draft(EntryKind.SOAK, token="soak", minutes=2.0), data={"minutes": 180.0}),
    draft(EntryKind.POWER, token="off", minutes=30.0, to="off"),
    draft(EntryKind.POWER, token="on", minutes=45.5, to="on"),
    draft(EntryKind.RESTART, token="restart", minutes=61.0, ago=0.1 + 0.2),
    draft(EntryKind.RETEST, token="retest", minutes=62.0, result="still there"),
]


def test_a_soak_with_its_restarts_and_switches_comes_back_as_it_was_entered(store):
    store.open_job(OPEN_JOB, SOAKING[:2])
    for place, each in enumerate(SOAKING[2:], 2):
        store.append("k-1", each, expected=place)
    found = store.entries("k-1")
    assert [(each.kind, dict(each.data), each.at) for each in found] == [
        (each.kind, dict(each.data), each.at) for each in SOAKING
    ]
    with pytest.raises(EntryConflict) as refused:
        store.append("k-1", draft(EntryKind.RESTART, token="late", ago=0.0), expected=3)
    assert [each.kind for each in refused.value.newer] == ["power", "restart", "retest"]


def test_a_soak_goes_from_a_file_to_a_server_and_back_with_the_record_that_it_became(tmp_path, place):
    tried = replace(FINISHED, attempts=(Attempt("reflow-l1204", 2, Retest.GONE, 180.25),))
    with Store.open(tmp_path / "from.sqlite") as source, Store.open(place) as target:
        source.open_job(OPEN_JOB, SOAKING)
        source.close_job("k-1", closing(), tried, expected=len(SOAKING))
        copy_store(source, target)
        assert target.journals(closed=True) == source.journals(closed=True)
        assert list(target.jobs()) == [tried]
        assert target.columns("halden-t4").attempt_soaked.tolist() == [180.25]
        with Store.open(tmp_path / "back.sqlite") as back:
            copy_store(target, back)
            assert back.entries("k-1") == source.entries("k-1")
            assert list(back.jobs()) == [tried]


def test_the_data_of_an_entry_cannot_be_changed(store):
    store.open_job(OPEN_JOB, [draft()])
    with pytest.raises(TypeError, match="item assignment"):
        store.entries("k-1")[0].data["text"] = "other"


def test_moments_are_kept_in_utc(store):
    east = timezone(timedelta(hours=9))
    store.open_job(job_with(opened=datetime(2026, 11, 26, 8, 0, tzinfo=east)))
    found = store.open_job_of("k-1")
    assert (found.opened, found.opened.tzinfo) == (datetime(2026, 11, 25, 23, 0, tzinfo=UTC), UTC)


def test_a_job_is_opened_with_its_first_entries_or_not_at_all(store):
    with pytest.raises(BenchUnstorable, match="token is empty"):
        store.open_job(OPEN_JOB, [draft(token="a"), draft(token="")])
    assert store.open_jobs(closed=None) == ()
    store.open_job(OPEN_JOB, [draft(token="a"), draft(token="b")])
    assert [entry.place for entry in store.entries("k-1")] == [1, 2]


def test_opening_a_job_twice_with_one_key_makes_one_job(store):
    first = store.open_job(job_with(number="26-1125-"), [draft()])
    again = store.open_job(job_with(number="26-1125-"), [draft()])
    assert again == first
    assert len(store.open_jobs()) == 1
    assert len(store.entries("k-1")) == 1


def test_the_next_number_of_the_day_passes_over_finished_and_open_jobs_of_the_shop(store):
    store.add(
        [
            changed(number="26-1125-4"),
            changed(number="26-1125-x"),
            changed(number="26-1124-9"),
            changed(number="26-1125-77", shop="another"),
        ]
    )
    numbers = [store.open_job(job_with(key=str(k), number="26-1125-")).number for k in range(7)]
    # Ten comes after nine, although not in the order of texts.
    assert numbers == [f"26-1125-{n}" for n in range(5, 12)]


def test_the_same_token_adds_nothing_and_gives_the_stored_entry(store):
    store.open_job(OPEN_JOB)
    first = store.append("k-1", draft(token="a"), expected=0)
    store.append("k-1", draft(token="b"), expected=1)
    assert store.append("k-1", draft(token="a", text="sent again"), expected=0) == first
    assert len(store.entries("k-1")) == 2


def test_one_token_may_stand_in_two_jobs(store):
    for key in ("k-1", "k-2"):
        store.open_job(job_with(key=key, number=key))
        assert store.append(key, draft(token="a"), expected=0).job == key


@pytest.mark.parametrize("expected", [0, 1, 3, 99, -1])
def test_an_entry_is_refused_with_the_newer_ones_if_somebody_else_was_there(store, expected):
    store.open_job(OPEN_JOB, [draft(token="a"), draft(token="b")])
    with pytest.raises(EntryConflict, match=r"after entry .*nothing was stored") as refused:
        store.append("k-1", draft(token="c"), expected=expected)
    assert refused.value.newer == store.entries("k-1", after=max(0, expected))
    assert len(store.entries("k-1")) == 2


def test_nothing_is_entered_on_a_job_that_is_not_there_or_closed(store):
    with pytest.raises(NoOpenJob, match="'k-9'"):
        store.append("k-9", draft(), expected=0)
    with pytest.raises(NoOpenJob, match="'k-9'"):
        store.journal("k-9")
    store.open_job(OPEN_JOB)
    store.close_job("k-1", closing(), FINISHED, expected=0)
    with pytest.raises(JobClosed, match="open it again"):
        store.append("k-1", draft(), expected=1)
    with pytest.raises(JobClosed, match="open it again"):
        store.close_job("k-1", closing("another"), FINISHED, expected=1)


def test_closing_stores_the_finished_job_for_learning(store):
    store.open_job(OPEN_JOB)
    entry = store.close_job("k-1", closing(), FINISHED, expected=0)
    assert (entry.place, entry.kind) == (1, EntryKind.CLOSE)
    assert list(store.jobs()) == [FINISHED]
    assert len(store.columns("halden-t4")) == 1
    assert store.open_jobs() == ()
    assert store.open_jobs(closed=True) == (replace(OPEN_JOB, closed=True),)
    assert store.open_jobs(closed=None) == store.open_jobs(closed=True)
    assert store.close_job("k-1", closing(), FINISHED, expected=0) == entry
    assert store.count() == 1


def test_closing_marks_the_job_that_it_came_back_from(store):
    store.add([JOB, changed(number="Q-1042")])
    store.open_job(job_with(comeback_of=(JOB.shop, JOB.number)))
    store.close_job("k-1", closing(), FINISHED, expected=0)
    assert store.job(JOB.shop, JOB.number) == changed(comeback=True)
    assert store.job(JOB.shop, "Q-1042") == changed(number="Q-1042")


def test_a_number_that_another_record_holds_leaves_the_job_open(store):
    store.open_job(OPEN_JOB)
    other = replace(FINISHED, fault="u-dead")
    store.add([other])
    with pytest.raises(NumberTaken, match=r"'26-1125-1'.*fault.*nothing was stored") as refused:
        store.close_job("k-1", closing(), FINISHED, expected=0)
    assert [conflict.stored for conflict in refused.value.conflicts] == ["u-dead"]
    assert store.journal("k-1") == (OPEN_JOB, ())
    assert list(store.jobs()) == [other]


def test_closing_joins_a_record_that_was_taken_in_meanwhile_and_does_not_deny_it(store):
    store.open_job(OPEN_JOB)
    store.add([replace(FINISHED, technician="Ines", readings=(), outcome=Outcome.OPEN, fault=None)])
    store.close_job("k-1", closing(), FINISHED, expected=0)
    assert list(store.jobs()) == [replace(FINISHED, technician="Ines")]


def test_a_reopened_job_counts_as_open_and_the_next_closing_replaces_it(store):
    store.open_job(OPEN_JOB)
    store.close_job("k-1", closing(), FINISHED, expected=0)
    with pytest.raises(EntryConflict, match="after entry 0"):
        store.reopen_job("k-1", reopening(), expected=0)
    entry = store.reopen_job("k-1", reopening(), expected=1)
    assert store.reopen_job("k-1", reopening(), expected=1) == entry
    assert store.open_jobs() == (OPEN_JOB,)
    assert [(job.outcome, job.fault) for job in store.jobs()] == [(Outcome.OPEN, None)]
    other = replace(FINISHED, readings=(), fault="u-dead", outcome=Outcome.RETURNED)
    store.close_job("k-1", closing("again"), other, expected=2)
    assert list(store.jobs()) == [other]
    assert [each.kind for each in store.entries("k-1")] == ["close", "reopen", "close"]


def test_a_reopened_job_stays_a_comeback(store):
    store.open_job(OPEN_JOB)
    store.close_job("k-1", closing(), FINISHED, expected=0)
    store.replace(replace(FINISHED, comeback=True))
    store.reopen_job("k-1", reopening(), expected=1)
    store.close_job("k-1", closing("again"), FINISHED, expected=2)
    assert list(store.jobs()) == [replace(FINISHED, comeback=True)]


def test_an_open_job_is_not_opened_again(store):
    store.open_job(OPEN_JOB)
    with pytest.raises(JobNotClosed, match="this job is open"):
        store.reopen_job("k-1", reopening(), expected=0)
    assert store.entries("k-1") == ()


def test_open_jobs_come_the_last_opened_first_and_by_shop(store):
    later = job_with(key="k-2", number="2", opened=NINE + timedelta(hours=1))
    other = job_with(key="k-3", number="3", shop="another", opened=NINE + timedelta(hours=2))
    for job in (OPEN_JOB, other, later):
        store.open_job(job, [draft(token=job.key)])
    assert store.open_jobs() == (other, later, OPEN_JOB)
    assert store.open_jobs(shop=OPEN_JOB.shop) == (later, OPEN_JOB)
    assert store.journals(shop="another") == ((other, store.entries("k-3")),)


@pytest.mark.parametrize(
    ("changes", "match"),
    [
        ({"said": "x" * 2001}, "said has 2,001 characters; 2,000 are the most"),
        ({"device": "x" * 2001}, "device has"),
        ({"technician": "x" * 201}, "technician has 201"),
        ({"key": "x" * 201}, "key has"),
        ({"key": ""}, "key is empty"),
        ({"said": "a\0b"}, "said holds a NUL"),
        ({"said": "a\ud800b"}, "half a character"),
        ({"comeback_of": ("s", "n" * 201)}, "earlier job has"),
        ({"opened": NINE.replace(tzinfo=None)}, "no time zone"),
    ],
)
def test_a_job_that_is_too_large_or_unstorable_is_refused(tmp_path, changes, match):
    with Store.open(tmp_path) as store:
        with pytest.raises(BenchUnstorable, match=match):
            store.open_job(job_with(**changes))
        assert store.open_jobs(closed=None) == ()


@pytest.mark.parametrize(
    ("data", "match"),
    [
        ({"text": "x" * 10_001}, "'text' has 10,001"),
        ({"check": "x" * 2_001}, "'check' has 2,001"),
        ({"text": "a\0b"}, "NUL"),
        ({"minutes": float("nan")}, "not a finite"),
        ({"minutes": float("inf")}, "not a finite"),
        ({"to": 2**60}, "too large a number"),
        ({"to": True}, "neither a text nor a number"),
        ({"to": [1]}, "neither a text nor a number"),
        ({str(k): 1 for k in range(17)}, "17 fields"),
        ({"x" * 201: 1}, "name of a field has"),
    ],
)
def test_an_entry_that_is_too_large_or_unstorable_is_refused(tmp_path, data, match):
    with Store.open(tmp_path) as store:
        store.open_job(OPEN_JOB)
        with pytest.raises(BenchUnstorable, match=match):
            store.append("k-1", replace(draft(), data=data), expected=0)
        for wrong in (
            {"by": "x" * 201},
            {"token": ""},
            {"token": "x" * 201},
            {"at": NINE.replace(tzinfo=None)},
        ):
            with pytest.raises(BenchUnstorable, match=r"author|token|moment"):
                store.append("k-1", replace(draft(), **wrong), expected=0)
        assert store.entries("k-1") == ()


def test_a_journal_does_not_grow_without_end(tmp_path, monkeypatch):
    monkeypatch.setattr("benchlore.jobs.store_bench.MOST_ENTRIES", 2)
    with Store.open(tmp_path) as store:
        store.open_job(OPEN_JOB, [draft(token="a"), draft(token="b")])
        with pytest.raises(BenchUnstorable, match="journal has 2 entries"):
            store.append("k-1", draft(token="c"), expected=2)


def test_what_another_program_wrote_into_a_journal_is_called_damage(tmp_path):
    with Store.open(tmp_path) as store:
        store.open_job(OPEN_JOB, [draft()])
        with closed_after(sqlite3.connect(tmp_path / "jobs.sqlite")) as connection:
            connection.execute("UPDATE entry SET data = '[1]'")
            connection.commit()
        with pytest.raises(StoreDamaged, match="what no job holds"):
            store.entries("k-1")


def test_copying_a_store_copies_the_bench(tmp_path, place):
    with Store.open(place) as target, Store.open(tmp_path / "from.sqlite") as source:
        source.open_job(OPEN_JOB, [draft(token="a"), draft(token="b")])
        copy_store(source, target)
        assert target.journals() == source.journals()


@pytest.mark.parametrize("hostile", ["a\0b", "a\ud800b", "' OR 1=1 --", "x" * 100_000])
def test_a_hostile_key_is_nobodys(store, hostile):
    store.open_job(OPEN_JOB)
    assert store.open_job_of(hostile) is None
    assert store.job(hostile, "1") is None
    with pytest.raises(NoOpenJob, match="on the bench"):
        store.journal(hostile)
    with pytest.raises(NoOpenJob, match="on the bench"):
        store.append(hostile, draft(), expected=0)
