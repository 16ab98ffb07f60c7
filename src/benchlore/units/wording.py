"""Amounts, shares and counts as sentences print them."""

from decimal import Decimal

from benchlore.units.amounts import decimal_amount


def money(amount: float | Decimal, currency: str) -> str:
    """Print an amount with its currency, in whole minor units of it.

    >>> money(61.4, "EUR"), money(1234.5, "JPY")
    ('61.40 EUR', '1,234 JPY')
    """
    return f"{decimal_amount(amount, currency):,} {currency}"


def share(probability: float) -> str:
    """Print a probability as a share; what is not zero never prints as 0 %, nor what is not one as 100 %.

    >>> share(0.123), share(0.004), share(1.0), share(0.9996)
    ('12 %', '0.4 %', '100 %', '99.9 %')
    """
    percent = 100 * probability
    if percent <= 0 or percent >= 100:
        return f"{percent:.0f} %"
    if percent >= 99.5:
        return f"{min(percent, 99.9):.1f} %"
    if percent >= 1:
        return f"{percent:.0f} %"
    return f"{percent:.1f} %" if percent >= 0.1 else "<0.1 %"


def counted(number: int, one: str, many: str | None = None) -> str:
    """Print a number with its noun: ``1 job``, ``3 jobs``."""
    return f"{number:,} {one if number == 1 else many or one + 's'}"
