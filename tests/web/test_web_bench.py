"""The bench's pages, without a browser: from the complaint to the slip, and everything that may go wrong."""

import re
from datetime import timedelta
from io import BytesIO

import pytest
from bench_forms import Visitor, bench_library, read, words
from pypdf import PdfReader
from starlette.testclient import TestClient

from benchlore.jobs import EntryKind, Job, Outcome, Store
from benchlore.library import Desk
from benchlore.web import bench_job, create_app
from benchlore.web.at_desk import here

HOSTILE = '<script>alert("x")</script>'


@pytest.fixture
def library(tmp_path):
    return bench_library(tmp_path / "library")


@pytest.fixture
def bench(client):
    return Visitor(client)


def entries(library, key):
    with Desk(library) as desk:
        return desk.view(key, here()).entries


def record(library):
    with Store.open(library.store) as store:
        (job,) = store.jobs()
        return job


def test_the_bench_offers_every_complaint_of_every_book(bench):
    page = bench.go("/bench")
    assert "No job is open." in bench.text
    links = [found["href"] for tag, found in read(page).tags if tag == "a" and "start?" in found["href"]]
    assert links == [f"/bench/start?board=my-board&complaint={name}" for name in ("no-power", "restarts")]


def test_a_library_without_books_says_what_to_do(client, library):
    library.book_file("my-board").unlink()
    said = words(client.get("/bench"))
    assert "This library has no fault book yet" in said
    assert "Start one below" not in said


def test_a_book_with_errors_leaves_the_rest_of_the_bench_alone(bench, library):
    bench.start()
    library.book_file("my-board").write_text("book: 1\n", encoding="utf-8")
    page = bench.go("/bench")
    assert page.status_code == 200
    assert "The book my-board has errors" in bench.text
    assert "1 entry" in bench.text or "0 entries" in bench.text


def test_a_whole_job_from_the_complaint_to_the_slip(bench, library):
    bench.start(said="Fell into the dock", technician="Ines", device="T4-17")
    key = bench.key
    assert "“Fell into the dock”" in bench.text
    bench.reading("rail-ohms", "3R3")
    assert "Main rail to ground: 3.3 ohm" in bench.text
    assert "Fix: replace-c5" in bench.text
    assert "Parts: 10 µF capacitor (0.20 EUR)." in bench.text
    assert "Caution!" in bench.text
    bench.press("The fix is done")
    assert "Try the complaint again after replace-c5" in bench.text
    bench.press("Gone")
    assert "The complaint is gone" in bench.text
    again = [
        found["href"] for tag, found in read(bench.page).tags if tag == "a" and "check=" in found["href"]
    ]
    assert again == [f"/bench/{key}?check=rail-ohms"]
    bench.reading("rail-ohms", "2k2")
    bench.go(f"/bench/{key}/close?outcome=repaired")
    bench.press("Close the job", fault="c5-short", notes="bent", hands_on="22,5", waiting="0")
    assert "This job is closed" in bench.text
    assert [form["label"] for form in read(bench.page).forms] == ["Open it again"]
    job = record(library)
    assert (job.outcome, job.fault, job.hands_on, job.notes) == (Outcome.REPAIRED, "c5-short", 22.5, "bent")
    assert [(reading.check, reading.text) for reading in job.readings] == [
        ("rail-ohms", "3R3"),
        ("rail-ohms", "2k2"),
    ]
    slip = words(bench.go(f"/bench/{key}/slip"))
    assert "Capacitor C5 shorted" in slip
    assert "replace-c5: afterwards the complaint did not show again" in slip
    assert "Main rail to ground 3.3 ohm before" in slip
    assert "Main rail to ground 2.2 kohm after the repair" in slip
    assert "swollen" in slip
    paper = bench.client.get(f"/bench/{key}/slip.pdf")
    assert (paper.status_code, paper.headers["content-type"]) == (200, "application/pdf")
    assert paper.headers["content-disposition"].startswith('inline; filename="slip-')
    text = " ".join(PdfReader(BytesIO(paper.content)).pages[0].extract_text().split())
    for said in (
        "Fell into the dock",
        "Capacitor C5 shorted",
        "Main rail to ground 2.2 kohm after the repair",
    ):
        assert said in text
        assert said in slip
    assert f"/bench/{key}/slip.pdf?paper=half-letter" in bench.page.text
    assert bench.client.get(f"/bench/{key}/slip.pdf?paper=half-letter").content != paper.content


def main_buttons(page):
    """How many buttons of a page are the main one."""
    return sum(tag == "button" and found.get("class") == "main" for tag, found in read(page).tags)


def moment(monkeypatch, minutes):
    """Let the app believe that it is some minutes later."""
    then = here() + timedelta(minutes=minutes)
    monkeypatch.setattr(bench_job, "here", lambda: then)


def test_a_soak_runs_outlives_the_app_and_says_what_it_proves(bench, library, monkeypatch):
    bench.start("restarts")
    bench.fix("replace-u2")
    assert "Cured, before any retest" in bench.text
    assert "Caution! Lithium" in bench.text
    bench.press("Start the soak")
    assert "Soaking until" in bench.text
    assert "soaking until" in words(bench.client.get("/bench"))
    assert main_buttons(bench.page) == 0
    until = next(found["data-until"] for tag, found in read(bench.page).tags if "data-until" in found)
    bench.client = TestClient(create_app(library), base_url="http://127.0.0.1")
    bench.go(f"/bench/{bench.key}")
    assert f'data-until="{until}"' in bench.page.text
    moment(monkeypatch, 14 * 24 * 60)
    bench.go(f"/bench/{bench.key}")
    assert "The soak is over , and nothing was noted." in bench.text
    assert main_buttons(bench.page) == 1
    bench.press("Gone")
    assert re.search(r"cured with a chance of \S+ %  ?after \S+ min of soak", bench.text)


def test_gone_is_no_main_button_before_a_soak_that_pays(bench):
    bench.start("restarts")
    bench.fix("replace-u2")
    assert main_buttons(bench.page) == 1
    assert '<button class="main">Start the soak' in bench.page.text


def test_gone_is_the_main_button_where_no_soak_is_due(bench):
    bench.start()
    bench.fix("replace-c5")
    assert '<button class="main">Gone' in bench.page.text


def test_a_retest_that_nobody_knows_of_lets_the_job_go_on(bench):
    bench.start()
    bench.fix("replace-c5")
    bench.press("Nobody knows")
    assert "best next step" in bench.text


def test_a_retest_that_shows_the_complaint_goes_on_without_the_fix(bench):
    bench.start()
    bench.fix("replace-c5")
    bench.press("Still there")
    assert "best next step" in bench.text
    fixes = [found.get("value") for tag, found in read(bench.page).tags if tag == "option"]
    assert "replace-c5" not in fixes


def test_what_can_be_asked_at_once_is_a_reading_of_the_start(bench, library):
    bench.start(**{"fact-fell": "dropped"})
    (entry,) = entries(library, bench.key)
    assert (entry.kind, entry.data) == (EntryKind.READING, {"check": "fell", "text": "dropped"})


def test_a_job_that_is_started_twice_is_one_job(bench, client):
    bench.go("/bench/start?board=my-board&complaint=no-power")
    data = bench.form("Start")["fields"]
    first, second = (client.post("/bench/start", data=data).url for _ in range(2))
    assert first == second


def test_a_start_that_is_refused_keeps_what_was_typed(bench, library):
    bench.go("/bench/start?board=my-board&complaint=no-power")
    bench.press("Start", said="dead", device="D" * 3000, technician="Ines", **{"fact-fell": "dropped"})
    assert bench.page.status_code == 422
    assert "nothing was stored" in bench.text
    fields = bench.form("Start")["fields"]
    assert (fields["said"], fields["technician"], fields["fact-fell"]) == ("dead", "Ines", "dropped")
    with Desk(library) as desk:
        assert desk.jobs(here()) == ()


@pytest.mark.parametrize(
    ("label", "fields", "kind", "data"),
    [
        ("Unclear", {}, EntryKind.READING, {"check": "rail-ohms", "text": "unclear"}),
        ("Cannot be done", {}, EntryKind.SKIP, {"name": "rail-ohms"}),
        ("At work", {}, EntryKind.CLOCK, {"to": "hands-on"}),
        ("Waiting", {}, EntryKind.CLOCK, {"to": "waiting"}),
        ("Stopped", {}, EntryKind.CLOCK, {"to": "stopped"}),
        ("It stands", {"name": "case-open"}, EntryKind.SETUP, {"name": "case-open"}),
        ("It is missing", {"equipment": "hot-air"}, EntryKind.WITHOUT, {"equipment": "hot-air"}),
        ("Keep it", {"text": "smells burnt"}, EntryKind.NOTE, {"text": "smells burnt"}),
    ],
)
def test_every_kind_of_entry_has_its_form(bench, library, label, fields, kind, data):
    bench.start(technician="Ines")
    bench.go(f"/bench/{bench.key}?check=rail-ohms")
    bench.press(label, **fields)
    assert bench.page.status_code == 200
    (entry,) = entries(library, bench.key)
    assert (entry.kind, dict(entry.data), entry.by) == (kind, data, "Ines")


def test_a_named_result_is_a_button(bench, library):
    bench.start()
    bench.go(f"/bench/{bench.key}?check=look")
    bench.press("burnt")
    assert dict(entries(library, bench.key)[0].data) == {"check": "look", "text": "burnt"}


def test_what_else_costs_is_written_as_the_currency_is(bench, library):
    for file in (library.book_file("my-board"), library.shop_file):
        text = file.read_text(encoding="utf-8").replace("currency: EUR", "currency: JPY")
        file.write_text(text, encoding="utf-8")
    bench.start()
    others = re.findall(r": [−+]\S+ JPY", bench.text)
    assert others
    assert not any("." in other for other in others)


def test_another_check_and_another_fix_can_be_asked_for(bench):
    bench.start()
    key = bench.key
    form = next(
        form for form in read(bench.page).forms if "check" in form["fields"] and form["method"] == "get"
    )
    page = bench.go(f"{form['action']}?check=fuse-ohms")
    assert "Another step, not the best" in words(page)
    assert "Fuse F1" in words(page)
    assert "Fix: replace-f1" in words(bench.go(f"/bench/{key}?fix=replace-f1"))


def test_a_wrong_reading_stores_nothing_and_stays_in_its_field(bench, library):
    bench.start()
    bench.reading("rail-ohms", "12 V")
    assert bench.page.status_code == 422
    assert "Main rail to ground" in bench.text
    assert "12 V" in next(found for tag, found in read(bench.page).tags if found.get("id") == "text")["value"]
    assert 'role="alert"' in bench.page.text
    assert entries(library, bench.key) == ()


def test_a_remark_that_is_too_long_stays_in_its_field(bench, library):
    bench.start()
    bench.press("Keep it", text="x" * 10_001)
    assert bench.page.status_code == 422
    assert bench.form("Keep it")["fields"]["text"] == "x" * 10_001
    assert entries(library, bench.key) == ()


def test_an_entry_that_is_sent_twice_is_stored_once(bench, client, library):
    bench.start()
    data = bench.form("At work")["fields"]
    answers = [client.post(f"/bench/{bench.key}", data=data) for _ in range(2)]
    assert [answer.status_code for answer in answers] == [200, 200]
    assert len(entries(library, bench.key)) == 1


def test_who_has_not_seen_the_newest_entry_is_shown_it_before_entering(bench, client, library):
    bench.start()
    key = bench.key
    other = Visitor(client)
    other.go(f"/bench/{key}?check=rail-ohms")
    bench.press("Keep it", text="seen by nobody yet", by="Marten")
    refused = other.press("Enter", text="2k1")
    assert refused.status_code == 409
    alert = words(refused).partition("Entered since you looked:")[2]
    assert alert.split("(")[0].strip()[6:].startswith("Note: seen by nobody yet, Marten")
    assert other.form("Enter")["fields"]["text"] == "2k1"
    assert len(entries(library, key)) == 1
    assert other.press("Enter").status_code == 200
    assert len(entries(library, key)) == 2


def test_undo_goes_back_to_any_entry_and_can_be_taken_back(bench, library):
    bench.start()
    key = bench.key
    bench.reading("rail-ohms", "2k2")
    bench.reading("fuse-ohms", "OL")
    bench.press(next(f["label"] for f in read(bench.page).forms if f["label"].startswith("Back to here")))
    assert "Fuse F1: OL (taken back)" in bench.text.replace("( ", "(")
    with Desk(library) as desk:
        assert [taken.check for taken in desk.view(key, here()).readings] == ["rail-ohms"]
    bench.press("Take back the last entry")
    with Desk(library) as desk:
        assert [taken.check for taken in desk.view(key, here()).readings] == ["rail-ohms", "fuse-ohms"]
    bench.press("Back to the start")
    with Desk(library) as desk:
        assert desk.view(key, here()).readings == ()


def test_an_undo_says_to_which_entry_it_goes(bench):
    bench.start()
    bench.reading("rail-ohms", "2k2")
    bench.press("At work")
    labels = [form["label"] for form in read(bench.page).forms if form["label"].startswith("Back to here")]
    assert len(labels) == 1
    assert labels[0].endswith("Main rail to ground: 2.2 kohm")


def test_a_closed_job_takes_no_entry_and_can_be_opened_again(bench, client, library):
    bench.start()
    key = bench.key
    late = bench.form("Keep it")["fields"] | {"text": "late"}
    bench.go(f"/bench/{key}/close?outcome=returned")
    closing = bench.form("Close the job")
    assert closing["fields"]["outcome"] == "returned"
    bench.press("Close the job")
    assert (
        client.post(f"/bench/{key}/close", data=closing["fields"] | {"outcome": "returned"}).status_code
        == 200
    )
    refused = client.post(f"/bench/{key}", data=late)
    assert refused.status_code == 409
    assert "this job is closed" in words(refused)
    assert client.get(f"/bench/{key}/close").url.path == f"/bench/{key}"
    assert key in client.get("/bench/closed").text
    assert key not in client.get("/bench").text
    assert record(library).outcome is Outcome.RETURNED
    assert "goes back unrepaired" in words(client.get(f"/bench/{key}/slip"))
    bench.go(f"/bench/{key}")
    bench.press("Open it again")
    assert "best next step" in bench.text
    assert record(library).outcome is Outcome.OPEN


def test_a_close_that_is_refused_keeps_what_was_typed(bench, library):
    bench.start()
    bench.go(f"/bench/{bench.key}/close")
    bench.press("Close the job", fault="u2-dead", notes="see photo", hands_on="a while")
    assert bench.page.status_code == 422
    assert "'hands_on' of the form holds 'a while'" in bench.text
    fields = bench.form("Close the job")["fields"]
    assert (fields["fault"], fields["notes"], fields["hands_on"]) == ("u2-dead", "see photo", "a while")
    assert entries(library, bench.key) == ()


def test_closing_what_somebody_else_changed_is_refused(bench, client):
    bench.start()
    key = bench.key
    other = Visitor(client)
    other.go(f"/bench/{key}/close")
    bench.press("At work")
    assert other.press("Close the job").status_code == 409


def test_a_device_that_came_back_is_a_comeback_of_the_earlier_job(bench, library):
    bench.start()
    bench.go(f"/bench/{bench.key}/close")
    bench.press("Close the job")
    link = next(
        found["href"] for tag, found in read(bench.page).tags if tag == "a" and "of=" in found["href"]
    )
    bench.go(link)
    number = record(library).number
    assert f"came back after job {number}" in bench.text
    bench.press("Start")
    assert f"came back after {number}" in bench.text
    bench.go(f"/bench/{bench.key}/close")
    bench.press("Close the job")
    with Store.open(library.store) as store:
        assert [job.comeback for job in store.jobs()] == [True, None]


def test_a_device_can_come_back_after_a_job_that_was_only_taken_in(bench, library):
    earlier = Job("Quay / north", "26/7", "my-board", "no-power", outcome=Outcome.REPAIRED)
    with Store.open(library.store) as store:
        store.add([earlier])
    bench.go("/jobs/Quay%20%2F%20north/26%2F7")
    link = next(
        found["href"] for tag, found in read(bench.page).tags if tag == "a" and "of=" in found["href"]
    )
    bench.go(link)
    assert "came back after job 26/7" in bench.text
    bench.press("Start")
    assert "/jobs/Quay%20%2F%20north/26%2F7" in bench.page.text
    bench.go(f"/bench/{bench.key}/close")
    bench.press("Close the job")
    with Store.open(library.store) as store:
        assert store.job("Quay / north", "26/7").comeback is True


@pytest.mark.parametrize("address", ["", "/close", "/slip"])
def test_a_job_that_there_is_not(client, address):
    answer = client.get(f"/bench/nothing{address}")
    assert answer.status_code == 404
    assert "there is no job 'nothing' on the bench" in words(answer)


@pytest.mark.parametrize(("board", "complaint"), [("no-board", "no-power"), ("my-board", "no-complaint")])
def test_a_start_of_what_the_library_does_not_know(client, board, complaint):
    assert client.get("/bench/start", params={"board": board, "complaint": complaint}).status_code == 404
    assert client.post("/bench/start", data={"board": board, "complaint": complaint}).status_code == 404


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("kind", "close"),
        ("kind", "dance"),
        ("kind", ""),
        ("expected", "-1"),
        ("expected", "many"),
        ("expected", "9" * 5000),
        ("token", ""),
        ("token", "\x00"),
    ],
)
def test_a_form_of_somebody_elses_making_is_refused_in_words(bench, client, library, field, value):
    bench.start()
    data = bench.form("At work")["fields"] | {field: value}
    answer = client.post(f"/bench/{bench.key}", data=data)
    assert answer.status_code in {409, 422}
    assert "nothing was stored" in words(answer)
    assert entries(library, bench.key) == ()


def test_texts_of_people_never_become_markup(bench):
    bench.start(said=HOSTILE, device=HOSTILE, technician=HOSTILE)
    key = bench.key
    bench.press("Keep it", text=HOSTILE)
    shown = [bench.page, bench.go("/bench"), bench.go(f"/bench/{key}?check=rail-ohms")]
    shown.append(bench.press("Enter", text=HOSTILE))
    assert bench.page.status_code == 422
    bench.go(f"/bench/{key}/close")
    shown += [bench.page, bench.press("Close the job", fault="unlisted", fault_text=HOSTILE, notes=HOSTILE)]
    shown += [bench.go(f"/bench/{key}/slip"), bench.go("/bench/closed")]
    for page in shown:
        assert "<script>alert" not in page.text
        assert all("src" in found for tag, found in read(page).tags if tag == "script")
    assert "&lt;script&gt;alert" in shown[-2].text


def test_texts_of_a_book_never_become_markup(client, library):
    book = library.book_file("my-board")
    text = book.read_text(encoding="utf-8").replace("title: Main rail to ground", f"title: '{HOSTILE}'")
    book.write_text(text.replace("title: Capacitor C5 shorted", f"title: '{HOSTILE}'"), encoding="utf-8")
    bench = Visitor(client)
    bench.start()
    bench.reading("rail-ohms", "3R3")
    bench.reading("fuse-ohms", "OL")
    assert "<script>alert" not in bench.page.text
    assert "&lt;script&gt;alert" in bench.page.text


def test_the_card_shows_where_to_probe_close_up_and_whole(bench):
    bench.start()
    page = bench.go(f"/bench/{bench.key}?check=look")
    images = [found for tag, found in read(page).tags if tag == "image"]
    assert [found["href"] for found in images] == ["/pictures/my-board/top.svg"] * 2
    assert {(found["width"], found["height"]) for found in images} == {("200.0", "100.0")}
    marks = [(found["cx"], found["cy"]) for tag, found in read(page).tags if tag == "circle"]
    assert marks == [("40.0", "30.0")] * 4


def test_a_picture_is_served_so_that_it_can_run_nothing(client):
    answer = client.get("/pictures/my-board/top.svg")
    assert answer.headers["content-type"] == "image/svg+xml"
    assert answer.headers["content-security-policy"].endswith("; sandbox")
    assert "script-src" not in answer.headers["content-security-policy"]


def test_a_picture_in_a_folder_of_the_book_is_served(client, library):
    folder = library.book_file("my-board").parent / "close ups"
    folder.mkdir()
    (folder / "u2.svg").write_text("<svg/>", encoding="utf-8")
    assert client.get("/pictures/my-board/close%20ups/u2.svg").status_code == 200


@pytest.mark.parametrize(
    "address",
    [
        "my-board/book.yaml",
        "my-board/..%2F..%2Fsecret.svg",
        "my-board/%2Fetc%2Fsecret.svg",
        "my-board/..%5Csecret.svg",
        "my-board/%00.svg",
        "my-board/" + "x" * 5000 + ".svg",
        "my-board/none.svg",
        "..%2F..%2Flibrary/secret.svg",
        "no-board/top.svg",
    ],
)
def test_nothing_but_a_books_pictures_is_served(client, library, address):
    (library.folder / "secret.svg").write_text("<svg/>", encoding="utf-8")
    assert client.get(f"/pictures/{address}").status_code == 404


def test_a_link_that_leads_out_of_the_book_is_not_followed(client, library):
    secret = library.folder / "secret.svg"
    secret.write_text("<svg/>", encoding="utf-8")
    (library.book_file("my-board").parent / "inside.svg").symlink_to(secret)
    assert client.get("/pictures/my-board/inside.svg").status_code == 404
