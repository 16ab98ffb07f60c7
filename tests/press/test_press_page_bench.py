"""The bench in a published page, used as a technician uses it: from a file, with a thumb, without a network."""

import functools
import json
import re
import shutil
import threading
from datetime import UTC, datetime
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from urllib.parse import urlsplit

import pytest
from axe_playwright_python.sync_playwright import Axe
from web_browser import forget

from benchlore.jobs import Attempt, Outcome, Reading, Retest, Store
from benchlore.library import Bench, companion_of, init_library, open_library, take_in, why_said
from benchlore.press.page_bench import bench_script, embedded
from benchlore.press.site import press_site
from benchlore.units import share

NOW = datetime(2026, 3, 4, 12, tzinfo=UTC)
BOARD, COMPLAINT = "quay-board", "no-power"
PAGE = f"boards/{BOARD}/{COMPLAINT}/index.html"


@pytest.fixture(scope="module")
def library(tmp_path_factory):
    return init_library(tmp_path_factory.mktemp("bench") / "library", title="Quay bench", board=BOARD)


@pytest.fixture(scope="module")
def site(library, tmp_path_factory):
    """The pressed site's folder."""
    out = tmp_path_factory.mktemp("pressed") / "site"
    press_site(library, out, now=NOW, workers=1)
    return out


@pytest.fixture(scope="module")
def profile(browser):
    """Gives the profile of a kind, which all tests share: each takes half a second of a processor to make."""
    made = {}

    def of(scheme, scripts):
        if (scheme, scripts) not in made:
            made[scheme, scripts] = browser.new_context(
                viewport={"width": 390, "height": 844}, color_scheme=scheme, java_script_enabled=scripts
            )
            made[scheme, scripts].new_page()  # stays blank, so that the profile stays awake between tests
        return made[scheme, scripts]

    yield of
    for context in made.values():
        context.close()


@pytest.fixture
def tabs(profile):
    """Opens pages on a telephone; nothing may complain in their consoles, and nothing of them is kept."""
    tabs, complaints = [], []

    def opened(address, *, scheme="light", scripts=True, before=""):
        tab = profile(scheme, scripts).new_page()
        tabs.append(tab)
        tab.set_default_timeout(5000)
        tab.on("pageerror", lambda error: complaints.append(str(error)))
        tab.on("console", lambda said: complaints.append(said.text) if said.type == "error" else None)
        if before:
            tab.add_init_script(before)
        tab.goto(address)
        return tab

    yield opened
    for tab in tabs:
        forget(tab)
        tab.close()
    assert complaints == []


@pytest.fixture
def tab(tabs, site):
    return tabs((site / PAGE).as_uri())


def step(tab):
    return tab.locator("#bench-step").inner_text()


def press(tab, name):
    tab.locator("#bench").get_by_role("button", name=name, exact=True).click()


def show_check(tab, name):
    unfold(tab, "Something else")
    tab.locator("#bench-check").select_option(name)
    tab.locator("form", has=tab.locator("#bench-check")).get_by_role("button").click()


def unfold(tab, summary):
    found = tab.locator("#bench details", has=tab.locator("summary", has_text=summary)).first
    if found.get_attribute("open") is None:
        found.locator("summary").first.click()


def read(tab, check, text):
    show_check(tab, check)
    tab.locator("#bench-reading").fill(text)
    tab.keyboard.press("Enter")


def shares(tab):
    rows = tab.locator("#bench .shares li").all()
    return {row.locator(".what").inner_text(): row.locator(".number").inner_text() for row in rows}


@pytest.mark.parametrize(
    "readings",
    [
        (),
        (("rail-ohms", "2k1"),),
        (("fuse-ohms", "OL"), ("rail-ohms", "4,7 ohm")),
        (("rail-volts", "0.1 V"),),
    ],
    ids=str,
)
def test_the_page_says_what_the_program_says(tab, library, readings):
    for check, text in readings:
        read(tab, check, text)
    asked = companion_of(library, BOARD, COMPLAINT).ask(Bench(readings))
    titles = dict(zip(asked.model.faults, asked.model.fault_titles, strict=True))
    assert shares(tab) == {titles[name]: share(part) for name, part in asked.advice.suspects if part > 0}
    assert asked.advice.best.title in step(tab)
    unfold(tab, "Why")
    assert tab.locator("#bench .card details li").all_inner_texts() == list(why_said(asked))


def test_a_reading_lands_on_the_number_line_while_it_is_typed(tab):
    show_check(tab, "rail-ohms")
    mark = tab.locator("#bench .scale .lands")
    assert mark.get_attribute("hidden") is not None
    places = []
    for text, understood in (("3R3", "3.3 ohm"), ("2,2 kohm", "2.2 kohm")):
        tab.locator("#bench-reading").fill(text)
        assert understood in tab.locator("#bench-lands").inner_text()
        places.append(float(re.search(r"\(([\d.]+)", mark.get_attribute("transform"))[1]))
    assert places[0] < places[1]
    tab.locator("#bench-reading").fill("OL")
    assert mark.get_attribute("hidden") is not None


def test_what_is_no_reading_is_refused_with_what_would_be_one(tab):
    show_check(tab, "rail-volts")
    tab.locator("#bench-reading").fill("3.3 ohm")
    press(tab, "Enter")
    assert "write voltage as 3.3 V" in tab.locator("#bench-lands").inner_text()
    assert "Nothing yet." in tab.locator("#bench").inner_text()


def test_a_check_that_has_to_wait_says_so(tab):
    """A powered reading on a rail that may be shorted is never offered as if it were harmless."""
    show_check(tab, "rail-volts")
    assert "Not now: only after 'rail-ohms'." in tab.locator("#bench .card").inner_text()


def test_cautions_stand_with_the_steps_that_need_them(tab):
    read(tab, "rail-ohms", "2 ohm")
    assert "Fix" in step(tab)
    card = tab.locator("#bench .card").inner_text()
    assert card.count("Caution!") >= 2
    assert "Hot air burns" in card


def test_entries_are_taken_back_and_put_back_and_outlast_the_page(tab):
    first = step(tab)
    read(tab, "rail-ohms", "2k2")
    read(tab, "fuse-ohms", "OL")
    after = step(tab)
    press(tab, "Take back the last entry")
    press(tab, "Put it back")
    assert step(tab) == after
    tab.reload()
    assert step(tab) == after
    tab.get_by_role("button", name="Back to here").click()
    press(tab, "Take back the last entry")
    assert step(tab) == first
    press(tab, "Put it back")
    press(tab, "Start again with another device")
    assert step(tab) == first
    tab.locator("#bench-job").select_option(index=0)
    tab.locator("form", has=tab.locator("#bench-job")).get_by_role("button").click()
    assert "2k2" in tab.locator("#bench .journal").inner_text()


def test_a_browser_that_keeps_nothing_is_told_and_helps_all_the_same(tabs, site):
    broken = "Object.defineProperty(window, 'localStorage', { get() { throw new Error('denied'); } });"
    tab = tabs((site / PAGE).as_uri(), before=broken)
    read(tab, "rail-ohms", "2k2")
    assert "keeps nothing for this page" in tab.locator("#bench").inner_text()
    assert "2k2" in tab.locator("#bench .journal").inner_text()


def test_what_is_kept_and_makes_no_sense_any_more_does_not_stand_in_the_way(tabs, site):
    kept = json.dumps(
        {
            "jobs": [
                {"entries": [{"kind": "reading", "check": "gone", "text": "1"}], "undone": [], "about": {}}
            ]
        }
    )
    script = f"localStorage.setItem('benchlore bench {BOARD}/{COMPLAINT}', {json.dumps(kept)});"
    tab = tabs((site / PAGE).as_uri(), before=script)
    assert step(tab)


def test_a_record_goes_into_a_library_as_it_was_typed(tab, library, tmp_path):
    read(tab, "rail-ohms", "2.2 kohm")
    read(tab, "fuse-ohms", "OL")
    show_check(tab, "rail-volts")
    press(tab, "Unclear")
    for fix, result in (("replace-u2", "Still there"), ("replace-f1", "Gone")):
        unfold(tab, "Something else")
        tab.locator("#bench-fix").select_option(fix)
        tab.locator("form", has=tab.locator("#bench-fix")).get_by_role("button").click()
        press(tab, "The fix is done")
        press(tab, result)
    press(tab, "Close the job")
    told = {
        "job": "7, or “seven”",
        "shop": "Fährhaus: Elektro",
        "technician": "Odile",
        "work": "41.5",
        "notes": 'Said "hm", left',
    }
    for name, text in told.items():
        tab.locator(f"#bench-about-{name}").fill(text)
    tab.locator("#bench-about-fault").select_option("f1-open")
    for name in ("Save the record", "Save its mapping file"):
        with tab.expect_download() as loading:
            press(tab, name)
        loading.value.save_as(tmp_path / ("record.csv" if name.split()[-1] == "record" else "mapping.yaml"))
    today = datetime.now(UTC)  # the page dates its record by the browser's clock
    taken = take_in(library, tmp_path / "record.csv", tmp_path / "mapping.yaml", now=today)
    assert taken.rejects is None
    with Store.open(library.store) as store:
        job = store.job("Fährhaus: Elektro", "7, or “seven”")
    assert (job.board, job.complaint, job.outcome, job.fault) == (
        BOARD,
        COMPLAINT,
        Outcome.REPAIRED,
        "f1-open",
    )
    assert (job.technician, job.hands_on, job.waiting) == ("Odile", 41.5, None)
    assert job.readings == (
        Reading("rail-ohms", 1, None, 2200.0, "2.2 kohm"),
        Reading("fuse-ohms", 2, None, float("inf"), "OL"),
    )
    assert job.attempts == (
        Attempt("replace-u2", 3, Retest.STILL_THERE),
        Attempt("replace-f1", 4, Retest.GONE),
    )
    assert job.notes == 'Said "hm", left; Unclear: rail-volts.'
    assert job.opened is not None


def test_without_scripts_the_numbered_steps_remain(tabs, site):
    tab = tabs((site / PAGE).as_uri(), scripts=False)
    assert not tab.locator("#bench").is_visible()
    assert tab.locator("#step-1").is_visible()


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_everybody_can_use_it(tabs, server, scheme):
    tab = tabs(f"http://127.0.0.1:{server.server_port}/{PAGE}", scheme=scheme)
    show_check(tab, "rail-ohms")
    for summary in ("Something else", "The record"):
        unfold(tab, summary)
    rules = {"runOnly": {"type": "tag", "values": ["wcag2a", "wcag2aa", "wcag21aa", "wcag22aa"]}}
    asked = {**rules, "rules": {"target-size": {"enabled": True}}, "resultTypes": ["violations"]}
    said = Axe().run(tab, context="#bench", options=asked)
    assert said.response["violations"] == []
    assert tab.evaluate("document.documentElement.scrollWidth <= window.innerWidth")


@pytest.fixture
def server(site):
    """A file server; stop it with :func:`stop`."""
    server = serving(site)
    yield server
    stop(server)


def serving(folder, port=0):
    quiet = type("Quiet", (SimpleHTTPRequestHandler,), {"log_message": lambda *_: None})
    server = ThreadingHTTPServer(("127.0.0.1", port), functools.partial(quiet, directory=folder))
    threading.Thread(target=server.serve_forever, daemon=True).start()
    return server


def stop(server):
    server.shutdown()
    server.server_close()


def test_a_served_site_is_kept_and_opens_without_the_server(tabs, server, site):
    root = f"http://127.0.0.1:{server.server_port}"
    tab = tabs(f"{root}/index.html")
    tab.evaluate("navigator.serviceWorker.ready")
    tab.wait_for_function("navigator.serviceWorker.controller !== null")
    assert tab.evaluate("document.querySelector('link[rel=manifest]').href") == f"{root}/site.webmanifest"
    stop(server)
    tab.goto(f"{root}/boards/{BOARD}/{COMPLAINT}/")  # never opened while there was a network
    assert step(tab)
    tab.reload()
    read(tab, "rail-ohms", "2k2")
    assert "2k2" in tab.locator("#bench .journal").inner_text()


def test_what_is_pressed_anew_is_shown_once_there_is_a_network_and_until_then_what_was(
    tabs, library, site, tmp_path
):
    shutil.copytree(library.folder, tmp_path / "library")
    shutil.copytree(site, tmp_path / "site")
    server = serving(tmp_path / "site")
    root = f"http://127.0.0.1:{server.server_port}"
    tab = tabs(f"{root}/index.html")
    tab.wait_for_function("navigator.serviceWorker.controller !== null")
    stop(server)
    tab.goto(f"{root}/{PAGE}")

    about = tmp_path / "library" / "library.yaml"
    about.write_text(about.read_text("utf-8").replace("Quay bench", "Quay bench and sons"), "utf-8")
    press_site(open_library(tmp_path / "library"), tmp_path / "site", now=NOW, effort=None, workers=1)
    tab.reload()
    assert tab.locator("header .name").inner_text() == "Quay bench"
    assert step(tab)

    server = serving(tmp_path / "site", server.server_port)
    changed = "new Promise((done) => navigator.serviceWorker.addEventListener('controllerchange', done))"
    tab.evaluate(f"window.changed = {changed}; navigator.serviceWorker.ready.then((each) => each.update())")
    tab.evaluate("window.changed.then(() => true)")
    stop(server)
    tab.reload()
    assert tab.locator("header .name").inner_text() == "Quay bench and sons"
    assert step(tab)


def test_a_manifest_names_files_that_are_there(site):
    manifest = json.loads((site / "site.webmanifest").read_text("utf-8"))
    assert manifest["name"] == "Quay bench"
    for path in (manifest["start_url"], *(icon["src"] for icon in manifest["icons"])):
        assert (site / urlsplit(path).path).is_file()


def test_the_worker_lists_every_file_by_its_digest(site):
    text = (site / "worker.js").read_text("utf-8")
    listed = json.loads(text.split(";")[0].removeprefix("const FILES = "))
    there = {str(path.relative_to(site)) for path in site.rglob("*") if path.is_file()}
    assert {*listed} == {path for path in there if not path.startswith(".")} - {"worker.js"}


def test_nothing_of_a_book_ends_the_data():
    assert json.loads(embedded({"a": "</script><!-- &\u2028"})) == {"a": "</script><!-- &\u2028"}
    assert not set("<>&\u2028") & {*embedded("</script><!-- &\u2028")}


def test_the_script_is_small_and_asks_for_nothing():
    script = bench_script()
    assert len(script) < 125_000
    assert not re.search(r"\b(fetch|import|XMLHttpRequest|eval|innerHTML)\b", script)
