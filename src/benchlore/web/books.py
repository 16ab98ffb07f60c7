"""The library's books: all of them, one by itself, and the kept proofs."""

import re
from base64 import b64encode
from dataclasses import dataclass
from hashlib import sha256
from typing import Final
from urllib.parse import quote

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, Response

from benchlore.library import (
    BookOverview,
    BookRefusedError,
    ComplaintKnown,
    ComplaintOverview,
    Knowledge,
    Library,
    NoProcedureError,
    Proved,
    Sheet,
    ShopRefusedError,
    book_overview,
    kept_plan,
    kept_proof,
    kept_quote,
    kept_sheet,
    knowledge,
    overview,
    review_book,
    sheet_of,
)
from benchlore.press import proof_html, quote_html, quote_pdf, sheet_pdf
from benchlore.press.densities import check_shown
from benchlore.press.procedure_drawing import Drawing, draw_procedure
from benchlore.web.at_desk import here
from benchlore.web.guard import HEADERS
from benchlore.web.looks import page
from benchlore.web.papers import SheetPaper, pdf_answer

router = APIRouter(include_in_schema=False)

BODY: Final = re.compile(r"<main[^>]*>")
STYLE: Final = re.compile(r"<style>(.*?)</style>", re.DOTALL)
MOST_PAGES: Final = 32


@dataclass(frozen=True, slots=True)
class ComplaintShown:
    """A complaint on its book's page: where it stands, its faults, and its procedure where one is kept.

    ``trouble`` says why there is no procedure.
    """

    stands: ComplaintOverview
    known: ComplaintKnown
    sheet: Sheet | None
    drawing: Drawing | None
    stale: tuple[str, ...]
    trouble: str


class ProofPages:
    """The proofs' pages that were asked for last: drawing one takes seconds, and a proof seldom changes."""

    def __init__(self) -> None:
        self._pages: dict[str, str] = {}

    def html(self, proved: Proved) -> str:
        """Return the page of a proof, as it was drawn before where all that it shows is the same."""
        shown = (proved.proof, proved.book, proved.procedure, proved.stale)
        key = sha256(repr(shown).encode("utf-8", "replace")).hexdigest()
        page = self._pages.pop(key, None) or proof_html(proved)
        self._pages[key] = page
        while len(self._pages) > MOST_PAGES:
            del self._pages[next(iter(self._pages))]
        return page


@router.get("/books")
def books(request: Request) -> HTMLResponse:
    """Show every book."""
    return page(request, "books.html", overview=overview(_library(request)))


@router.get("/books/{board}")
def book(request: Request, board: str) -> HTMLResponse:
    """Show one book; one with errors shows its findings."""
    library = _library(request)
    stands = book_overview(library, board)
    reviewed = review_book(library, board)
    try:
        known = knowledge(library, board)
    except BookRefusedError:
        return page(request, "book_refused.html", stands=stands, reviewed=reviewed)
    return page(
        request,
        "book.html",
        stands=stands,
        reviewed=reviewed,
        known=known,
        complaints=_complaints(library, stands, known),
        checks=tuple(map(check_shown, known.checks)),
    )


@router.get("/books/{board}/{complaint}/proof")
def proof(request: Request, board: str, complaint: str) -> HTMLResponse:
    """Show the kept proof: a page of its own, with its own style and no scripts at all."""
    return _by_itself(
        request.app.state.proof_pages.html(kept_proof(_library(request), board, complaint)), board
    )


@router.get("/books/{board}/{complaint}/quote")
def what_to_charge(request: Request, board: str, complaint: str) -> HTMLResponse:
    """Show what to charge by the kept procedure, as a page of its own."""
    text = quote_html(kept_quote(_library(request), board, complaint))
    address = f"/books/{quote(board)}/{quote(complaint)}/quote.pdf"
    papers = f'<a href="{address}">PDF, A4</a> · <a href="{address}?paper=letter">PDF, Letter</a>'
    return _by_itself(text, board, f" · On paper: {papers}")


@router.get("/books/{board}/{complaint}/quote.pdf")
def quote_on_paper(request: Request, board: str, complaint: str, paper: SheetPaper = "a4") -> Response:
    """What to charge, on paper."""
    kept = kept_quote(_library(request), board, complaint)
    return pdf_answer(quote_pdf(kept, paper=paper, day=here().date()), f"{board}-{complaint}-quote")


def _by_itself(text: str, board: str, more: str = "") -> HTMLResponse:
    """Answer with a page that elsewhere stands alone; only here has it a book to go back to."""
    back = f'<p><a href="/books/{quote(board)}">Back to the book</a>{more}</p>'
    text = BODY.sub(lambda found: f"{found[0]}\n{back}", text, count=1)
    return HTMLResponse(text, headers={"Content-Security-Policy": policy_of(text)})


@router.get("/books/{board}/{complaint}/sheet.pdf")
def sheet(request: Request, board: str, complaint: str, paper: SheetPaper = "a4") -> Response:
    """The kept procedure on paper."""
    kept = kept_sheet(_library(request), board, complaint)
    content = sheet_pdf(
        kept.book,
        kept.procedure,
        kept.proof,
        shop=kept.shop,
        paper=paper,
        made=kept.planned,
        stale=kept.stale,
    )
    return pdf_answer(content, f"{board}-{complaint}")


def policy_of(text: str) -> str:
    """Return a policy that allows exactly the styles that stand in a page, and no scripts.

    The hash is taken as CSP level 3 says, section 6.7.2 ("Does a source list match?"): over the element's
    text in UTF-8.
    """
    hashes = " ".join(
        f"'sha256-{b64encode(sha256(style.encode()).digest()).decode()}'" for style in STYLE.findall(text)
    )
    parts = HEADERS["Content-Security-Policy"].split("; ")
    own = {"script-src": "script-src 'none'", "style-src": f"style-src {hashes}"}
    return "; ".join(own.get(part.split(" ")[0], part) for part in parts)


def _complaints(library: Library, stands: BookOverview, known: Knowledge) -> tuple[ComplaintShown, ...]:
    by_name = {complaint.name: complaint for complaint in known.complaints}
    return tuple(
        _complaint(library, stands.board, each, by_name[each.name])
        for each in stands.complaints
        if each.name in by_name
    )


def _complaint(
    library: Library, board: str, stands: ComplaintOverview, known: ComplaintKnown
) -> ComplaintShown:
    try:
        kept = kept_plan(library, board, stands.name)
    except (NoProcedureError, ShopRefusedError) as error:
        return ComplaintShown(stands, known, None, None, (), str(error))
    sheet = sheet_of(kept.procedure, kept.book)
    title = f"Procedure for “{stands.title}”, drawn from left to right"
    drawing = draw_procedure(sheet, title=title, prefix=f"{stands.name}-step-")
    return ComplaintShown(stands, known, sheet, drawing, kept.stale, "")


def _library(request: Request) -> Library:
    library = request.app.state.library
    assert isinstance(library, Library)
    return library
