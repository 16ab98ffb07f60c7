import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchlore.units import counted, money, share


@pytest.mark.parametrize(
    ("probability", "printed"),
    [(0, "0 %"), (1, "100 %"), (0.123, "12 %"), (0.004, "0.4 %"), (0.00004, "<0.1 %"), (0.9996, "99.9 %")],
)
def test_share_rounds_to_what_a_reader_needs(probability, printed):
    assert share(probability) == printed


@given(st.floats(min_value=1e-12, max_value=1 - 1e-12))
def test_what_is_possible_never_prints_as_impossible_or_certain(probability):
    assert share(probability) not in {"0 %", "0.0 %", "100 %", "100.0 %"}


def test_money_has_two_decimals_and_a_currency():
    assert money(1234.5, "EUR") == "1,234.50 EUR"


def test_counted_picks_the_noun():
    assert [counted(1, "job"), counted(0, "job"), counted(2000, "reply", "replies")] == [
        "1 job",
        "0 jobs",
        "2,000 replies",
    ]
