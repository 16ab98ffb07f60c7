"""How the app meets its visitors: by which names, through TLS or a proxy, with or without signing in."""

from dataclasses import dataclass
from typing import Final

LOOPBACK: Final = ("127.0.0.1", "localhost", "[::1]")
ANY_NAME: Final = ("*",)


@dataclass(frozen=True, slots=True)
class Front:
    """What stands between the app and its visitors.

    ``hosts`` are the names that it answers to. With ``must_sign_in`` nobody gets in without an account; else
    that begins with the first account. ``secure`` says that visitors come through TLS, ``proxied`` that a
    proxy makes it: what did not come through is refused then.
    """

    hosts: tuple[str, ...] = LOOPBACK
    must_sign_in: bool = False
    secure: bool = False
    proxied: bool = False

    @property
    def cookie(self) -> str:
        """The session's cookie. The prefix binds it to this very name and to TLS (RFC 6265bis, 4.1.3)."""
        return "__Host-benchlore" if self.secure else "benchlore"


THIS_MACHINE: Final = Front()
