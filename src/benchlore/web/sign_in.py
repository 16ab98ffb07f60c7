"""Signing in and out, and one's own password."""

from datetime import UTC, datetime
from math import ceil
from time import monotonic
from typing import Final

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from benchlore.library import Account, AccountRefusedError
from benchlore.library.accounts import SHORTEST, key_of
from benchlore.library.sessions import ABSOLUTE
from benchlore.units import counted
from benchlore.web.access import cookie_of, person_of
from benchlore.web.at_desk import Sent, text_in
from benchlore.web.looks import page

WRONG: Final = "The name or the password is wrong."
MOST_TYPED: Final = 1000
"""Characters of a name or a password that are looked at."""

router = APIRouter(include_in_schema=False)


@router.get("/sign-in")
def ask(request: Request, next: str = "/") -> Response:  # noqa: A002  the address says it so
    """Ask who it is."""
    if person_of(request) is not None:
        return RedirectResponse(_inside(next), 303)
    return _ask(request, there=_inside(next))


@router.post("/sign-in")
def sign_in(request: Request, form: Sent) -> Response:
    """Begin a session, if name and password belong together and not too many were tried."""
    state = request.app.state
    name, there = text_in(form, "name")[:MOST_TYPED], _inside(text_in(form, "next"))
    address = request.client.host if request.client else ""
    wait = state.throttle.begin(key_of(name), address, monotonic())
    if wait > 0:
        seconds = ceil(wait)
        said = f"Too many wrong tries. Wait {counted(seconds, 'second')}, then try again."
        answer = _ask(request, name=name, there=there, error=said, status=429)
        answer.headers["Retry-After"] = str(seconds)
        return answer
    account = state.accounts.check(name, _password(form.get("password")))
    if account is None:
        return _ask(request, name=name, there=there, error=WRONG, status=401)
    state.throttle.right(key_of(name), address)
    return _begin(request, account, there)


def _begin(request: Request, account: Account, there: str) -> Response:
    """Begin a session in place of an earlier one of the same browser."""
    state = request.app.state
    state.sessions.end(cookie_of(request))
    answer = RedirectResponse(there, 303)
    answer.set_cookie(
        state.front.cookie,
        state.sessions.begin(account, datetime.now(UTC)),
        max_age=int(ABSOLUTE.total_seconds()),
        secure=state.front.secure,
        httponly=True,
        samesite="strict",
    )
    return answer


@router.post("/sign-out")
def sign_out(request: Request) -> Response:
    """End the session."""
    front = request.app.state.front
    request.app.state.sessions.end(cookie_of(request))
    answer = RedirectResponse("/sign-in", 303)
    answer.delete_cookie(front.cookie, secure=front.secure, httponly=True, samesite="strict")
    return answer


@router.get("/password")
def ask_password(request: Request) -> Response:
    """Ask for another password of one's own."""
    return RedirectResponse("/", 303) if person_of(request) is None else _password_page(request)


@router.post("/password")
def change_password(request: Request, form: Sent) -> Response:
    """Change one's own password: the old one is asked for, and every other session ends."""
    person, state = person_of(request), request.app.state
    if person is None:
        return RedirectResponse("/", 303)
    address = request.client.host if request.client else ""
    if state.throttle.begin(key_of(person.name), address, monotonic()) > 0:
        return _password_page(request, "Too many wrong tries. Wait a minute, then try again.", 429)
    if state.accounts.check(person.name, _password(form.get("old"))) is None:
        return _password_page(request, "That is not your password.", 422)
    state.throttle.right(key_of(person.name), address)
    if form.get("new") != form.get("again"):
        return _password_page(request, "The new password and its repetition differ.", 422)
    try:
        changed = state.accounts.set_password(person.name, _password(form.get("new")))
    except AccountRefusedError as error:
        return _password_page(request, f"{error.reason[:1].upper()}{error.reason[1:]}.", 422)
    return _begin(request, changed, "/")


def _ask(
    request: Request, *, name: str = "", there: str = "/", error: str = "", status: int = 200
) -> HTMLResponse:
    nobody = not request.app.state.accounts.all()
    return page(request, "sign_in.html", status=status, name=name, there=there, error=error, nobody=nobody)


def _password_page(request: Request, error: str = "", status: int = 200) -> HTMLResponse:
    return page(request, "password.html", status=status, error=error, shortest=SHORTEST)


def _password(value: object) -> str:
    """A password as it was typed, blanks and all."""
    return value[:MOST_TYPED] if isinstance(value, str) else ""


def _inside(address: str) -> str:
    """An address of this app; the first page in place of any other."""
    is_inside = address.startswith("/") and not address.startswith(("//", "/\\"))
    return address if is_inside and address.isprintable() and "\\" not in address else "/"
