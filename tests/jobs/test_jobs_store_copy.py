from dataclasses import replace
from datetime import UTC, datetime

import pytest
from job_samples import JOB, numbered

from benchlore.jobs import DemandRecord, IntakeRecord, Place, Store, StoreTrouble, copy_store
from benchlore.jobs.store_rows import CHUNK


def fill(store: Store) -> None:
    record = IntakeRecord(
        "march.csv", "ab", datetime(2026, 4, 1, tzinfo=UTC), places={(JOB.shop, JOB.number): Place("A", 3)}
    )
    store.add([JOB, *numbered(CHUNK)], intake=record)
    store.add([replace(JOB, number="late", comeback=None, opened=None)])
    store.remove(JOB.shop, "Q-00007")
    store.add_demand([DemandRecord("1", "p", problem="x")])


def content(store: Store) -> tuple:
    return list(store.jobs()), store.intakes(), store.sources(JOB.shop, JOB.number), list(store.demand())


def test_a_store_moves_to_a_server_and_back_with_all_it_holds(tmp_path, server):
    (tmp_path / "back").mkdir()
    with (
        Store.open(tmp_path) as first,
        Store.open(server.database()) as second,
        Store.open(tmp_path / "back") as third,
    ):
        fill(first)
        told = []
        rows = copy_store(first, second, progress=told.append)
        assert told[-1] == rows
        copy_store(second, third)
        assert content(second) == content(first)
        assert content(third) == content(first)
        assert second.add(numbered(3)).same == 3
        assert second.add([replace(JOB, number="after")]).new == 1


def test_a_store_is_not_copied_into_one_that_holds_something(tmp_path, place):
    (tmp_path / "source").mkdir()
    with Store.open(tmp_path / "source") as source, Store.open(place) as target:
        fill(source)
        target.add([JOB])
        with pytest.raises(StoreTrouble, match="already has a job; copy into an empty one"):
            copy_store(source, target)
        assert list(target.jobs()) == [JOB]
