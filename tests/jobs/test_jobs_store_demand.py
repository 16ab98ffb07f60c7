from dataclasses import fields, replace
from datetime import date
from math import nan
from pathlib import Path

import pytest

from benchlore.jobs import DemandAdded, DemandRecord, DemandUnstorable, Store, tables
from benchlore.jobs.store_rows import CHUNK

LAMP = DemandRecord(
    id="p_1",
    provider="A workshop",
    country="DNK",
    partner_category="Lampe",
    category="Lamp",
    category_id=17,
    brand="Orlin",
    year=2019,
    age=3.5,
    status="End of life",
    barrier="Repair information not available",
    group="Aarhus",
    event_date=date(2022, 5, 7),
    problem="Flickers; =1+1",
)


def test_a_record_comes_back_as_it_was(place):
    with Store.open(place) as store:
        assert store.add_demand([LAMP, DemandRecord("p_2", "A workshop")]) == DemandAdded(new=2)
    with Store.open(place) as store:
        assert list(store.demand()) == [LAMP, DemandRecord("p_2", "A workshop")]
        assert store.demand_count() == 2


def test_every_field_of_a_record_is_kept():
    assert len(tables.demand.columns) == len(fields(DemandRecord))


def test_records_that_are_there_are_not_added_again(place):
    records = [replace(LAMP, id=str(number)) for number in range(CHUNK + 2)]
    with Store.open(place) as store:
        store.add_demand(records[:2])
        assert store.add_demand(records) == DemandAdded(new=CHUNK, same=2)
        assert store.add_demand(records) == DemandAdded(same=CHUNK + 2)
        assert store.demand_count() == CHUNK + 2


def test_the_same_id_of_another_provider_is_another_record(place):
    with Store.open(place) as store:
        assert store.add_demand([LAMP, replace(LAMP, provider="Another")]) == DemandAdded(new=2)


def test_the_last_word_on_an_event_counts(place):
    unknown = replace(LAMP, year=None, status="Unknown", event_date=None)
    with Store.open(place) as store:
        assert store.add_demand([unknown, LAMP, LAMP]) == DemandAdded(new=1, changed=1, same=1)
        assert list(store.demand()) == [LAMP]
        assert store.add_demand([unknown]) == DemandAdded(changed=1)
        assert list(store.demand()) == [unknown]


def test_demand_is_counted_by_any_fields_most_frequent_first(place):
    records = [
        replace(LAMP, id=str(number), brand="Orlin" if number else "Abel", year=2019 + number % 2)
        for number in range(4)
    ]
    with Store.open(place) as store:
        store.add_demand([*records, DemandRecord("x", "p", category="Kettle")])
        assert list(store.demand_summary().items()) == [(("Lamp",), 4), (("Kettle",), 1)]
        assert list(store.demand_summary(["category", "brand"]).items()) == [
            (("Lamp", "Orlin"), 3),
            (("Kettle", ""), 1),
            (("Lamp", "Abel"), 1),
        ]
        assert store.demand_summary(["year"])[("",)] == 1
        assert store.demand_summary(["group"]) == {("Aarhus",): 4, ("",): 1}
        assert store.demand_summary([]) == {(): 5}


def test_an_unknown_field_is_refused_with_the_known_ones(place):
    with (
        Store.open(place) as store,
        pytest.raises(ValueError, match="no field 'colour'; it has id, provider, country"),
    ):
        store.demand_summary(["colour"])


@pytest.mark.parametrize(
    ("record", "message"),
    [
        (replace(LAMP, problem="a\0"), "record 'p_1' of 'A workshop': problem holds a NUL"),
        (replace(LAMP, age=nan), "age is not a number"),
        (replace(LAMP, brand="\udfff"), "brand holds half a character"),
        (replace(LAMP, year=10**30), "year is too large"),
    ],
)
def test_a_record_that_no_store_keeps_is_refused_before_anything_is_written(place, record, message):
    with Store.open(place) as store:
        with pytest.raises(DemandUnstorable, match=message):
            store.add_demand([replace(LAMP, id="0"), record])
        assert store.demand_count() == 0


def test_records_that_break_off_leave_nothing_behind(place):
    told = []

    def stop(done):
        told.append(done)
        raise KeyboardInterrupt

    with Store.open(place) as store:
        with pytest.raises(KeyboardInterrupt):
            store.add_demand([LAMP], progress=stop)
        assert store.demand_count() == 0
    assert told == [1]


def test_a_path_as_text_is_a_folder_too(tmp_path: Path):
    with Store.open(str(tmp_path)) as store:
        store.add_demand([LAMP])
    assert (tmp_path / "jobs.sqlite").exists()
