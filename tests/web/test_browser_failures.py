"""The page of a failure on every screen."""

from web_browser import check_screen


def test_a_page_that_there_is_not(pages, screen):
    page = pages.open("/nowhere", screen)
    assert "There is no such page." in page.inner_text("main")
    check_screen(page)


def test_the_page_begins_with_a_way_past_its_head(pages):
    page = pages.open("/nowhere")
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.id") == "main"
