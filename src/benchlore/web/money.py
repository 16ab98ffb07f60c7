"""The pages about money: one that leads to all of them, and whether research pays."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse

from benchlore.library import (
    Library,
    NoProcedureError,
    ResearchTerms,
    TermsRefusedError,
    kept_gain,
    overview,
    research_for,
)
from benchlore.library.folder import sound_shop_of
from benchlore.library.fund_table import TypedNumbers
from benchlore.money import AmountError
from benchlore.press import Section, research_sections
from benchlore.web.looks import page

router = APIRouter(prefix="/money", include_in_schema=False)

MOST: Final = 1e6
LONGEST: Final = 200


@dataclass(frozen=True, slots=True)
class Field:
    """A field of the form: what it asks, what it means where it is empty, and what stands there at first."""

    name: str
    label: str
    hint: str = ""
    first: str = ""


FIELDS: Final = (
    Field("hours", "Hours of research", first="200"),
    Field("rate", "What an hour costs", "left empty: the shop’s"),
    Field("gain", "What a job gains", "left empty: by the book"),
    Field("jobs", "Jobs a year at a shop", "left empty: by recorded jobs"),
    Field("jobs_high", "Jobs at most, 95 % sure"),
    Field("shops", "Shops that would use it", first="50"),
    Field("years", "Years that count", first="5"),
    Field("discount", "Discount a year, %", first="5"),
    Field("fading", "Fewer jobs each year, %", "as the devices disappear", "0"),
    Field("seed", "Seed", "equal seeds give equal figures", "1"),
)


@router.get("")
def money(request: Request) -> HTMLResponse:
    """Lead to every question about money."""
    return page(request, "money.html", overview=overview(_library(request)))


@router.get("/research")
def research(request: Request) -> HTMLResponse:
    """Say whether research pays, once anything is asked."""
    said = {name: value[:LONGEST] for name, value in request.query_params.items()}
    typed = {field.name: said.get(field.name, field.first).strip() for field in FIELDS}
    board, complaint = said.get("board", ""), said.get("complaint", "")
    wrong: Mapping[str, str] = {}
    sections: tuple[Section, ...] = ()
    trouble, gain = "", None
    try:
        if said:
            by_book = board and complaint and not typed["gain"]
            gain = kept_gain(_library(request), board, complaint) if by_book else None
            found = research_for(_library(request), board, complaint, _terms(typed, said), gain=gain)
            sections = research_sections(found)
    except TermsRefusedError as error:
        wrong = error.wrong
    except (AmountError, NoProcedureError) as error:
        trouble = str(error)
    return page(
        request,
        "research.html",
        status=422 if wrong or trouble else 200,
        fields=FIELDS,
        typed=typed,
        said=said,
        title=_title(request, board, complaint) or said.get("about", ""),
        wrong=wrong,
        trouble=trouble,
        sections=sections,
        currency=sound_shop_of(_library(request)).currency,
    )


def _terms(typed: Mapping[str, str], said: Mapping[str, str]) -> ResearchTerms:
    """Read what was typed; raises ``TermsRefusedError`` with every mistake."""
    read = TypedNumbers(typed)
    over_all = said.get("over_all") == "yes"

    def perhaps(name: str, label: str, most: float = 1e9) -> float | None:
        return read.number(name, label, 0.0, most=most) if typed[name] else None

    terms = ResearchTerms(
        hours=read.number("hours", "hours", 200.0, most=MOST),
        rate=perhaps("rate", "an hour"),
        gain=perhaps("gain", "what a job gains"),
        jobs=perhaps("jobs", "jobs a year", MOST),
        jobs_high=perhaps("jobs_high", "not more than", 10 * MOST),
        shops=read.number("shops", "shops", 1.0, most=MOST),
        years=read.whole("years", "years", 5, most=100),
        discount=read.number("discount", "discount", 5.0, most=1000) / 100,
        fading=read.number("fading", "fewer jobs each year", 0.0, most=99) / 100,
        seed=read.whole("seed", "seed", 1, least=0, most=2**31),
        over_all=over_all,
    )
    read.refuse()
    return terms


def _title(request: Request, board: str, complaint: str) -> str:
    """Name what the research is about, where a book knows it."""
    books = overview(_library(request)).books if board else ()
    titles = {(book.board, each.name): each.title for book in books for each in book.complaints}
    title = titles.get((board, complaint))
    return "" if title is None else f"{board}: {title}"


def _library(request: Request) -> Library:
    library = request.app.state.library
    assert isinstance(library, Library)
    return library
