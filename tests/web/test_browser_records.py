"""The recorded jobs and their intake on every screen, in a real browser."""

import pytest
from records_samples import MAPPING, SHEET, SHOP, job, stored
from web_browser import SCREENS, check_screen, tab_to

from benchlore.jobs import Attempt, Outcome, Reading, Retest, Store
from benchlore.library import init_library

LONG = "Kondensator C5 durchlegiert, Leiterbahn daneben verkohlt und der Rest mit Flussmittel verklebt" * 2


@pytest.fixture
def library(tmp_path):
    library = init_library(tmp_path / "library", title="Quay bench", board="my-board")
    stored(
        library,
        job(
            "26/7",
            readings=(
                Reading("rail-ohms", 1, value=3.0, text="3,0 R"),
                Reading("fuse-ohms", 4, value=0.2, text="0,2"),
            ),
            attempts=(Attempt("replace-u2", 2, Retest.STILL_THERE), Attempt("replace-c5", 3, Retest.GONE)),
            fault="c5-short",
            fault_text=LONG,
            notes=LONG,
            technician="Mo",
            extra={"Farbe": "x" * 120},
        ),
        job("26/8", outcome=Outcome.RETURNED, fault_text=LONG, opened=None),
        *(job(f"N{number}") for number in range(60)),
    )
    return library


@pytest.fixture
def sheet(tmp_path):
    path = tmp_path / "march.csv"
    path.write_text(SHEET, encoding="utf-8")
    return path


@pytest.fixture
def mapping(tmp_path):
    path = tmp_path / "m.yaml"
    path.write_text(MAPPING, encoding="utf-8")
    return path


def test_the_list_of_jobs(pages, screen):
    page = pages.open("/jobs", screen)
    assert page.locator("tbody tr").count() == 50
    check_screen(page)


def test_no_jobs_found(pages, screen):
    page = pages.open("/jobs?words=nothing&since=never", screen)
    assert "0 jobs of 62" in page.inner_text("main")
    check_screen(page)


def test_jobs_are_narrowed_down_by_the_keyboard_and_without_scripts(pages):
    page = pages.open("/jobs", SCREENS[0], scripts=False)
    page.focus("#f-words")
    page.keyboard.type("26/")
    page.keyboard.press("Enter")
    page.wait_for_url("**words=26*")
    assert page.locator("tbody tr").count() == 2
    page.get_by_role("link", name="26/7").click()
    page.wait_for_url("**/26%2F7")
    assert SHOP in page.inner_text("h1")


def test_one_jobs_record(pages, screen):
    page = pages.open("/jobs?words=26%2F7", screen)
    page.get_by_role("link", name="26/7").click()
    page.wait_for_url("**/26%2F7")
    assert "Capacitor C5 shorted" in page.inner_text("main")
    check_screen(page)


def test_the_page_that_asks_for_a_sheet(pages, screen):
    check_screen(pages.open("/intake", screen))


def test_a_sheet_its_rows_and_the_refused_ones(pages, screen, sheet, mapping):
    page = pages.open("/intake", screen)
    page.set_input_files("#sheet", sheet)
    page.set_input_files("#mapping", mapping)
    page.get_by_role("button", name="Look at it").click()
    page.wait_for_selector("text=Take in 2 jobs")
    check_screen(page)
    page.get_by_role("button", name="Take in 2 jobs").click()
    page.wait_for_selector("text=Take these rows in")
    check_screen(page)
    page.fill("[name=text]", "job: [")
    page.get_by_role("button", name="Look at what it would take").click()
    page.wait_for_selector(".problems")
    check_screen(page)


def test_long_work_on_every_screen(pages, screen, sheet, mapping, monkeypatch):
    import threading

    from benchlore.web import intake, intake_work

    go_on, preview = threading.Event(), intake_work.preview_table

    def slow(library, table, mapping, *, now, report):
        report("Reading rows", 500, 100_000)
        assert go_on.wait(20)
        return preview(library, table, mapping, now=now, report=report)

    monkeypatch.setattr(intake_work, "preview_table", slow)
    monkeypatch.setattr(intake, "PATIENCE", 0.01)
    page = pages.open("/intake", screen)
    page.set_input_files("#sheet", sheet)
    page.set_input_files("#mapping", mapping)
    page.get_by_role("button", name="Look at it").click()
    page.wait_for_selector("text=500 of about 100,000")
    check_screen(page)
    go_on.set()
    page.wait_for_selector("text=Take in 2 jobs")


def test_without_scripts_the_page_looks_again_by_itself(pages, sheet, mapping, monkeypatch):
    import time

    from benchlore.web import intake, intake_work

    preview = intake_work.preview_table

    def slow(*given, **named):
        time.sleep(1.0)
        return preview(*given, **named)

    monkeypatch.setattr(intake_work, "preview_table", slow)
    monkeypatch.setattr(intake, "PATIENCE", 0.01)
    page = pages.open("/intake", scripts=False)
    page.set_input_files("#sheet", sheet)
    page.set_input_files("#mapping", mapping)
    page.get_by_role("button", name="Look at it").click()
    page.wait_for_selector("text=Take in 2 jobs")


def test_the_whole_intake_by_the_keyboard(pages, library, sheet):
    """From the file to the mended row; only the system's own file dialogue is stood in for."""
    page = pages.open("/intake", SCREENS[0])
    tab_to(page, "#sheet")
    page.set_input_files("#sheet:focus", sheet)
    tab_to(page, "main form button")
    page.keyboard.press("Enter")
    page.wait_for_selector("#text")
    tab_to(page, "#s-shop")
    page.keyboard.press("Control+A")
    page.keyboard.type("Quay Nord")
    tab_to(page, "[name='means-6']")
    page.keyboard.type("keep as")
    tab_to(page, "#text")
    text = MAPPING.replace("Quay Süd", "Somewhere")
    page.keyboard.press("Control+A")
    page.keyboard.insert_text(text)
    tab_to(page, "section[aria-labelledby=columns] button.main")
    page.keyboard.press("Enter")
    page.wait_for_selector("text=Take in 2 jobs")
    assert "shop: Somewhere" in page.input_value("#text")
    assert "extra: [Colour]" in page.input_value("#text")
    tab_to(page, "form[action$='/take'] button")
    page.keyboard.press("Enter")
    page.wait_for_selector("text=Take these rows in")
    tab_to(page, "[name='cell-3-2']")
    page.keyboard.press("Control+A")
    page.keyboard.type("4k7")
    tab_to(page, "[name='cell-5-1']")
    page.keyboard.press("Control+A")
    page.keyboard.type("2026-03-04")
    tab_to(page, "form[action$='/mend'] button")
    page.keyboard.press("Enter")
    page.wait_for_selector("text=all of it is in the store")
    check_screen(page)
    with Store.open(library.store) as store:
        taken = {found.number: found for found in store.jobs(shop="Somewhere")}
    assert taken.keys() == {"1", "2", "3", "4"}
    assert taken["2"].readings[0].text == "4k7"
    assert taken["1"].extra == {"Colour": "red"}
