import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchlore.money import (
    coalitions_of,
    covered_among,
    drawn_orders,
    shapley_values,
    shares_with_a_key,
    with_a_key,
)


def games(players=4):
    amounts = st.floats(-100, 100, allow_subnormal=False)
    return st.lists(amounts, min_size=2**players, max_size=2**players).map(
        lambda values: np.array([0.0, *values[1:]])
    )


def rising(values):
    """The least monotone game above a game that is worth nothing with nobody."""
    best = covered_among(dict(enumerate(np.maximum(values, 0.0).tolist())))
    return np.array([best[mask] for mask in range(len(values))])


def majority(weights, quota):
    masks = np.arange(2 ** len(weights))
    return np.where(sum((masks >> k & 1) * w for k, w in enumerate(weights)) >= quota, 1.0, 0.0)


def test_airport_fees_are_those_of_the_closed_form():
    """Littlechild & Owen 1973, Management Science 20: a piece of runway is shared by all who need it."""
    costs = np.array([8.0, 11.0, 13.0, 18.0, 18.0])
    masks = np.arange(2**5)
    needed = np.where(masks[:, None] >> np.arange(5) & 1, costs, 0.0).max(axis=1)
    pieces = np.diff([0.0, *costs]) / np.arange(5, 0, -1)
    np.testing.assert_allclose(shapley_values(needed), np.cumsum(pieces), atol=1e-12)


def test_the_glove_game():
    """One left glove, two right ones: 2/3, 1/6, 1/6 (Shapley & Shubik 1969; a textbook example)."""
    values = np.array([0, 0, 0, 1, 0, 1, 0, 1], dtype=np.float64)
    np.testing.assert_allclose(shapley_values(values), [2 / 3, 1 / 6, 1 / 6], atol=1e-12)


def test_a_weighted_majority():
    """[51; 50, 49, 1]: 2/3, 1/6, 1/6 (Shapley & Shubik 1954, American Political Science Review 48)."""
    np.testing.assert_allclose(shapley_values(majority((50, 49, 1), 51)), [2 / 3, 1 / 6, 1 / 6], atol=1e-12)


def test_the_security_council():
    """Nine of fifteen with all five permanent members: 0.1963 and 0.001865 each (421/2145 and 4/2145)."""
    values = majority((7,) * 5 + (1,) * 10, 39)
    shares = shapley_values(values)
    np.testing.assert_allclose(shares[:5], 421 / 2145, atol=1e-12)
    np.testing.assert_allclose(shares[5:], 4 / 2145, atol=1e-12)


@settings(max_examples=30)
@given(games())
def test_shares_sum_to_what_all_are_worth(values):
    assert shapley_values(values).sum() == pytest.approx(values[-1], abs=1e-9)


@settings(max_examples=30)
@given(games(), games())
def test_shares_add_up_over_games(one, other):
    np.testing.assert_allclose(
        shapley_values(one + other), shapley_values(one) + shapley_values(other), atol=1e-9
    )


@settings(max_examples=30)
@given(games(3), st.integers(0, 3))
def test_who_brings_nothing_has_no_share(values, place):
    masks = np.arange(16)
    rest = (masks & ((1 << place) - 1)) | (masks >> (place + 1) << place)
    assert shapley_values(values[rest])[place] == pytest.approx(0.0, abs=1e-9)


@settings(max_examples=30)
@given(games())
def test_who_brings_the_same_has_the_same_share(values):
    swapped = np.array([(m & ~3) | ((m & 1) << 1) | ((m & 2) >> 1) for m in range(16)])
    shares = shapley_values(values + values[swapped])
    assert shares[0] == pytest.approx(shares[1], abs=1e-9)


@settings(max_examples=30)
@given(games())
def test_in_a_game_that_never_loses_by_a_player_no_share_is_below_zero(values):
    values = rising(values)
    assert values[-1] == values.max()
    assert shapley_values(with_a_key(values)).min() >= -1e-12


def test_cover_takes_the_best_part_of_a_coalition_that_is_known():
    assert covered_among({0: 0.0, 1: 5.0, 3: 2.0, 6: 4.0, 7: 1.0}) == {0: 0.0, 1: 5.0, 3: 5.0, 6: 4.0, 7: 5.0}


@settings(max_examples=30)
@given(games(5), st.integers(0, 1000))
def test_drawn_shares_sum_to_the_whole_and_are_near_the_exact_ones(values, seed):
    values = rising(values)
    orders = drawn_orders(5, 60, np.random.default_rng(seed))
    drawn = shares_with_a_key(orders, dict(enumerate(values.tolist())))
    exact = shapley_values(with_a_key(values))
    assert drawn.worth.sum() == pytest.approx(values[-1], abs=1e-9)
    assert drawn.worth.min() >= 0
    assert np.all(np.abs(drawn.worth - exact) <= 6 * drawn.errors + 0.02 * values[-1] + 1e-9)


def test_stated_errors_are_those_that_happen():
    masks, weights = np.arange(64), (1, 2, 3, 5, 8, 13)
    values = np.sqrt(sum((masks >> k & 1) * weight for k, weight in enumerate(weights)) + 1.0) - 1.0
    exact, off = shapley_values(with_a_key(values)), []
    for seed in range(200):
        drawn = shares_with_a_key(
            drawn_orders(6, 120, np.random.default_rng(seed)), dict(enumerate(values.tolist()))
        )
        off.append((drawn.worth - exact) / drawn.errors)
    assert np.std(off) == pytest.approx(1.0, abs=0.15)
    assert abs(np.mean(off)) < 0.1


def test_orders_come_with_their_reverse_and_only_their_coalitions_are_needed():
    orders = drawn_orders(4, 6, np.random.default_rng(1))
    np.testing.assert_array_equal(orders[1::2], orders[::2, ::-1])
    masks = coalitions_of(orders)
    assert (masks[0], masks[-1]) == (0, 15)
    assert len(masks) == len(set(masks)) <= 2 + 6 * 3


def test_without_other_players_the_key_has_all():
    assert shapley_values(with_a_key(np.array([7.0]))).tolist() == [7.0]
