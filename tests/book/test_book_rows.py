"""Filling a row of chances that was stated in part."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchlore.book.rows import RowError, filled
from benchlore.notation.scalars import StatedChance, as_chance

STATES = ("normal", "shorted", "missing", "low")


def row(rest=None, /, **stated):
    return {
        state: chance.probability
        for state, chance in filled({k: as_chance(v) for k, v in stated.items()}, STATES, rest).items()
    }


def test_what_is_left_goes_to_normal():
    assert row("normal", shorted="70 %") == pytest.approx(
        {"normal": 0.3, "shorted": 0.7, "missing": 0, "low": 0}
    )


def test_what_is_left_is_spread_where_normal_is_stated_itself():
    assert row("normal", normal="10 %", shorted="70 %") == pytest.approx(
        {"normal": 0.1, "shorted": 0.7, "missing": 0.1, "low": 0.1}
    )


def test_what_is_left_is_spread_where_nothing_takes_it():
    assert row(shorted="70 %") == pytest.approx({"normal": 0.1, "shorted": 0.7, "missing": 0.1, "low": 0.1})


def test_rounded_figures_are_scaled_to_one():
    assert sum(row(normal="33 %", shorted="33 %", missing="33 %", low="0 %").values()) == pytest.approx(
        1, abs=1e-12
    )
    assert sum(row(normal="34 %", shorted="34 %", missing="34 %").values()) == pytest.approx(1, abs=1e-12)


def test_words_may_miss_the_sum_by_more():
    assert sum(row("normal", shorted="usually", missing="sometimes").values()) == pytest.approx(1)
    with pytest.raises(RowError, match="adds up to"):
        row("normal", shorted="always", missing="usually")


def test_too_much_is_refused():
    with pytest.raises(RowError, match="adds up to 110 %; all together can be 100 % at most"):
        row("normal", shorted="80 %", missing="30 %")


def test_too_little_is_refused_where_nothing_is_left_to_take_it():
    with pytest.raises(RowError, match="adds up to 80 % and leaves nothing out; say where the other 20 % go"):
        row(normal="20 %", shorted="20 %", missing="20 %", low="20 %")


def test_the_smallest_count_of_boards_stands_behind_what_is_filled_in():
    filled_row = filled({"shorted": as_chance("5 of 10"), "missing": as_chance("8 of 40")}, STATES, "normal")
    assert filled_row["normal"].of == 10


@given(st.dictionaries(st.sampled_from(STATES), st.integers(0, 25)), st.sampled_from([None, "normal"]))
def test_every_row_that_is_accepted_sums_to_one_and_keeps_its_order(stated, rest):
    chances = {state: as_chance(f"{percent} %") for state, percent in stated.items()}
    try:
        complete = filled(chances, STATES, rest)
    except RowError:
        assert len(stated) == 4
        return
    assert tuple(complete) == STATES
    assert sum(chance.probability for chance in complete.values()) == pytest.approx(1)
    for state, percent in stated.items():
        assert complete[state].probability == pytest.approx(percent / 100, abs=0.03)


def test_a_stated_chance_remembers_whether_it_was_a_word():
    assert isinstance(as_chance("usually"), StatedChance)
    assert (as_chance("Usually").is_word, as_chance("77 %").is_word) == (True, False)
