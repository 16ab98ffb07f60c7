"""A quote on paper."""

import io
from datetime import date

import pytest
from paper_reading import words_of
from pypdf import PdfReader

from benchlore.library import init_library, quote_complaint, quote_passages
from benchlore.press import quote_pdf

DAY = date(2026, 11, 27)


@pytest.fixture(scope="module")
def quoted(tmp_path_factory):
    library = init_library(tmp_path_factory.mktemp("quote") / "library", title="Quay", board="my-board")
    return quote_complaint(library, "my-board", "no-power")


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_a_quote_on_paper_says_what_the_terminal_says(quoted, paper):
    made = quote_pdf(quoted, paper=paper, day=DAY)
    reader = PdfReader(io.BytesIO(made))
    text = "".join(words_of(reader).split())
    for passage in quote_passages(quoted):
        cells = [cell for row in passage.table.rows for cell in row] if passage.table else []
        for said in (passage.heading, *passage.sentences, *cells):
            assert "".join(said.split()) in text or len(reader.pages) > 1, said
    assert "27November2026" in text
    assert reader.trailer["/Root"]["/Lang"] == "en"
    assert b"pdfuaid" in reader.trailer["/Root"]["/Metadata"].get_data()
    assert made == quote_pdf(quoted, paper=paper, day=DAY)


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_no_table_leaves_rows_behind_on_the_page_before(quoted, paper):
    pages = PdfReader(io.BytesIO(quote_pdf(quoted, paper=paper, day=DAY))).pages
    texts = ["".join(page.extract_text().split()) for page in pages]
    for passage in quote_passages(quoted):
        if passage.table is None:
            continue
        rows = ["".join("".join(row).split()) for row in passage.table.rows]
        assert any(all(row in text for row in rows) for text in texts), passage.heading
