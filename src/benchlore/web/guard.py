"""What every request has to pass: host, origin, size; and what every answer carries.

The app has no accounts: it listens on this machine alone. A page from elsewhere in the same browser must
still not be able to write: unsafe requests are refused if the browser says that they come from another site
(``Sec-Fetch-Site``, W3C Fetch Metadata; else ``Origin``). A name that somebody pointed at this machine (DNS
rebinding) is refused by its host.
"""

from typing import Final
from urllib.parse import urlsplit

from fastapi import FastAPI
from starlette.datastructures import Headers, MutableHeaders
from starlette.middleware.trustedhost import TrustedHostMiddleware
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

LOOPBACK: Final = ("127.0.0.1", "localhost", "[::1]")
SAFE: Final = frozenset({"GET", "HEAD", "OPTIONS"})
MOST_BYTES: Final = 64 * 1024**2
"""A request larger than this is refused: the largest spreadsheet that intake reads is far smaller."""

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


def add_guards(app: FastAPI, hosts: tuple[str, ...] = LOOPBACK) -> None:
    """Guard an app; the last one added sees a request first."""
    app.add_middleware(Bounded)
    app.add_middleware(SameSite)
    app.add_middleware(TrustedHostMiddleware, allowed_hosts=list(hosts), www_redirect=False)
    app.add_middleware(Sealed)


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


class SameSite:
    """Requests that change something come from the app's own pages, or from no browser."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Refuse what another site sent."""
        if scope["type"] == "http" and scope["method"] not in SAFE and _is_foreign(Headers(scope=scope)):
            refused = PlainTextResponse("This request came from another site, so nothing was done.", 403)
            await refused(scope, receive, send)
            return
        await self.app(scope, receive, send)


def _is_foreign(headers: Headers) -> bool:
    if site := headers.get("sec-fetch-site"):
        return site not in {"same-origin", "none"}
    if origin := headers.get("origin"):
        return urlsplit(origin).netloc != headers.get("host")
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
        await PlainTextResponse(f"Too large: {megabytes} MB at most.", 413)(scope, receive, send)
