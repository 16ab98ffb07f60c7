"""The page of a proof, made from a real one."""

from dataclasses import replace
from xml.etree import ElementTree as ET

import pytest

from benchlore.jobs import Attempt, Job, Outcome, Reading, Retest, Store
from benchlore.library import init_library, kept_sheet, prove_complaint
from benchlore.press import proof_html, proof_page
from benchlore.press.sheet_paper import sheet_paper
from benchlore.proof import Settings, Topic, parts_of, tried_said

NASTY = "</section><script>alert(1)</script>"


def bench_job(k):
    fault, fix, rail = [("c5-short", "replace-c5", 4.0), ("u2-dead", "replace-u2", 2200.0)][k % 2]
    return Job(
        NASTY if k == 3 else "Quay",
        f"{k}",
        "my-board",
        "no-power",
        readings=(Reading("rail-ohms", 0, value=rail, text="4R & <b>"), Reading("fuse-ohms", 1, value=0.2)),
        attempts=(Attempt(fix, 2, Retest.GONE),),
        outcome=Outcome.REPAIRED,
        fault=fault,
        hands_on=60.0,
    )


@pytest.fixture(scope="module")
def library(tmp_path_factory):
    library = init_library(tmp_path_factory.mktemp("proof") / "library", title="Test", board="my-board")
    with Store.open(library.store) as store:
        store.add([bench_job(k) for k in range(16)])
    return library


@pytest.fixture(scope="module")
def proved(library):
    return prove_complaint(library, "my-board", "no-power", settings=Settings(folds=2, draws=2), workers=1)


@pytest.fixture(scope="module")
def page(proved):
    """The page, drawn once: nobody changes it."""
    return proof_page(proved)


def test_the_page_tells_what_the_terminal_tells(proved, page):
    told = {section.heading: section.paragraphs for section in page.sections}
    for part in parts_of(proved.proof):
        assert tuple(text.replace("\u00a0", " ") for text in told[part.heading]) == part.sentences


def test_pictures_stand_beside_what_they_show(proved, page):
    headings = {part.topic: part.heading for part in parts_of(proved.proof)}
    drawn = {section.heading for section in page.sections if section.picture is not None}
    assert {headings[Topic.COSTS], headings[Topic.PERCENTAGES], headings[Topic.COVERAGE]} <= drawn


def test_examples_are_told_reading_by_reading(page):
    section = next(s for s in page.sections if s.heading.startswith("Some of the jobs"))
    assert 1 <= len(section.parts) <= 3
    assert all(part.picture is not None for part in section.parts)


def test_the_page_is_whole_and_harmless(proved):
    html = proof_html(proved)
    ET.fromstring(html.replace("<!doctype html>", "").replace("<!DOCTYPE html>", ""))
    assert NASTY not in html
    assert "http://" not in html.replace("http://www.w3.org", "")
    assert "https://" not in html
    assert proof_html(proved) == html


def test_a_proof_without_confirmed_faults_or_minutes_has_a_page_too(proved):
    bare = replace(proved.proof, faults=None, readings=None, sensitivity=None, examples=(), outliers=())
    html = proof_html(replace(proved, proof=bare))
    assert "No held-out job has a confirmed fault." in html


def test_a_per_cent_sign_stays_with_its_number(page):
    for section in page.sections:
        assert not [text for text in section.paragraphs if " %" in text]


def test_the_printed_sheet_says_the_standing_that_was_proven(library, proved):
    kept = kept_sheet(library, "my-board", "no-power")
    assert kept.proof is not None
    assert kept.stale == ()
    paper = sheet_paper(kept.book, kept.procedure, kept.proof, shop=kept.shop, made=kept.planned)
    assert paper.standing == f"Standing: {proved.proof.standing.standing}. {tried_said(proved.proof)}"
    book = library.book_file("my-board")
    text = book.read_text(encoding="utf-8")
    book.write_text(text.replace("Four screws", "Five screws"), encoding="utf-8")
    assert kept_sheet(library, "my-board", "no-power").stale == ("the book",)
    book.write_text(text, encoding="utf-8")
