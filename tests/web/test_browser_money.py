"""The pages about money: in a real browser on two screens, and what the forms answer."""

import re

import pytest
from starlette.testclient import TestClient
from web_browser import SCREENS, check_screen, served

from benchlore.library import fund_table, import_table, init_library, plan_complaint
from benchlore.web import create_app

TABLE = """device,complaint,jobs a year,jobs high,source,gain,hours,fee,who,must,either-or
Brindle mixer,hums,140,220,asked 6 shops,22,60,2400,Teo,,mixer
Brindle mixer,hums on,140,220,asked 6 shops,25,120,4300,Teo,,mixer
Norwick kettle,dead,400,600,asked 20 shops,9,40,1900,Ines,,
Kestrel lamp,flickers,60,90,asked 4 shops,12,30,1500,Marten,,
"""
ASK = {"budget": "4500", "draws": "5", "years": "5", "discount": "5", "seed": "1", "rate": ""}


@pytest.fixture(scope="module")
def library(tmp_path_factory):
    folder = tmp_path_factory.mktemp("money")
    found = init_library(folder / "library", title="Quay", board="my-board")
    plan_complaint(found, "my-board", "no-power")
    (folder / "mine.csv").write_text(TABLE)
    import_table(found, folder / "mine.csv", seen=fund_table(found).sha256)
    return found


@pytest.fixture(scope="module")
def address(library):
    with served(library) as found:
        yield found


@pytest.fixture(scope="module")
def reader(library):
    return TestClient(create_app(library), base_url="http://127.0.0.1")


def seen(library):
    return fund_table(library).sha256


def test_a_plan_from_budget_to_what_if(pages, screen):
    page = pages.open("/money", screen)
    check_screen(page)
    page.click("text=What to fund")
    check_screen(page)
    page.fill("#t-budget", "4500")
    page.click("text=Drawn again")
    page.fill("#t-draws", "5")
    page.click("text=Choose >> visible=true")
    page.wait_for_selector("#what-if", timeout=60_000)
    assert "2 candidates of 4 for 4,300.00 EUR of 4,500.00 EUR" in page.inner_text("main")
    check_screen(page)
    if screen is SCREENS[0]:
        page.select_option("#sort-0", label="benefit, most first")
        first = page.inner_text("main table >> nth=0 >> tbody tr >> nth=0")
        assert first.startswith("Norwick kettle, dead")
        return
    page.select_option("text=Kestrel lamp, flickers >> xpath=../select", "in")
    page.click("text=Choose again")
    page.wait_for_selector("text=A what-if:")
    assert "Kestrel lamp, flickers: in, because it must be" in page.inner_text("main")


def test_a_row_is_added_mended_and_undone(pages, library):
    page = pages.open("/money/fund/rows/new", SCREENS[0])
    check_screen(page)
    for label, text in {"Device": "Lamp", "Complaint": "dead", "Gain": "8", "Hours": "-4"}.items():
        page.get_by_label(label, exact=True).fill(text)
    page.click("button.main")
    alert = page.inner_text("[role=alert]")
    assert "write a number from 0" in alert
    assert "write them, with their source" in alert
    assert page.get_by_label("Device", exact=True).input_value() == "Lamp"
    check_screen(page)
    fields = {"Hours": "4", "Jobs a year": "30", "Source": "asked shops"}
    for label, text in fields.items():
        page.get_by_label(label, exact=True).fill(text)
    page.click("button.main")
    assert "Lamp, dead" in page.inner_text("main")
    page.click("text=Undo the last change")
    assert "Lamp, dead" not in page.inner_text("main")
    assert len(fund_table(library).rows) == 4


@pytest.mark.parametrize(
    ("sent", "status", "said"),
    [
        ({"budget": ""}, 422, "the budget is empty"),
        ({"budget": "-5"}, 422, "write a number from 0"),
        ({"draws": "1e9"}, 422, "write a number from 1 to 10000"),
        ({"budget": "100"}, 200, "the least fee is 1,500.00 EUR"),
        ({"if:Kestrel lamp, flickers": "in", "budget": "100"}, 409, "the budget is 100.00"),
        ({"if:Brindle mixer, hums": "in", "if:Brindle mixer, hums on": "in"}, 409, "exclude each other"),
        ({"if:Nobody, at all": "out"}, 409, "no candidate &#39;Nobody, at all&#39;"),
    ],
)
def test_what_cannot_be_is_said(reader, sent, status, said):
    for _ in range(60):
        answer = reader.get("/money/fund/plan", params=ASK | sent)
        if 'id="work"' not in answer.text:
            break
    assert answer.status_code == status
    assert said in re.sub(r"\s+", " ", answer.text)


def test_a_plan_and_its_table_are_files_to_keep(reader, library):
    plan = reader.get("/money/fund/plan.csv", params=ASK)
    lines = plan.text.lstrip("\ufeff").splitlines()
    assert lines[0].startswith("device,complaint,fund,drawn,fee,benefit")
    assert sum(line.split(",")[2] == "yes" for line in lines[1:]) == 2
    kept = reader.get("/money/fund/candidates.csv")
    sent = {"table": ("mine.csv", kept.content, "text/csv")}
    before = fund_table(library).rows
    answer = reader.post(
        "/money/fund/import", data={"seen": seen(library)}, files=sent, follow_redirects=False
    )
    assert answer.status_code == 303
    assert fund_table(library).rows == before


def test_a_table_that_is_none_changes_nothing(reader, library):
    for content in (b"", b"device,complaint\nLamp,dead\n", b"\x00\x01\x02", b"<script>alert(1)</script>\n"):
        sent = {"table": ("../../x<i>.csv", content, "text/csv")}
        answer = reader.post("/money/fund/import", data={"seen": seen(library)}, files=sent)
        assert answer.status_code == 422
        assert "Nothing was changed" in answer.text
        assert "<script>alert" not in answer.text
    assert len(fund_table(library).rows) == 4


def test_two_who_change_the_table_at_once_lose_nothing(reader):
    sent = {"seen": "0" * 64, "device": "Lamp", "complaint": "dead", "gain": "8", "hours": "4"}
    answer = reader.post("/money/fund/rows/0", data=sent | {"jobs a year": "30", "source": "asked"})
    assert answer.status_code == 409
    assert "was changed since you looked at it" in answer.text
    assert 'value="Lamp"' in answer.text


def test_whether_research_pays_from_the_books_page(pages, screen):
    page = pages.open("/books/my-board", screen)
    page.click("text=Does research pay")
    assert "no dated job of this is recorded" in page.inner_text("[role=alert]")
    page.fill("#r-jobs", "3")
    page.fill("#r-shops", "40")
    page.click("text=Work it out")
    text = page.inner_text("main")
    assert "For one shop alone" in text
    assert "For 40 shops" in text
    assert "With the book a job leaves" in text
    check_screen(page)


def test_research_says_the_figures_of_the_command(reader):
    """200 h at 45 for 60 a job, three a year: 15 shops at four years and 5 % (common practice, no source)."""
    asked = {"hours": "200", "rate": "45", "gain": "60", "jobs": "3", "years": "4", "shops": "15"}
    text = reader.get("/money/research", params=asked).text
    assert "For 1 shop it does not pay" in text
    assert "For 15 shops it pays" in text
    assert "It pays from 15 shops on" in text
    wrong = reader.get("/money/research", params=asked | {"years": "0", "fading": "x", "gain": "-1"})
    assert wrong.status_code == 422
    assert wrong.text.count('aria-invalid="true"') == 3


def test_a_fund_row_leads_to_its_research(reader):
    for _ in range(60):
        answer = reader.get("/money/fund/plan", params=ASK)
        if 'id="work"' not in answer.text:
            break
    address = re.search(r'href="(/money/research[^"]*flickers[^"]*)"', answer.text)[1].replace("&amp;", "&")
    text = reader.get(address).text
    assert (
        "For all shops that would use it it pays" in text or "For all shops that would use it it does" in text
    )
    assert "Kestrel lamp, flickers" in text


@pytest.mark.parametrize("name", ["credit", "impact", "learning", "equipment"])
def test_long_questions_are_asked_and_answered_or_say_what_is_missing(pages, reader, screen, name):
    page = pages.open(f"/money/{name}", screen)
    check_screen(page)
    if name == "equipment":
        page.fill("#q-jobs", "my-board/no-power=12")
    page.click("text=Work it out")
    page.wait_for_selector("#ask:text('Asked')", timeout=120_000)
    check_screen(page)
    if name == "learning":  # no board was examined yet
        assert "write below how many jobs a shop sees" in page.inner_text("[role=alert]")
        return
    assert not page.query_selector("[role=alert]"), page.inner_text("main")
    address = page.get_attribute("text=Download as CSV", "href")
    assert reader.get(address).text.count(",") > 1


def test_a_question_that_lacks_jobs_says_where_to_write_them(reader):
    for _ in range(60):
        answer = reader.get("/money/equipment", params={"jobs": ""})
        if 'id="work"' not in answer.text:
            break
    assert "write below how many jobs there are in a year" in answer.text
    assert "--jobs" not in answer.text


def test_a_long_question_that_makes_no_sense_is_refused_at_once(reader):
    for address, said in {
        "/money/credit?pot=-4": "write a number from 0",
        "/money/credit?by=king": "choose one of shop",
        "/money/impact?since=tomorrow": "is no day",
        "/money/learning?shops=2": "choose a complaint",
        "/money/equipment?jobs=many": "such as my-board/no-power=12",
        "/money/equipment?years=0": "write a number from 1",
    }.items():
        answer = reader.get(address)
        assert (answer.status_code, said in answer.text) == (422, True), address
    assert reader.get("/money/nothing").status_code == 404
    assert reader.get("/money/credit/state?pot=x").status_code == 409
