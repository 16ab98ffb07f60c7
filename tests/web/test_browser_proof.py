"""A kept proof on every screen: its own page, its own style, no scripts."""

import base64
import re
from hashlib import sha256

import pytest
from starlette.testclient import TestClient
from web_browser import check_screen, served

from benchlore.jobs import Store
from benchlore.library import init_library, prove_complaint
from benchlore.proof import Settings
from benchlore.web import create_app
from finished_jobs import finished_jobs

PROOF = "/books/my-board/no-power/proof"


@pytest.fixture(scope="module")
def proven(tmp_path_factory):
    library = init_library(tmp_path_factory.mktemp("proven") / "library", title="Quay", board="my-board")
    with Store.open(library.store) as store:
        store.add(finished_jobs(18))
    prove_complaint(library, "my-board", "no-power", settings=Settings(folds=3, draws=2), workers=1)
    return library


@pytest.fixture(scope="module")
def address(proven):
    """One app for all: it draws the proof once."""
    with served(proven) as found:
        yield found


@pytest.fixture(scope="module")
def reader(proven):
    return TestClient(create_app(proven), base_url="http://127.0.0.1")


def test_a_proof_is_accessible_and_fits(pages, screen):
    page = pages.open(PROOF, screen)
    assert "what the procedure is worth" in page.inner_text("h1")
    assert page.evaluate("getComputedStyle(document.body).maxWidth") != "none"  # its style was let in
    check_screen(page)


def test_books_with_a_proof_are_accessible_and_fit(pages, screen):
    check_screen(pages.open("/books", screen))


def test_the_books_lead_to_the_proof(pages):
    page = pages.open("/books")
    page.click(f"a[href='{PROOF}']")
    assert "what the procedure is worth" in page.inner_text("h1")


def test_the_proofs_policy_allows_its_own_style_alone(reader):
    page = reader.get(PROOF)
    policy = dict(part.split(" ", 1) for part in page.headers["content-security-policy"].split("; "))
    (style,) = re.findall(r"<style>(.*?)</style>", page.text, re.DOTALL)
    digest = base64.b64encode(sha256(style.encode()).digest()).decode()
    assert policy["style-src"] == f"'sha256-{digest}'"
    assert policy["script-src"] == "'none'"
    assert policy["default-src"] == "'none'"


def test_a_proof_is_drawn_once(reader, monkeypatch):
    first = reader.get(PROOF).text
    monkeypatch.setattr("benchlore.web.books.proof_html", lambda _: "drawn again")
    assert reader.get(PROOF).text == first
