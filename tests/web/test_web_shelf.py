"""The soak shelf's page, its entries and its API, without a browser."""

from datetime import timedelta

import pytest
from bench_forms import Visitor, bench_library, words

from benchlore.jobs import EntryKind
from benchlore.library import Desk
from benchlore.web import bench as bench_page
from benchlore.web import bench_job, shelf, shelf_api
from benchlore.web.at_desk import FormError, here
from benchlore.web.shelf import minutes_ago


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    return bench_library(tmp_path_factory.mktemp("shelf") / "library")


@pytest.fixture
def library(made, tmp_path):
    made.store.unlink(missing_ok=True)
    return made


@pytest.fixture
def bench(client):
    return Visitor(client)


@pytest.fixture
def soaking(bench):
    bench.start("restarts", device="P1-17")
    bench.fix("replace-u2")
    bench.press("Start the soak")
    return bench


def later(monkeypatch, minutes):
    then = here() + timedelta(minutes=minutes)
    for module in (bench_page, bench_job, shelf, shelf_api):
        monkeypatch.setattr(module, "here", lambda: then)


def test_an_empty_shelf_says_how_a_soak_is_begun(bench):
    bench.go("/shelf")
    assert "Nothing soaks." in bench.text
    assert bench.client.get("/api/shelf").json() == []


def test_the_job_page_offers_soaks_with_their_reasons(bench):
    bench.start("restarts")
    bench.fix("replace-u2")
    assert "costs least" in bench.text
    assert "the book's" in bench.text
    assert "back in 30 days" in bench.text


def test_a_soak_from_its_beginning_to_a_clean_end(soaking, library, monkeypatch):
    soaking.go("/shelf")
    assert "Boards that run after a fix" in soaking.text
    assert "What each further hour adds" in soaking.text
    assert "The counting test goes on." in soaking.text
    assert "P1-17" in soaking.text
    soaking.press(label(soaking, "Switched off"))
    assert "its time stands still" in soaking.text
    soaking.press(label(soaking, "It is on again"))
    later(monkeypatch, 14 * 24 * 60)
    (found,) = soaking.client.get("/api/shelf").json()
    # The plan is shorter than the counting test, which knows nothing of what the fix was thought to be worth.
    assert (found["state"], found["test"]) == ("over", "go on")
    assert "the soak is done" in words(soaking.client.get("/bench"))
    soaking.go("/shelf")
    soaking.press(label(soaking, "End it: clean"))
    assert "Nothing soaks." in soaking.text
    with Desk(library) as desk:
        (line,) = desk.jobs(here())
        view = desk.view(line.job.key, here() + timedelta(days=14))
    assert view.cured.minutes == pytest.approx(found["planned"])
    assert view.entries[-1].kind is EntryKind.RETEST


def label(bench, name):
    """A button's whole name, with the job's number that is read aloud."""
    number = bench.client.get("/api/shelf").json()[0]["number"]
    return f"{name}: {number}"


def test_a_restart_is_noted_rings_and_is_taken_back(soaking):
    soaking.go("/shelf")
    soaking.press(label(soaking, "Note it"))
    assert "it showed itself 1 time" in soaking.text
    assert "A cured board shows nothing." in soaking.text
    (found,) = soaking.client.get("/api/shelf").json()
    assert (found["state"], len(found["shown"])) == ("shown", 1)
    assert "the complaint showed itself" in words(soaking.client.get("/bench"))
    soaking.go("/shelf")
    soaking.press(label(soaking, "Take back the last entry"))
    assert "; it showed itself" not in soaking.text


def test_what_holds_of_a_quiet_board_is_not_said_of_one_that_showed_itself(soaking, monkeypatch):
    soaking.go(f"/bench/{soaking.key}")
    assert "if nothing shows" in soaking.text
    soaking.go("/shelf")
    soaking.press(label(soaking, "Note it"))
    later(monkeypatch, 14 * 24 * 60)
    soaking.go("/shelf")
    assert "The counting test alone would" in soaking.text
    assert "By the counting test" not in soaking.text
    key = soaking.client.get("/api/shelf").json()[0]["key"]
    soaking.go(f"/bench/{key}")
    assert "A cured board shows nothing." in soaking.text
    assert "if nothing show" not in soaking.text


def test_a_soak_that_is_over_is_told_once_and_its_numbers_keep_their_units(soaking, monkeypatch):
    later(monkeypatch, 14 * 24 * 60)
    key = soaking.key
    soaking.go(f"/bench/{key}")
    assert soaking.text.count("if nothing show") == 1
    soaking.go("/shelf")
    assert "1\u00a0h of 1\u00a0h soaked. The planned time is done." in soaking.page.text


def test_of_boards_that_are_done_the_one_that_began_first_stands_first(library, bench, monkeypatch):
    for name in "ABCD":
        bench.start("restarts", device=name)
        bench.fix("replace-u2")
        bench.press("Start the soak")
    later(monkeypatch, 14 * 24 * 60)
    with Desk(library) as desk:
        boards = desk.shelf(here() + timedelta(days=14)).boards
    assert [each.job.device for each in boards] == list("ABCD")


def test_a_restart_before_the_soak_began_stores_nothing(soaking):
    soaking.go("/shelf")
    then = (here() - timedelta(minutes=5)).strftime("%H:%M")
    soaking.press(label(soaking, "Note it"), at=then)
    assert soaking.page.status_code == 422
    assert "the soak had not begun" in soaking.text


def test_minutes_ago_are_those_since_the_last_time_that_it_was_so_late():
    now = here().replace(hour=0, minute=20)
    assert [minutes_ago(text, now) for text in ("", "00:20", "00:05", "23:50")] == [0, 0, 15, 30]
    with pytest.raises(FormError, match="at"):
        minutes_ago("noon", now)
