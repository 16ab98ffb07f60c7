"""The bench in a real browser: every screen, the keyboard alone, two windows, no scripts."""

import pytest
from bench_forms import bench_library
from playwright.sync_api import expect
from web_browser import SCREENS, Pages, check_screen, served, tab_to

START = "/bench/start?board=my-board&complaint="


@pytest.fixture(scope="module")
def shared(browser, tmp_path_factory):
    """One app for all tests here; each starts a job of its own."""
    library = bench_library(tmp_path_factory.mktemp("bench") / "library")
    with served(library) as address:
        yield Pages(browser, address)


@pytest.fixture
def pages(shared):
    yield shared
    shared.close()
    assert shared.complaints == []


def begin(pages, screen=SCREENS[-1], complaint="no-power", *, scripts=True):
    """Start a job; what is returned is its page."""
    page = pages.open(START + complaint, screen, scripts=scripts)
    page.fill("#technician", "Ines")
    press(page, "Start")
    return page


def press(page, name):
    """Press a button and wait for the page that it leads to."""
    with page.expect_navigation():
        page.get_by_role("button", name=name, exact=True).first.click()


def go(page, query):
    page.goto(page.url.partition("?")[0] + query)


def test_the_bench_and_a_start(pages, screen):
    begin(pages, screen)
    page = pages.open("/bench", screen)
    check_screen(page)
    page.goto(pages.address + START + "no-power")
    check_screen(page)
    page.goto(pages.address + "/bench/closed")
    check_screen(page)


def test_the_screens_of_a_job(pages, screen):
    page = begin(pages, screen)
    go(page, "?check=rail-ohms")
    page.fill("#text", "2k2")
    expect(page.locator("#lands")).to_have_text("Understood as 2.2 kohm")
    page.locator("details").evaluate_all("all => all.forEach(one => one.open = true)")
    check_screen(page)
    press(page, "Enter")
    go(page, "?check=look")
    page.locator("details").evaluate_all("all => all.forEach(one => one.open = true)")
    check_screen(page)
    go(page, "?fix=replace-u2")
    check_screen(page)
    press(page, "The fix is done")
    press(page, "Gone")
    check_screen(page)
    page.get_by_role("link", name="Close the job").first.click()
    page.wait_for_url("**/close?*")
    check_screen(page)
    press(page, "Close the job")
    check_screen(page)
    page.get_by_role("link", name="Slip for the customer").click()
    page.wait_for_url("**/slip")
    check_screen(page)


def test_a_soak_counts_down(pages, screen):
    page = begin(pages, screen, "restarts")
    go(page, "?fix=replace-u2")
    press(page, "The fix is done")
    check_screen(page)
    press(page, "Start the soak")
    expect(page.locator(".soak .left")).to_contain_text("s left")
    check_screen(page)


def test_an_error_beside_what_was_typed(pages):
    page = begin(pages, SCREENS[0])
    go(page, "?check=rail-ohms")
    page.fill("#text", "12 V")
    press(page, "Enter")
    expect(page.get_by_role("alert")).to_contain_text("12 V")
    assert page.input_value("#text") == "12 V"
    check_screen(page)


def test_the_mark_moves_along_the_scale_while_one_types(pages):
    page = begin(pages)
    go(page, "?check=rail-ohms")
    mark = page.locator("#scale .wide .lands")
    expect(mark).to_have_css("display", "none")
    places = []
    for text, understood in (("5", "5 ohm"), ("500", "500 ohm"), ("2200", "2.2 kohm")):
        page.fill("#text", "")
        expect(mark).to_have_css("display", "none")
        page.locator("#text").press_sequentially(text)
        expect(page.locator("#lands")).to_have_text(f"Understood as {understood}")
        expect(mark).to_have_css("display", "inline")
        places.append(page.evaluate("e => e.getBoundingClientRect().x", mark.element_handle()))
    assert places == sorted(set(places))
    svg = page.locator("#scale .wide svg").bounding_box()
    assert all(svg["x"] <= place <= svg["x"] + svg["width"] for place in places)


def test_words_that_are_no_reading_are_said_so_and_move_no_mark(pages):
    page = begin(pages)
    go(page, "?check=rail-ohms")
    page.fill("#text", "12 V")
    expect(page.locator("#lands")).to_contain_text("12 V")
    expect(page.locator("#scale .wide .lands")).to_have_css("display", "none")


def test_two_people_on_one_job_see_each_other(pages):
    mine = begin(pages)
    yours = pages.open(mine.url.removeprefix(pages.address))
    expect(yours.locator("#newer")).to_be_hidden()
    press(mine, "At work")
    expect(yours.locator("#newer")).to_be_visible(timeout=9_000)
    press(yours, "Waiting")
    expect(yours.get_by_role("alert")).to_contain_text("Clock: hands-on")


def test_the_whole_job_with_the_keyboard_alone(pages):
    page = pages.open("/bench")

    def enter():
        with page.expect_navigation():
            page.keyboard.press("Enter")

    tab_to(page, "a[href*='complaint=no-power']")
    enter()
    tab_to(page, "#technician")
    page.keyboard.type("Ines")
    enter()
    for _ in range(8):
        if page.locator("#text").count():
            tab_to(page, "#text")
            page.keyboard.type("OL" if page.get_attribute("#text", "data-check") == "fuse-ohms" else "3R3")
            enter()
        elif page.locator(".results").count():
            tab_to(page, ".results button")
            enter()
        else:
            break
    tab_to(page, ".card button.main")
    enter()
    expect(page.locator("#step")).to_contain_text("Try the complaint again")
    tab_to(page, ".card button.main")
    enter()
    tab_to(page, ".card a.main")
    enter()
    tab_to(page, "#fault")
    page.keyboard.press("ArrowDown")
    tab_to(page, "main form button")
    enter()
    tab_to(page, ".card a.main")
    enter()
    assert page.url.endswith("/slip")
    expect(page.locator(".slip")).to_contain_text("afterwards the complaint did not show again")


def test_the_whole_job_without_scripts(pages):
    page = begin(pages, scripts=False)
    go(page, "?check=rail-ohms")
    expect(page.locator("#scale .wide .lands")).to_have_css("display", "none")
    page.fill("#text", "3R3")
    press(page, "Enter")
    go(page, "?fix=replace-c5")
    press(page, "The fix is done")
    press(page, "Gone")
    page.get_by_role("link", name="Close the job").first.click()
    page.select_option("#fault", "c5-short")
    press(page, "Close the job")
    page.get_by_role("link", name="Slip for the customer").click()
    assert "Capacitor C5 shorted" in page.inner_text(".slip")


def test_the_slip_is_printed_on_one_page(pages):
    page = begin(pages)
    go(page, "?check=rail-ohms")
    page.fill("#text", "3R3")
    press(page, "Enter")
    go(page, "/slip")
    assert page.pdf(format="A4").count(b"/Type /Page\n") == 1


def test_the_list_of_boards_shrinks_to_what_is_typed(pages):
    page = pages.open("/bench")
    page.fill("#find", "restart")
    expect(page.locator(".board")).to_be_visible()
    page.fill("#find", "kettle")
    expect(page.locator(".board")).to_be_hidden()
    expect(page.locator("#none")).to_be_visible()


def test_targets_are_large_enough_for_a_gloved_thumb(pages):
    page = begin(pages, SCREENS[0])
    go(page, "?check=rail-ohms")
    small = page.eval_on_selector_all(
        "main button, main .button, main input, main select, main summary",
        "all => all.filter(one => one.checkVisibility() && one.offsetHeight && one.offsetHeight < 44)"
        ".map(one => one.outerHTML)",
    )
    assert small == []
