"""The bundle: nothing personal in it, the same bytes every time, hostile ones refused, a library again."""

import json
import stat
from datetime import date
from zipfile import ZIP_DEFLATED, ZipFile, ZipInfo

import pytest

from benchlore.jobs import Attempt, Job, Outcome, Reading, Retest, Store
from benchlore.library import (
    BundleRefusedError,
    NotEmptyError,
    check_bag,
    init_library,
    open_library,
    plan_complaint,
    sound_book_of,
    take_on,
)
from benchlore.press.bundle import bundle_library

PERSONAL = (
    "SERIAL",
    "MUELLER",
    "TECHNICIAN",
    "CUSTOMER",
    "SecretShop",
    "HiddenShop",
    "2026-03-0",
    "NOTE TO SELF",
)


@pytest.fixture(scope="module")
def packed(tmp_path_factory):
    """A library with personal strings planted wherever a job or file can hold them; its bundle."""
    room = tmp_path_factory.mktemp("bundle")
    library = init_library(room / "library", title="Tést", board="my-board")
    records = "records:\n  SecretShop GmbH: {publish: yes}\n  Open: {publish: yes, name: Open Bench}\n"
    (library.folder / "library.yaml").write_text(
        f"library: 1 # NOTE TO SELF\nname: Tést\nlicence: CC0-1.0\n{records}"
    )
    shop = library.shop_file.read_text()
    library.shop_file.write_text(f"{shop}\n# NOTE TO SELF\n")
    (library.books / "my-board" / "note.txt").write_text("NOTE TO SELF")
    with Store.open(library.store) as store:
        store.add(
            job(library, shop, n) for shop in ("SecretShop GmbH", "HiddenShop", "Open") for n in range(4)
        )
    library = open_library(library.folder)
    plan_complaint(library, "my-board", "no-power")
    bundle_library(library, room / "one.zip", workers=1)
    return library, room / "one.zip"


def job(library, shop, n):
    book = sound_book_of(library, "my-board").book
    check = next(each.name for each in book.checks.values() if each.measures)
    reading = Reading(check, 1, None, 100.0 + n, "MUELLER's reading")
    attempt = Attempt(next(iter(book.fixes)), 2, Retest.GONE, 90.25)
    return Job(
        shop, f"SERIAL-{n}", "my-board", "no-power", date(2026, 3, 4 + n), (reading,), (attempt,), Outcome.REPAIRED,
        next(iter(book.faults)), "MUELLER wrote", 12.0, 3.0, False, "TECHNICIAN T", "CUSTOMER C", {"serial": "SERIAL-X"},
    )  # fmt: skip


def test_no_member_holds_anything_personal(packed):
    with ZipFile(packed[1]) as bundle:
        names = bundle.namelist()
        found = [
            (name, word)
            for name in names
            for word in PERSONAL
            if word in f"{name}\n{bundle.read(name).decode('utf-8', 'replace')}".replace("2026-03-01", "")
        ]
        jobs = bundle.read("t-st/data/jobs/jobs.csv").decode()
        attempts = bundle.read("t-st/data/jobs/attempts.csv").decode()
        told = json.loads(bundle.read("t-st/data/datapackage.json"))
    assert found == []
    assert attempts.count(",gone,90.25\r\n") == 8  # minutes are told as they were measured
    (fields,) = (each["schema"]["fields"] for each in told["resources"] if each["name"] == "attempts")
    assert fields[-1] == {"name": "soaked_minutes", "type": "string"}
    assert jobs.count("shop-001,") == 4  # allowed, nameless
    assert jobs.count("Open Bench,") == 4  # allowed by name
    assert jobs.count("\r\n") == 9
    assert {name.split("/")[2] for name in names if "/data/" in name} >= {
        "library",
        "jobs",
        "site",
        "README.txt",
    }


def test_a_bundle_becomes_a_library_that_makes_the_same_bundle(packed, tmp_path):
    library, jobs = take_on(packed[1], tmp_path / "on")
    assert (library.boards(), jobs) == (("my-board",), 8)
    bundle_library(library, tmp_path / "two.zip", workers=1)
    assert (tmp_path / "two.zip").read_bytes() == packed[1].read_bytes()
    with pytest.raises(NotEmptyError):
        take_on(packed[1], tmp_path / "on")


def test_a_sound_bundle_is_found_sound_and_its_list_is_what_sha256sum_reads(packed):
    """BagIt's manifest (RFC 8493, 2.1.3): a checksum, blanks, and the path from the bag's folder."""
    checked = check_bag(packed[1])
    assert checked.troubles == ()
    with ZipFile(packed[1]) as bundle:
        lines = bundle.read("t-st/manifest-sha256.txt").decode().splitlines()
        assert bundle.read("t-st/bagit.txt") == b"BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n"
    assert [line[64:66] for line in lines] == ["  "] * len(lines)


def changed(source, target, edit):
    with ZipFile(source) as old, ZipFile(target, "w", ZIP_DEFLATED) as new:
        members = [(info.filename, old.read(info)) for info in old.infolist()]
        for name, content in edit(members):
            new.writestr(name, content)
    return target


def link(name):
    info = ZipInfo(name)
    info.create_system, info.external_attr = 3, (stat.S_IFLNK | 0o777) << 16
    return info


BOOK = "t-st/data/library/books/my-board/book.yaml"


@pytest.mark.filterwarnings("ignore:Duplicate name")
@pytest.mark.parametrize(
    ("edit", "rule"),
    [
        (lambda m: [pair for pair in m if pair[0] != BOOK], "missing"),
        (lambda m: [*m, ("t-st/data/x.txt", b"x")], "extra"),
        (lambda m: [(n, c + b"#" if n == BOOK else c) for n, c in m], "changed"),
        (lambda m: [*m, (BOOK, b"x")], "twice"),
        (lambda m: [*m, (BOOK.upper(), b"x")], "twice"),
        (lambda m: [*m, ("t-st/../../x", b"x")], "unsafe"),
        (lambda m: [*m, ("/etc/x", b"x")], "unsafe"),
        (lambda m: [*m, ("C:/x", b"x")], "unsafe"),
        (lambda m: [*m, ("t-st/data/a\\b", b"x")], "unsafe"),
        (lambda m: [*m, (link("t-st/data/link"), b"/etc/passwd")], "unsafe"),
        (lambda m: [*m, ("other/x", b"x")], "outside"),
        (lambda m: [pair for pair in m if not pair[0].endswith("/bagit.txt")], "no-bag"),
        (lambda _: [], "empty"),
    ],
)
def test_what_is_wrong_with_a_bundle_is_found(packed, tmp_path, edit, rule):
    path = changed(packed[1], tmp_path / "bad.zip", edit)
    assert rule in [trouble.rule for trouble in check_bag(path).troubles]
    with pytest.raises(BundleRefusedError):
        take_on(path, tmp_path / "on")
    assert not (tmp_path / "on").exists()


def test_a_bundle_that_would_swell_is_refused_before_it_is_read(packed):
    (trouble,) = check_bag(packed[1], most=1000).troubles
    assert trouble.rule == "too-large"


@pytest.mark.parametrize("content", [b"", b"PK\x03\x04 not a zip", b"\0" * 1000])
def test_what_is_no_zip_is_said_so(tmp_path, content):
    (tmp_path / "x.zip").write_bytes(content)
    assert [trouble.rule for trouble in check_bag(tmp_path / "x.zip").troubles] == ["unreadable"]
