"""Searching stored jobs, on both databases."""

from datetime import date

import pytest
from job_samples import changed

from benchlore.jobs import Choices, Outcome, Search, Store, export_csv
from benchlore.jobs.export import FILES, csv_text

OTHER = {"readings": (), "attempts": (), "extra": {}}
JOBS = [
    changed(number="26/7", opened=date(2026, 3, 1)),
    changed(number="26/8", opened=None, fault=None, fault_text="Überstrom an U7", outcome=Outcome.RETURNED),
    changed(number="26/9", opened=date(2026, 3, 3), fault="u7-corroded", fault_text="100% WÄRME", **OTHER),
    changed(number="A-1", shop="Werkbank Süd", opened=date(2026, 3, 2), complaint="no-start", **OTHER),
    changed(
        number="A-2", shop="Werkbank Süd", opened=date(2026, 3, 2), board="orme-k2", fault=None, fault_text=""
    ),
]


@pytest.fixture
def store(place):
    with Store.open(place) as store:
        store.add(JOBS)
        yield store


def numbers(store, **asked):
    return [line.number for line in store.search(Search(**asked))]


def test_jobs_are_found_newest_first_and_those_without_a_date_last(store):
    assert numbers(store) == ["26/9", "A-2", "A-1", "26/7", "26/8"]


@pytest.mark.parametrize(
    ("asked", "found"),
    [
        ({"board": "orme-k2"}, ["A-2"]),
        ({"complaint": "no-start"}, ["A-1"]),
        ({"shop": "Werkbank Süd"}, ["A-2", "A-1"]),
        ({"outcome": Outcome.RETURNED}, ["26/8"]),
        ({"fault": "u7-corroded"}, ["26/9"]),
        ({"confirmed": False}, ["A-2", "26/8"]),
        ({"confirmed": True}, ["26/9", "A-1", "26/7"]),
        ({"since": date(2026, 3, 2)}, ["26/9", "A-2", "A-1"]),
        ({"until": date(2026, 3, 2)}, ["A-2", "A-1", "26/7"]),
        ({"since": date(2026, 3, 2), "until": date(2026, 3, 2), "board": "halden-t4"}, ["A-1"]),
        ({"words": "26/"}, ["26/9", "26/7", "26/8"]),
        ({"words": "überstrom"}, ["26/8"]),
        ({"words": "ÜBERSTROM u7"}, ["26/8"]),
        ({"words": "wärme"}, ["26/9"]),
        ({"words": "CORRODED"}, ["26/9"]),
        ({"words": "100% corroded"}, ["26/9"]),
        ({"words": "%"}, ["26/9"]),
        ({"words": "_"}, []),
        ({"words": "u7 nowhere"}, []),
        ({"words": "\0"}, ["26/9", "A-2", "A-1", "26/7", "26/8"]),
        ({"board": "\0"}, []),
        ({"words": "'; DROP TABLE job; --"}, []),
    ],
)
def test_a_search_finds_what_it_asks_for(store, asked, found):
    assert numbers(store, **asked) == found


def test_pages_follow_each_other_without_gap_or_overlap(store):
    pages = [store.search(Search(), offset=offset, limit=2) for offset in (0, 2, 4, 6)]
    assert [[line.number for line in page] for page in pages] == [
        ["26/9", "A-2"],
        ["A-1", "26/7"],
        ["26/8"],
        [],
    ]


def test_outcomes_are_counted_within_the_search(store):
    assert store.outcomes(Search()) == {
        Outcome.REPAIRED: 4,
        Outcome.RETURNED: 1,
        Outcome.RUINED: 0,
        Outcome.OPEN: 0,
    }
    assert store.outcomes(Search(shop="Werkbank Süd"))[Outcome.REPAIRED] == 2


def test_choices_are_counted_and_narrow_with_board_and_complaint(store):
    assert store.choices(Search(board="halden-t4", complaint="restarts", words="nothing")) == Choices(
        boards={"halden-t4": 4, "orme-k2": 1},
        complaints={"no-start": 1, "restarts": 3},
        shops={"Quay Street Bench": 3, "Werkbank Süd": 2},
        faults={"l1204-joint": 1, "u7-corroded": 1},
    )


def test_whole_jobs_are_found_in_the_same_order(store):
    assert [job.number for job in store.found(Search())] == ["26/9", "A-2", "A-1", "26/7", "26/8"]
    assert next(store.found(Search(words="26/7"))) == JOBS[0]


def test_one_file_of_an_export_is_the_file_that_the_export_has(store, tmp_path):
    jobs = list(store.found(Search()))
    export_csv(jobs, tmp_path / "export")
    for name in FILES:
        written = (tmp_path / "export" / name).read_bytes().decode()
        assert "".join(csv_text(jobs, name)) == written
    assert "'=1+1" in "".join(csv_text([changed(fault_text="=1+1")], "jobs.csv"))


def test_a_long_export_comes_in_bits():
    bits = list(csv_text((changed(number=str(number)) for number in range(2000)), "jobs.csv"))
    assert len(bits) > 3
    assert "".join(bits).count("\r\n") == 2001
