"""A restart record on a job's page: its picture and kind, taken as a reading, refused with its line."""

import pytest
from bench_forms import Visitor, words
from starlette.testclient import TestClient

from benchlore.library import Desk, init_library
from benchlore.web import create_app
from benchlore.web.at_desk import here
from soak_book import BOOK, SUPERVISOR


@pytest.fixture(scope="module")
def library(tmp_path_factory):
    library = init_library(tmp_path_factory.mktemp("pumps") / "library", title="Pumps", board="ferrol-p1")
    library.book_file("ferrol-p1").write_text(BOOK)
    return library


@pytest.fixture
def job(library):
    """A visitor on the page of a job with restarts."""
    visitor = Visitor(TestClient(create_app(library), base_url="http://127.0.0.1"))
    with Desk(library) as desk:
        started = desk.start("ferrol-p1", "restarts", now=here())
    visitor.go(f"/bench/{started.key}")
    return visitor


def test_a_pasted_record_is_drawn_named_and_taken_as_the_reading(job, library):
    key = job.key
    form = job.form("What does it show?")
    fields = {"lines": SUPERVISOR, "match": ""}
    job.page = job.client.post(form["action"], data=fields)
    assert "By a clock: every 3 min" in job.text
    assert "Even intervals? even" in job.text
    assert job.page.text.count("<svg") == 2
    with Desk(library) as desk:
        assert desk.view(key, here()).last == 0
    job.press("Take it as the reading")
    with Desk(library) as desk:
        (taken,) = desk.view(key, here()).readings
    assert (taken.check, taken.text) == ("rhythm", "even")
    job.page = job.client.post(form["action"], data=fields)
    assert "No open check of the book is answered" in job.text


def test_what_is_no_record_is_refused_with_its_reason(job):
    job.page = job.client.post(f"/bench/{job.key}/record", data={"lines": "<b>nothing</b>\nat all"})
    assert job.page.status_code == 422
    assert "no time is found" in job.text
    assert "<b>nothing" not in job.page.text


def test_a_file_is_read_as_it_is(job):
    files = {"file": ("../restarts <b>.log", SUPERVISOR.encode() + b"\xff\xfe\n", "text/plain")}
    answer = job.client.post(f"/bench/{job.key}/record", data={"match": "boot"}, files=files)
    assert "By a clock" in words(answer)
