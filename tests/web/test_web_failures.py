"""Failures as pages and as JSON."""

from fastapi import FastAPI
from starlette.testclient import TestClient

from benchlore.library import NoBookError
from benchlore.web import create_app


def test_a_page_that_there_is_not_says_so(client):
    answer = client.get("/nowhere")
    assert answer.status_code == 404
    assert "There is no such page." in answer.text
    assert "Quay bench" in answer.text


def test_an_address_of_the_api_that_there_is_not_is_called_one(client):
    answer = client.get("/api/nowhere")
    assert (answer.status_code, answer.json()["error"]["message"]) == (404, "There is no such address.")


def failing(library, error):
    app: FastAPI = create_app(library)

    @app.get("/fails")
    @app.get("/api/fails")
    def fails() -> None:
        raise error

    return TestClient(app, base_url="http://127.0.0.1", raise_server_exceptions=False)


def test_a_foreseen_failure_tells_its_own_message(library):
    client = failing(library, NoBookError("<b>halden</b>", ("my-board",)))
    page = client.get("/fails")
    assert page.status_code == 404
    assert "&lt;b&gt;halden" in page.text
    assert "<b>halden" not in page.text
    data = client.get("/api/fails")
    assert data.status_code == 404
    assert data.json()["error"]["kind"] == "NoBookError"


def test_a_failure_inside_tells_nothing_of_the_inside(library):
    client = failing(library, RuntimeError("secret path"))
    for address in ("/fails", "/api/fails"):
        answer = client.get(address)
        assert answer.status_code == 500
        assert "secret" not in answer.text
        assert "Nothing that was stored is lost" in answer.text
        assert "content-security-policy" in answer.headers
