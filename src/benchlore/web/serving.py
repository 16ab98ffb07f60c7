"""Run the app on this machine, for this machine."""

import errno
import socket
from collections.abc import Callable
from typing import Final

import uvicorn

from benchlore.library import Library
from benchlore.web.app import create_app

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


def serve(library: Library, *, port: int = PORT, ready: Callable[[str], None]) -> None:
    """Serve a library until Ctrl-C; ``ready`` is told the address once it answers.

    Raises
    ------
    PortTakenError
        If another program listens on the port.
    ServingError
        If the port may not be used.
    """
    with _listening(port) as listener:
        server = uvicorn.Server(uvicorn.Config(create_app(library), log_level="warning", server_header=False))
        ready(f"http://{HOST}:{listener.getsockname()[1]}/")
        server.run(sockets=[listener])


def _listening(port: int) -> socket.socket:
    listener = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    try:
        listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listener.bind((HOST, port))
        listener.listen()
    except OSError as error:
        listener.close()
        if error.errno == errno.EADDRINUSE:
            raise PortTakenError(port) from None
        raise ServingError(f"port {port}: {error.strerror}") from error
    return listener
