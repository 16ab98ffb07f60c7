"""What pages do for who uses them: doubt before a release, ways back, rows page by page, warnings with a cause."""

import pytest
from bench_forms import Visitor, bench_library, read, words
from records_samples import MAPPING

from benchlore.jobs import EntryKind, Outcome
from benchlore.library import Close, Desk
from benchlore.web import books as books_pages
from benchlore.web.at_desk import here


@pytest.fixture
def library(tmp_path):
    return bench_library(tmp_path / "library")


@pytest.fixture
def bench(client):
    return Visitor(client)


def main_texts(page):
    return [form["label"] for form in read(page).forms if form["label"]]


def test_a_fix_that_hardly_cures_is_not_proposed_for_release(bench):
    bench.start("restarts")
    bench.reading("rail-ohms", "3R3")  # the capacitor, not the fuse
    bench.fix("replace-f1")
    bench.press("Gone")
    assert "more likely that the board is not cured" in bench.text
    assert "soak it on" in bench.text
    assert "Close all the same" in bench.text
    assert '<button class="main">Soak on' in bench.page.text
    label = next(label for label in main_texts(bench.page) if label.startswith("Soak on"))
    bench.press(label)
    assert "Soaking until" in bench.text
    bench.press("Gone")
    bench.press("Go on looking")
    assert "best next step" in bench.text


def test_a_fix_that_likely_cures_is_proposed_for_release(bench):
    bench.start()
    bench.reading("rail-ohms", "3R3")
    bench.fix("replace-c5")
    bench.press("Gone")
    assert "more likely" not in bench.text
    assert 'class="button main" href' in bench.page.text


def test_where_the_complaint_always_shows_gone_is_gone(bench):
    bench.start()
    bench.reading("rail-ohms", "3R3")
    bench.fix("replace-f1")
    bench.press("Gone")
    assert "Soak on" not in bench.page.text


@pytest.mark.parametrize(("typed", "entered"), [("hands-on", ["hands-on"]), ("stopped", [])])
def test_the_clock_runs_from_the_start_unless_the_device_is_only_taken_in(bench, library, typed, entered):
    bench.start(clock=typed)
    with Desk(library) as desk:
        entries = desk.view(bench.key, here()).entries
    assert [entry.data["to"] for entry in entries if entry.kind is EntryKind.CLOCK] == entered


def test_the_start_proposes_that_the_clock_runs(bench):
    bench.go("/bench/start?board=my-board&complaint=no-power")
    assert bench.form("Start")["fields"]["clock"] == "hands-on"


def test_the_slip_warns_only_of_what_the_work_gave_cause_for(bench):
    bench.start(**{"fact-fell": "dropped"})
    assert "swollen" not in words(bench.go(f"/bench/{bench.key}/slip"))
    bench.start()
    bench.reading("rail-ohms", "3R3")  # it needs the case open, where the cell lies bare
    assert "swollen" in words(bench.go(f"/bench/{bench.key}/slip"))


def test_a_proof_opened_from_the_app_leads_back_to_its_book(client, monkeypatch):
    monkeypatch.setattr(books_pages, "kept_proof", lambda *_: None)
    client.app.state.proof_pages.html = lambda _: (
        '<html><body><main id="main"><h1>Proof</h1></main></body></html>'
    )
    page = client.get("/books/my-board/no-power/proof")
    links = [found["href"] for tag, found in read(page).tags if tag == "a"]
    assert links == ["/books/my-board"]


def test_refused_rows_are_mended_page_by_page(client):
    rows = [f"{n},2026-03-02,lots,,back,,blue" for n in range(1, 121)] + ["999,2026-03-02,2k2,,back,,red"]
    sheet = "Job,Opened,Rail (ohm),Did,End,Cause,Colour\n" + "\n".join(rows) + "\n"
    files = {"sheet": ("march.csv", sheet), "mapping": ("m.yaml", MAPPING)}
    bench = Visitor(client)
    bench.page = client.post("/intake", files=files, data={"board": "my-board"})
    client.app.state.works.of(next(client.app.state.uploads.all())).wait(60)
    bench.go(bench.page.url.path)
    bench.press("Take in 1 job")
    address = bench.page.url.path
    client.app.state.works.of(next(client.app.state.uploads.all())).wait(60)

    def shown(first):
        page = bench.go(f"{address}?from={first}")
        cells = [found["name"] for tag, found in read(page).tags if found.get("name", "").startswith("cell-")]
        return sorted({int(name.split("-")[1]) for name in cells}), bench.text

    first, said = shown(0)
    assert len(first) == 50
    assert "1 to 50 of 120 refused rows" in said
    second, _ = shown(50)
    last, said = shown(100)
    assert len(last) == 20
    assert "The next" not in said
    assert len({*first, *second, *last}) == 120
    assert shown(999_999)[0] == last
    assert shown("x")[0] == first
    shown(50)
    row = second[0]
    form = bench.form("Take these rows in")
    name = next(name for name in form["fields"] if name.startswith(f"cell-{row}-"))
    bench.press("Take these rows in", **{name: "3R3"})
    client.app.state.works.of(next(client.app.state.uploads.all())).wait(60)
    assert "of 119 refused rows" in shown(0)[1]


def test_a_closed_job_is_learned_from_in_the_background(library):
    with Desk(library) as desk:
        job = desk.start("my-board", "no-power", now=here())
        before = desk.view(job.key, here()).model

    with Desk(library) as desk:
        close = Close(Outcome.REPAIRED, fault="f1-open")
        other = desk.start("my-board", "no-power", now=here())
        desk.close(job.key, close, expected=0, token="close-it-now", by="", now=here())
        desk._companions.wait()
        after = desk.view(other.key, here()).model
        place = after.faults.index("f1-open")
        assert after.prior[place] > before.prior[place]
        desk.reopen(job.key, expected=1, token="open-it-now", by="", now=here())
        desk._companions.wait()
        again = desk.view(other.key, here()).model
        assert again.prior[place] == pytest.approx(before.prior[place])


def test_a_book_with_errors_is_not_learned_and_nobody_is_hurt(library):
    with Desk(library) as desk:
        desk.start("my-board", "no-power", now=here())
        library.book_file("my-board").write_text("book: 1\n")
        desk._companions.learn_anew("my-board")
        desk._companions.wait()
        assert len(desk.jobs(here())) == 1


def test_the_api_starts_closes_and_reopens_a_job(client, library):
    job = {
        "board": "my-board",
        "complaint": "no-power",
        "key": "a-key-of-mine",
        "technician": "Ines",
        "facts": [{"check": "fell", "text": "dropped"}],
        "clock": "hands-on",
    }
    one, two = (client.post("/api/bench", json=job) for _ in range(2))
    assert (one.status_code, one.json()) == (201, two.json())
    assert one.json()["last"] == 2
    ending = {"outcome": "repaired", "fault": "c5-short", "expected": 2, "token": "a-token-of-mine"}
    late = client.post("/api/bench/a-key-of-mine/close", json=ending | {"expected": 1})
    assert (late.status_code, late.json()["error"]["kind"]) == (409, "EntryConflict")
    wrong = client.post("/api/bench/a-key-of-mine/close", json=ending | {"fault": "c55-short"})
    assert wrong.status_code == 422
    assert "c5-short" in wrong.json()["error"]["message"]
    closed = [client.post("/api/bench/a-key-of-mine/close", json=ending) for _ in range(2)]
    assert [answer.json()["closed"] for answer in closed] == [True, True]
    again = {"expected": 3, "token": "another-token"}
    opened = client.post("/api/bench/a-key-of-mine/reopen", json=again)
    assert (opened.status_code, opened.json()["closed"], opened.json()["last"]) == (200, False, 4)
    assert (
        client.post("/api/bench/a-key-of-mine/reopen", json=again | {"token": "a-third-one"}).status_code
        == 409
    )
    unknown = client.post("/api/bench", json=job | {"key": "another-key", "complaint": "no-powr"})
    assert unknown.status_code == 404
    assert "no-power" in unknown.json()["error"]["message"]


def test_the_api_says_between_what_the_rest_costs(client, bench):
    bench.start()
    found = client.get(f"/api/bench/{bench.key}/cost").json()
    assert 0 <= found["low"] < found["expected"] < found["high"] <= found["most"]
    assert found["said"].startswith("Eight of ten such jobs cost")
    assert client.get(f"/api/bench/{bench.key}/cost").json() == found
    bench.fix("replace-c5")
    due = client.get(f"/api/bench/{bench.key}/cost").json()
    assert due["low"] <= due["expected"] <= due["most"]
    bench.press("Gone")
    assert client.get(f"/api/bench/{bench.key}/cost").json()["said"] == ""
