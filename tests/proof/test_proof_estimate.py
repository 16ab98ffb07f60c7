"""Figures with intervals."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchlore.proof import Estimate, between_percentiles, in_turn, percentiles, proportion, seeds


def test_a_share_has_wilsons_interval() -> None:
    # Newcombe 1998, Statistics in Medicine 17, 857-872, table I, method 3: 81 of 263 and 1 of 29.
    found = proportion(81, 263)
    assert (found.low, found.high) == (pytest.approx(0.2553, abs=5e-5), pytest.approx(0.3662, abs=5e-5))
    found = proportion(1, 29)
    assert (found.low, found.high) == (pytest.approx(0.0061, abs=5e-5), pytest.approx(0.1718, abs=5e-5))


def test_a_share_of_nothing_may_be_anything() -> None:
    assert proportion(0, 0) == Estimate(0.5, 0.0, 1.0)


@given(st.lists(st.floats(-1e6, 1e6), min_size=1, max_size=40), st.floats(-1e6, 1e6))
def test_an_interval_holds_its_figure(replicates: list[float], value: float) -> None:
    found = between_percentiles(value, replicates)
    assert found.low <= found.value <= found.high


def test_the_interval_leaves_two_and_a_half_per_cent_on_each_side() -> None:
    assert percentiles(np.arange(1001)) == (pytest.approx(25.0), pytest.approx(975.0))


def test_an_interval_beside_zero_excludes_it() -> None:
    assert Estimate(1.0, 0.1, 2.0).excludes_zero
    assert Estimate(-1.0, -2.0, -0.1).excludes_zero
    assert not Estimate(0.5, -0.1, 1.0).excludes_zero


def test_tasks_are_done_in_order() -> None:
    assert list(in_turn(abs, [-3, 2, -1])) == [3, 2, 1]


def test_each_task_of_each_stage_has_a_seed_of_its_own() -> None:
    drawn = [np.random.default_rng(seed).random() for stage in (0, 1) for seed in seeds(7, stage, 3)]
    assert len(set(drawn)) == 6
    again = [np.random.default_rng(seed).random() for stage in (0, 1) for seed in seeds(7, stage, 3)]
    assert drawn == again
