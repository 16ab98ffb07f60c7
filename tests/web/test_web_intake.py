"""Taking a sheet in, in the browser, without one."""

import html
import io
import re
import zipfile
from datetime import UTC, datetime, timedelta

import pytest
from openpyxl import Workbook
from records_samples import MAPPING, SHEET
from starlette.testclient import TestClient

from benchlore.jobs import Store
from benchlore.jobs.intake import limits, xlsx_file
from benchlore.web import create_app
from benchlore.web.uploads import Uploads, plain_name


def upload(client, sheet=SHEET, name="march.csv", mapping=MAPPING, board="my-board", **more):
    data = sheet.encode() if isinstance(sheet, str) else sheet
    files = {"sheet": (name, data)} | ({"mapping": ("m.yaml", mapping)} if mapping is not None else {})
    return client.post("/intake", files=files, data={"board": board}, **more)


def main(answer):
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", answer.text.split("<main", 1)[1])).split())


def digest(answer):
    return re.search(r'name="digest" value="(\w+)"', answer.text)[1]


def text_in(answer):
    return html.unescape(re.search(r"<textarea[^>]*>\n(.*?)</textarea>", answer.text, re.DOTALL)[1])


def take(client, answer):
    return client.post(f"{answer.url.path}/take", data={"digest": digest(answer)})


def stored(library):
    with Store.open(library.store) as store:
        return {job.number: job for job in store.jobs()}


def uploads_of(library):
    return sorted(path for path in (library.folder / ".intake").rglob("*") if path.is_file())


def test_a_sheet_is_looked_at_and_taken_in(client, library):
    shown = upload(client)
    assert shown.status_code == 200
    assert re.fullmatch(r"/intake/[\w-]{22}", shown.url.path)
    said = main(shown)
    assert "taken 2 rows" in said
    assert "refused 2 rows" in said
    assert "in column 'Rail (ohm)': cannot read 'lots'" in said
    assert "'soon' is no date" in said
    assert not library.store.exists()
    after = take(client, shown)
    assert "Taken in: 2 new jobs, 0 completed, 0 there already; 2 rows refused." in main(after)
    assert stored(library).keys() == {"1", "3"}
    assert stored(library)["1"].fault == "c5-short"
    record = client.get("/api/jobs/Quay%20S%C3%BCd/1").json()
    assert (record["sources"][0]["file"], record["sources"][0]["row"]) == ("march.csv", 2)


def test_refused_rows_are_mended_there_and_taken_in_with_the_same_mapping(client, library):
    after = take(client, upload(client))
    address = after.url.path
    assert 'name="cell-3-2" value="lots"' in after.text
    assert 'name="cell-5-1" value="soon"' in after.text
    assert "As they stand, none of these rows can be taken in." in main(after)
    half = client.post(
        f"{address}/mend", data={"digest": digest(after), "cell-3-2": "4k7", "cell-5-1": "later"}
    )
    assert stored(library)["2"].readings[0].value == 4700.0
    assert "4" not in stored(library)
    assert "'later' is no date" in main(half)
    over = client.post(f"{address}/mend", data={"digest": digest(half), "cell-5-1": "2026-03-04"})
    assert stored(library)["4"].opened.day == 4
    assert "all of it is in the store" in main(over)
    assert list(library.rejects.iterdir()) == []
    assert [path.name for path in uploads_of(library) if path.suffix == ".csv"] in ([], ["as-refused.csv"])


def test_a_cell_to_mend_is_described_by_the_reasons_that_speak_of_it(client):
    row = "9,2026-13-05,12k,replace U2,perhaps,u2-dead,red\n"
    after = take(client, upload(client, SHEET + row))
    told = dict(re.findall(r'id="(r-6-\d)">([^<]*)<', after.text))
    of = dict(re.findall(r'name="cell-6-(\d)"[^>]*aria-describedby="([^"]*)"', after.text))
    assert "calendar" in told[of["1"]]
    assert "no outcome" in told[of["4"]]


def test_a_word_added_to_the_mapping_lets_refused_rows_in(client, library):
    after = take(client, upload(client))
    text = MAPPING.replace("Rail (ohm): rail-ohms", "Rail (ohm): {check: rail-ohms, names: {lots: OL}}")
    changed = client.post(after.url.path, data={"digest": digest(after), "text": text})
    assert "1 job" in main(changed)
    take(client, changed)
    assert stored(library)["2"].readings[0].text == "lots"


def test_rejects_that_somebody_edited_stay(client, library):
    after = take(client, upload(client))
    (rejects,) = library.rejects.iterdir()
    rejects.write_text(rejects.read_text(encoding="utf-8-sig").replace("lots", "5R"), encoding="utf-8")
    data = {"digest": digest(after), "cell-3-2": "4k7", "cell-5-1": "2026-03-04"}
    assert "all of it" in main(client.post(f"{after.url.path}/mend", data=data))
    assert "5R" in rejects.read_text(encoding="utf-8")


def test_taking_in_twice_adds_nothing(client, library):
    take(client, upload(client))
    again = upload(client)
    assert "already there 2 rows" in main(again)
    assert "Take in" not in again.text.split("<main", 1)[1]


def test_without_a_mapping_the_columns_are_guessed_and_pointed_at(client, library):
    shown = upload(client, mapping=None)
    assert "The shop is still called “My shop”" in main(shown)
    text = text_in(shown)
    assert "job: Job" in text
    data = {"digest": digest(shown), "text": text, "shop": "Quay Süd", "means-6": "notes"}
    changed = client.post(shown.url.path, data=data)
    assert "shop: Quay Süd" in text_in(changed)
    assert "notes: Colour" in text_in(changed)
    assert "# Look at every line" in text_in(changed)
    assert re.search(r'<select name="means-6".*?value="notes" selected', changed.text, re.DOTALL)


def test_the_text_wins_over_pointing(client, library):
    shown = upload(client)
    text = MAPPING + "extra: Colour\n"
    data = {"digest": digest(shown), "text": text, "means-6": "notes", "means-3": ""}
    changed = text_in(client.post(shown.url.path, data=data))
    assert "extra: Colour" in changed
    assert "notes" not in changed
    assert "fixes" not in changed


def test_pointing_on_a_page_that_is_out_of_date_changes_nothing_but_the_text(client, library):
    shown = upload(client)
    data = {"digest": "0" * 16, "text": MAPPING + "# more\n", "means-6": "notes"}
    assert text_in(client.post(shown.url.path, data=data)) == MAPPING + "# more\n"


def test_what_is_out_of_date_is_not_taken_in(client, library):
    shown = upload(client)
    client.post(shown.url.path, data={"digest": digest(shown), "text": MAPPING + "extra: Colour\n"})
    assert "Take in 2 jobs" in main(take(client, shown))
    assert not library.store.exists()


def test_a_mapping_that_cannot_be_used_says_why_and_keeps_the_text(client, library):
    shown = upload(client, mapping="mapping: 1\njob: [")
    assert "no row was read" in main(shown)
    assert "m.yaml:2" in main(shown)
    assert str(library.folder) not in shown.text
    data = {"digest": digest(shown), "text": "a: [<b>"}
    wrong = client.post(shown.url.path, data=data)
    assert wrong.status_code == 200
    assert text_in(wrong) == "a: [<b>"
    assert "nothing can be pointed at" in main(wrong)
    missing = upload(client, mapping=MAPPING.replace("Cause", "Ursache"))
    assert "the table has no column 'Ursache'" in main(missing)


def test_pointing_in_a_text_that_cannot_be_read_is_refused(client):
    shown = upload(client, mapping="job: [\n")
    wrong = client.post(shown.url.path, data={"digest": digest(shown), "text": "job: [\n", "shop": "Quay"})
    assert wrong.status_code == 422
    assert "cannot be read; mend it first" in main(wrong)


def workbook(*rows):
    book = Workbook()
    for row in rows:
        book.active.append(row)
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


def test_a_workbook_is_taken_in_too(client, library):
    rows = [line.split(",") for line in SHEET.splitlines()]
    take(client, upload(client, workbook(*rows), name="march.xlsx"))
    assert stored(library).keys() == {"1", "3"}


@pytest.mark.parametrize(
    ("sheet", "said"),
    [
        (b"", "march.csv: the file is empty"),
        (b"\x89PNG\r\n\x1a\n\0\0\0", "is a picture"),
        (bytes(range(256)) * 40, "march.csv"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(600), "an old binary workbook"),
        (b"PK\x03\x04" + b"x" * 400, "the workbook is damaged"),
        (b"<html><table>", "a web page"),
        (b"\n\n\n", "the file is empty"),
        (b"a;" * 2_000_000, "march.csv"),
        (b'Job,X\n1,"' + b"x" * 200_000 + b'"\n', "march.csv"),
    ],
)
def test_what_is_no_table_is_refused_and_deleted(client, library, sheet, said):
    answer = upload(client, sheet, mapping=None)
    assert answer.status_code == 422
    assert said in main(answer)
    assert main(answer).count("march.csv") == 1
    assert str(library.folder) not in answer.text
    assert uploads_of(library) == []


def test_a_workbook_that_unpacks_without_end_is_refused(client, library, monkeypatch):
    monkeypatch.setattr(xlsx_file, "MOST_BYTES", 1_000_000)
    stream = io.BytesIO(workbook(["Job"]))
    with zipfile.ZipFile(stream, "a", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("xl/worksheets/sheet2.xml", b"0" * 2_000_000)
    assert len(stream.getvalue()) < 20_000
    answer = upload(client, stream.getvalue(), name="bomb.xlsx")
    assert answer.status_code == 422
    assert "holds a part that unpacks to more than" in main(answer)
    assert uploads_of(library) == []
    assert limits.MOST_BYTES > 1_000_000


def test_an_upload_beyond_the_limit_is_refused_before_it_is_kept(client, library):
    answer = client.post("/intake", content=b"x", headers={"content-length": str(65 * 1024**2)})
    assert answer.status_code == 413
    assert uploads_of(library) == []


def test_cells_and_headers_are_escaped(client):
    shown = upload(client, 'Job,<script>alert(1)</script>\n"<img src=x>",1\n', mapping=None)
    assert shown.status_code == 200
    assert "<script>alert" not in shown.text
    assert "<img" not in shown.text
    assert "&lt;img src=x&gt;" in shown.text


@pytest.mark.parametrize(
    ("name", "kept"),
    [
        ("../../etc/passwd", "passwd"),
        ("C:\\jobs\\march.csv", "march.csv"),
        ("..", "sheet"),
        ("a\0b\n.csv", "ab.csv"),
        ("x" * 400 + ".csv", "x" * 100 + ".csv"),
        ("Übersicht März.xlsx", "Übersicht März.xlsx"),
        (".hidden", "hidden"),
    ],
)
def test_only_the_last_part_of_a_name_is_kept(name, kept):
    assert plain_name(name, "sheet") == kept


def test_a_path_in_a_name_leads_nowhere(client, library):
    upload(client, name="../../../evil.csv")
    assert not list(library.folder.parent.glob("*.csv"))
    assert [path.name for path in uploads_of(library) if path.suffix == ".csv"] == ["evil.csv"]


def test_nothing_or_no_board_is_answered_with_what_to_do(client):
    assert "Choose the sheet" in main(client.post("/intake", data={"board": "my-board"}))
    assert "Choose the board" in main(upload(client, board="nowhere"))
    assert "is not UTF-8 text" in main(upload(client, mapping=b"\xff\xfe\xfa"))


@pytest.mark.parametrize("path", ["", "/x/take", "/x/mend", "/x/away", "/x"])
def test_other_sites_cannot_send_anything(client, library, path):
    answer = client.post(
        f"/intake{path}", headers={"sec-fetch-site": "cross-site"}, files={"sheet": ("a.csv", b"a")}
    )
    assert answer.status_code == 403
    assert uploads_of(library) == []


@pytest.mark.parametrize("token", ["x", "..", "%2e%2e", "a" * 22, "..%2f..%2fshop"])
def test_a_token_that_there_is_not_finds_nothing(client, token):
    assert client.get(f"/intake/{token}").status_code in {404, 200}
    for path in (
        f"/intake/{'b' * 22}",
        f"/intake/{'b' * 22}/refused.csv",
        f"/intake/{'b' * 22}/mapping.yaml",
    ):
        assert client.get(path).status_code == 404
    assert client.get(f"/api/intake/{'b' * 22}").json()["error"]["kind"] == "UploadGoneError"


def test_an_upload_outlives_the_app_and_goes_after_a_day(client, library):
    shown = upload(client)
    again = TestClient(create_app(library), base_url="http://127.0.0.1")
    assert "refused 2 rows" in main(again.get(shown.url.path))
    assert "march.csv" in main(again.get("/intake"))
    Uploads(library.folder / ".intake").sweep(datetime.now(UTC) + timedelta(hours=25))
    assert again.get(shown.url.path).status_code == 404
    assert uploads_of(library) == []


def test_a_sheet_is_put_away(client, library):
    shown = upload(client)
    assert client.post(f"{shown.url.path}/away").url.path == "/intake"
    assert uploads_of(library) == []


def test_refused_rows_and_the_mapping_can_be_downloaded(client):
    shown = upload(client)
    refused = client.get(f"{shown.url.path}/refused.csv")
    assert "attachment" in refused.headers["content-disposition"]
    assert refused.content.startswith(b"\xef\xbb\xbfJob,Opened")
    assert refused.text.count("\r\n") == 3
    assert client.get(f"{shown.url.path}/mapping.yaml").text == MAPPING


def test_the_api_says_how_far_a_sheet_is(client):
    shown = upload(client)
    told = client.get(f"/api{shown.url.path}").json()
    assert told["state"] == "shown"
    assert told["counts"]["refused"] == 2
    assert told["jobs"] == 2
    take(client, shown)
    assert client.get(f"/api{shown.url.path}").json()["taken"] == [
        {"new": 2, "merged": 0, "same": 0, "conflicting": 0, "refused": 2}
    ]
    assert client.get("/api/openapi.json").json()["components"]["schemas"]["IntakeTold"]


def test_long_work_is_shown_while_it_runs(client, monkeypatch):
    import threading

    from benchlore.web import intake, intake_work

    go_on = threading.Event()
    preview = intake_work.preview_table

    def slow(library, table, mapping, *, now, report):
        report("Reading rows", 500, 100_000)
        assert go_on.wait(10)
        return preview(library, table, mapping, now=now, report=report)

    monkeypatch.setattr(intake_work, "preview_table", slow)
    monkeypatch.setattr(intake, "PATIENCE", 0.01)
    shown = upload(client)
    assert "500 of about 100,000" in main(shown)
    assert '<noscript><meta http-equiv="refresh" content="2"></noscript>' in shown.text
    assert client.get(f"/api{shown.url.path}").json()["state"] == "working"
    go_on.set()
    client.app.state.works.of(client.app.state.uploads.get(shown.url.path[-22:])).wait(10)
    assert client.get(f"/api{shown.url.path}").json()["state"] == "shown"


def test_a_failure_inside_is_told_without_its_inside(client, monkeypatch):
    from benchlore.web import intake_work

    def broken(*given, **named):
        raise RuntimeError("secret")

    monkeypatch.setattr(intake_work, "preview_table", broken)
    shown = upload(client)
    assert "Something went wrong inside benchlore" in main(shown)
    assert "secret" not in shown.text


def test_a_mended_row_of_a_long_table_completes_its_job(client, library):
    mapping = """mapping: 1
shop: Quay
layout: long
job: Job
board: {always: my-board}
complaint: {always: no-power}
reading: {check: Test, value: Got}
fix: Did
"""
    sheet = "Job,Test,Got,Did\n7,rail-ohms,lots,\n,fuse-ohms,0R2,\n,,,replace-c5\n8,rail-ohms,2k2,\n"
    after = take(client, upload(client, sheet, mapping=mapping))
    assert [each.check for each in stored(library)["7"].readings] == ["fuse-ohms"]
    assert "Row 2" in main(after)
    over = client.post(f"{after.url.path}/mend", data={"digest": digest(after), "cell-2-2": "4R"})
    assert "Taken in: 0 new jobs, 1 completed" in main(over)
    assert [each.check for each in stored(library)["7"].readings] == ["rail-ohms", "fuse-ohms"]


def test_what_is_known_of_an_upload_may_be_unreadable(client, library):
    shown = upload(client)
    (state,) = (library.folder / ".intake").glob("*/upload.json")
    state.write_text('{"another": "version"}', encoding="utf-8")
    assert client.get(shown.url.path).status_code == 404
    assert client.get("/intake").status_code == 200


def test_two_takings_at_once_are_one(client, library, monkeypatch):
    import threading

    from benchlore.web import intake, intake_work

    go_on, taken, take_in = threading.Event(), [], intake_work.take_in

    def slow(*given, **named):
        taken.append(1)
        assert go_on.wait(10)
        return take_in(*given, **named)

    shown = upload(client)
    monkeypatch.setattr(intake_work, "take_in", slow)
    monkeypatch.setattr(intake, "PATIENCE", 0.01)
    data = {"digest": digest(shown)}
    for _ in range(3):
        answer = client.post(f"{shown.url.path}/take", data=data)
        assert "What the columns mean" not in answer.text.split('id="rows"')[0].split("</ul>")[-1]
    changed = client.post(shown.url.path, data={**data, "text": "job: ["})
    assert 'id="progress"' in changed.text
    go_on.set()
    client.app.state.works.of(client.app.state.uploads.get(shown.url.path[-22:])).wait(10)
    assert taken == [1]
    assert stored(library).keys() == {"1", "3"}
    assert "Row 3" in main(client.get(shown.url.path))
