"""What every request has to pass: host, origin, size; and what every answer carries.

A page from elsewhere in the same browser must not be able to write, whether or not somebody is signed in:
unsafe requests are refused if the browser says that they come from another site (``Sec-Fetch-Site``, W3C
Fetch Metadata; else ``Origin``); the session's cookie is ``SameSite=Strict`` besides. Where the app serves
this machine alone, a name that somebody pointed at it (DNS rebinding) is refused by its host. Where a proxy
makes TLS, what did not come through it is refused.
"""

from typing import Final

from fastapi import FastAPI
from starlette.datastructures import Headers, MutableHeaders
from starlette.middleware.trustedhost import TrustedHostMiddleware
from starlette.responses import JSONResponse, PlainTextResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from benchlore.web.front import THIS_MACHINE, Front

SAFE: Final = frozenset({"GET", "HEAD", "OPTIONS"})
MOST_BYTES: Final = 64 * 1024**2
"""A request larger than this is refused: the largest spreadsheet that intake reads is far smaller."""

FORWARDED: Final = ("forwarded", "x-forwarded-for", "x-forwarded-host", "x-forwarded-proto")
PROXY_UNTOLD: Final = (
    "This came through a proxy, and nobody said that there is one. Start benchlore with --behind-proxy "
    "ADDRESS, the proxy's own; then people sign in."
)
NOT_THROUGH_TLS: Final = (
    "This did not come through TLS. Open the proxy's own https address; the proxy must say "
    "'X-Forwarded-Proto: https', and stand at the address that --behind-proxy names."
)

HEADERS: Final = {
    "Content-Security-Policy": (
        "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; connect-src 'self'; "
        "font-src 'self'; manifest-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
    ),
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), microphone=(), geolocation=()",
}


def add_guards(app: FastAPI, front: Front = THIS_MACHINE) -> None:
    """Guard an app; the last one added sees a request first."""
    app.add_middleware(Bounded)
    app.add_middleware(SameSite)
    app.add_middleware(Through, proxied=front.proxied)
    app.add_middleware(TrustedHostMiddleware, allowed_hosts=list(front.hosts), www_redirect=False)
    app.add_middleware(Sealed)


def refusal(scope: Scope, said: str, status: int) -> Response:
    """Refuse a request before any page is asked: in plain text, under ``/api`` as JSON."""
    if scope["path"].startswith("/api/"):
        return JSONResponse({"error": {"kind": "Refused", "message": said}}, status)
    return PlainTextResponse(said, status)


class Sealed:
    """Every answer carries the headers that keep a page to itself."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Add the headers on the way out."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return

        async def sealed(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in HEADERS.items():
                    headers.setdefault(name, value)
                if "cache-control" not in headers:
                    headers["Cache-Control"] = "no-store"
            await send(message)

        await self.app(scope, receive, sealed)


class Through:
    """Behind a proxy, only what came to it through TLS; without one, nothing that came through any."""

    def __init__(self, app: ASGIApp, *, proxied: bool) -> None:
        self.app = app
        self.proxied = proxied

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Refuse what came another way. The server believes the proxy's own address alone."""
        if scope["type"] == "http":
            if self.proxied and scope["scheme"] != "https":
                await refusal(scope, NOT_THROUGH_TLS, 403)(scope, receive, send)
                return
            if not self.proxied and any(name in Headers(scope=scope) for name in FORWARDED):
                await refusal(scope, PROXY_UNTOLD, 403)(scope, receive, send)
                return
        await self.app(scope, receive, send)


class SameSite:
    """Requests that change something come from the app's own pages, or from no browser."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Refuse what another site sent."""
        if scope["type"] == "http" and scope["method"] not in SAFE and _is_foreign(scope):
            said = "This request came from another site, so nothing was done."
            await refusal(scope, said, 403)(scope, receive, send)
            return
        await self.app(scope, receive, send)


def _is_foreign(scope: Scope) -> bool:
    headers = Headers(scope=scope)
    if site := headers.get("sec-fetch-site"):
        return site not in {"same-origin", "none"}
    if origin := headers.get("origin"):
        return origin != f"{scope['scheme']}://{headers.get('host')}"
    return False


class _TooLargeError(Exception):
    """The body of a request passed the limit."""


class Bounded:
    """No request is larger than ``MOST_BYTES``, whatever it says of itself."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Count what comes in."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        length = Headers(scope=scope).get("content-length", "0")
        if not length.isdigit() or int(length) > MOST_BYTES:
            await self._refuse(scope, receive, send)
            return
        taken, started = 0, False

        async def counted() -> Message:
            nonlocal taken
            message = await receive()
            taken += len(message.get("body", b""))
            if taken > MOST_BYTES:
                raise _TooLargeError
            return message

        async def noted(message: Message) -> None:
            nonlocal started
            started = True
            await send(message)

        try:
            await self.app(scope, counted, noted)
        except _TooLargeError:
            if not started:
                await self._refuse(scope, receive, send)

    @staticmethod
    async def _refuse(scope: Scope, receive: Receive, send: Send) -> None:
        megabytes = MOST_BYTES // 1024**2
        await refusal(scope, f"Too large: {megabytes} MB at most.", 413)(scope, receive, send)
