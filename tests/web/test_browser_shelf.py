"""A soak in a real browser: begun from the job, seen on the shelf, heard of on the bench, ended."""

from bench_forms import bench_library
from playwright.sync_api import expect
from web_browser import SCREENS, Pages, check_screen, served


def test_a_soak_on_every_screen_and_its_alert_without_reload(browser, tmp_path):
    with served(bench_library(tmp_path / "library")) as address:
        pages = Pages(browser, address, kept=False)  # the clock is the whole profile's
        page = pages.open("/bench/start?board=my-board&complaint=restarts", SCREENS[0])
        press(page, "Start")
        page.goto(page.url.partition("?")[0] + "?fix=replace-u2")
        press(page, "The fix is done")
        check_screen(page)
        press(page, "Start the soak")
        page.goto(address + "/shelf")
        check_screen(page)
        bench = pages.open("/bench")
        bench.clock.install()
        bench.reload()
        expect(bench.locator("#rings p")).to_have_count(0)
        press(page, "Note it")
        expect(page).to_have_title("(1) Soak: Soak shelf – benchlore")
        check_screen(page)
        bench.clock.fast_forward(11_000)
        expect(bench.locator("#rings")).to_contain_text("showed itself")
        expect(bench).to_have_title("(1) Soak: Bench – benchlore")
        bench.locator("#rings a").click()
        bench.wait_for_url("**/shelf#soak-*")
        check_screen(bench)
        press(bench, "End it: failed")
        expect(bench.locator("main")).to_contain_text("Nothing soaks.")
        pages.close()
        assert pages.complaints == []


def press(page, name):
    with page.expect_navigation():
        page.get_by_role("button", name=name).first.click()
