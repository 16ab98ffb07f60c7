"""Books as the library reads them."""

from benchlore.library.folder import LONGEST_REMEMBERED, read_book_of


def test_a_book_is_read_once_until_its_text_changes(library):
    path = library.book_file("my-board")
    first = read_book_of(library, "my-board")
    assert read_book_of(library, "my-board") is first
    path.write_text(path.read_text().replace("takes: 5 min", "takes: soon"))
    assert read_book_of(library, "my-board").book is None


def test_a_very_long_book_is_read_but_not_kept(library):
    path = library.book_file("my-board")
    path.write_text(path.read_text() + "\n#" + "\n# long" * (LONGEST_REMEMBERED // 7))
    first, again = (read_book_of(library, "my-board") for _ in range(2))
    assert first.book == again.book is not None
    assert again is not first
