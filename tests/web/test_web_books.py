"""The pages of the books."""

import re

import pytest

from benchlore.jobs import Job, Store
from benchlore.library import book_text, kept_quote, plan_complaint
from benchlore.units import decimal_amount, money


@pytest.fixture
def planned(library):
    plan_complaint(library, "my-board", "no-power")
    return library


def text_of(page):
    """What a page says, without its tags."""
    return " ".join(re.sub(r"<[^>]+>", " ", page.text).split())


def test_a_sheet_of_nothing_says_how_to_plan(client):
    assert "sheet.pdf" not in client.get("/books/my-board").text
    answer = client.get("/books/my-board/no-power/sheet.pdf")
    assert answer.status_code == 404
    assert "benchlore plan my-board no-power" in answer.text


def test_the_books_say_what_to_do_where_nothing_is_planned(client):
    said = text_of(client.get("/books"))
    assert "my board" in said
    assert "run benchlore plan my-board no-power" in said
    assert "run benchlore prove my-board no-power" in said


def test_the_books_show_cost_and_minutes_of_a_plan(planned, client):
    said = text_of(client.get("/books"))
    assert re.search(r"Expected cost \d+\.\d\d EUR", said)
    assert "proven optimal" in said
    assert re.search(r"Expected time \d+ min", said)


def test_a_library_without_books_says_so(library, client):
    library.book_file("my-board").unlink()
    assert "no fault book yet" in client.get("/books").text


def test_a_shop_file_with_errors_is_named_and_the_books_still_shown(library, client):
    library.shop_file.write_text("shop: 1\n")
    said = text_of(client.get("/books"))
    assert "The shop file cannot be read" in said
    assert "my board" in said
    assert client.get("/books/my-board").status_code == 200


def test_a_book_with_errors_shows_its_findings_and_the_way_to_mend_it(library, client):
    library.book_file("my-board").write_text("book: 1\nboard: <b>\n")
    assert "This book has errors" in client.get("/books").text
    page = client.get("/books/my-board")
    assert page.status_code == 200
    assert "Mend the book" in page.text
    assert "<b>" not in page.text


def test_one_book_shows_procedure_faults_effects_and_checks(planned, client):
    page = client.get("/books/my-board")
    for link in re.findall(r'<a href="#(no-power-step-\d+)"', page.text):
        assert f'id="{link}"' in page.text
    said = text_of(page)
    for part in ("Procedure", "Faults", "What each fault does", "Checks", "95 % interval"):
        assert part in said
    assert 'style="' not in page.text  # the policy would refuse it


def test_one_book_leads_to_its_procedure_on_paper(planned, client):
    page = client.get("/books/my-board").text
    for paper, address in (("A4", "/sheet.pdf"), ("Letter", "/sheet.pdf?paper=letter")):
        assert (
            f'href="/books/my-board/no-power{address}" aria-label="PDF, {paper}: Does not switch on"' in page
        )
        answer = client.get(f"/books/my-board/no-power{address}")
        assert (answer.status_code, answer.headers["content-type"]) == (200, "application/pdf")
        assert answer.headers["content-disposition"] == 'inline; filename="my-board-no-power.pdf"'
        assert answer.content.startswith(b"%PDF-")
    assert client.get("/books/my-board/no-power/sheet.pdf?paper=a3").status_code == 422


def test_what_to_charge_is_told_of_the_kept_procedure_and_says_what_changed_since(planned, client):
    address = "/books/my-board/no-power/quote"
    assert f'href="{address}"' in client.get("/books/my-board").text
    said = text_of(client.get(address))
    offer = kept_quote(planned, "my-board", "no-power").offers[0]
    assert money(decimal_amount(offer.break_even, "EUR", up=True), "EUR") in said
    assert "Back to the book" in said
    assert "Changed since" not in said
    with Store.open(planned.store) as store:
        store.add([Job("Quay", "1", "my-board", "no-power", fault="c5-short")])
    assert "Changed since it was planned the recorded jobs" in text_of(client.get(address))


def test_what_to_charge_for_nothing_says_how_to_plan(client):
    answer = client.get("/books/my-board/no-power/quote")
    assert answer.status_code == 404
    assert "benchlore plan my-board no-power" in answer.text


def test_one_book_counts_confirmed_jobs(planned, client):
    job = Job("Quay", "1", "my-board", "no-power", fault="c5-short")
    with Store.open(planned.store) as store:
        store.add([job])
    said = text_of(client.get("/books/my-board"))
    assert re.search(r"Boards behind it \d+ 1\b", said)
    assert "Stale. Not learned from yet: the recorded jobs" in said


def test_every_name_of_a_page_is_there_once(planned, client):
    names = re.findall(r'\bid="([^"]+)"', client.get("/books/my-board").text)
    assert len(names) == len(set(names))


@pytest.mark.parametrize("path", ["/books/other", "/books/other/edit", "/books/other/no-power/proof"])
def test_a_book_that_there_is_not(client, path):
    page = client.get(path)
    assert page.status_code == 404
    assert "no book" in page.text
    assert "other" in page.text


def test_a_proof_that_there_is_not(client):
    page = client.get("/books/my-board/no-power/proof")
    assert page.status_code == 404
    assert "benchlore" in page.text


def edit(client, **fields):
    return client.post("/books/my-board/edit", data=fields)


def seen(page):
    return re.findall(r'name="seen" value="([0-9a-f]+)"', page.text)[-1]


def test_a_book_is_edited_and_saved_and_undone(library, client):
    before = book_text(library, "my-board")
    opened = client.get("/books/my-board/edit")
    assert seen(opened) == before.sha256
    saved = edit(client, text=before.text + "# mine\n", seen=seen(opened), action="save")
    assert "Saved." in saved.text
    assert "# mine" in saved.text
    assert book_text(library, "my-board").text == before.text + "# mine\n"
    undone = edit(client, text=before.text, seen=seen(saved), action="undo")
    assert "Undone" in undone.text
    assert book_text(library, "my-board") == before


def test_a_review_saves_nothing_and_keeps_what_was_typed(library, client):
    before = book_text(library, "my-board")
    page = edit(client, text="book: <9>\n", seen=before.sha256, action="review")
    assert "Nothing is saved yet" in page.text
    assert "book: &lt;9&gt;" in page.text
    assert book_text(library, "my-board") == before


def test_errors_are_saved_only_after_a_second_word(library, client):
    before = book_text(library, "my-board")
    assert "Save it with its errors" not in client.get("/books/my-board/edit").text
    refused = edit(client, text="book: 9\n", seen=before.sha256, action="save")
    assert refused.status_code == 422
    assert "nothing was saved" in refused.text
    assert book_text(library, "my-board") == before
    assert "Save it with its errors" in refused.text
    saved = edit(client, text="book: 9\n", seen=before.sha256, action="save-unsound")
    assert saved.status_code == 200
    assert book_text(library, "my-board").text == "book: 9\n"


def test_a_change_by_another_shows_both_and_lets_choose(library, client):
    before = book_text(library, "my-board")
    library.book_file("my-board").write_text(before.text + "# theirs\n")
    page = edit(client, text=before.text + "# mine\n", seen=before.sha256, action="save")
    assert page.status_code == 409
    assert "# theirs" in page.text
    assert "# mine" in page.text
    assert book_text(library, "my-board").text.endswith("# theirs\n")
    edit(client, text=before.text + "# mine\n", seen=seen(page), action="save")
    assert book_text(library, "my-board").text.endswith("# mine\n")


def test_a_text_too_large_is_refused(library, client):
    before = book_text(library, "my-board")
    page = edit(client, text="#" * (2 * 1024**2 + 1), seen=before.sha256, action="save")
    assert page.status_code == 413
    assert book_text(library, "my-board") == before


def test_a_first_line_that_is_empty_survives_the_editor(library, client):
    library.book_file("my-board").write_text("\n\n" + book_text(library, "my-board").text)
    page = client.get("/books/my-board/edit").text
    shown = page[page.index("<textarea") :]
    assert shown[shown.index(">") + 1 :].startswith("\n\n\n")  # the first one is the markup's own


def test_another_site_cannot_save(library, client):
    before = book_text(library, "my-board")
    fields = {"text": "", "seen": before.sha256, "action": "save-unsound"}
    page = client.post("/books/my-board/edit", data=fields, headers={"sec-fetch-site": "cross-site"})
    assert page.status_code == 403
    assert book_text(library, "my-board") == before
