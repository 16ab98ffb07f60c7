"""The local app: pages for bench, library and jobs, and an API under the same functions.

May import every package but ``cli``. Everything that it shows comes from ``library`` and below; it adds only
HTTP. Start at :func:`create_app`; :func:`serve` runs it on this machine.
"""

from benchlore.web.app import create_app
from benchlore.web.front import Front
from benchlore.web.serving import Listening, PortTakenError, ServingError, serve

__all__ = ["Front", "Listening", "PortTakenError", "ServingError", "create_app", "serve"]
