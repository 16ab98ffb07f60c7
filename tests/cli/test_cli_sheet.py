"""``benchlore sheet``: a PDF where it was asked for, or a sentence that says what is missing."""

from pypdf import PdfReader

SHEET = ("sheet", "my-board", "no-power")


def test_a_sheet_is_written_whole_and_the_same_again(run, library):
    assert run("plan", "my-board", "no-power").code == 0
    ran = run(*SHEET)
    assert (ran.code, ran.err) == (0, "")
    assert ran.out == "my-board-no-power.pdf written, to print on A4\n"
    file = library / "my-board-no-power.pdf"
    first = file.read_bytes()
    assert run(*SHEET, "--out", "other.pdf").code == 0
    assert (library / "other.pdf").read_bytes() == first
    assert sorted(path.name for path in library.glob("*.pdf")) == ["my-board-no-power.pdf", "other.pdf"]
    data = run(*SHEET, "--paper", "letter", "--base", "https://quay.example/", "--json").data
    assert data == {"file": "my-board-no-power.pdf", "paper": "letter", "stale": []}
    assert "quay.example" in PdfReader(file).pages[0].extract_text()


def test_what_changed_since_the_plan_is_said_on_screen_and_paper(run, library):
    run("plan", "my-board", "no-power")
    book = library / "books" / "my-board" / "book.yaml"
    book.write_text(book.read_text().replace("Four screws", "Five screws"))
    ran = run(*SHEET)
    assert ran.code == 0
    assert "the book changed since this was made; renew it with 'benchlore plan my-board no-power'" in ran.err
    text = " ".join(PdfReader(library / "my-board-no-power.pdf").pages[0].extract_text().split())
    assert "The book changed since this was made." in text


def test_a_sheet_that_cannot_be_made_says_what_to_do_and_writes_nothing(run, library):
    ran = run(*SHEET)
    assert ran.code == 1
    assert "make it with 'benchlore plan my-board no-power'" in ran.err
    assert "no complaint 'no-pwer'; did you mean 'no-power'" in run("sheet", "my-board", "no-pwer").err
    run("plan", "my-board", "no-power")
    ran = run(*SHEET, "--out", "nowhere/sheet.pdf")
    assert ran.code == 1
    assert "there is no such folder" in ran.err
    ran = run(*SHEET, "--base", "quay")
    assert ran.code == 2
    assert "is no address of a page" in ran.err
    assert run(*SHEET, "--paper", "a3").code == 2
    assert list(library.glob("*.pdf")) == []
