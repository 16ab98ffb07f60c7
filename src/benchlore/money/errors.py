"""What can be wrong with a question about money."""

from math import inf
from typing import Final

MOST_MONEY: Final = 1e12
"""Amounts of money stay below this, as they do in books and shop files."""
MOST_COUNTED: Final = 1e8
"""Jobs a year and shops stay below this."""


class MoneyError(Exception):
    """The base of all errors of this package."""


class AmountError(MoneyError):
    """A number that makes no sense where it stands; ``None`` is found where nobody gave one."""

    def __init__(self, what: str, found: object, expected: str) -> None:
        self.what, self.found = what, found
        wrong = "nobody says it" if found is None else f"{found} makes no sense here"
        super().__init__(f"{what}: {wrong}; expected is {expected}")


def not_negative(what: str, *amounts: float, below: float = MOST_MONEY) -> None:
    """Refuse numbers below zero, those that are none, and ``below`` or more (``AmountError``)."""
    for amount in amounts:
        if not 0 <= amount < below:
            most = "finite" if below == inf else f"less than {below:,.0f}"
            raise AmountError(what, f"{amount:,.15g}", f"a number that is not negative, {most}")


def share_of(what: str, chance: float) -> None:
    """Refuse what is no share (``AmountError``)."""
    if not 0 <= chance <= 1:
        raise AmountError(what, chance, "a share from 0 to 1")
