"""What every request has to pass, and what every answer carries."""

import pytest
from fastapi import FastAPI, Request
from starlette.testclient import TestClient

from benchlore.web import guard
from benchlore.web.guard import add_guards


@pytest.fixture
def tiny():
    app = FastAPI()

    @app.get("/read")
    def read() -> str:
        return "read"

    @app.post("/write")
    async def write(request: Request) -> int:
        return len(await request.body())

    add_guards(app)
    return TestClient(app, base_url="http://127.0.0.1:8470")


def test_answers_carry_a_policy_that_allows_nothing_from_elsewhere(tiny):
    headers = tiny.get("/read").headers
    policy = dict(part.split(" ", 1) for part in headers["content-security-policy"].split("; "))
    assert policy["default-src"] == "'none'"
    assert policy["script-src"] == "'self'"
    assert "unsafe" not in headers["content-security-policy"]
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["cache-control"] == "no-store"


@pytest.mark.parametrize("host", ["127.0.0.1:8470", "localhost:8470", "localhost"])
def test_this_machine_is_answered(tiny, host):
    assert tiny.get("/read", headers={"host": host}).status_code == 200


@pytest.mark.parametrize("host", ["bench.example", "127.0.0.1.bench.example", "localhost.example:8470"])
def test_a_name_that_points_at_this_machine_is_refused(tiny, host):
    assert tiny.get("/read", headers={"host": host}).status_code == 400


@pytest.mark.parametrize(
    "headers",
    [
        {"sec-fetch-site": "cross-site"},
        {"sec-fetch-site": "same-site"},
        {"origin": "http://bench.example"},
        {"origin": "http://127.0.0.1:9999"},
        {"origin": "null"},
    ],
)
def test_another_site_cannot_write(tiny, headers):
    refused = tiny.post("/write", content=b"x", headers=headers)
    assert refused.status_code == 403
    assert "another site" in refused.text


@pytest.mark.parametrize(
    "headers", [{}, {"sec-fetch-site": "same-origin"}, {"origin": "http://127.0.0.1:8470"}]
)
def test_the_apps_own_pages_and_programs_can_write(tiny, headers):
    assert tiny.post("/write", content=b"abc", headers=headers).json() == 3


def test_another_site_may_link_to_a_page(tiny):
    assert tiny.get("/read", headers={"sec-fetch-site": "cross-site"}).status_code == 200


def test_what_is_too_large_is_refused_whether_it_says_so_or_not(tiny, monkeypatch):
    monkeypatch.setattr(guard, "MOST_BYTES", 1024)
    assert tiny.post("/write", content=b"x" * 1024).json() == 1024
    assert tiny.post("/write", content=b"x" * 1025).status_code == 413

    def stream():
        yield from [b"x" * 512] * 3

    assert tiny.post("/write", content=stream()).status_code == 413


def test_a_length_that_is_no_number_is_refused(tiny):
    assert tiny.post("/write", content=b"x", headers={"content-length": "lots"}).status_code == 413
