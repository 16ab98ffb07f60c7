"""What the bench answers to programs."""

import json

import pytest
from bench_forms import Visitor, bench_library, words

from benchlore.library import Desk
from benchlore.web.at_desk import here


@pytest.fixture
def library(tmp_path):
    return bench_library(tmp_path / "library")


@pytest.fixture
def bench(client):
    return Visitor(client)


@pytest.fixture
def key(bench):
    bench.start(technician="Ines")
    return bench.key


def entry(**other):
    return {
        "kind": "note",
        "data": {"text": "hot"},
        "expected": 0,
        "token": "a-token-of-mine",
        "by": "Marten",
    } | other


def stored(library, key):
    with Desk(library) as desk:
        return desk.view(key, here()).entries


def test_open_jobs_are_listed_and_told_apart(client, key):
    (job,) = client.get("/api/bench").json()
    assert (job["key"], job["board"], job["complaint"], job["last"]) == (key, "my-board", "no-power", 0)
    assert client.get(f"/api/bench/{key}").json() == job


def test_an_entry_is_on_disk_when_it_is_answered(client, key, library):
    answer = client.post(f"/api/bench/{key}/entries", json=entry())
    assert answer.status_code == 201
    assert answer.json()["last"] == 1
    (found,) = stored(library, key)
    assert (found.kind, dict(found.data), found.by) == ("note", {"text": "hot"}, "Marten")


def test_an_entry_that_is_sent_twice_is_stored_once(client, key, library):
    answers = [client.post(f"/api/bench/{key}/entries", json=entry()) for _ in range(2)]
    assert [answer.status_code for answer in answers] == [201, 201]
    assert len(stored(library, key)) == 1


def test_who_has_not_seen_the_newest_entry_is_refused(client, key, library):
    client.post(f"/api/bench/{key}/entries", json=entry())
    late = client.post(f"/api/bench/{key}/entries", json=entry(token="another-token"))
    assert late.status_code == 409
    assert late.json()["error"]["kind"] == "EntryConflict"
    assert "Marten made an entry" in late.json()["error"]["message"]
    assert len(stored(library, key)) == 1


@pytest.mark.parametrize(
    ("sent", "message"),
    [
        ({"kind": "reading", "data": {"check": "rail-ohms", "text": "12 V"}}, "12 V"),
        ({"kind": "reading", "data": {"check": "rail-ohm", "text": "1"}}, "rail-ohms"),
        ({"kind": "reading", "data": {"check": "rail-ohms"}}, "'text' is missing"),
        ({"kind": "note", "data": {"text": 5}}, "a text is expected"),
        ({"kind": "note", "data": {"text": "a\x00"}}, "NUL"),
        ({"kind": "soak", "data": {"minutes": 5}}, "enter the fix first"),
        ({"kind": "undo", "data": {"to": 7}}, "nothing was entered yet"),
        ({"kind": "close", "data": {}}, "ways of their own"),
    ],
)
def test_what_means_nothing_is_refused_in_words(client, key, library, sent, message):
    answer = client.post(f"/api/bench/{key}/entries", json=entry(**sent))
    assert answer.status_code == 422
    assert message in answer.text
    assert stored(library, key) == ()


def test_half_a_character_is_refused(client, key, library):
    sent = json.dumps(entry(data={"text": "a\ud800"}))
    headers = {"content-type": "application/json"}
    answer = client.post(f"/api/bench/{key}/entries", content=sent, headers=headers)
    assert answer.status_code == 422
    assert stored(library, key) == ()


@pytest.mark.parametrize(
    "wrong",
    [
        {"kind": "dance"},
        {"expected": -1},
        {"expected": 2**31},
        {"expected": "many"},
        {"token": "short"},
        {"by": "x" * 201},
        {"data": {"text": ["a", "list"]}},
    ],
)
def test_an_entry_of_another_form_is_refused(client, key, library, wrong):
    answer = client.post(f"/api/bench/{key}/entries", json=entry(**wrong))
    assert answer.status_code == 422
    assert next(iter(wrong)) in answer.json()["error"]["message"]
    assert stored(library, key) == ()


def test_a_closed_job_takes_no_entry_until_it_is_opened_again(client, bench, key, library):
    bench.go(f"/bench/{key}/close")
    bench.press("Close the job")
    late = client.post(f"/api/bench/{key}/entries", json=entry(expected=1))
    assert (late.status_code, late.json()["error"]["kind"]) == (409, "JobClosed")
    assert client.get("/api/bench").json() == []
    opened = client.post(f"/api/bench/{key}/entries", json=entry(kind="reopen", data={}, expected=1))
    assert opened.status_code == 201
    assert opened.json()["closed"] is False
    again = entry(kind="reopen", data={}, expected=2, token="another-token")
    assert client.post(f"/api/bench/{key}/entries", json=again).status_code == 409


@pytest.mark.parametrize("address", ["", "/lands?check=rail-ohms&text=1"])
def test_a_job_that_there_is_not(client, address):
    answer = client.get(f"/api/bench/nothing{address}")
    assert answer.status_code == 404
    assert answer.json()["error"]["kind"] == "NoOpenJob"


def lands(client, key, check, text):
    answer = client.get(f"/api/bench/{key}/lands", params={"check": check, "text": text})
    assert answer.status_code == 200
    return answer.json()


def test_a_reading_lands_where_it_is_understood(client, key, library):
    found = lands(client, key, "rail-ohms", "2k2")
    assert found["understood"] == "2.2 kohm"
    assert 0 < found["at"] < 1
    assert found["at"] > lands(client, key, "rail-ohms", "10")["at"]
    assert stored(library, key) == ()


def test_an_over_range_reading_lands_nowhere(client, key):
    assert lands(client, key, "fuse-ohms", "OL") == {"understood": "OL", "at": None, "error": ""}


def test_a_named_result_is_understood(client, key):
    assert lands(client, key, "look", "burnt") == {"understood": "burnt", "at": None, "error": ""}


def test_a_reading_that_means_nothing_says_why(client, key):
    found = lands(client, key, "rail-ohms", "12 V")
    assert found["understood"] == ""
    assert "12 V" in found["error"]
    assert "no check" in lands(client, key, "nothing", "1")["error"]


def test_the_api_describes_itself(client):
    described = client.get("/api/openapi.json").json()["paths"]
    assert set(described) >= {
        "/api/bench",
        "/api/bench/{key}",
        "/api/bench/{key}/lands",
        "/api/bench/{key}/entries",
    }
    responses = set(described["/api/bench/{key}/entries"]["post"]["responses"])
    assert responses == {"201", "400", "401", "403", "404", "409", "413", "422"}


def test_the_page_and_the_api_tell_of_one_job(client, bench, key):
    client.post(f"/api/bench/{key}/entries", json=entry())
    assert "Note: hot" in words(bench.go(f"/bench/{key}"))
