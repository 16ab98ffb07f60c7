"""Signing in by keyboard on a telephone, and the page that names a missing role."""

import pytest
from argon2 import PasswordHasher
from web_browser import SCREENS, Screen, check_screen, tab_to

from benchlore.library import Accounts, Role, init_library

PASSWORD = "a lamp, a loupe"


@pytest.fixture(scope="module")
def library(tmp_path_factory):
    found = init_library(
        tmp_path_factory.mktemp("accounts") / "library", title="Quay bench", board="my-board"
    )
    accounts = Accounts(found, hasher=PasswordHasher(time_cost=1, memory_cost=8, parallelism=1))
    accounts.add("Ines Okafor", Role.STEWARD, PASSWORD)
    accounts.add("Tove", Role.BENCH, PASSWORD)
    return found


def sign_in(page, name):
    tab_to(page, "#name")
    page.keyboard.type(name)
    page.keyboard.press("Tab")
    page.keyboard.type(PASSWORD)
    page.keyboard.press("Enter")
    page.wait_for_selector(".who")


def test_a_person_signs_in_and_out_by_keyboard(pages):
    page = pages.open("/books", Screen(390, "light"))
    assert page.inner_text("h1") == "Sign in"
    check_screen(page)
    tab_to(page, "#name")
    page.keyboard.type("Tove")
    page.keyboard.press("Tab")
    page.keyboard.type("not this one, no")
    page.keyboard.press("Enter")
    page.wait_for_selector("[role=alert]")
    assert page.input_value("#name") == "Tove"
    check_screen(page)
    page.fill("#name", "")
    sign_in(page, "Tove")
    assert page.url.endswith("/books")
    tab_to(page, ".who summary")
    page.keyboard.press("Enter")
    check_screen(page)
    tab_to(page, ".who button")
    page.keyboard.press("Enter")
    page.wait_for_selector("#password")
    page.goto(page.url.replace("/sign-in", "/bench"))
    assert page.inner_text("h1") == "Sign in"


@pytest.mark.parametrize("screen", [SCREENS[0], SCREENS[-1]], ids=str)
def test_a_missing_role_is_named(pages, screen):
    page = pages.open("/books/my-board/edit", screen)
    sign_in(page, "Tove")
    page.wait_for_selector("text=needs the role 'author'")
    check_screen(page)


def test_a_steward_sees_who_there_is(pages):
    page = pages.open("/people", Screen(390, "dark"))
    sign_in(page, "Ines Okafor")
    page.wait_for_selector("h1:has-text('People')")
    page.click("summary:has-text('Tove')")
    check_screen(page)
    page.goto(page.url.replace("/people", "/password"))
    check_screen(page)
