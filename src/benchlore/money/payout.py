"""A pot divided by shares in whole minor units, to the last one."""

from collections.abc import Sequence
from decimal import Decimal, InvalidOperation
from fractions import Fraction
from typing import Final

from benchlore.money.errors import AmountError
from benchlore.units import minor_unit

SAME: Final = 12
"""Decimals of a share of the whole: those that differ by less are equal, and it is rounding."""


def pot_of(text: str, currency: str) -> Decimal:
    """Read an amount to be divided; it is above zero and of whole minor units (``AmountError``).

    >>> pot_of("1250.50", "EUR")
    Decimal('1250.50')
    """
    try:
        pot = Decimal(text.strip())
    except InvalidOperation:
        raise AmountError("the pot", repr(text), "a number with a decimal point, such as 1250.50") from None
    unit = minor_unit(currency)
    if not pot.is_finite() or pot <= 0:
        raise AmountError("the pot", text, "an amount above zero")
    if pot >= Decimal(10) ** 15:
        raise AmountError("the pot", text, "less than 1,000,000,000,000,000")
    if pot % unit:
        raise AmountError("the pot", text, f"a whole number of {unit} {currency}")
    return pot.quantize(unit)


def divided(
    pot: Decimal, shares: Sequence[float], names: Sequence[str], currency: str
) -> tuple[Decimal, ...]:
    """Divide a pot by shares, which are not negative, in whole minor units that sum to it.

    Each gets the whole units of their part; what is left goes, one unit each, to the largest remainders
    (Hamilton's method: Balinski & Young 1982, "Fair Representation"). Among equal remainders the name that
    comes first in the alphabet is first. ``()`` where all shares are zero.

    >>> divided(Decimal("1.00"), [1, 1, 1], ["b", "c", "a"], "EUR")
    (Decimal('0.33'), Decimal('0.33'), Decimal('0.34'))
    """
    total = sum(shares)
    if not total > 0:
        return ()
    unit = minor_unit(currency)
    parts = [Fraction(round(share / total, SAME)) for share in shares]
    units, whole = int(pot / unit), sum(parts)
    quotas = [units * part / whole for part in parts]
    given = [int(quota) for quota in quotas]
    order = sorted(range(len(names)), key=lambda k: (given[k] - quotas[k], names[k].casefold(), names[k], k))
    for place in order[: units - sum(given)]:
        given[place] += 1
    return tuple(each * unit for each in given)
