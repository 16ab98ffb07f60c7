from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchlore.money import AmountError, divided, pot_of


def test_hamilton_s_seats():
    """Balinski & Young 1982, "Fair Representation": six states and 36 seats (from memory)."""
    people = (27744.0, 25178.0, 19947.0, 14614.0, 9225.0, 3292.0)
    assert [int(each) for each in divided(Decimal(36), people, tuple("abcdef"), "JPY")] == [10, 9, 7, 5, 4, 1]


@settings(max_examples=60)
@given(
    st.lists(st.floats(0, 1e6), min_size=1, max_size=12).filter(lambda shares: sum(shares) > 0),
    st.integers(1, 10**9),
    st.sampled_from(["EUR", "JPY", "KWD"]),
)
def test_the_pot_is_paid_to_the_last_unit_and_nobody_pays(shares, units, currency):
    pot = units * {"EUR": Decimal("0.01"), "JPY": Decimal(1), "KWD": Decimal("0.001")}[currency]
    paid = divided(pot, shares, [f"p{k}" for k in range(len(shares))], currency)
    assert sum(paid) == pot
    assert min(paid) >= 0
    for share, each in zip(shares, paid, strict=True):
        part = Decimal(share) / Decimal(sum(shares)) * pot
        assert abs(each - part) <= pot / units + pot * Decimal("1e-10")


def test_equals_get_the_odd_unit_in_the_order_of_their_names():
    third = 0.1 + 0.2 - 0.2  # a hair from 0.1: rounding is no difference
    assert divided(Decimal("0.02"), [0.1, third, 0.1], ["cy", "Bo", "al"], "EUR") == (
        Decimal("0.00"), Decimal("0.01"), Decimal("0.01"),
    )  # fmt: skip


def test_without_a_share_nothing_is_paid():
    assert divided(Decimal(5), [0.0, 0.0], ["a", "b"], "EUR") == ()
    assert divided(Decimal(5), [], [], "EUR") == ()


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("0", "above zero"),
        ("-5", "above zero"),
        ("nan", "above zero"),
        ("Infinity", "above zero"),
        ("ten", "a number with a decimal point"),
        ("1,000", "a number with a decimal point"),
        ("10.005", "a whole number of 0.01 EUR"),
        ("1e15", "less than"),
    ],
)
def test_what_is_no_pot_is_refused(text, said):
    with pytest.raises(AmountError, match=said):
        pot_of(text, "EUR")


def test_a_pot_has_the_decimals_of_its_currency():
    assert str(pot_of("100", "EUR")) == "100.00"
    assert str(pot_of("100", "JPY")) == "100"
    with pytest.raises(AmountError, match="whole number of 1 JPY"):
        pot_of("0.5", "JPY")
