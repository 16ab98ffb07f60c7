"""A library given away, looked through and carried on, as commands; what is wrong with a gift is said clearly."""

import struct
from dataclasses import replace
from datetime import date
from zipfile import ZIP_DEFLATED, ZipFile

import pytest
from PIL import Image
from PIL.ExifTags import GPS, IFD, Base

from benchlore.cli import main
from benchlore.jobs import Store
from benchlore.library import open_library
from finished_jobs import finished_jobs

BOOK = "quay-bench/data/library/books/my-board/book.yaml"
SECRETS = ("MUELLER", "SERIAL-0815", "wrote freely", "HiddenShop", "Cust Omer", "NOTE TO SELF")


def command(*arguments):
    """Run a command of a fixture that outlives a test; its exit code."""
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr("sys.argv", ["benchlore", *map(str, arguments)])
        try:
            main()
        except SystemExit as ended:
            return ended.code or 0
        return 0


def photograph(path):
    """A photograph that says where it was taken, and with which camera (CIPA DC-008, Exif 2.32)."""
    exif = Image.Exif()
    exif[Base.Artist] = "MUELLER"
    exif.get_ifd(IFD.Exif)[Base.BodySerialNumber] = "SERIAL-0815"
    exif.get_ifd(IFD.GPSInfo)[GPS.GPSLatitude] = (53.0, 32.0, 51.5)
    Image.new("RGB", (400, 300), "white").save(path, exif=exif, comment=b"MUELLER")


def private(job, shop):
    """A job with everything in it that nobody may read but the shop."""
    return replace(
        job,
        shop=shop,
        number=f"SERIAL-0815-{job.number}",
        opened=date(2026, 3, 17),
        fault_text="MUELLER wrote freely",
        notes="wrote freely",
        technician="MUELLER",
        extra={"serial": "SERIAL-0815", "customer": "Cust Omer"},
    )


@pytest.fixture(scope="module")
def packed(tmp_path_factory):
    """A small library and its bundle."""
    room = tmp_path_factory.mktemp("gift")
    folder = room / "library"
    assert command("init", folder, "--name", "Quay bench") == 0
    book = folder / "books" / "my-board" / "book.yaml"
    shown = "    picture: {file: top.jpg, at: [120, 80]}\n    measures: resistance\n"
    book.write_text(book.read_text().replace("    measures: resistance\n", shown, 1))
    photograph(book.parent / "top.jpg")
    (book.parent / "private.txt").write_text("NOTE TO SELF")
    marker = folder / "library.yaml"
    marker.write_text(f"{marker.read_text()}records:\n  Quay: {{publish: yes}}\n")
    with Store.open(open_library(folder).store) as store:
        store.add(private(each, shop) for each in finished_jobs(12) for shop in ("Quay", "HiddenShop"))
    assert command("--library", folder, "bundle", room / "one.zip", "--workers", 1) == 0
    return folder, room / "one.zip"


def edited(packed, target, edit):
    """Write the bundle again, with its members changed."""
    with ZipFile(packed[1]) as old, ZipFile(target, "w", ZIP_DEFLATED) as new:
        for name, content in edit([(info.filename, old.read(info)) for info in old.infolist()]):
            new.writestr(name, content)
    return target


def test_a_sound_bundle_is_said_to_be_so(run, packed):
    verified = run("verify", packed[1])
    assert verified.code == 0
    assert "whole and unchanged" in verified.out
    assert run("verify", packed[1], "--json").data["sound"] is True


def test_the_same_library_gives_the_same_bytes_as_a_command(run, packed, tmp_path):
    again = run("--library", packed[0], "bundle", tmp_path / "two.zip", "--workers", 1)
    assert again.code == 0
    assert "1 board, 12 jobs" in again.out
    assert (tmp_path / "two.zip").read_bytes() == packed[1].read_bytes()


def test_no_member_names_a_person_a_place_a_serial_number_or_a_free_text(packed):
    with ZipFile(packed[1]) as bundle:
        members = {name: bundle.read(name) for name in bundle.namelist()}
    found = [(n, s) for n, content in members.items() for s in SECRETS if s.encode() in n.encode() + content]
    assert found == []
    pictures = [content for name, content in members.items() if name.endswith(".jpg")]
    assert len(pictures) == 2  # the book's, and the page's
    assert not any(b"Exif" in content for content in pictures)
    assert not any(name.endswith("private.txt") for name in members)
    assert b"2026-03-17" not in b"".join(members.values())  # jobs are dated by their month alone


def test_a_bundle_is_carried_on_and_works(run, packed, tmp_path, monkeypatch):
    carried = run("init", "--from", packed[1], tmp_path / "on")
    assert carried.code == 0
    assert "1 board, 12 jobs" in carried.out
    monkeypatch.chdir(tmp_path / "on")
    assert "Main rail to ground" in run("show", "my-board", "no-power").out
    planned = run("plan", "my-board", "no-power", "--effort", "quick")
    assert planned.code == 0
    assert "Expected cost of a job" in planned.out
    proven = run(
        "prove", "my-board", "no-power", "--effort", "quick", "--folds", 2, "--draws", 2, "--workers", 1
    )
    assert proven.code == 0
    assert "12 jobs" in proven.out


DAMAGES = {
    "tampered": (
        lambda m: [(n, c + b"#" if n == BOOK else c) for n, c in m],
        "is not what its checksum says",
    ),
    "missing": (lambda m: [pair for pair in m if pair[0] != BOOK], "is listed and not in the zip"),
    "one too many": (
        lambda m: [*m, ("quay-bench/data/x.txt", b"x")],
        "is in the zip and in no list of checksums",
    ),
    "leading out": (lambda m: [*m, ("quay-bench/../../x", b"x")], "the name leads out of the folder"),
}


@pytest.mark.parametrize("damage", DAMAGES)
def test_a_damaged_bundle_is_refused_by_both_commands_with_the_reason(run, packed, tmp_path, damage):
    edit, reason = DAMAGES[damage]
    path = edited(packed, tmp_path / "bad.zip", edit)
    verified = run("verify", path)
    assert verified.code == 1
    assert reason in " ".join(verified.out.split())
    assert "not to be used: 1 finding" in verified.out
    carried = run("init", "--from", path, tmp_path / "on")
    assert carried.code == 1
    assert reason in " ".join(carried.err.split())
    assert not (tmp_path / "on").exists()
    assert not (tmp_path.parent / "x").exists()
    troubles = run("verify", path, "--json").data["troubles"]
    assert len(troubles) == 1


def test_a_zip_that_would_swell_is_refused_unread(run, tmp_path):
    """As it says itself: 5 GiB; and one that lies about its size is found out where it ends too late."""
    path = tmp_path / "bomb.zip"
    with ZipFile(path, "w", ZIP_DEFLATED) as bomb:
        bomb.writestr("b/data/zeros", b"\0" * 10_000_000)
    refused = run("verify", path, "--most", 1_000_000)
    assert refused.code == 1
    assert "unpacked it would take 10,000,000 bytes, more than 1,000,000" in " ".join(refused.out.split())
    content = path.read_bytes()
    lying = content.replace(struct.pack("<I", 10_000_000), struct.pack("<I", 10))
    assert lying != content
    path.write_bytes(lying)
    assert run("verify", path, "--most", 1_000_000).code == 1
    assert run("init", "--from", path, tmp_path / "on").code == 1
    assert not (tmp_path / "on").exists()


@pytest.mark.parametrize("kind", ["no zip", "truncated", "empty", "not there"])
def test_what_is_no_bundle_is_said_so(run, packed, tmp_path, kind):
    path = tmp_path / "x.zip"
    whole = packed[1].read_bytes()
    if kind != "not there":
        path.write_bytes({"no zip": b"dear mum", "truncated": whole[: len(whole) // 2], "empty": b""}[kind])
    refused = run("verify", path)
    assert refused.code == 1
    reason = "there is no such file"
    if kind != "not there":
        reason = "it is no zip that can be read, or only a part of one; get it anew"
    assert refused.out == f"x.zip: {reason}\n\n{path}: not to be used: 1 finding\n"
    carried = run("init", "--from", path, tmp_path / "on")
    assert carried.code == 1
    assert "Traceback" not in carried.err
    assert not (tmp_path / "on").exists()


def test_a_folder_that_holds_something_is_left_alone(run, packed, tmp_path):
    (tmp_path / "mine.txt").write_text("mine")
    refused = run("init", "--from", packed[1], tmp_path)
    assert refused.code == 1
    assert "mine.txt" in refused.err
    assert [path.name for path in tmp_path.iterdir()] == ["mine.txt"]


def test_a_day_that_is_none_is_told_how_to_write_one(run, tmp_path):
    refused = run("bundle", tmp_path / "x.zip", "--day", "28.11.2026")
    assert refused.code == 2
    assert "'28.11.2026' is no day; write a day such as 2026-11-28" in " ".join(refused.err.split())
