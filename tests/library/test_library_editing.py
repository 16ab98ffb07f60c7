from hashlib import sha256

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchlore.library import (
    BookChangedError,
    BookUnsoundError,
    book_text,
    diff_of,
    save_book,
)
from benchlore.notation import FileTooLarge, FileTrouble


@pytest.fixture
def opened(library):
    return book_text(library, "my-board")


def test_a_save_writes_and_tells_what_changed(library, opened):
    saved = save_book(library, "my-board", opened.text + "# more\n", seen=opened.sha256)
    assert library.book_file("my-board").read_text().endswith("# more\n")
    assert saved.before == opened
    assert [(line.kind, line.text) for line in saved.diff][-1] == ("added", "# more")
    assert saved.now == book_text(library, "my-board")


def test_a_save_can_be_undone_by_a_save(library, opened):
    saved = save_book(library, "my-board", opened.text + "# more\n", seen=opened.sha256)
    save_book(library, "my-board", saved.before.text, seen=saved.now.sha256)
    assert book_text(library, "my-board") == opened


def test_what_another_changed_is_not_written_over(library, opened):
    path = library.book_file("my-board")
    path.write_text(opened.text + "# theirs\n")
    with pytest.raises(BookChangedError, match="was changed since you opened it") as caught:
        save_book(library, "my-board", opened.text + "# mine\n", seen=opened.sha256)
    assert caught.value.now.text.endswith("# theirs\n")
    assert path.read_text().endswith("# theirs\n")


def test_errors_are_saved_only_when_that_is_said(library, opened):
    bad = opened.text.replace("book: 1", "book: 9", 1)
    with pytest.raises(BookUnsoundError, match="would have 1 error, and"):
        save_book(library, "my-board", bad, seen=opened.sha256)
    assert book_text(library, "my-board") == opened
    saved = save_book(library, "my-board", bad, seen=opened.sha256, unsound=True)
    assert not saved.reviewed.is_sound
    assert library.book_file("my-board").read_text() == bad


def test_line_ends_of_a_form_become_line_feeds(library, opened):
    save_book(library, "my-board", opened.text.replace("\n", "\r\n"), seen=opened.sha256)
    assert library.book_file("my-board").read_bytes() == opened.text.encode()


def test_a_text_larger_than_a_book_may_be_is_refused(library, opened):
    with pytest.raises(FileTooLarge):
        save_book(library, "my-board", "#" * (2 * 1024**2 + 1), seen=opened.sha256, unsound=True)


def test_half_a_character_is_refused(library, opened):
    with pytest.raises(FileTrouble, match="half a character"):
        save_book(library, "my-board", opened.text + "# \ud800", seen=opened.sha256, unsound=True)
    assert book_text(library, "my-board") == opened


def test_the_fingerprint_is_sha256_of_the_text(opened):
    assert opened.sha256 == sha256(opened.text.encode()).hexdigest()


LINES = st.lists(st.sampled_from(["a", "-b", "+c", "", "@@ d"]), max_size=12).map("\n".join)


@given(LINES, LINES)
def test_a_diff_holds_every_line_that_differs(before, now):
    diff = diff_of(before, now)
    old = [line.text for line in diff if line.kind in {"same", "removed"}]
    new = [line.text for line in diff if line.kind in {"same", "added"}]
    assert (not diff) == (before.splitlines() == now.splitlines())
    assert is_within(old, before.splitlines())
    assert is_within(new, now.splitlines())


def is_within(some, all_of_them):
    left = iter(all_of_them)
    return all(line in left for line in some)
