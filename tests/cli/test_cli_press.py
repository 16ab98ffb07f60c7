"""What ``press`` prints, refuses and answers in JSON."""

import json


def test_press_says_what_was_made_and_then_that_nothing_was(run, library, tmp_path):
    first = run("press", tmp_path / "site", "--workers", 1)
    assert first.code == 0
    assert "1 board" in first.out
    assert "Made: 1 board. Unchanged: 0." in first.out
    again = run("press", tmp_path / "site", "--workers", 1, "--json")
    assert again.data["made"] == []
    assert again.data["written"] == 0
    assert (
        "Edition 1: The first edition: nothing stood here before it, so there is nothing\n  to" in first.out
    )
    assert again.data["edition"]["number"] == 1


def test_refused_books_are_told_and_decide_the_exit_code(run, library, tmp_path):
    book = library / "books" / "my-board" / "book.yaml"
    book.write_text(book.read_text().replace("takes: 5 min", "takes: soon"))
    pressed = run("press", tmp_path / "site", "--workers", 1)
    assert pressed.code == 1
    assert "Refused, and listed with the reasons: my-board" in pressed.out
    assert "cannot read 'soon'" in " ".join(pressed.out.split())
    assert "Made: 0 boards" in pressed.out
    assert (tmp_path / "site" / "index.html").exists()


def test_as_is_lists_what_is_not_planned(run, library, tmp_path):
    pressed = run("press", tmp_path / "site", "--workers", 1, "--as-is")
    assert pressed.code == 0
    assert "my-board no-power: It is not planned yet." in pressed.out


def test_a_repair_that_is_worth_nothing_known_cannot_be_planned(run, library, tmp_path):
    for file in (library / "shop.yaml", library / "books" / "my-board" / "book.yaml"):
        text = file.read_text()
        file.write_text(
            "\n".join(line for line in text.splitlines() if not line.strip().startswith("worth:")) + "\n"
        )
    pressed = run("press", tmp_path / "site", "--workers", 1)
    assert pressed.code == 1
    assert "Without a procedure" in pressed.out
    assert "worth" in (tmp_path / "site" / "boards" / "my-board" / "no-power" / "index.html").read_text()
    assert (
        "Made: 0 boards" in run("press", tmp_path / "site", "--workers", 1).out
    )  # it is not tried in vain again


def test_a_foreign_folder_is_refused_in_json_too(run, library, tmp_path):
    (tmp_path / "letters").mkdir()
    (tmp_path / "letters" / "mum.txt").write_text("dear")
    refused = run("press", tmp_path / "letters", "--workers", 1, "--json")
    assert refused.code == 1
    assert refused.data["error"]["kind"] == "ForeignFolderError"


def test_options_that_contradict_each_other_are_wrong_usage(run, library, tmp_path):
    assert run("press", tmp_path / "site", "--as-is", "--renew").code == 2
    assert run("press", tmp_path / "site", "--base", "repair.example").code == 2
    assert not (tmp_path / "site").exists()


def test_the_address_comes_from_the_library_or_the_command(run, library, tmp_path):
    marker = library / "library.yaml"
    marker.write_text(marker.read_text() + "site: https://repair.example/boards\n")
    run("press", tmp_path / "site", "--workers", 1, "--as-is")
    assert "<loc>https://repair.example/boards/</loc>" in (tmp_path / "site" / "sitemap.xml").read_text()
    run("press", tmp_path / "site", "--workers", 1, "--as-is", "--base", "http://localhost:8000")
    assert "<loc>http://localhost:8000/</loc>" in (tmp_path / "site" / "sitemap.xml").read_text()
    marker.write_text(marker.read_text().replace("https:", "gopher:"))
    refused = run("press", tmp_path / "site")
    assert refused.code == 1
    assert "library.yaml:4" in refused.err
    assert "is no address of a site" in refused.err


def test_the_time_of_the_feed_can_be_set(run, library, tmp_path, monkeypatch):
    # SOURCE_DATE_EPOCH: seconds since 1970, as the Reproducible Builds specification defines it.
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1767225600")
    run("press", tmp_path / "site", "--workers", 1, "--as-is")
    assert "<updated>2026-01-01T00:00:00Z</updated>" in (tmp_path / "site" / "feed.xml").read_text()


def test_what_is_known_of_the_press_is_json(run, library, tmp_path):
    pressed = run("press", tmp_path / "site", "--workers", 1, "--as-is", "--json")
    assert json.loads(pressed.out)["unplanned"][0][0] == "my-board"
