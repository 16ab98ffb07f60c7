"""A page of a book of twenty faults stays small, whole, with its model, its procedure and its pictures' places."""

import re
import shutil
from datetime import date
from importlib.resources import files

import pytest
from page_reading import elements, ids, parsed

from benchlore.library import open_library, plan_complaint, sound_shop_of
from benchlore.press.site.complaint_files import page_file
from benchlore.press.site.sources import board_source
from benchlore.press.site.values import Frame
from benchlore.procedure import Effort

MOST = 250_000
"""Bytes of a page, uncompressed."""
BOARD, COMPLAINT = "tornvik-mc2", "cuts-out"


@pytest.fixture(scope="module")
def page(tmp_path_factory):
    """The demo's largest page: 20 faults and the unlisted one, 30 checks, soaks; without any recorded job."""
    folder = tmp_path_factory.mktemp("demo") / "library"
    shutil.copytree(str(files("benchlore") / "demo"), folder, ignore=shutil.ignore_patterns("intake"))
    library = open_library(folder)
    plan_complaint(library, BOARD, COMPLAINT, effort=Effort.QUICK, today=date(2026, 3, 1))
    shop = sound_shop_of(library, None)
    source = board_source(library, BOARD, shop, None, {})
    (complaint,) = (each for each in source.complaints if each.complaint.name == COMPLAINT)
    assert len(complaint.model.faults) == 21
    frame = Frame(library.title, library.licence, shop.name, "https://repair.example/", ())
    return page_file(frame, complaint, source.pictures, ()).decode()


def test_a_page_with_its_model_and_its_procedure_is_small(page):
    assert page.count('id="step-') > 50
    assert len(page.encode()) < MOST


def test_every_place_is_drawn_once_and_shown_at_each_of_its_steps(page):
    tree = parsed(page)
    there = ids(tree)
    assert len(set(there)) == len(there)
    used = [each.get("href") for each, tag in elements(tree) if tag == "use"]
    assert {address.removeprefix("#") for address in used} <= set(there)
    assert page.count("<image ") == len({each for each in there if each.startswith("picture-")}) == 1
    shown = [address for address in used if address.startswith("#place-")]
    assert len(shown) == page.count('<details class="place">') > len(set(shown)) > 10


def test_a_setup_is_told_where_it_comes_first_and_led_to_from_elsewhere(page):
    """The page alone must do, printed too: whatever a step leads to tells how."""
    steps = dict(re.findall(r'<li id="step-(\d+)".*?>(.*?)</li>\n(?=<li id|</ol>)', page, re.DOTALL))
    led = [
        (title, number)
        for step in steps.values()
        for title, number in re.findall(r'<p>(First [^<]*), as at <a href="#step-(\d+)">', step)
    ]
    assert len(led) > 3
    assert all(f"<p>{title}: " in steps[number] for title, number in led)
    assert all(page.count(f"<p>{title}: ") == 1 for title, _ in led)
