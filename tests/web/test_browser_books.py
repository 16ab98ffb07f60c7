"""The books on every screen, and with the keyboard alone."""

import re

import pytest
from web_browser import SCREENS, check_screen, tab_to

from benchlore.library import book_text, plan_complaint

PHONE = SCREENS[0]
QUOTE = "/books/my-board/no-power/quote"


@pytest.fixture
def library(library):
    """A library with a plan."""
    plan_complaint(library, "my-board", "no-power")
    return library


@pytest.mark.parametrize("path", ["/books", "/books/my-board", "/books/my-board/edit", QUOTE])
def test_a_screen_is_accessible_and_fits(pages, screen, path):
    page = pages.open(path, screen)
    assert page.inner_text("h1")
    check_screen(page)


def test_a_book_with_errors_is_accessible_and_fits(library, pages, screen):
    library.book_file("my-board").write_text("book: 1\nboard: " + "x" * 300 + "\n")
    for path in ("/books", "/books/my-board", "/books/my-board/edit"):
        check_screen(pages.open(path, screen))


def test_the_steps_in_words_are_accessible_and_fit(pages, screen):
    page = pages.open("/books/my-board", screen)
    page.click("summary")
    page.wait_for_selector(".steps h4")
    check_screen(page)


def test_what_was_saved_and_what_was_changed_are_accessible_and_fit(library, pages, screen):
    page = pages.open("/books/my-board/edit", screen)
    page.fill("#text", book_text(library, "my-board").text + "# " + "long " * 80 + "\n")
    page.click("text=Save")
    page.wait_for_selector("#saved")
    check_screen(page)
    library.book_file("my-board").write_text("book: 1\n")
    page.click("text=Undo this save")
    page.wait_for_selector("text=was changed meanwhile")
    check_screen(page)


def test_a_box_of_the_drawing_leads_to_its_step(pages):
    page = pages.open("/books/my-board", PHONE)
    link = page.locator(".canvas a").first
    step = link.get_attribute("href").removeprefix("#")
    link.focus()
    page.keyboard.press("Enter")
    page.wait_for_function("id => document.activeElement.id === id", arg=step)
    assert page.locator(f"#{step}").is_visible()


def test_the_drawing_grows_and_shrinks_by_button_and_key(pages):
    page = pages.open("/books/my-board", PHONE)
    width = lambda: page.evaluate("document.querySelector('.canvas svg').clientWidth")  # noqa: E731
    before = width()
    page.click("[data-zoom=in]")
    assert width() == pytest.approx(before * 1.25, abs=2)
    page.focus(".canvas")
    page.keyboard.press("-")
    assert width() == pytest.approx(before, abs=2)
    page.click("[data-zoom=whole]")
    assert width() <= 390


def test_the_review_follows_what_is_typed_and_leads_to_its_line(library, pages):
    page = pages.open("/books/my-board/edit")
    lines = book_text(library, "my-board").text.split("\n")
    lines[20] = "  nonsense: [" + lines[20]
    page.fill("#text", "\n".join(lines))
    page.wait_for_selector("#findings .error")
    where = page.locator("#findings .error a").first
    line, column = map(int, re.findall(r"line (\d+), column (\d+)", where.inner_text())[0])
    where.click()
    assert page.evaluate("document.activeElement.id") == "text"
    at = page.evaluate("document.activeElement.selectionStart")
    before = page.input_value("#text")[:at].split("\n")
    assert (len(before), len(before[-1]) + 1) == (line, column)


def test_a_book_is_saved_with_the_keyboard_alone(library, pages):
    page = pages.open("/books")
    tab_to(page, "h2 a")
    page.keyboard.press("Enter")
    page.wait_for_url("**/books/my-board")
    tab_to(page, "a[href$='/edit']")
    page.keyboard.press("Enter")
    page.wait_for_url("**/edit")
    tab_to(page, "#text")
    page.keyboard.press("Control+End")
    page.keyboard.type("# by keyboard\n")
    tab_to(page, "button[value=save]")
    page.keyboard.press("Enter")
    page.wait_for_selector("#saved")
    assert book_text(library, "my-board").text.endswith("# by keyboard\n")


def test_the_saving_key_saves(library, pages):
    page = pages.open("/books/my-board/edit")
    page.focus("#text")
    page.keyboard.press("Control+End")
    page.keyboard.type("# by key\n")
    page.keyboard.press("Control+s")
    page.wait_for_selector("#saved")
    assert book_text(library, "my-board").text.endswith("# by key\n")


def test_without_scripts_a_book_is_reviewed_and_saved(library, pages):
    page = pages.open("/books/my-board/edit", PHONE, scripts=False)
    text = book_text(library, "my-board").text
    page.fill("#text", "book: 9\n")
    page.click("button[value=review]")
    assert page.locator("#findings .error").count() >= 1
    page.fill("#text", text + "# plain\n")
    page.click("button[value=save]")
    assert "Saved." in page.inner_text("main")
    assert book_text(library, "my-board").text == text + "# plain\n"


def test_leaving_with_unsaved_text_is_asked_about(pages):
    page = pages.open("/books/my-board/edit")
    page.focus("#text")
    page.keyboard.type("# unsaved\n")
    asked = []
    page.on("dialog", lambda dialog: (asked.append(dialog.type), dialog.accept()))
    page.click(".wayback")
    page.wait_for_url("**/books/my-board")
    assert asked == ["beforeunload"]
