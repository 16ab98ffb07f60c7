"""Pressing again: what is kept, what is made anew, what is left alone, and what a stop leaves behind."""

import os
import shutil
import signal
import subprocess
import sys
import textwrap

import pytest
from site_samples import LATER, files_in, press

from benchlore.library import NoProcedureError, ShopRefusedError, init_library, kept_plan, open_library
from benchlore.press.site import (
    BusyFolderError,
    ForeignFolderError,
    HalfSwappedError,
    InTheWayError,
    ManifestError,
)
from benchlore.press.site import folder as site_folder_module
from benchlore.press.site.locking import locked
from benchlore.procedure import Effort

PAGE = "boards/my-board/no-power/index.html"


@pytest.fixture(scope="module")
def plain(tmp_path_factory):
    """A library with two small books, planned and pressed once."""
    folder = tmp_path_factory.mktemp("plain")
    library = init_library(folder / "library", title="Quay", board="my-board")
    shutil.copytree(library.books / "my-board", library.books / "other-board")
    press(library, folder / "out")
    return folder


@pytest.fixture
def copy(plain, tmp_path):
    """A copy of it, to be changed."""
    shutil.copytree(plain, tmp_path / "copy")
    return open_library(tmp_path / "copy" / "library"), tmp_path / "copy" / "out"


def edit(library, board, old, new):
    path = library.book_file(board)
    text = path.read_text()
    assert old in text
    path.write_text(text.replace(old, new))


def test_pressing_again_writes_nothing(copy):
    library, out = copy
    before = files_in(out)
    pressed = press(library, out, now=LATER)
    assert (pressed.made, pressed.written, pressed.removed) == ((), 0, 0)
    assert pressed.kept == ("my-board", "other-board")
    assert files_in(out) == before


def test_pressing_again_reads_no_book_that_is_as_it_was(copy, monkeypatch):
    library, out = copy

    def read(*_):
        raise AssertionError("a book was read")

    monkeypatch.setattr("benchlore.library.folder._read", read)  # behind it books are remembered
    assert press(library, out, now=LATER, workers=1).kept == ("my-board", "other-board")
    edit(library, "my-board", "currency:", "# Looked through.\ncurrency:")
    with pytest.raises(AssertionError, match="a book was read"):
        press(library, out, now=LATER, workers=1)


def test_without_an_address_nothing_claims_one(copy):
    _, out = copy
    files = files_in(out)
    assert "sitemap.xml" not in files
    assert b"canonical" not in files[PAGE]
    assert b"://" not in files["feed.xml"].replace(b"http://www.w3.org/2005/Atom", b"")
    assert b'"url": "index.html#step-1"' in files[PAGE]


def test_equal_libraries_give_equal_bytes_however_many_processes(copy, tmp_path):
    library, out = copy
    press(library, tmp_path / "again", workers=2)
    assert files_in(tmp_path / "again") == files_in(out)


def test_only_the_changed_board_is_made(copy):
    library, out = copy
    before = files_in(out)
    edit(library, "other-board", "Cracks when the board", "Cracks if the board")
    pressed = press(library, out, now=LATER)
    after = files_in(out)
    assert pressed.made == ("other-board",)
    assert {path for path in after if before.get(path) != after[path]} == {
        "boards/other-board/no-power/index.html",
        "boards/other-board/no-power/sheet-a4.pdf",  # both say that the book changed since
        "boards/other-board/no-power/sheet-letter.pdf",
        "changes.html",
        "editions.json",
        "feed.xml",
        "index.html",
        "worker.js",
    }
    assert b"Cracks if the board" in after["boards/other-board/no-power/index.html"]
    assert after["feed.xml"].count(b"2026-04-01T12:00:00Z") == 3  # the feed, the edition, the one board
    assert after["feed.xml"].count(b"2026-03-01T12:00:00Z") == 2


def test_a_changed_book_makes_its_procedure_stale_until_it_is_renewed(copy):
    library, out = copy
    edit(library, "my-board", "Cracks when", "Cracks if")
    pressed = press(library, out)
    assert [(board, each.name, each.stale) for board, each in pressed.stale] == [
        ("my-board", "no-power", ("the book",))
    ]
    assert b"Changed since the procedure was made: the book" in files_in(out)[PAGE]
    renewed = press(library, out, renew=True)
    assert renewed.made == ("my-board",)
    assert renewed.stale == ()
    assert b"Changed since" not in files_in(out)[PAGE]
    assert press(library, out).made == ()


def test_a_board_that_left_the_library_leaves_the_site(copy):
    library, out = copy
    shutil.rmtree(library.books / "other-board")
    pressed = press(library, out)
    assert pressed.removed > 0
    assert not (out / "boards" / "other-board").exists()
    assert b"other-board" not in (out / "index.html").read_bytes()


def test_a_broken_book_is_listed_and_stops_nothing(copy):
    library, out = copy
    edit(library, "other-board", "takes: 5 min", "takes: soon")
    pressed = press(library, out)
    assert [each.board for each in pressed.refused] == ["other-board"]
    assert pressed.is_lacking
    assert not (out / "boards" / "other-board").exists()
    assert press(library, out).made == ()  # it is not tried again before it changes
    edit(library, "other-board", "takes: soon", "takes: 5 min")
    assert press(library, out).refused == ()
    assert (out / "boards" / "other-board" / "index.html").exists()


def test_a_folder_whose_name_is_no_name_is_refused(copy):
    library, out = copy
    shutil.copytree(library.books / "my-board", library.books / "Zwei Bretter")
    (refused,) = press(library, out).refused
    assert refused.board == "Zwei Bretter"
    assert "no name for a page" in refused.reasons[0]


@pytest.mark.skipif(sys.platform != "linux", reason="only there a name may be no text")
def test_a_folder_whose_name_is_no_text_is_refused(copy):
    library, out = copy
    (library.books / os.fsdecode(b"caf\xe9")).mkdir()
    (library.books / os.fsdecode(b"caf\xe9") / "book.yaml").write_text("book: 1\n")
    (refused,) = press(library, out).refused
    assert refused.board == "caf\ufffd"
    assert press(library, out).made == ()


def test_complaints_without_a_procedure_are_listed_as_they_are(copy, tmp_path):
    library, _ = copy
    shutil.rmtree(library.compiled)
    pressed = press(library, tmp_path / "bare", effort=None)
    assert [each.name for _, each in pressed.unplanned] == ["no-power", "no-power"]
    assert not pressed.is_lacking
    assert b"It is not planned yet." in files_in(tmp_path / "bare")[PAGE]
    with pytest.raises(NoProcedureError):
        kept_plan(library, "my-board", "no-power")
    planned = press(library, tmp_path / "bare", effort=Effort.QUICK)
    assert planned.unplanned == ()
    assert len(planned.made) == 2


def test_a_procedure_with_a_step_that_the_book_lost_is_not_published(copy):
    library, out = copy
    edit(library, "my-board", "fuse-ohms:", "fuse-look:")
    pressed = press(library, out, effort=None)
    assert [board for board, _ in pressed.unplanned] == ["my-board"]
    assert "boards/my-board/no-power/sheet-a4.pdf" not in files_in(out)
    assert press(library, out).unplanned == ()
    assert b"fuse-look" in files_in(out)[PAGE]


def test_a_damaged_file_is_made_again(copy):
    library, out = copy
    before = files_in(out)
    (out / PAGE).write_text("scratched")
    pressed = press(library, out)
    assert pressed.made == ("my-board",)
    assert files_in(out) == before


def test_files_that_are_not_the_sites_are_left_alone(copy):
    library, out = copy
    (out / "CNAME").write_text("quay.example")
    (out / "boards" / "other-board" / "mine.txt").write_text("mine")
    shutil.rmtree(library.books / "other-board")
    press(library, out)
    assert (out / "CNAME").read_text() == "quay.example"
    assert [path.name for path in (out / "boards" / "other-board").iterdir()] == ["mine.txt"]


def test_a_file_in_the_way_is_not_written_over(copy):
    library, out = copy
    before = files_in(out)
    shutil.copytree(library.books / "my-board", library.books / "third-board")
    (out / "boards" / "third-board").mkdir()
    (out / "boards" / "third-board" / "index.html").write_text("mine")
    edit(library, "my-board", "Cracks when", "Cracks if")
    with pytest.raises(InTheWayError, match="third-board"):
        press(library, out)
    assert files_in(out) == {**before, "boards/third-board/index.html": b"mine"}


def test_a_link_that_leads_out_of_the_folder_is_not_followed(copy, tmp_path):
    library, out = copy
    shutil.rmtree(out / "boards")
    (tmp_path / "elsewhere").mkdir()
    (out / "boards").symlink_to(tmp_path / "elsewhere")
    with pytest.raises(InTheWayError, match="boards"):
        press(library, out)
    assert list((tmp_path / "elsewhere").iterdir()) == []


def test_a_foreign_folder_is_refused(copy, tmp_path):
    library, _ = copy
    (tmp_path / "letters").mkdir()
    (tmp_path / "letters" / "mum.txt").write_text("dear")
    with pytest.raises(ForeignFolderError, match="mum") as told:
        press(library, tmp_path / "letters")
    assert str(told.value) == f"{tmp_path / 'letters'}: {told.value.said}"
    assert "letters" not in told.value.said
    assert [path.name for path in (tmp_path / "letters").iterdir()] == ["mum.txt"]


def test_the_librarys_own_folder_is_refused(copy):
    library, _ = copy
    with pytest.raises(ForeignFolderError):
        press(library, library.folder)


def test_a_manifest_that_leads_outside_is_refused(copy):
    library, out = copy
    manifest = out / ".press" / "manifest.json"
    manifest.write_text(manifest.read_text().replace('"index.html"', '"../library/shop.yaml"'))
    with pytest.raises(ManifestError):
        press(library, out)
    assert library.shop_file.exists()


def test_two_presses_do_not_meet(copy):
    library, out = copy
    with locked(out / ".press" / "lock") as alone:
        assert alone
        with pytest.raises(BusyFolderError):
            press(library, out)


def test_a_failed_press_leaves_the_old_site(copy, monkeypatch):
    library, out = copy
    before = files_in(out)
    edit(library, "my-board", "Cracks when", "Cracks if")
    monkeypatch.setattr("benchlore.press.site.press.sitemaps", _fail)
    with pytest.raises(RuntimeError, match="no more ink"):
        press(library, out, base="https://quay.example/")
    assert files_in(out) == before
    assert [path.name for path in (out / ".press").glob("new-*")] == []


def _fail(*_):
    raise RuntimeError("no more ink")


def test_a_shop_with_errors_leaves_no_folder(copy, tmp_path):
    library, _ = copy
    library.shop_file.write_text("shop: 1\n")
    with pytest.raises(ShopRefusedError):
        press(library, tmp_path / "new")
    assert not (tmp_path / "new").exists()


KILLED = """
    import os, signal, sys
    from datetime import UTC, datetime
    from pathlib import Path
    from benchlore.library import open_library
    from benchlore.press.site import folder, press_site

    renames = int(sys.argv[3])
    real = folder._put
    def put(new, target, digest):
        global renames
        if renames == 0:
            os.kill(os.getpid(), signal.SIGKILL)
        renames -= 1
        real(new, target, digest)
    folder._put = put
    press_site(open_library(Path(sys.argv[1])), Path(sys.argv[2]), now=datetime(2026, 3, 1, 12, tzinfo=UTC), workers=1)
"""


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no SIGKILL")
def test_a_swap_that_was_killed_is_finished_by_the_next_press(copy, tmp_path):
    library, out = copy
    old, new = files_in(out), _changed(library, tmp_path)
    done = subprocess.run(
        [sys.executable, "-c", textwrap.dedent(KILLED), str(library.folder), str(out), "2"],
        env=os.environ,
        check=False,
    )
    assert done.returncode == -signal.SIGKILL
    found = files_in(out)
    assert sum(found[path] != old[path] for path in found) == 2
    assert all(found[path] in (old[path], new[path]) for path in found)  # every file whole
    press(library, out)
    _is_whole(out, new)


@pytest.mark.parametrize("renames", [0, 3])
def test_an_interrupted_swap_is_finished_before_anything_else(copy, tmp_path, monkeypatch, renames):
    library, out = copy
    new = _changed(library, tmp_path)
    with monkeypatch.context() as patched:
        left = iter(range(renames))
        real = site_folder_module._put

        def put(fresh, target, digest):
            if next(left, None) is None:
                raise KeyboardInterrupt
            real(fresh, target, digest)

        patched.setattr(site_folder_module, "_put", put)
        with pytest.raises(KeyboardInterrupt):
            press(library, out)
    assert (out / ".press" / "journal.json").exists()
    with site_folder_module.site_folder(out):
        assert files_in(out) == new
    press(library, out)
    _is_whole(out, new)


def test_a_swap_whose_new_files_are_gone_says_so(copy, tmp_path, monkeypatch):
    library, out = copy
    _changed(library, tmp_path)
    monkeypatch.setattr(site_folder_module, "_put", _fail)
    with pytest.raises(RuntimeError):
        press(library, out)
    monkeypatch.undo()
    for stage in (out / ".press").glob("new-*"):
        shutil.rmtree(stage)
    with pytest.raises(HalfSwappedError, match="press into a new folder"):
        press(library, out)


def _changed(library, tmp_path):
    """Change a book; return the site that it gives."""
    edit(library, "my-board", "title: Converter U2 dead", "title: Converter U2 gone")
    shutil.copytree(library.folder.parent / "out", tmp_path / "whole")
    press(library, tmp_path / "whole")
    return files_in(tmp_path / "whole")


def _is_whole(out, files):
    assert files_in(out) == files
    assert sorted(path.name for path in (out / ".press").iterdir()) == ["lock", "manifest.json"]
