import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchlore.money import Pair, combined, more_repaired, saved
from benchlore.proof import Estimate

NONE = np.zeros(0)


def shares(led, own):
    found = more_repaired([Pair(led, own, NONE, NONE)])
    return [each / led[1] for each in (found.value, found.low, found.high)]


@pytest.mark.parametrize(
    ("led", "own", "expected"),
    [
        ((56, 70), (48, 80), (0.2, 0.0524, 0.3339)),
        ((9, 10), (3, 10), (0.6, 0.1705, 0.8090)),
        ((6, 7), (2, 7), (0.5714, 0.0582, 0.8062)),
        ((5, 56), (0, 29), (0.0893, -0.0381, 0.1926)),
        ((0, 10), (0, 10), (0.0, -0.2775, 0.2775)),
        ((10, 10), (0, 20), (1.0, 0.6791, 1.0)),
    ],
)
def test_newcombe_s_examples(led, own, expected):
    """Newcombe 1998, Statistics in Medicine 17, 873-890, table II, method 10 (from memory)."""
    assert shares(led, own) == pytest.approx(expected, abs=6e-5)


@settings(max_examples=40)
@given(st.integers(1, 30), st.integers(1, 30), st.data())
def test_the_other_way_round_is_the_same_interval_mirrored(led, own, data):
    some, others = data.draw(st.integers(0, led)), data.draw(st.integers(0, own))
    value, low, high = shares((some, led), (others, own))
    assert shares((others, own), (some, led)) == pytest.approx((-value, -high, -low), abs=1e-9)
    assert -1 - 1e-9 <= low <= value <= high <= 1 + 1e-9


def test_independent_figures_add_up_by_squares():
    found = combined([(1.0, Estimate(5.0, 2.0, 6.0)), (-2.0, Estimate(1.0, 0.0, 3.0))])
    assert (found.value, found.low, found.high) == pytest.approx((3.0, 3.0 - 5.0, 3.0 + 5**0.5))


def test_what_is_saved_is_weighted_by_the_led_jobs():
    one = Pair((2, 2), (1, 3), np.array([1.0, 3.0]), np.array([5.0, 5.0, 5.0]))
    other = Pair((3, 3), (1, 2), np.array([4.0, 4.0, 4.0]), np.array([3.0, 3.0]))
    found = saved([one, other], np.random.default_rng(1))
    assert found.value == pytest.approx(2 * 3.0 - 3 * 1.0)
    assert found.low < found.value < found.high


def test_the_bootstrap_s_interval_is_about_student_s():
    """Against Welch's interval as scipy computes it, on two samples of forty."""
    from scipy import stats

    rng = np.random.default_rng(5)
    led, own = rng.normal(30, 8, 40), rng.normal(40, 12, 40)
    found = saved([Pair((1, 1), (1, 1), led, own)], rng)
    welch = stats.ttest_ind(own, led, equal_var=False).confidence_interval(0.95)
    assert (found.low, found.high) == pytest.approx((welch.low, welch.high), abs=0.8)
