"""A library of one's own, from an empty folder."""

from pathlib import Path

import pytest


def test_a_new_library_reviews_clean_and_its_example_is_planned_to_proven_optimum(run, library):
    assert run("review", "--strict").code == 0
    planned = run("plan", "my-board", "no-power")
    assert planned.code == 0
    assert "optimal, proven" in planned.out
    shown = run("show", "my-board", "no-power")
    assert shown.out.count("every job") == 1
    assert "Main rail to ground" in shown.out


def test_init_refuses_a_folder_that_holds_something(run, tmp_path):
    (tmp_path / "notes.txt").write_text("mine")
    refused = run("init", tmp_path)
    assert refused.code == 1
    assert "'notes.txt' is in the way" in refused.err
    assert (tmp_path / "notes.txt").read_text() == "mine"


@pytest.mark.parametrize("name", ['A "quoted" \\ name', "Ünïcode ☂", "colon: here # and there"])
def test_any_name_survives(run, tmp_path, name):
    assert run("init", tmp_path / "lib", "--name", name).code == 0
    assert run("--library", tmp_path / "lib", "review").code == 0


@pytest.mark.parametrize("board", ["../evil", "My-Board", "Größe"])
def test_a_board_name_must_be_one(run, tmp_path, board):
    refused = run("init", tmp_path / "lib", "--board", board)
    assert refused.code == 1
    assert refused.err == (
        f"benchlore: --board '{board}': no board can be called so; write lower-case letters (a to z), digits "
        "and single hyphens between them, 60 signs at most, such as my-board\n"
    )
    assert not (tmp_path / "lib").exists()


def test_init_lists_what_it_wrote_and_says_what_to_type_whatever_the_folder_is_called(run, tmp_path):
    made = run("init", tmp_path / "my library", "--board", "halden-t4-main")
    told = made.out.splitlines()
    written = [line.split()[0] for line in told[1:-1]]
    assert written == ["library.yaml", "shop.yaml", "books/halden-t4-main/book.yaml"]
    assert all((tmp_path / "my library" / name).is_file() for name in written)
    explained = [line.partition("   ")[2] for line in told[1:-1]]
    assert len({line.index(words.strip()) for line, words in zip(told[1:-1], explained, strict=True)}) == 1
    assert told[-1] == (
        f"Next: cd '{tmp_path}/my library'; benchlore review; benchlore plan halden-t4-main no-power"
    )


def test_init_in_a_folder_that_cannot_be_written_speaks_of_no_file_that_was_there(run, tmp_path, monkeypatch):
    def refuses(*_, **__):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "mkdir", refuses)
    refused = run("init", tmp_path / "lib")
    assert refused.err == f"benchlore: {tmp_path}/lib/books/my-board: was not written: permission denied\n"


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"book: 1\n\xff\xfe", "book.yaml:2:1: error: is not UTF-8 text; save it as UTF-8 in your editor"),
        (None, "book.yaml: error: cannot be read: is a directory"),
    ],
)
def test_a_book_that_cannot_be_read_is_located_once(run, library, content, said):
    book = library / "books" / "my-board" / "book.yaml"
    book.unlink()
    book.mkdir() if content is None else book.write_bytes(content)
    reviewed = run("review", "my-board")
    assert reviewed.code == 1
    assert " ".join(reviewed.out.split()).startswith(f"books/my-board/{said} [unreadable] 1 error.")


@pytest.mark.parametrize(
    ("marker", "found"),
    [("", "and it is not there"), ("library: 7\n", "found '7'"), ("- a\n", "and it is not")],
)
def test_a_marker_that_says_no_version_is_refused_in_plain_words(run, library, marker, found):
    (library / "library.yaml").write_text(marker)
    refused = run("review")
    assert refused.code == 1
    assert f"error: 'library: 1' is expected, {found}" in refused.err


def test_outside_a_library_the_way_to_one_is_named(run, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    refused = run("review")
    assert refused.code == 1
    assert "benchlore init" in refused.err


def test_a_book_with_an_error_names_the_line_and_stops_the_plan(run, library):
    book = library / "books" / "my-board" / "book.yaml"
    book.write_text(book.read_text().replace("reads: main-rail", "reads: main-rial", 1))
    reviewed = run("review", "my-board")
    assert reviewed.code == 1
    line = 1 + book.read_text().splitlines().index("    reads: main-rial")
    assert f"book.yaml:{line}:" in reviewed.out
    assert "did you mean 'main-rail'" in " ".join(reviewed.out.split())
    planned = run("plan", "my-board", "no-power")
    assert planned.code == 1
    assert "did you mean 'main-rail'" in planned.err


def test_a_comeback_cheaper_than_a_return_is_refused(run, library):
    shop = library / "shop.yaml"
    shop.write_text(shop.read_text().replace("comeback: 160", "comeback: 10"))
    refused = run("plan", "my-board", "no-power")
    assert refused.code == 1
    assert "comeback" in refused.err


def test_export_of_nothing_says_how_to_take_jobs_in(run, library, tmp_path):
    refused = run("export", tmp_path / "out")
    assert refused.code == 1
    assert "benchlore intake" in refused.err


def test_draft_guesses_a_mapping_that_intake_takes(run, library, tmp_path):
    table = tmp_path / "jobs.csv"
    table.write_text(
        "Job;Date;Main rail to ground;Fuse F1;Fault;Fix\n"
        "1;2026-02-03;3 ohm;0.2 ohm;Capacitor C5 shorted;replace-c5\n"
        "2;2026-02-04;2k2;OL;Fuse F1 open;replace-f1\n",
        encoding="utf-8",
    )
    drafted = run("draft", table, "my-board")
    assert drafted.code == 0
    assert "rail-ohms" in drafted.out
    assert "fuse-ohms" in drafted.out


def test_intake_with_a_mapping_of_nonsense_is_refused_by_line(run, library, tmp_path):
    (tmp_path / "jobs.csv").write_text("a,b\n1,2\n")
    (tmp_path / "map.yaml").write_text("mapping: 1\nshop: X\nlayuot: wide\n")
    refused = run("intake", tmp_path / "jobs.csv", "-m", tmp_path / "map.yaml")
    assert refused.code == 1
    assert "map.yaml:3" in refused.err
    assert "did you mean 'layout'" in refused.err
    assert not (library / "jobs.sqlite").exists()
