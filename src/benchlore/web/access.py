"""Who may do what: every request is a person's, or nobody's where the app needs no accounts."""

from datetime import UTC, datetime
from urllib.parse import quote

from fastapi import Request
from fastapi.responses import JSONResponse, RedirectResponse, Response
from starlette.concurrency import run_in_threadpool
from starlette.types import ASGIApp, Receive, Scope, Send

from benchlore.library import DUTIES, Account, LibraryError, Role
from benchlore.notation import FileTrouble
from benchlore.web.front import Front
from benchlore.web.guard import SAFE
from benchlore.web.looks import page
from benchlore.web.rules import needed_role


class RoleMissingError(Exception):
    """The person who is signed in may not do this."""

    def __init__(self, needed: Role, person: Account) -> None:
        self.needed, self.person = needed, person
        super().__init__(
            f"This needs the role '{needed}' ({DUTIES[needed]}). {person.name} has the role '{person.role}' "
            f"({DUTIES[person.role]}). Nothing was done; a steward of this library can change the role."
        )


def person_of(request: Request) -> Account | None:
    """The person who is signed in; ``None`` where the app needs no accounts."""
    found: Account | None = getattr(request.state, "person", None)
    return found


def name_of(request: Request, otherwise: str = "") -> str:
    """Who does this: the person who is signed in, else what they say of themselves."""
    person = person_of(request)
    return otherwise if person is None else person.name


def insist(request: Request, needed: Role) -> None:
    """Refuse a person without the role; raises ``RoleMissingError``."""
    person = person_of(request)
    if person is not None and not person.role.may(needed):
        raise RoleMissingError(needed, person)


def cookie_of(request: Request) -> str:
    """The token of the session that a request belongs to; empty if to none."""
    front: Front = request.app.state.front
    return request.cookies.get(front.cookie, "")


class Access:
    """Lets in who may; answers everybody else."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Find out who asks, and whether they may."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        request = Request(scope)
        request.state.person = None
        path: str = scope["path"]  # not that of the address, which a Host header can bend
        needed = needed_role(request.method, path)
        if needed is None and path != "/sign-in":
            await self.app(scope, receive, send)
            return
        refusal = await run_in_threadpool(_refusal, request, needed)
        await (refusal or self.app)(scope, receive, send)


def _refusal(request: Request, needed: Role | None) -> Response | None:
    """Note who asks; return the answer where they may not."""
    try:
        is_open = not (request.app.state.front.must_sign_in or request.app.state.accounts.all())
        token = cookie_of(request)
        if not is_open and token:
            request.state.person = request.app.state.sessions.person(token, datetime.now(UTC))
    except (LibraryError, FileTrouble) as error:  # whoever cannot be known is not let in
        return _answer(request, 503, type(error).__name__, str(error))
    person = person_of(request)
    if needed is None or is_open:
        return None
    if person is None:
        return _ask_to_sign_in(request)
    if not person.role.may(needed):
        return refused(request, RoleMissingError(needed, person))
    return None


def _ask_to_sign_in(request: Request) -> Response:
    path: str = request.scope["path"]
    if request.method in SAFE and not path.startswith("/api/"):
        query = f"?{request.url.query}" if request.url.query else ""
        there = quote(f"{quote(path)}{query}", safe="/")
        return RedirectResponse("/sign-in" if path == "/" else f"/sign-in?next={there}", 303)
    said = "Nobody is signed in, or no longer. Nothing was done: sign in, and do it again."
    answer = _answer(request, 401, "NotSignedIn", said)
    # RFC 9110, section 15.5.2, wants a challenge; for cookies none is registered.
    answer.headers["WWW-Authenticate"] = 'Session realm="/sign-in"'
    return answer


def refused(request: Request, error: Exception) -> Response:
    """Say which role is missing."""
    assert isinstance(error, RoleMissingError)
    return _answer(request, 403, type(error).__name__, str(error))


def _answer(request: Request, status: int, kind: str, message: str) -> Response:
    if request.scope["path"].startswith("/api/"):
        return JSONResponse({"error": {"kind": kind, "message": message}}, status)
    return page(request, "failure.html", status=status, code=status, message=message)
