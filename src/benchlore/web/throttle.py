"""Wrong passwords make waiting: for the name, whoever asks, and for the address, whomever it asks for."""

import ipaddress
from collections import OrderedDict
from dataclasses import dataclass
from threading import Lock
from typing import Final

FORGOTTEN: Final = 3600.0
"""Seconds after which a row of wrong tries is forgotten."""
MOST_KEPT: Final = 4096
"""Names, and addresses, that are remembered at most; the one that was quiet longest goes first."""


@dataclass(frozen=True, slots=True)
class Patience:
    """How many tries are free, and the longest wait in seconds after the doublings that follow."""

    free: int
    longest: float


NAME: Final = Patience(free=5, longest=60.0)
"""A short wait at most: whoever wants to keep somebody out must not be able to."""
ADDRESS: Final = Patience(free=20, longest=900.0)
"""More tries: a whole shop may stand behind one address."""


class Throttle:
    """Counts tries that were not yet right. The memory is bounded; a restart forgets."""

    def __init__(self) -> None:
        self._names = _Tries(NAME)
        self._addresses = _Tries(ADDRESS)
        self._lock = Lock()

    def begin(self, name: str, address: str, now: float) -> float:
        """Begin a try at ``now`` (seconds of a clock that never goes back): 0, or the seconds to wait first.

        It counts as wrong until :meth:`right` is told, so that tries made at once count as well.
        """
        network = network_of(address)
        with self._lock:
            wait = max(self._names.wait(name, now), self._addresses.wait(network, now))
            if wait <= 0:
                self._names.count(name, now)
                self._addresses.count(network, now)
            return wait

    def right(self, name: str, address: str) -> None:
        """Take back the try that was right; other tries from its address still count."""
        with self._lock:
            self._names.forget(name)
            self._addresses.take_back(network_of(address))


class _Tries:
    def __init__(self, patience: Patience) -> None:
        self._patience = patience
        self._kept: OrderedDict[str, tuple[int, float]] = OrderedDict()

    def wait(self, key: str, now: float) -> float:
        count, last = self._kept.get(key, (0, 0.0))
        if count < self._patience.free or now - last > FORGOTTEN:
            return 0.0
        pause: float = min(self._patience.longest, 2.0 ** min(30, count - self._patience.free))
        return max(0.0, last + pause - now)

    def count(self, key: str, now: float) -> None:
        count, last = self._kept.pop(key, (0, now))
        self._kept[key] = (1 if now - last > FORGOTTEN else count + 1, now)
        if len(self._kept) > MOST_KEPT:
            self._kept.popitem(last=False)

    def forget(self, key: str) -> None:
        self._kept.pop(key, None)

    def take_back(self, key: str) -> None:
        if key in self._kept:
            count, last = self._kept[key]
            self._kept[key] = (count - 1, last)


def network_of(address: str) -> str:
    """What one sender can hardly leave: an IPv4 address, or the first 64 bits of an IPv6 one (RFC 4291)."""
    try:
        found = ipaddress.ip_address(address.partition("%")[0])
    except ValueError:
        return address
    if isinstance(found, ipaddress.IPv6Address):
        if found.ipv4_mapped is not None:
            return str(found.ipv4_mapped)
        return str(ipaddress.ip_network((found, 64), strict=False))
    return str(found)
