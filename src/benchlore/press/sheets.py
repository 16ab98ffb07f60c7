"""The printable sheet of one complaint: a PDF that leads to the fault without a screen beside it."""

import json
from collections.abc import Iterable
from dataclasses import asdict, dataclass, replace
from datetime import date
from hashlib import sha256
from typing import Final

import segno

from benchlore.book import Book
from benchlore.press.sheet_paper import SheetPaper, sheet_paper
from benchlore.press.typesetting import Paper, typeset
from benchlore.procedure import Procedure
from benchlore.proof import Proof
from benchlore.shop import Shop

DIGEST: Final = 12
"""Signs of an edition's name: two sheets of a library bear the same by chance once in 2 ** 48."""


@dataclass(frozen=True, slots=True)
class Edition:
    """A sheet under the name of its edition, which tells two prints of one procedure apart."""

    sheet: SheetPaper
    edition: str


def sheet_pdf(  # noqa: PLR0913 what a caller may leave out has its name
    book: Book,
    procedure: Procedure,
    proof: Proof | None,
    *,
    shop: Shop,
    base: str | None = None,
    paper: Paper = "a4",
    made: date | None = None,
    stale: Iterable[str] = (),
) -> bytes:
    """Set the sheet of a procedure as a PDF; equal values give equal bytes.

    Parameters
    ----------
    book, procedure, proof, shop
        What is kept of a complaint; the book must have every step. Without a proof the sheet says so.
    base
        The library's own address, printed with a QR symbol; nothing is printed where it is left out.
    paper
        ``a4`` or ``letter``.
    made
        The day on which the procedure was planned.
    stale
        What has changed since, as ``kept_sheet`` names it.

    Returns
    -------
    bytes
        A PDF/UA-1 file, with ``made`` a PDF/A-2a one as well.
    """
    sheet = sheet_paper(book, procedure, proof, shop=shop, made=made, stale=stale)
    if base:
        sheet = replace(sheet, base=base, code=symbol(base))
    return typeset("sheet.typ", Edition(sheet, digest_of(sheet)), paper, day=made)


def symbol(text: str) -> tuple[tuple[int, ...], ...]:
    """Return the modules of a QR code symbol (ISO/IEC 18004), level M, row by row, without its quiet zone."""
    return tuple(tuple(row) for row in segno.make_qr(text, error="m").matrix)


def digest_of(sheet: SheetPaper) -> str:
    """Name an edition by all that it says, whatever the paper."""
    said = json.dumps(asdict(sheet), ensure_ascii=True, sort_keys=True)
    return sha256(said.encode()).hexdigest()[:DIGEST]
