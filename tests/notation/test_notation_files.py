"""Reading with care, writing whole or not at all."""

import errno
import os
import pickle
from pathlib import Path

import pytest

from benchlore.notation import (
    FileMissing,
    FileNotText,
    FileNotWritten,
    FileTooLarge,
    FileTrouble,
    FileUnreadable,
    read_text,
    reason_of,
    write_atomic,
)


def names(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


def test_text_is_read_without_byte_order_mark_and_with_plain_line_ends(tmp_path):
    (tmp_path / "a").write_bytes("\ufeff4 kΩ\r\nb\rc".encode())
    assert read_text(tmp_path / "a") == "4 kΩ\nb\nc"


def test_a_missing_file_is_named(tmp_path):
    with pytest.raises(FileMissing, match=r"nothing\.yaml: there is no such file"):
        read_text(tmp_path / "nothing.yaml")


def test_a_folder_is_unreadable(tmp_path):
    with pytest.raises(FileUnreadable, match="cannot be read: is a directory"):
        read_text(tmp_path)


def test_a_name_with_a_zero_is_unreadable():
    with pytest.raises(FileUnreadable, match="cannot be read: embedded null byte"):
        read_text("a\0b")


def test_a_file_in_another_encoding_is_not_text(tmp_path):
    (tmp_path / "a").write_bytes("ok\nLötstelle".encode("latin-1"))
    with pytest.raises(FileNotText, match="a:2: is not UTF-8 text; save it as UTF-8"):
        read_text(tmp_path / "a")


def test_a_file_over_the_limit_is_refused_and_one_at_the_limit_is_read(tmp_path):
    (tmp_path / "a").write_text("x" * 11)
    with pytest.raises(FileTooLarge, match="larger than 10 bytes"):
        read_text(tmp_path / "a", most=10)
    assert read_text(tmp_path / "a", most=11) == "x" * 11


def test_all_file_exceptions_are_one_family_and_carry_the_path(tmp_path):
    with pytest.raises(FileTrouble) as caught:
        read_text(tmp_path / "nothing")
    assert caught.value.path == tmp_path / "nothing"


def test_what_was_written_is_read_back_and_nothing_else_is_left(tmp_path):
    write_atomic(tmp_path / "a", "old")
    write_atomic(tmp_path / "a", "4 kΩ\n")
    write_atomic(tmp_path / "b", b"\x00\xff")
    assert (tmp_path / "a").read_bytes() == "4 kΩ\n".encode()
    assert (tmp_path / "b").read_bytes() == b"\x00\xff"
    assert names(tmp_path) == ["a", "b"]


@pytest.mark.parametrize("call", ["fsync", "replace"])
def test_a_failure_leaves_the_old_file_and_no_litter(tmp_path, monkeypatch, call):
    write_atomic(tmp_path / "a", "old")

    def full(*_: object) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(*((os, "fsync", full) if call == "fsync" else (Path, "replace", full)))
    with pytest.raises(FileNotWritten, match="a: was not written: no space left on device; what was there"):
        write_atomic(tmp_path / "a", "new")
    assert (tmp_path / "a").read_text() == "old"
    assert names(tmp_path) == ["a"]


def test_a_missing_folder_is_named(tmp_path):
    with pytest.raises(FileNotWritten) as told:
        write_atomic(tmp_path / "no" / "a", "x")
    assert str(told.value) == f"{tmp_path}/no/a: was not written: there is no such folder"


def test_what_was_there_before_is_told_of_only_where_something_was(tmp_path):
    (tmp_path / "old").write_text("x")
    assert str(FileNotWritten(tmp_path / "old", "disk full")).endswith("; what was there before is unchanged")
    assert str(FileNotWritten(tmp_path / "new", "disk full")).endswith("new: was not written: disk full")


@pytest.mark.parametrize(
    ("error", "said"),
    [
        (PermissionError(13, "Permission denied"), "permission denied"),
        (FileNotFoundError(2, "No such file or directory"), "there is no such file or folder"),
        (ValueError("embedded null byte"), "embedded null byte"),
        (RuntimeError(), "runtimeerror"),
    ],
)
def test_reasons_of_the_system_are_told_in_one_wording(error, said):
    assert reason_of(error) == said


def test_a_trouble_says_its_place_apart_from_what_is_wrong(tmp_path):
    (tmp_path / "a").write_bytes(b"one\ntwo \xff")
    with pytest.raises(FileNotText) as told:
        read_text(tmp_path / "a")
    assert (told.value.line, told.value.said.partition(";")[0]) == (2, "is not UTF-8 text")
    assert str(told.value) == f"{tmp_path}/a:2: {told.value.said}"


def test_half_a_character_is_refused_before_anything_is_touched(tmp_path):
    with pytest.raises(FileNotWritten, match="half a character"):
        write_atomic(tmp_path / "a", "\ud800")
    assert names(tmp_path) == []


def test_permissions_and_links_are_kept(tmp_path):
    (tmp_path / "real").write_text("old")
    (tmp_path / "real").chmod(0o640)
    (tmp_path / "link").symlink_to("real")
    write_atomic(tmp_path / "link", "new")
    assert (tmp_path / "link").is_symlink()
    assert (tmp_path / "real").read_text() == "new"
    assert (tmp_path / "real").stat().st_mode & 0o777 == 0o640


def test_a_new_file_has_the_permissions_that_the_umask_leaves(tmp_path):
    old = os.umask(0o027)
    try:
        write_atomic(tmp_path / "a", "x")
    finally:
        os.umask(old)
    assert (tmp_path / "a").stat().st_mode & 0o777 == 0o640


@pytest.mark.parametrize(
    "trouble",
    [
        FileMissing(Path("a")),
        FileUnreadable(Path("a"), "gone"),
        FileNotText(Path("a"), 3),
        FileTooLarge(Path("a"), 10),
        FileNotWritten(Path("a"), "disk full"),
    ],
    ids=lambda trouble: type(trouble).__name__,
)
def test_a_trouble_survives_the_way_between_processes(trouble):
    again = pickle.loads(pickle.dumps(trouble))
    assert type(again) is type(trouble)
    assert str(again) == str(trouble)
    assert again.__dict__ == trouble.__dict__
