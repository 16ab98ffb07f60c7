"""Which role every request needs."""

import re
from typing import Final

from benchlore.library import Role

OPEN: Final = re.compile(r"/sign-in|/static/.*|/looks/[a-z.-]+|/favicon\.ico")
"""What nobody needs to sign in for: the page to do so, and how it looks."""

RULES: Final[tuple[tuple[Role, frozenset[str], re.Pattern[str]], ...]] = tuple(
    (role, frozenset(methods.split()), re.compile(path))
    for role, methods, path in (
        (Role.BENCH, "POST", r"/sign-out|/password"),
        (Role.STEWARD, "GET HEAD POST", r"/people(/change)?"),
        (Role.STEWARD, "GET HEAD POST", r"/money/fund(/.*)?"),
        (Role.STEWARD, "GET HEAD", r"/money/credit(/.*)?"),
        (Role.AUTHOR, "GET HEAD", r"/money/learning(/.*)?"),
        (Role.AUTHOR, "GET HEAD POST", r"/intake(/.*)?|/books/[^/]+/edit"),
        (Role.AUTHOR, "GET HEAD", r"/api/intake/.*"),
        (Role.AUTHOR, "POST PUT", r"/api/books/.*"),
        (Role.STEWARD, "POST", r"/api/bench/[^/]+/reopen"),
        (Role.BENCH, "POST", r"/bench/.*|/api/bench(/.*)?"),
        (Role.BENCH, "GET HEAD", r"/.*"),
    )
)
"""The first that fits tells the role that is needed; what none names is the steward's."""


def needed_role(method: str, path: str) -> Role | None:
    """Tell which role a request needs, ``None`` if anybody may make it."""
    if OPEN.fullmatch(path):
        return None
    return next(
        (role for role, methods, fits in RULES if method in methods and fits.fullmatch(path)), Role.STEWARD
    )
