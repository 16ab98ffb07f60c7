import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchlore.model import unseen_boards, unseen_share

SPIDERS = [46, 22, 17, 15, 15, 9, 8, 6, 6, 4, *[2] * 4, *[1] * 12]


def test_spiders_on_girdled_hemlocks_are_covered_as_published():
    # Ellison et al. 2010 data in Chao et al., Ecological Monographs 84, 2014: coverage 0.9289
    assert 1 - unseen_share(SPIDERS) == pytest.approx(0.928855, abs=1e-6)


def test_without_pairs_the_correction_uses_singles_less_one():
    # Chao & Jost 2012: (f1/n)(n-1)(f1-1) / ((n-1)(f1-1) + 2) with n = 13, f1 = 3, f2 = 0
    assert unseen_share([10, 1, 1, 1]) == pytest.approx(3 / 13 * 24 / 26)


def test_nothing_unseen_is_expected_without_single_sightings():
    assert unseen_share([20, 12, 9]) == 0


def test_an_expert_without_single_sightings_still_leaves_half_a_board():
    assert unseen_boards([20, 12, 9]) == 0.5


def test_nobody_knows_anything_without_boards():
    assert unseen_share([]) == 1


def test_unseen_boards_are_the_share_of_all_boards():
    assert unseen_boards(SPIDERS) == pytest.approx(168 * (1 - 0.928855), abs=2e-4)


@given(st.lists(st.integers(0, 40), max_size=30))
def test_a_share_is_a_probability(counts):
    assert 0 <= unseen_share(counts) <= 1
