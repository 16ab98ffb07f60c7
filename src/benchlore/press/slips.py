"""The customer's slip as a PDF: what the app shows, on a sheet for the pocket."""

from dataclasses import dataclass
from datetime import date

from benchlore.library import Slip
from benchlore.press.typesetting import Paper, typeset


@dataclass(frozen=True, slots=True)
class SlipPaper:
    """What the template shows."""

    slip: Slip


def slip_pdf(slip: Slip, *, paper: Paper = "a5", day: date | None = None) -> bytes:
    """Set a slip on ``a5`` or ``half-letter``, or larger; ``day`` is the document's own.

    Equal slips give equal bytes.
    """
    return typeset("slip.typ", SlipPaper(slip), paper, day=day)
