"""Press: the pictures and the pages that leave the library.

Pure functions from plain values to SVG, HTML and PDF; nothing is fetched and nothing is written. May import
``library`` and all that lies below it. Drawing needs a second to begin, so commands import this package only
where they need it.
"""

from benchlore.press.belief import draw_belief
from benchlore.press.coverage import draw_coverage
from benchlore.press.cumulative import draw_cumulative
from benchlore.press.drawing import Picture
from benchlore.press.figures import draw_gains, draw_means
from benchlore.press.learning import draw_learning
from benchlore.press.money_pages import (
    equipment_picture,
    fund_html,
    fund_page,
    impact_html,
    learning_html,
    learning_pictures,
    quote_html,
    research_sections,
)
from benchlore.press.page import Column, ReportPage, Section, Table, report_html
from benchlore.press.proof_page import proof_html, proof_page
from benchlore.press.quotes import quote_pdf
from benchlore.press.reliability import draw_reliability
from benchlore.press.sheets import sheet_pdf
from benchlore.press.slips import slip_pdf
from benchlore.press.soaks import draw_record, draw_sequential
from benchlore.press.spreads import draw_spreads
from benchlore.press.values import Belief, Covered, Figure, Forecasts, Mark, Spread

__all__ = [
    "Belief",
    "Column",
    "Covered",
    "Figure",
    "Forecasts",
    "Mark",
    "Picture",
    "ReportPage",
    "Section",
    "Spread",
    "Table",
    "draw_belief",
    "draw_coverage",
    "draw_cumulative",
    "draw_gains",
    "draw_learning",
    "draw_means",
    "draw_record",
    "draw_reliability",
    "draw_sequential",
    "draw_spreads",
    "equipment_picture",
    "fund_html",
    "fund_page",
    "impact_html",
    "learning_html",
    "learning_pictures",
    "proof_html",
    "proof_page",
    "quote_html",
    "quote_pdf",
    "report_html",
    "research_sections",
    "sheet_pdf",
    "slip_pdf",
]
