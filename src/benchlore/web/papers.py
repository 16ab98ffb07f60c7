"""What the app gives out as paper: PDFs that a browser shows in its window."""

import re
from typing import Final, Literal, TypeAlias

from fastapi.responses import Response

SheetPaper: TypeAlias = Literal["a4", "letter"]
SlipPaper: TypeAlias = Literal["a5", "half-letter"]

POLICY: Final = "default-src 'none'; style-src 'unsafe-inline'; object-src 'self'; frame-ancestors 'none'"
"""Nothing runs in a PDF of ours; a browser's own viewer needs its style and to embed the file itself."""


def pdf_answer(content: bytes, name: str) -> Response:
    """Answer with a PDF that is shown, not stored; ``name`` is what it is saved as, where somebody does."""
    plain = re.sub(r"[^A-Za-z0-9._-]+", "-", name).strip("-.") or "paper"
    headers = {
        "Content-Disposition": f'inline; filename="{plain}.pdf"',
        "Content-Security-Policy": POLICY,
    }
    return Response(content, media_type="application/pdf", headers=headers)
