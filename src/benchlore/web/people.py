"""The accounts, for a steward: who may sign in, and as what."""

from typing import Final

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response
from starlette.datastructures import FormData

from benchlore.library import DUTIES, AccountRefusedError, NoAccountError, Role
from benchlore.library.accounts import SHORTEST, key_of
from benchlore.web.access import person_of
from benchlore.web.at_desk import FormError, Sent, text_in
from benchlore.web.looks import page

OWN: Final = "That is your own account; another steward can change its role or remove it."

router = APIRouter(include_in_schema=False)


@router.get("/people")
def people(request: Request) -> HTMLResponse:
    """List the accounts."""
    return _people(request)


@router.post("/people")
def add(request: Request, form: Sent) -> Response:
    """Add a person."""
    try:
        accounts = request.app.state.accounts
        # Whoever makes the first account must still be able to make the second.
        role = _role(form) if accounts.all() else Role.STEWARD
        accounts.add(text_in(form, "name"), role, _password(form))
    except (AccountRefusedError, FormError) as error:
        return _people(request, str(error), form)
    return RedirectResponse("/people", 303)


@router.post("/people/change")
def change(request: Request, form: Sent) -> Response:
    """Give a person another role or password, or remove them."""
    accounts, name = request.app.state.accounts, text_in(form, "name")
    what = text_in(form, "what")
    person = person_of(request)
    try:
        if what in {"role", "remove"} and person is not None and key_of(person.name) == key_of(name):
            return _people(request, OWN, form)
        match what:
            case "role":
                accounts.set_role(name, _role(form))
            case "password":
                accounts.set_password(name, _password(form))
            case "remove":
                accounts.remove(name)
            case _:
                return _people(request, str(FormError("what", what)), form)
    except (AccountRefusedError, NoAccountError, FormError) as error:
        return _people(request, str(error), form)
    return RedirectResponse("/people", 303)


def _role(form: FormData) -> Role:
    said = text_in(form, "role")
    if said not in set(Role):
        raise FormError("role", said)
    return Role(said)


def _password(form: FormData) -> str:
    value = form.get("password")
    return value if isinstance(value, str) else ""


def _people(request: Request, error: str = "", typed: FormData | None = None) -> HTMLResponse:
    return page(
        request,
        "people.html",
        status=422 if error else 200,
        people=request.app.state.accounts.all(),
        duties=DUTIES,
        error=error,
        typed=text_in(typed, "name") if typed is not None else "",
        shortest=SHORTEST,
    )
