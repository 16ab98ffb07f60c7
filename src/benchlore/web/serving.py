"""Run the app: on this machine for this machine, or on a network for people who sign in."""

import errno
import ipaddress
import socket
import ssl
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import uvicorn

from benchlore.library import Accounts, Library
from benchlore.notation import reason_of
from benchlore.web.app import create_app
from benchlore.web.front import ANY_NAME, LOOPBACK, THIS_MACHINE, Front

HOST: Final = "127.0.0.1"
PORT: Final = 8470


class ServingError(Exception):
    """The app cannot be served."""


class PortTakenError(ServingError):
    """Somebody else listens on the port."""

    def __init__(self, port: int) -> None:
        self.port = port
        super().__init__(
            f"port {port} is taken, perhaps by benchlore in another window; try '--port {port + 1}'"
        )


class NoTransportSecurityError(ServingError):
    """Passwords would cross a network for everybody to read."""

    def __init__(self, host: str) -> None:
        super().__init__(
            f"host {host}: others can open this address, so passwords must not cross it in the clear; give "
            f"'--certificate FILE --key FILE', or '--behind-proxy ADDRESS' if a proxy makes TLS"
        )


class NoAccountsError(ServingError):
    """Others could open the app, and nobody could tell who they are."""

    def __init__(self) -> None:
        super().__init__(
            "others can open this address, and the library has no accounts; add one first: "
            "'benchlore account add NAME --role steward'"
        )


class CertificateError(ServingError):
    """The certificate and its key do not serve."""


@dataclass(frozen=True, slots=True)
class Listening:
    """Where to listen: an address of this machine, TLS by ``certificate`` and ``key``, or by a ``proxy``.

    ``proxy`` is the address, or the network, that the proxy speaks from; nothing else is believed when it
    says for whom it speaks.
    """

    host: str = HOST
    port: int = PORT
    certificate: Path | None = None
    key: Path | None = None
    proxy: str | None = None

    @property
    def is_private(self) -> bool:
        """Whether this machine alone can open it."""
        return self.proxy is None and _is_loopback(self.host)


def serve(library: Library, where: Listening, *, ready: Callable[[str], None]) -> None:
    """Serve a library until Ctrl-C; ``ready`` is told the address once it answers.

    Raises
    ------
    NoTransportSecurityError, NoAccountsError
        If others could open it and it is not fit for that.
    CertificateError
        If certificate and key are no pair that can be read.
    PortTakenError
        If another program listens on the port.
    ServingError
        If the address or port may not be used.
    """
    front = front_of(library, where)
    with _listening(where) as listener:
        server = uvicorn.Server(
            uvicorn.Config(
                create_app(library, front),
                log_level="warning",
                server_header=False,
                proxy_headers=front.proxied,
                forwarded_allow_ips=where.proxy,
                ssl_certfile=where.certificate,
                ssl_keyfile=where.key,
            )
        )
        scheme = "https" if where.certificate else "http"
        ready(f"{scheme}://{_name(where.host)}:{listener.getsockname()[1]}/")
        server.run(sockets=[listener])


def front_of(library: Library, where: Listening) -> Front:
    """Say how the app may meet its visitors there; raises what :func:`serve` does."""
    is_tls = _has_tls(where)
    if where.is_private:
        return Front(secure=is_tls) if is_tls else THIS_MACHINE
    if where.proxy is not None:
        _check_proxy(where.proxy)
    elif not is_tls:
        raise NoTransportSecurityError(where.host)
    if not Accounts(library).all():
        raise NoAccountsError
    return Front(ANY_NAME, must_sign_in=True, secure=True, proxied=where.proxy is not None)


def _has_tls(where: Listening) -> bool:
    """Whether the app makes TLS itself, with a certificate that was tried."""
    if where.certificate is None and where.key is None:
        return False
    if where.certificate is None or where.key is None:
        raise CertificateError("a certificate needs its key: give both '--certificate' and '--key'")
    if where.proxy is not None:
        raise CertificateError("either the proxy makes TLS or benchlore does: leave out one of the two")
    try:
        ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER).load_cert_chain(
            where.certificate, where.key, password=_no_password
        )
    except (OSError, ValueError) as error:  # ssl's own error is an OSError
        said = str(error) if isinstance(error, ssl.SSLError | ValueError) else reason_of(error)
        raise CertificateError(
            f"{where.certificate} and {where.key} are no certificate and key in PEM form that can be read: "
            f"{said}"
        ) from None
    return True


def _no_password() -> str:
    raise ValueError("the key is locked with a password; give one that is not, readable to you alone")


def _check_proxy(proxy: str) -> None:
    try:
        ipaddress.ip_network(proxy, strict=False)
    except ValueError:
        raise ServingError(
            f"--behind-proxy {proxy}: the address that the proxy speaks from is expected, such as 127.0.0.1"
        ) from None


def _is_loopback(host: str) -> bool:
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return host in LOOPBACK


def _name(host: str) -> str:
    """What stands for a host in an address; this machine's own name where it listens everywhere."""
    try:
        found = ipaddress.ip_address(host)
    except ValueError:
        return host
    if found.is_unspecified:
        return socket.gethostname()
    return f"[{found}]" if found.version == 6 else str(found)


def _listening(where: Listening) -> socket.socket:
    host, port = where.host, where.port
    try:
        family, kind, _, _, address = socket.getaddrinfo(
            host, port, type=socket.SOCK_STREAM, flags=socket.AI_PASSIVE
        )[0]
    except OSError as error:
        raise ServingError(f"host {host}: {reason_of(error)}; give an address of this machine") from None
    listener = socket.socket(family, kind)
    try:
        listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listener.bind(address)
        listener.listen()
    except OSError as error:
        listener.close()
        if error.errno == errno.EADDRINUSE:
            raise PortTakenError(port) from None
        where_said = f"port {port}" if host == HOST else f"{host}, port {port}"
        raise ServingError(f"{where_said}: {reason_of(error)}") from error
    return listener
