"""A published complaint that comes and goes: how long to soak, from the functions that the command asks."""

import pytest
from markupsafe import escape
from page_reading import parsed
from site_samples import press

from benchlore.library import init_library, kept_procedure, learn_board, step_soaks
from benchlore.library.folder import sound_shop_of
from benchlore.press.text import whole_minutes
from benchlore.soak import ACCELERATED
from benchlore.units import share
from soak_book import BOOK

BOARD = "ferrol-p1"


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    folder = tmp_path_factory.mktemp("soaks")
    library = init_library(folder / "library", title="Pumps", board=BOARD)
    library.book_file(BOARD).write_text(BOOK)
    press(library, folder / "out")
    return library, folder / "out" / "boards" / BOARD


def test_each_fix_has_its_soak_and_what_it_proves(made):
    library, folder = made
    page = (folder / "restarts" / "index.html").read_text()
    parsed(page)
    learned, shop = learn_board(library, BOARD), sound_shop_of(library)
    procedure = kept_procedure(library, BOARD, "restarts").procedure
    soaks = step_soaks(learned.book, learned.models["restarts"], shop, procedure.steps)
    assert soaks
    for each in soaks:
        step = procedure.steps[each.number - 1]
        assert each.row.minutes == step.soak
        # The procedure's own chance that the retest shows nothing is the soak's.
        assert each.row.verdict.clean.clean == pytest.approx(step.chances["gone"], rel=1e-6)
        assert f'href="#step-{each.number}">Step {each.number}: {each.title}</a></th>' in page
        assert whole_minutes(each.row.minutes) in page
        assert share(each.row.verdict.clean.cured) in page
    assert "back in 30 days" in page
    assert "back in 90 days" in page
    assert "A soak that may end early" in page
    assert escape(ACCELERATED) in page
    assert "Lithium cell" in page


def test_a_complaint_that_always_shows_has_none(made):
    assert "How long to soak" not in (made[1] / "dead" / "index.html").read_text()
