"""The printable quote: what the terminal and the app tell, on paper."""

from dataclasses import dataclass
from datetime import date

from benchlore.book import GENERAL_CAUTION
from benchlore.library import Passage, Quoted, quote_passages
from benchlore.press.money_pages import quote_page
from benchlore.press.typesetting import Paper, day_text, typeset


@dataclass(frozen=True, slots=True)
class QuotePart:
    """A heading, sentences and a table; ``head`` is empty where there is none."""

    heading: str
    sentences: tuple[str, ...]
    head: tuple[str, ...] = ()
    right: tuple[bool, ...] = ()
    rows: tuple[tuple[str, ...], ...] = ()


@dataclass(frozen=True, slots=True)
class QuotePaper:
    """What the template shows."""

    title: str
    board: str
    shop: str
    lead: str
    facts: tuple[tuple[str, str], ...]
    parts: tuple[QuotePart, ...]
    made: str
    caution: str


@dataclass(frozen=True, slots=True)
class _Shown:
    quote: QuotePaper


def quote_pdf(quoted: Quoted, *, paper: Paper = "a4", day: date) -> bytes:
    """Set a quote as a PDF/UA-1 and PDF/A-2a file; ``day`` is its own. Equal values give equal bytes."""
    page = quote_page(quoted)
    shown = QuotePaper(
        title=quoted.book.complaints[quoted.procedure.complaint].title,
        board=quoted.book.board.title,
        shop=quoted.shop.name,
        lead=page.lead,
        facts=page.facts,
        parts=tuple(map(_part, quote_passages(quoted))),
        made=f"Worked out on {day_text(day)}. {page.made_with}",
        caution=GENERAL_CAUTION,
    )
    return typeset("quote.typ", _Shown(shown), paper, day=day)


def _part(passage: Passage) -> QuotePart:
    table = passage.table
    if table is None:
        return QuotePart(passage.heading, passage.sentences)
    right = tuple(side == ">" for side in table.align)
    return QuotePart(passage.heading, passage.sentences, tuple(table.head), right, tuple(table.rows))
