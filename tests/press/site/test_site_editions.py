"""Editions: what two of them differ in, how many are kept, what a damaged or strange memory does, the page."""

import json
import shutil
from dataclasses import replace
from xml.etree import ElementTree as ET

import pytest
from page_reading import elements, parsed
from site_samples import EVIL, LATER, NOW, files_in, press

from benchlore.library import init_library, open_library
from benchlore.press.site import feed
from benchlore.press.site.changes import changes_files
from benchlore.press.site.comparing import named_difference, next_editions, step_difference
from benchlore.press.site.editions import MOST_EDITIONS, UNDATED, Difference, editions_text, read_editions
from benchlore.press.site.feed import MOST_ADDRESSES, MOST_BYTES, sitemaps
from benchlore.press.site.noted import BoardNoted, ComplaintNoted, Named
from benchlore.press.site.values import Frame

FRAME = Frame("Quay", "CC0-1.0", "Shop", "https://quay.example/")
DEAD = ComplaintNoted(
    title="Dead",
    jobs="4",
    cost="41.00 EUR",
    gap="within 12 % of the best possible",
    state="up to date",
    faults={"joint": Named("Joint", "a"), "via": Named("Via", "b")},
    steps=(Named("Rail", "1"), Named("Coil", "2"), Named("Reflow", "3")),
)
BOARD = BoardNoted("Board", "t", {"dead": DEAD})


def after(noted, before=BOARD):
    """The newest edition when a board becomes another."""
    first = next_editions("nothing", {"b": before}, {}, {}, NOW)
    return next_editions(first, {"b": noted}, {}, {}, LATER).editions[0]


def differences(**changed):
    edition = after(replace(BOARD, complaints={"dead": replace(DEAD, **changed)}))
    return edition.boards[0].complaints[0].differences


def test_figures_are_told_before_and_after():
    assert differences(cost="38.00 EUR", gap="the proven optimum") == (
        Difference("Expected cost of a job", "41.00 EUR", "38.00 EUR"),
        Difference("Proven of the cost", "within 12 % of the best possible", "the proven optimum"),
    )
    assert differences(standing="proven") == (Difference("Standing", "none", "proven"),)


def test_what_came_went_and_was_altered_is_named():
    faults = {"joint": Named("Joint", "A"), "cell": Named("Cell", "c")}
    assert differences(faults=faults) == (
        Difference("Faults", added=("Cell",), removed=("Via",), altered=("Joint",)),
    )
    assert named_difference("Faults", faults, faults) is None


def test_steps_that_came_went_or_lead_elsewhere_are_named():
    old = DEAD.steps
    assert step_difference(old, old) is None
    new = (Named("Rail", "9"), Named("Cell", "4"), Named("Cell", "5"), Named("Reflow", "3"))
    found = step_difference(old, new)
    assert (found.added, found.removed, found.altered) == (("Cell (2 times)",), ("Coil",), ("Rail",))
    assert step_difference(old, (old[1], old[0], old[2])).after == "their order alone"


@pytest.mark.parametrize("field", ["model", "proof", "text"])
def test_a_change_that_no_list_names_is_told_all_the_same(field):
    (found,) = differences(**{field: "other"})
    assert found.after


def test_no_change_makes_no_edition_and_keeps_the_dates():
    first = next_editions("nothing", {"b": BOARD}, {}, {}, NOW)
    assert next_editions(first, {"b": BOARD}, {}, {}, LATER) == first
    second = next_editions(first, {"b": BOARD, "c": BOARD}, {}, {}, LATER)
    assert second.boards["b"].updated == first.editions[0].date
    assert second.boards["c"].updated == second.editions[0].date
    assert [edition.number for edition in second.editions] == [2, 1]


def test_boards_and_skills_that_came_and_went_are_listed_with_the_reason():
    first = next_editions("nothing", {"b": BOARD}, {"ohm": Named("Ohm", "1")}, {}, NOW)
    edition = next_editions(first, {"c": BOARD}, {}, {"b": "its book has errors"}, LATER).editions[0]
    assert [(each.board, each.what, each.why) for each in edition.boards] == [
        ("b", "gone", "its book has errors"),
        ("c", "new", ""),
    ]
    assert edition.skills == Difference("Skills", removed=("Ohm",))


def test_so_many_editions_are_kept_and_no_more():
    kept = next_editions("nothing", {}, {}, {}, NOW)
    for number in range(2 * MOST_EDITIONS):
        kept = next_editions(kept, {"b": replace(BOARD, text=str(number))}, {}, {}, NOW)
    assert [each.number for each in kept.editions] == list(
        range(2 * MOST_EDITIONS + 1, MOST_EDITIONS + 1, -1)
    )


def test_what_was_written_is_read_again(tmp_path):
    kept = next_editions("nothing", {"b": BOARD}, {"ohm": Named("Ohm", "1")}, {}, NOW)
    kept = next_editions(kept, {}, {}, {}, LATER)
    (tmp_path / "editions.json").write_bytes(editions_text(kept))
    assert read_editions(tmp_path / "editions.json") == kept


@pytest.mark.parametrize(
    "damage",
    [
        lambda _: b"",
        lambda _: b"[" * 100_000,
        lambda text: text[:-20],
        lambda text: text.replace(b'"format":1', b'"format":2'),
        lambda text: text.replace(b'"number":1', b'"number":1e400'),
        lambda text: text.replace(b'"number":1', b'"number":-7'),
        lambda text: text.replace(b"2026-03-01T12:00:00Z", b"<script>"),
        lambda text: b"\xff\xfe" + text,
        lambda _: b'{"format":1,"editions":[]}',
    ],
)
def test_a_memory_that_cannot_be_read_tells_nothing(tmp_path, damage):
    text = editions_text(next_editions("nothing", {"b": BOARD}, {}, {}, NOW))
    (tmp_path / "editions.json").write_bytes(damage(text))
    assert read_editions(tmp_path / "editions.json") == "unknown"
    assert next_editions("unknown", {"b": BOARD}, {}, {}, NOW).editions[0].compared == "unknown"
    assert read_editions(tmp_path / "none.json") == "nothing"


def test_a_hostile_memory_is_text_on_the_page():
    evil = replace(
        BOARD, title=EVIL, complaints={EVIL: replace(DEAD, cost=EVIL, faults={EVIL: Named(EVIL, EVIL)})}
    )
    kept = next_editions("nothing", {EVIL: evil}, {EVIL: Named(EVIL, "")}, {}, NOW)
    kept = next_editions(kept, {EVIL: replace(BOARD, text="x"), "c": evil}, {}, {}, LATER)
    kept = next_editions(kept, {}, {}, {}, LATER)
    page = changes_files(FRAME, (), kept)["changes.html"].decode()
    tree = parsed(page)
    ET.fromstring(page.partition("\n")[2])
    assert "alert(1)" in page
    assert not [
        element for element, tag in elements(tree) if tag == "img" or "alert" in (element.get("href") or "")
    ]


def test_an_edition_without_a_date_says_so():
    kept = next_editions("nothing", {}, {}, {}, UNDATED)
    page = changes_files(FRAME, (), kept)["changes.html"].decode()
    assert "Edition 1, undated" in page
    assert "1980" not in page


@pytest.fixture(scope="module")
def pressed(tmp_path_factory):
    """A library of one board and its site."""
    folder = tmp_path_factory.mktemp("editions")
    press(init_library(folder / "library", title="Quay", board="my-board"), folder / "out")
    return folder


@pytest.fixture
def site(pressed, tmp_path):
    shutil.copytree(pressed, tmp_path / "copy")
    return open_library(tmp_path / "copy" / "library"), tmp_path / "copy" / "out"


def edit(library, old, new):
    path = library.book_file("my-board")
    assert old in path.read_text()
    path.write_text(path.read_text().replace(old, new))


def test_a_first_edition_says_that_nothing_stood_before(site):
    _, out = site
    page = files_in(out)["changes.html"].decode()
    assert "The first edition: nothing stood here before it" in page
    assert 'href="changes.html#edition-1"' in files_in(out)["index.html"].decode()


def test_a_changed_book_makes_an_edition_that_names_what_changed(site):
    library, out = site
    edit(library, "title: Converter U2 dead", "title: Converter U2 gone")
    edit(library, "  replace-f1:\n", "  replace-fuse:\n")
    press(library, out, now=LATER, renew=True)
    files = files_in(out)
    edition = json.loads(files["editions.json"])["editions"][0]
    assert (edition["number"], edition["date"]) == (2, "2026-04-01T12:00:00Z")
    (complaint,) = edition["boards"][0]["complaints"]
    told = {each["topic"]: each for each in complaint["differences"]}
    assert told["Faults"]["altered"] == ["Converter U2 gone"]
    assert told["Fixes"]["added"]
    assert told["Fixes"]["removed"]
    assert "Steps" in told
    assert "Converter U2 gone" in files["changes.html"].decode()
    told = files["feed.xml"].decode()
    assert "<title>Edition 2</title>" in told
    assert "<summary>1 board changed.</summary>" in told


def test_a_comment_in_a_book_makes_no_edition(site):
    library, out = site
    before = files_in(out)
    edit(library, "book: 1\n", "book: 1 # looked through\n")
    press(library, out, now=LATER, renew=True)
    assert {p for p, c in files_in(out).items() if before[p] != c} <= {"worker.js", *_of_plan(before)}
    assert files_in(out)["changes.html"] == before["changes.html"]


def _of_plan(files):
    """Files that name the day on which the procedure was planned."""
    return {path for path in files if path.startswith("boards/my-board/no-power/")}


def test_a_damaged_file_of_editions_is_made_again(site):
    library, out = site
    before = files_in(out)
    (out / "editions.json").write_text('{"format": 1, "editions": []}')
    press(library, out, now=LATER)
    assert files_in(out) == before


def test_a_site_of_an_older_press_is_not_called_the_first(site):
    library, out = site
    manifest = out / ".press" / "manifest.json"
    said = json.loads(manifest.read_text())
    del said["editions"], said["skills"]
    for board in said["boards"].values():
        del board["entry"]["noted"]
        board["made_from"] = ""
    manifest.write_text(json.dumps(said))
    press(library, out, now=LATER)
    assert "was not noted or cannot be read" in files_in(out)["changes.html"].decode()


def test_a_new_folder_goes_on_from_the_editions_that_the_library_keeps(site, tmp_path):
    library, out = site
    shutil.copy(out / "editions.json", library.folder)
    press(library, tmp_path / "same", now=LATER)
    assert files_in(tmp_path / "same") == files_in(out)
    edit(library, "title: Converter U2 dead", "title: Converter U2 gone")
    press(library, tmp_path / "next", now=LATER)
    assert json.loads(files_in(tmp_path / "next")["editions.json"])["editions"][0]["number"] == 2


def test_a_site_of_more_pages_than_a_map_holds_gets_an_index():
    """sitemaps.org protocol 0.9: at most 50,000 addresses and 50 MB a map; an index names the maps."""
    assert (MOST_ADDRESSES, MOST_BYTES) == (50_000, 50_000_000)
    space = "{http://www.sitemaps.org/schemas/sitemap/0.9}"
    paths = [f"boards/b{n}/index.html" for n in range(201)]
    maps = sitemaps(FRAME, [*paths, "looks/site.css"], most=100)
    assert sorted(maps) == ["sitemap-1.xml", "sitemap-2.xml", "sitemap-3.xml", "sitemap.xml"]
    index = ET.fromstring(maps["sitemap.xml"])
    assert index.tag == f"{space}sitemapindex"
    assert [each.findtext(f"{space}loc") for each in index] == [
        f"https://quay.example/sitemap-{n}.xml" for n in (1, 2, 3)
    ]
    found = [
        url.findtext(f"{space}loc") for n in (1, 2, 3) for url in ET.fromstring(maps[f"sitemap-{n}.xml"])
    ]
    assert len(found) == len(set(found)) == 201
    assert list(sitemaps(FRAME, paths[:200], most=200)) == ["sitemap.xml"]


def test_a_map_of_long_addresses_stays_below_the_protocols_size(monkeypatch):
    monkeypatch.setattr(feed, "MOST_BYTES", 100_000)
    frame = replace(FRAME, base=f"https://quay.example/{'long&' * 400}/")
    maps = sitemaps(frame, [f"b{n}.html" for n in range(100)])
    assert len(maps) > 2
    assert max(map(len, maps.values())) <= 100_000
