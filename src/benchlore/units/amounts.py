"""Amounts of money at the edge: decimal numbers with as many decimals as the currency has.

The engine computes in floating point; what is printed, written or paid is a ``Decimal`` of whole minor units.
"""

from decimal import ROUND_CEILING, ROUND_HALF_EVEN, Context, Decimal
from typing import Final

NONE: Final = frozenset(
    {
        *("BIF", "CLP", "DJF", "GNF", "ISK", "JPY", "KMF", "KRW"),
        *("PYG", "RWF", "UGX", "UYI", "VND", "VUV", "XAF", "XOF", "XPF"),
    }
)
"""Currencies without minor units, and below those with three (ISO 4217, list one; from memory)."""
THREE: Final = frozenset({"BHD", "IQD", "JOD", "KWD", "LYD", "OMR", "TND"})

EXACT: Final = Context(prec=330)
"""Digits enough for any float (at most 309 before the point) and for what is rounded off behind it."""


def decimals(currency: str) -> int:
    """How many decimals the amounts of a currency have.

    >>> decimals("EUR"), decimals("JPY"), decimals("KWD")
    (2, 0, 3)
    """
    return 0 if currency in NONE else 3 if currency in THREE else 2


def minor_unit(currency: str) -> Decimal:
    """The smallest amount of a currency.

    >>> minor_unit("EUR"), minor_unit("JPY"), minor_unit("KWD")
    (Decimal('0.01'), Decimal('1'), Decimal('0.001'))
    """
    return Decimal(1).scaleb(-decimals(currency))


def decimal_amount(amount: float | Decimal, currency: str, *, up: bool = False) -> Decimal:
    """Round an amount to whole minor units, to the even one where it lies between two; ``up``: never down.

    A float counts as the shortest decimal number that it prints as, so 2.675 is 2.675 and not a hair less. A
    price that must cover something is rounded ``up``, past what rounding errors may have added. Raises
    ``decimal.InvalidOperation`` for what is no finite number.

    >>> decimal_amount(2.675, "EUR"), decimal_amount(61.401, "EUR", up=True)
    (Decimal('2.68'), Decimal('61.41'))
    """
    exact = amount if isinstance(amount, Decimal) else Decimal(repr(float(amount)))
    unit = minor_unit(currency)
    if up:
        exact = exact.quantize(unit / 10**6, ROUND_HALF_EVEN, EXACT)
    found = exact.quantize(unit, ROUND_CEILING if up else ROUND_HALF_EVEN, EXACT)
    return abs(found) if found == 0 else found
