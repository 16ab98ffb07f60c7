"""The customer's slip on paper."""

import io
from dataclasses import replace
from datetime import date

import pytest
from paper_reading import words_of
from pypdf import PdfReader

from benchlore.library import Measured, Slip
from benchlore.press import slip_pdf

MM = 72 / 25.4
SIZES = {"a5": (148, 210), "half-letter": (139.7, 215.9)}
"""Millimetres. ISO 216:2007, table 1: A5. Half of ANSI/ASME Y14.1 size A: 5.5 × 8.5 in."""
SLIP = Slip(
    shop="Quay bench",
    title="Halden T4 warehouse tablet",
    number="17",
    opened="03 November 2026",
    device="T4-17",
    said="Restarts when the scanner fires",
    found="Cracked joint under inductor L1204",
    done=("Dry the plug: this did not help", "Reflow L1204: afterwards the complaint did not show again"),
    ending="",
    measured=(
        Measured("VSYS under load", "3.41 V", "before"),
        Measured("VSYS", "3.84 V", "after the repair"),
    ),
    notes=("If it happens again, bring the device back with this slip.",),
)


def read(slip, **named):
    return PdfReader(io.BytesIO(slip_pdf(slip, **named)))


@pytest.mark.parametrize("paper", SIZES)
def test_a_slip_is_one_small_page_that_says_it_all(paper):
    reader = read(SLIP, paper=paper, day=date(2026, 11, 3))
    assert len(reader.pages) == 1
    box = reader.pages[0].mediabox
    assert (float(box.width), float(box.height)) == pytest.approx([s * MM for s in SIZES[paper]], abs=0.01)
    text = words_of(reader)
    said = (SLIP.shop, SLIP.title, SLIP.device, SLIP.said, SLIP.found, *SLIP.done, *SLIP.notes, "Job: 17, 03")
    assert all(part in text for part in said)
    assert all(f"{each.title} {each.reading} {each.when}" in text for each in SLIP.measured)
    assert (reader.metadata.title, reader.metadata.author) == (
        "Slip 17: Halden T4 warehouse tablet",
        "Quay bench",
    )
    assert reader.trailer["/Root"]["/Lang"] == "en"
    assert b"pdfuaid" in reader.trailer["/Root"]["/Metadata"].get_data()


def test_equal_slips_give_equal_bytes():
    assert slip_pdf(SLIP) == slip_pdf(replace(SLIP))
    assert slip_pdf(SLIP) != slip_pdf(replace(SLIP, number="18"))


def test_a_job_that_is_open_says_so_and_claims_nothing():
    text = words_of(read(replace(SLIP, found="", done=())))
    assert "This job is not closed yet." in text
    assert "Found" not in text
    assert "Done" not in text


def test_what_a_customer_said_cannot_act():
    said = '#panic("no") ]] $x$ *bold* @a <b>'
    assert said in words_of(read(replace(SLIP, said=said, device=said, found=said)))


def test_many_readings_go_on_with_their_head_on_the_next_page():
    reader = read(replace(SLIP, measured=tuple(Measured(f"Rail {k}", "1 V", "before") for k in range(90))))
    assert len(reader.pages) > 1
    assert all("What" in page.extract_text() for page in reader.pages)
