"""A shop as values: what its time costs, what it owns, what it can do."""

from collections.abc import Mapping
from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class Shop:
    """A bench's rates and equipment.

    ``hour`` and ``waiting_hour`` are what an hour of hands-on and of waiting time costs, in ``currency``.
    ``worth`` is what a finished repair is worth, by board name, with ``worth_otherwise`` for the rest
    (``None``: the book's own figure). ``diagnostic_fee`` is earned when a device goes back unrepaired.
    ``comeback`` is what a comeback costs in all (``None``: the worth and one hour more).
    ``exchange[c]`` is the price of one unit of currency ``c`` in ``currency``.
    """

    name: str
    currency: str
    hour: float
    waiting_hour: float
    instruments: frozenset[str] = frozenset()
    skills: frozenset[str] = frozenset()
    worth: Mapping[str, float] = field(default_factory=dict)
    worth_otherwise: float | None = None
    diagnostic_fee: float = 0.0
    comeback: float | None = None
    exchange: Mapping[str, float] = field(default_factory=dict)

    @property
    def equipment(self) -> frozenset[str]:
        """All that a ``needs`` may ask of the shop: instruments and skills."""
        return self.instruments | self.skills
