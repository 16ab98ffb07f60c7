"""The site in a real browser, opened as files: every kind of page on every screen, the search, no scripts."""

from functools import partial
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from threading import Thread

import pytest
from site_samples import EVIL
from web_browser import Pages, Screen, check_screen

BOARD = "boards/my-board/index.html"
COMPLAINT = "boards/my-board/no-power/index.html"
SCREENS = [
    ("index.html", Screen(390, "dark")),
    (BOARD, Screen(390, "dark")),
    (COMPLAINT, Screen(1280, "dark")),
    ("boards/harbour-3/no-power/index.html", Screen(390, "light")),
    ("boards/my-board/no-power/proof.html", Screen(1280, "light")),
    ("skills/ohms.html", Screen(390, "light")),
    ("credits.html", Screen(390, "dark")),
    ("changes.html", Screen(1280, "light")),
]


@pytest.fixture
def pages(browser, out):
    """Opens pages by double-click, as it were; nothing may be asked for from elsewhere."""
    found = Pages(browser, f"{out.as_uri()}/")
    yield found
    found.close()
    assert found.complaints == []


class Quiet(SimpleHTTPRequestHandler):
    """A plain file server that says nothing."""

    def log_message(self, *_):
        pass


@pytest.fixture(scope="module")
def served(out):
    """The site on a plain file server: the accessibility checker fetches style sheets, which files may not."""
    server = ThreadingHTTPServer(("127.0.0.1", 0), partial(Quiet, directory=out))
    Thread(target=server.serve_forever, daemon=True).start()
    yield f"http://127.0.0.1:{server.server_address[1]}/"
    server.shutdown()
    server.server_close()


@pytest.mark.parametrize(("path", "screen"), SCREENS, ids=str)
def test_a_page_is_accessible_and_fits(browser, served, path, screen):
    found = Pages(browser, served)
    check_screen(found.open(path, screen))
    found.close()
    assert found.complaints == []


def test_the_search_finds_by_keyboard_alone(pages):
    page = pages.open("index.html")
    page.keyboard.press("/")
    page.keyboard.type("capacitor c5")
    page.wait_for_function("document.querySelectorAll('.found a').length > 0")
    assert "found" in page.inner_text(".told")
    page.keyboard.press("ArrowDown")
    page.keyboard.press("ArrowDown")
    page.keyboard.press("ArrowUp")
    assert page.evaluate("document.activeElement.closest('.found') !== null")
    page.keyboard.press("Enter")
    page.wait_for_url("**/no-power/index.html#fault-c5-short")
    assert "Capacitor C5 shorted" in page.inner_text("#fault-c5-short")


def test_parts_readings_and_complaints_are_found_and_an_attack_is_a_text(pages):
    page = pages.open("index.html")
    page.on("dialog", lambda dialog: pytest.fail(dialog.message))
    for words, first in (
        ("u2", "U2"),  # a part, by its reference
        ("rail SHORTED", "Main rail"),  # a word from a reading, whatever the case
        ("switch", "Does not switch on"),
        ("alert", EVIL),
    ):
        page.fill("#wanted", words)
        page.wait_for_function(
            "first => document.querySelector('.found').innerText.includes(first)", arg=first
        )
    page.fill("#wanted", "zeppelin")
    page.wait_for_function("document.querySelector('.told').textContent.startsWith('Nothing found')")
    page.keyboard.press("Escape")
    assert page.input_value("#wanted") == ""


def test_without_scripts_everything_is_there_but_the_search(pages):
    page = pages.open("index.html", scripts=False)
    assert not page.is_visible("#search")
    page.click("text=Does not switch on >> nth=-1")
    assert not page.is_visible(".zoom")
    assert page.is_visible(".canvas svg")
    page.click(".onward a >> nth=0")
    assert "#step-" in page.url


def test_a_drawing_leads_to_its_step_and_the_printed_page_has_no_buttons(pages):
    page = pages.open(COMPLAINT)
    page.focus(".canvas a >> nth=1")
    page.keyboard.press("Enter")
    assert page.evaluate("document.querySelector('li:target') !== null")
    page.emulate_media(media="print")
    assert not page.is_visible(".zoom")
    assert page.is_visible("#step-1")
