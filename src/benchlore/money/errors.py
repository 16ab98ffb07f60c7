"""What can be wrong with a question about money."""


class MoneyError(Exception):
    """The base of all errors of this package."""


class AmountError(MoneyError):
    """A number that makes no sense where it stands."""

    def __init__(self, what: str, found: object, expected: str) -> None:
        self.what, self.found = what, found
        super().__init__(f"{what}: {found} makes no sense here; expected is {expected}")


def not_negative(what: str, *amounts: float) -> None:
    """Refuse numbers below zero, and those that are none (``AmountError``)."""
    for amount in amounts:
        if not 0 <= amount < float("inf"):
            raise AmountError(what, amount, "a finite number that is not negative")


def share_of(what: str, chance: float) -> None:
    """Refuse what is no share (``AmountError``)."""
    if not 0 <= chance <= 1:
        raise AmountError(what, chance, "a share from 0 to 1")
