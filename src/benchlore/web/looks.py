"""How pages look: templates, the style sheet, and the colours, which are those of the pictures."""

from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any, Final

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, Response
from jinja2 import Environment

from benchlore.library import Account, Role
from benchlore.press.page import cells, colours_css, shared_file, templates_of
from benchlore.web.addresses import identity_text, job_path
from benchlore.web.rules import needed_role

STATIC: Final = Path(__file__).parent / "static"
A_DAY: Final = "max-age=86400"

router = APIRouter(include_in_schema=False)


@cache
def environment() -> Environment:
    """Open the templates of pages."""
    found = templates_of("benchlore.web")
    found.filters["cells"] = cells
    found.globals |= {"identity_text": identity_text, "job_path": job_path}
    return found


def page(request: Request, template: str, *, status: int = 200, **context: Any) -> HTMLResponse:
    """Set a page of the app."""
    library = request.app.state.library
    here = request.scope["path"]
    person = getattr(request.state, "person", None)
    shared = {
        "library": library,
        "here": here,
        "person": person,
        "may": may_of(person),
        "can": can_of(person),
    }
    text = environment().get_template(template).render({**shared, **context})
    return HTMLResponse(text, status)


def may_of(person: Account | None) -> Callable[[str], bool]:
    """Say for templates whether somebody has a role; where the app needs no accounts, everybody has all."""
    return lambda role: person is None or person.role.may(Role(role))


def can_of(person: Account | None) -> Callable[..., bool]:
    """Say for templates whether somebody may open an address or send a form there, by the app's rules."""

    def can(address: str, method: str = "GET") -> bool:
        needed = needed_role(method, address.split("?", maxsplit=1)[0].split("#", maxsplit=1)[0])
        return person is None or needed is None or person.role.may(needed)

    return can


@router.get("/looks/colours.css")
def colours() -> Response:
    """The colours of both schemes, which are those of the pictures."""
    return Response(colours_css(), media_type="text/css", headers={"Cache-Control": A_DAY})


@router.get("/looks/knowledge.css")
def knowledge_css() -> Response:
    """What books and procedures look like, here and on the site."""
    return Response(shared_file("knowledge.css"), media_type="text/css", headers={"Cache-Control": A_DAY})


@router.get("/looks/drawing.js")
def drawing_js() -> Response:
    """The zoom of drawings, here and on the site."""
    return Response(shared_file("drawing.js"), media_type="text/javascript", headers={"Cache-Control": A_DAY})
