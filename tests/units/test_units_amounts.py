from decimal import Decimal

import pytest

from benchlore.units import decimal_amount, minor_unit, money


@pytest.mark.parametrize(
    ("amount", "currency", "rounded"),
    [
        (61.4, "EUR", "61.40"),
        (2.675, "EUR", "2.68"),
        (0.125, "EUR", "0.12"),
        (-0.001, "EUR", "0.00"),
        (1234.5, "JPY", "1234"),
        (0.0005, "KWD", "0.000"),
        (1.2345, "BHD", "1.234"),
        (Decimal("0.005"), "EUR", "0.00"),
    ],
)
def test_amounts_are_whole_minor_units_and_ties_go_to_the_even_one(amount, currency, rounded):
    assert str(decimal_amount(amount, currency)) == rounded


@pytest.mark.parametrize(
    ("amount", "rounded"), [(61.401, "61.41"), (61.4, "61.40"), (0.1 + 0.2, "0.30"), (-1.239, "-1.23")]
)
def test_a_price_that_must_cover_is_rounded_up(amount, rounded):
    assert str(decimal_amount(amount, "EUR", up=True)) == rounded


@pytest.mark.parametrize("up", [False, True])
@pytest.mark.parametrize("amount", [1e27, 1.5e300, -1.7976931348623157e308])
def test_any_finite_amount_is_written_in_full(amount, up):
    """Python's integers are exact, and so are floats of this size."""
    assert decimal_amount(amount, "KWD", up=up) == int(Decimal(repr(amount)))


def test_currencies_have_their_own_minor_units():
    """ISO 4217, list one; from memory."""
    assert [str(minor_unit(code)) for code in ("EUR", "JPY", "TND")] == ["0.01", "1", "0.001"]
    assert money(1234.5, "KRW") == "1,234 KRW"
    assert money(-3.456, "EUR") == "-3.46 EUR"
