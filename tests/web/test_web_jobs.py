"""The recorded jobs: their list, downloads, and one job's record."""

import csv
import io
from math import inf
from urllib.parse import quote

import pytest
from records_samples import SHOP, job, stored

from benchlore.jobs import Attempt, Outcome, Reading, Retest, import_csv

ADDRESS = f"/jobs/{quote(SHOP, safe='')}"


def test_without_jobs_the_page_says_what_to_do(client):
    page = client.get("/jobs").text
    assert "No job is recorded yet" in page
    assert 'href="/intake"' in page
    assert 'href="/bench"' in page


def test_jobs_are_listed_newest_first_with_counts(client, library):
    stored(library, job("7"), job("8", opened=None, outcome=Outcome.RETURNED), job("9", opened=None))
    page = client.get("/jobs").text
    assert "<strong>3 jobs</strong>" in page
    assert "2 repaired, 1 returned." in " ".join(page.split())
    assert page.index(">7</a>") < page.index(">9</a>") < page.index(">8</a>")


def test_minutes_have_no_more_decimals_than_a_clock_tells(client, library):
    stored(library, job("7", hands_on=12.302644, waiting=30.0))
    assert ">12.3</td>" in client.get("/jobs").text
    page = client.get(f"{ADDRESS}/7").text
    assert "<dd>12.3 min</dd>" in page
    assert "<dd>30 min</dd>" in page


@pytest.mark.parametrize(
    ("query", "numbers"),
    [
        ("board=my-board", {"1", "2", "3"}),
        ("complaint=no-noise", set()),
        ("outcome=returned", {"2"}),
        ("fault=c5-short", {"1"}),
        ("fault=not+confirmed", {"2", "3"}),
        ("since=2026-03-02", {"3"}),
        ("until=2026-03-01", {"1", "2"}),
        ("words=KURZ", {"1"}),
        (f"shop={quote(SHOP)}", {"1", "2", "3"}),
        ("shop=Elsewhere", set()),
    ],
)
def test_the_list_is_narrowed_down(client, library, query, numbers):
    stored(
        library,
        job("1", fault="c5-short", fault_text="C5 kurz"),
        job("2", outcome=Outcome.RETURNED),
        job("3", opened=job("3").opened.replace(day=5)),
    )
    page = client.get(f"/jobs?{query}").text
    assert {number for number in "123" if f">{number}</a>" in page} == numbers
    found = client.get(f"/api/jobs?{query.replace('fault=not+confirmed', 'confirmed=false')}").json()
    assert {each["number"] for each in found["jobs"]} == numbers
    assert found["total"] == len(numbers)


def test_what_is_no_date_and_no_outcome_is_said_and_escaped(client, library):
    stored(library, job("1"))
    page = client.get("/jobs?since=%3Cb%3E31.3.&outcome=gone").text
    assert "‘&lt;b&gt;31.3.’ is no date; write one such as 2026-03-31" in page
    assert "‘gone’ is no outcome of a job" in page
    assert ">1</a>" in page


def test_pages_of_fifty_keep_what_was_asked(client, library):
    stored(library, *(job(f"N{number:03}") for number in range(120)))
    first = client.get("/jobs?board=my-board")
    assert first.text.count('<tr role="row">') == 51
    assert "/jobs?board=my-board&amp;page=2" in first.text
    last = client.get("/jobs?board=my-board&page=3").text
    assert "101 to 120 of 120" in last
    assert 'rel="next"' not in last
    assert client.get("/jobs?page=99").text.count('<tr role="row">') == 21
    assert client.get("/jobs?page=x").status_code == 200


def test_what_is_shown_can_be_downloaded_and_given_back(client, library, tmp_path):
    stored(
        library,
        job("=1+1", fault="c5-short", readings=(Reading("rail-ohms", 1, value=inf, text="OL"),)),
        job("2", attempts=(Attempt("replace-c5", 2, Retest.GONE),)),
    )
    for name in ("jobs.csv", "readings.csv", "attempts.csv"):
        answer = client.get(f"/export/{name}?fault=c5-short")
        assert answer.headers["content-disposition"] == f'attachment; filename="{name}"'
        (tmp_path / name).write_bytes(answer.content)
    rows = list(csv.reader(io.StringIO((tmp_path / "jobs.csv").read_text())))
    assert [row[1] for row in rows] == ["number", "'=1+1"]
    (found,) = import_csv(tmp_path)
    assert found.number == "=1+1"
    assert found.readings == (Reading("rail-ohms", 1, value=inf, text="OL"),)


def test_nothing_else_is_exported(client):
    assert client.get("/export/shop.yaml").status_code == 404
    assert client.get("/export/jobs.csv").text.startswith("shop,number,")


def test_a_record_tells_what_was_done_and_what_the_model_makes_of_it(client, library):
    stored(
        library,
        job(
            "26/7",
            readings=(
                Reading("rail-ohms", 1, value=3.0, text="3,0 R"),
                Reading("rail-volts", 4, value=3.3, text="3V3"),
            ),
            attempts=(
                Attempt("replace-u2", 2, Retest.STILL_THERE),
                Attempt("replace-c5", 3, Retest.GONE, 180.26),
            ),
            fault="c5-short",
            fault_text="C5 <hin>",
            notes="Two\nlines",
            technician="Mo",
            extra={"Farbe": "µ-grau"},
        ),
    )
    page = client.get(f"{ADDRESS}/26%2F7").text
    plain = " ".join(page.split())
    for said in (
        "Main rail to ground",
        "<strong>3 ohm</strong>",
        "the bench wrote “3,0 R”",
        "After it, the complaint was still there.</p>",
        "After it, the complaint was gone. The board had run 180.3 min.",
        "Read on a board that a fix had repaired",
        "Capacitor C5 shorted",
        "The bench wrote: C5 &lt;hin&gt;",
        "(what was confirmed)",
        "µ-grau",
        "march.xlsx, sheet March, row 2; taken in 2026-04-01 09:30 UTC by m.yaml",
        "this one among them",
    ):
        assert said in plain
    assert page.index("Fix: replace-u2") < page.index("Fix: replace-c5") < page.index("Main rail voltage")
    assert "Main 3.3 V rail:</span> shorted 99 %; hardly normal, missing" in plain


def test_a_record_of_a_board_without_a_book_is_still_shown(client, library):
    stored(library, job("1", board="gone", readings=(Reading("x-ohms", 1, value=4.0, text="4R"),)))
    page = client.get(f"{ADDRESS}/1")
    assert page.status_code == 200
    assert "x-ohms" in page.text
    assert "no book &#39;gone&#39; in this library" in page.text


@pytest.mark.parametrize("path", ["/jobs/nobody/1", "/jobs/only", "/jobs/a/b/c", "/jobs/"])
def test_a_job_that_there_is_not_is_not_found(client, library, path):
    stored(library, job("1"))
    assert client.get(path).status_code == 404


def test_the_api_tells_a_job_whole(client, library):
    stored(library, job("a/b", readings=(Reading("fuse-ohms", 1, value=inf, text="OL"),), extra={"k": "v"}))
    data = client.get(f"/api{ADDRESS}/a%2Fb").json()
    assert data["shop"] == SHOP
    assert data["readings"] == [
        {"check": "fuse-ohms", "step": 1, "result": None, "value": None, "over_range": True, "text": "OL"}
    ]
    assert data["sources"][0]["row"] == 2
    assert data["extra"] == {"k": "v"}


def test_the_api_says_what_is_wrong(client):
    missing = client.get("/api/jobs/a/b")
    assert missing.status_code == 404
    assert missing.json()["error"]["kind"] == "NoJobError"
    assert client.get("/api/jobs?since=never").status_code == 422
    assert client.get("/api/jobs?page=0").status_code == 422
    assert client.get("/api/jobs").json()["total"] == 0
