import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchlore.cli.text import columns, counted, money, share, two_ends, wrapped


@pytest.mark.parametrize(
    ("probability", "printed"),
    [(0, "0 %"), (1, "100 %"), (0.123, "12 %"), (0.004, "0.4 %"), (0.00004, "<0.1 %"), (0.9996, "99.9 %")],
)
def test_share_rounds_to_what_a_reader_needs(probability, printed):
    assert share(probability) == printed


@given(st.floats(min_value=1e-12, max_value=1 - 1e-12))
def test_what_is_possible_never_prints_as_impossible_or_certain(probability):
    assert share(probability) not in {"0 %", "0.0 %", "100 %", "100.0 %"}


@given(
    st.text(alphabet=st.characters(codec="ascii", categories=["L", "Zs"]), max_size=300), st.integers(0, 8)
)
def test_wrapped_lines_fit_and_lose_no_word(text, indent):
    lines = wrapped(text, indent=indent)
    assert " ".join(" ".join(lines).split()) == " ".join(text.split()) or any(
        len(w) > 60 for w in text.split()
    )
    assert all(len(line) <= 80 for line in lines)


def test_two_ends_takes_a_second_line_when_both_do_not_fit():
    assert two_ends("left", "right", width=12) == ["left   right"]
    assert two_ends("a long left", "right", width=12) == ["a long left", "       right"]


def test_columns_align_each_to_its_side():
    assert columns([("a", "1"), ("bb", "10")], align="<>") == ["a    1", "bb  10"]


def test_columns_of_nothing_are_no_lines():
    assert columns([], align="<>") == []


def test_money_has_two_decimals_and_a_currency():
    assert money(1234.5, "EUR") == "1,234.50 EUR"


def test_counted_picks_the_noun():
    assert [counted(1, "job"), counted(0, "job"), counted(2, "reply", "replies")] == [
        "1 job",
        "0 jobs",
        "2 replies",
    ]
