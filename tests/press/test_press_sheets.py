"""A complaint's sheet on paper: what it says leads to an end, nothing in a book can act, other programs read it."""

import io
from concurrent.futures import ThreadPoolExecutor
from dataclasses import asdict, replace
from datetime import date

import pytest
from paper_reading import codes_in, picture_of, words_of
from pypdf import PdfReader

from benchlore.book import CAUTIONS, GENERAL_CAUTION
from benchlore.library import init_library, kept_sheet, plan_complaint, sheet_of
from benchlore.press import sheet_pdf
from benchlore.press.bands import edges_of, states_shown
from benchlore.press.sheet_paper import sheet_paper
from benchlore.press.sheets import digest_of

MM = 72 / 25.4
SIZES = {"a4": (210, 297), "letter": (215.9, 279.4)}
"""Millimetres. ISO 216:2007, table 1: A4. ANSI/ASME Y14.1: size A is 8.5 × 11 in."""
WIRE = """
  jumper-rail:
    title: Jumper the rail
    cures: {u2-dead: 60 %}
    how: Enamelled wire, 0.1 mm.
    takes: 9 min
    needs: [case-open, soldering-iron]
    wire: {from: pad 2 of L1, to: TP1, carries: 20 mA, may drop: 5 mV}

# What the customer says."""
SIGNS = "µ Ω ° × – ± → − ≤ ≥ é ß ø Ж λ"
HOSTILE = (
    '#panic("no") #read("/etc/passwd") #import "common.typ": * #sys.inputs $x^2$ *bold* _it_ @step-1 <step-1> '
    "\\u{41} ``` ]] )) } {{7*7}} <script>alert(1)</script> // gone /* too */ https://x.example 'q' \\ \x07\ud800"
)
DAY = date(2026, 11, 26)


@pytest.fixture(scope="module")
def kept(tmp_path_factory):
    library = init_library(tmp_path_factory.mktemp("press") / "library", title="Quay bench", board="my-board")
    file = library.book_file("my-board")
    text = file.read_text(encoding="utf-8")
    file.write_text(text.replace("\n# What the customer says.", WIRE, 1), encoding="utf-8")
    plan_complaint(library, "my-board", "no-power", today=DAY)
    return kept_sheet(library, "my-board", "no-power")


@pytest.fixture(scope="module")
def paper(kept):
    return sheet_paper(kept.book, kept.procedure, kept.proof, shop=kept.shop, made=kept.planned)


def printed(kept, **changed):
    return sheet_pdf(kept.book, kept.procedure, kept.proof, **{"shop": kept.shop, "made": DAY, **changed})


@pytest.fixture(scope="module", params=SIZES)
def pdf(kept, request):
    return request.param, PdfReader(
        io.BytesIO(printed(kept, paper=request.param, base="https://quay.example/"))
    )


def test_a_plan_keeps_its_day(kept):
    assert kept.planned == DAY


def test_every_page_has_the_size_of_its_paper(pdf):
    paper, reader = pdf
    assert 1 <= len(reader.pages) <= 3
    for page in reader.pages:
        size = (float(page.mediabox.width), float(page.mediabox.height))
        assert size == pytest.approx([side * MM for side in SIZES[paper]], abs=0.01)


def test_the_text_holds_every_step_caution_and_result(pdf, kept):
    text = words_of(pdf[1])
    sheet = sheet_of(kept.procedure, kept.book)
    for step in sheet.steps:
        assert f"{step.number}. {step.title}" in text
        for part in (step.how, step.retest, step.standing, *(to.result for to in step.onward)):
            assert " ".join(part.split()) in text
        for caution in step.cautions:
            assert caution in text
    hazards = {hazard for fix in kept.book.fixes.values() for hazard in fix.work.cautions}
    assert hazards
    assert GENERAL_CAUTION in text
    assert all(CAUTIONS[hazard] in text for hazard in hazards if CAUTIONS[hazard] in repr(sheet))


def test_the_text_says_what_it_was_made_from_and_what_it_costs(pdf, kept):
    text = words_of(pdf[1])
    assert sheet_of(kept.procedure, kept.book).cost in text
    assert "optimal, proven" in text
    assert "For My shop: 48.00 EUR an hour at work, 6.00 EUR waiting. Planned on 26 November 2026." in text
    assert "Not proven yet" in text
    assert "Licence: CC-BY-SA-4.0." in text
    assert "Your name (investigation, writing)" in text
    assert "Wire from pad 2 of L1 to TP1; it carries 20 mA, and may drop 5 mV." in text
    assert "10 µF capacitor (0.20 EUR)" in text
    assert "Digital multimeter: volts, amperes, ohms, diode test" in text
    assert "https://quay.example/" in text.replace(" ", "")


def test_each_page_has_its_number_and_the_edition(pdf):
    pages = pdf[1].pages
    for k, page in enumerate(pages, start=1):
        text = " ".join(page.extract_text().split())
        assert f"page {k} of {len(pages)}" in text
        assert "my board · Does not switch on" in text
        assert "edition " in text


def test_the_file_says_what_it_is_and_that_it_is_tagged(pdf):
    reader = pdf[1]
    assert reader.metadata.title == "Does not switch on: my board"
    assert reader.metadata.author == "Your name (investigation, writing)"
    catalogue = reader.trailer["/Root"]
    assert catalogue["/Lang"] == "en"
    assert catalogue["/MarkInfo"]["/Marked"]
    assert catalogue["/ViewerPreferences"]["/DisplayDocTitle"]  # ISO 14289-1:2014, 7.1
    xmp = catalogue["/Metadata"].get_data().decode()
    assert "<pdfuaid:part>1</pdfuaid:part>" in xmp  # ISO 14289-1:2014, clause 5
    assert "<pdfaid:part>2</pdfaid:part>" in xmp  # ISO 19005-2:2011, 6.6.4
    assert "<pdfaid:conformance>A</pdfaid:conformance>" in xmp
    fonts = [font.get_object() for page in reader.pages for font in page["/Resources"]["/Font"].values()]
    assert all("+" in font["/BaseFont"] for font in fonts), "every font is embedded, as a subset"


def test_following_the_printed_references_ends_for_every_result(paper):
    """Every way from step 1, taken from what is printed alone."""
    steps = {step.number: step for step in paper.steps}
    ends, waiting, seen = set(), [1], set()
    while waiting:
        number = waiting.pop()
        if number in seen:
            continue
        seen.add(number)
        step = steps[number]
        if step.kind == "return":
            ends.add("return")
            continue
        assert step.ways, f"step {number} leads nowhere"
        for way in step.ways:
            if way.step is None:
                assert way.end in {"release", "return", "ask"}
                ends.add(way.end)
            else:
                assert way.step > number, "ways only lead onwards, so every one of them ends"
                assert way.words in {f"step {way.step}", "return unrepaired"}
                waiting.append(way.step)
    assert seen == set(steps), "no step is printed that nothing leads to"
    assert "release" in ends
    for end, said in (("ask", "“from here ask”"), ("return", "“Return unrepaired”")):
        assert (end in ends) == any(said in line for line in paper.follow)


def test_a_reference_is_a_link_to_its_step(pdf, paper):
    links = [
        note.get_object()
        for page in pdf[1].pages
        for note in page.get("/Annots", [])
        if note.get_object()["/Subtype"] == "/Link"
    ]
    assert len(links) == sum(way.step is not None for step in paper.steps for way in step.ways)


def test_steps_are_numbered_as_on_the_page(kept, paper):
    sheet = sheet_of(kept.procedure, kept.book)
    assert [(step.number, step.title) for step in paper.steps] == [(s.number, s.title) for s in sheet.steps]
    assert [[way.step for way in step.ways] for step in paper.steps] == [
        [to.step for to in step.onward] for step in sheet.steps
    ]


def test_bands_stand_between_their_edges_with_the_states_of_the_book(kept):
    check = kept.book.checks["rail-ohms"]
    results = ("below 15 ohm", "15 ohm to 1 kohm", "above 1 kohm", "OL")
    assert edges_of(results) == ("15 ohm", "1 kohm")
    assert states_shown(check, results) == {
        "below 15 ohm": ("shorted",),
        "15 ohm to 1 kohm": (),
        "above 1 kohm": ("normal", "missing"),
        "OL": (),
    }
    assert edges_of(("any value",)) == ()
    assert edges_of(("−5 °C to 3 °C", "above 3 °C")) == ("3 °C",)


def test_equal_values_give_equal_bytes(kept):
    one = printed(kept)
    assert printed(kept) == one
    assert printed(kept, paper="letter") != one
    assert printed(kept, made=date(2026, 11, 27)) != one


def test_several_sheets_can_be_set_at_once(kept):
    papers = ["a4", "letter"] * 3
    with ThreadPoolExecutor(4) as pool:
        made = list(pool.map(lambda paper: printed(kept, paper=paper), papers))
    assert [made[k] == made[k % 2] for k in range(6)] == [True] * 6


def test_no_text_of_a_book_can_act(kept):
    text = words_of(PdfReader(io.BytesIO(printed(hostile(kept, HOSTILE)))))
    shown = " ".join(HOSTILE.replace("\x07", "\ufffd").replace("\ud800", "\ufffd").split())
    for part in shown.split("https")[0].split(" "):
        assert part in text
    assert "root:" not in text
    assert text.count('#panic("no")') >= 4


def hostile(kept, text):
    """The same with a text in every place that a book's author fills."""
    book = kept.book
    return replace(
        kept,
        book=replace(
            book,
            board=replace(book.board, title=text, device=text, revision=text),
            licence=text,
            people={"me": replace(book.people["me"], title=text, roles=(text,))},
            checks={name: replace(c, title=text, how=text) for name, c in book.checks.items()},
            faults={
                name: replace(f, title=text, notes=text, part_ref=text) for name, f in book.faults.items()
            },
            setups={name: replace(s, title=text, how=text) for name, s in book.setups.items()},
            complaints={name: replace(c, title=text, retest_how=text) for name, c in book.complaints.items()},
        ),
        shop=replace(kept.shop, name=text),
    )


def test_very_long_texts_stay_on_the_paper(kept):
    long = "Donaudampfschifffahrtselektrizitätenhauptbetriebswerkbauunterbeamtengesellschaft" * 6
    reader = PdfReader(io.BytesIO(printed(hostile(kept, f"{long} {'and so on ' * 200}"))))
    assert len(reader.pages) > 2
    right = SIZES["a4"][0] * MM
    edges = []

    def seen(text, _, matrix, *__):
        if text.strip():
            edges.append(matrix[4])

    for page in reader.pages:
        page.extract_text(visitor_text=seen)
    assert max(edges) < right


@pytest.mark.parametrize("text", [SIGNS, "漢字 😀"])
def test_signs_of_the_trade_and_letters_of_elsewhere_do_not_stop_the_press(kept, text):
    book = replace(kept.book, licence=text)
    reader = PdfReader(io.BytesIO(printed(replace(kept, book=book))))
    if text == SIGNS:
        assert text in words_of(reader)
        assert b"pdfuaid" in reader.trailer["/Root"]["/Metadata"].get_data()


def test_without_a_day_the_sheet_is_still_accessible(kept):
    reader = PdfReader(io.BytesIO(printed(kept, made=None)))
    xmp = reader.trailer["/Root"]["/Metadata"].get_data()
    assert b"pdfuaid" in xmp
    assert b"pdfaid" not in xmp
    assert "/CreationDate" not in reader.metadata


def test_what_changed_since_is_said(kept):
    text = words_of(PdfReader(io.BytesIO(printed(kept, stale=("the book", "the shop file")))))
    assert "The book and the shop file changed since this was made." in text


@pytest.mark.parametrize("address", ["https://quay.example/", "https://a.example/" + "x" * 180])
def test_a_camera_reads_the_address_from_the_printed_page(kept, address):
    """ZXing reads the symbol (ISO/IEC 18004) off the page as PDFium draws it; segno made it."""
    assert codes_in(picture_of(printed(kept, base=address))) == [address]


def test_without_an_address_there_is_no_code(kept):
    assert codes_in(picture_of(printed(kept))) == []


def test_the_sheet_needs_no_colour(kept):
    """Every dot is grey: nothing is lost on a black and white printer."""
    from pypdfium2 import PdfDocument

    for page in PdfDocument(io.BytesIO(printed(kept))):
        dots = page.render(scale=1).to_numpy()[..., :3].astype(int)
        assert (dots.max(axis=-1) - dots.min(axis=-1)).max() == 0


def test_editions_differ_where_a_word_does(kept, paper):
    changed = replace(paper, standing="Standing: sound.")
    assert digest_of(changed) != digest_of(paper)
    assert digest_of(replace(paper)) == digest_of(paper)
    assert asdict(paper)["code"] == ()
