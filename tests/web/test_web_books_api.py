"""The library's books as JSON."""

from benchlore.library import book_text, plan_complaint

ADDRESS = "/api/books/my-board"


def test_every_book_with_its_figures(library, client):
    plan_complaint(library, "my-board", "no-power")
    answer = client.get("/api/books").json()
    (book,) = answer["books"]
    assert book["board"] == "my-board"
    assert book["complaints"][0]["plan"]["expected"] > 0
    assert book["complaints"][0]["proof"] is None


def test_one_book_with_its_text_and_review(library, client):
    answer = client.get(ADDRESS).json()
    assert answer["text"] == book_text(library, "my-board").text
    assert answer["review"]["errors"] == 0


def test_a_procedure_in_its_own_form(library, client):
    missing = client.get(f"{ADDRESS}/no-power/procedure")
    assert missing.status_code == 404
    assert missing.json()["error"]["kind"] == "NoProcedureError"
    plan_complaint(library, "my-board", "no-power")
    answer = client.get(f"{ADDRESS}/no-power/procedure").json()
    assert answer["stale"] == []
    assert answer["procedure"]["board"] == "my-board"


def test_a_review_has_the_places_that_the_command_gives(client):
    answer = client.post(f"{ADDRESS}/review", json={"text": "book: 1\nboard: [\n"}).json()
    assert answer["errors"] >= 1
    assert answer["findings"][0]["line"] >= 1
    assert answer["findings"][0]["column"] >= 1


def test_a_save_goes_over_what_was_seen_alone(library, client):
    before = book_text(library, "my-board")
    saved = client.put(ADDRESS, json={"text": before.text + "# a\n", "seen": before.sha256})
    assert saved.status_code == 200
    assert saved.json()["before"] == before.text
    assert saved.json()["diff"][-1] == {"kind": "added", "text": "# a"}
    late = client.put(ADDRESS, json={"text": before.text + "# b\n", "seen": before.sha256})
    assert late.status_code == 409
    assert late.json()["error"]["kind"] == "BookChangedError"
    assert late.json()["sha256"] == saved.json()["sha256"]
    assert late.json()["text"].endswith("# a\n")


def test_errors_need_a_second_word(library, client):
    before = book_text(library, "my-board")
    change = {"text": "book: 9\n", "seen": before.sha256}
    refused = client.put(ADDRESS, json=change)
    assert refused.status_code == 422
    assert refused.json()["review"]["errors"] >= 1
    assert client.put(ADDRESS, json=change | {"unsound": True}).status_code == 200


def test_a_request_that_is_misshapen_says_how(client):
    answer = client.put(ADDRESS, json={"text": 1})
    assert answer.status_code == 422
    assert "body.text" in answer.json()["error"]["message"]


def test_a_method_that_there_is_not_names_those_that_there_are(client):
    answer = client.delete(ADDRESS)
    assert answer.status_code == 405
    assert answer.headers["allow"] == "GET, PUT"
