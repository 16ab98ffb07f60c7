"""How pages look: templates, the style sheet, and the colours, which are those of the pictures."""

from functools import cache
from pathlib import Path
from typing import Any, Final

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, Response
from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from benchlore.book import GENERAL_CAUTION
from benchlore.press.page import set_printable
from benchlore.press.theme import DARK, LIGHT, ROLES, recoloured
from benchlore.units import counted, format_duration, money, share
from benchlore.web.addresses import identity_text, job_path

STATIC: Final = Path(__file__).parent / "static"
A_DAY: Final = "max-age=86400"

router = APIRouter(include_in_schema=False)


@cache
def environment() -> Environment:
    """Open the templates; a name that a template gets wrong is an error, and all text is escaped."""
    found = Environment(
        loader=PackageLoader("benchlore.web"),
        autoescape=True,
        undefined=StrictUndefined,
        finalize=set_printable,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    found.filters |= {
        "counted": counted,
        "drawn": Markup,  # for drawings of our own alone, which escaped the names in them
        "money": money,
        "share": share,
        "whole_minutes": whole_minutes,
    }
    found.globals |= {
        "counted": counted,
        "general_caution": GENERAL_CAUTION,
        "identity_text": identity_text,
        "job_path": job_path,
    }
    return found


def whole_minutes(minutes: float) -> str:
    """Print a duration to the minute: seconds of an average tell nothing."""
    return format_duration(round(minutes))


def page(request: Request, template: str, *, status: int = 200, **context: Any) -> HTMLResponse:
    """Set a page of the app."""
    library = request.app.state.library
    here = request.url.path
    text = environment().get_template(template).render(library=library, here=here, **context)
    return HTMLResponse(text, status)


@router.get("/looks/colours.css")
def colours() -> Response:
    """The colours of both schemes as a style sheet, and the pictures' in the dark one."""
    light = "".join(f"  --{role}: {getattr(LIGHT, role)};\n" for role in ROLES)
    dark = "".join(f"    --{role}: {getattr(DARK, role)};\n" for role in ROLES)
    pictures = "".join(
        f'.picture [fill="{colour}"] {{ fill: var(--{role}); }}\n'
        f'.picture [stroke="{colour}"] {{ stroke: var(--{role}); }}\n'
        for colour, role in recoloured()
    )
    text = (
        f":root {{\n{light}}}\n"
        f"@media screen and (prefers-color-scheme: dark) {{\n  :root {{\n{dark}  }}\n}}\n{pictures}"
    )
    return Response(text, media_type="text/css", headers={"Cache-Control": A_DAY})
