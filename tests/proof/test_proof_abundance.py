"""What sizes of groups tell about groups that were not met."""

from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sightings import SPIDERS, any_sizes
from skbio.diversity.alpha import chao1, chao1_ci, esty_ci, goods_coverage

from benchlore.proof.abundance import Abundance, thinning
from benchlore.proof.coverage import sample_coverage


def of(sizes) -> Abundance:
    return Abundance(np.array(sizes, dtype=np.int64))


samples = any_sizes.filter(lambda sizes: sum(sizes) > 1)


def test_spiders_are_counted_as_published():
    spiders = of(SPIDERS)
    assert (spiders.boards, spiders.met, spiders.once, spiders.twice) == (168, 26, 12, 4)
    # Chao1 43.893, standard error 14.306, interval 30.511 to 96.971
    assert spiders.met + spiders.unmet == pytest.approx(43.893, abs=5e-4)
    assert spiders.variance**0.5 == pytest.approx(14.306, abs=5e-4)
    assert spiders.log_normal() == pytest.approx((30.511, 96.971), abs=1e-3)
    assert 1 - spiders.unseen == pytest.approx(0.928855, abs=1e-6)


def test_spiders_of_half_as_many_traps_are_as_published():
    # Hsieh, Ma & Chao 2016: 84 individuals show 18.912 species and a coverage of 0.900, one shows 0.122
    unseen, faults = thinning(168, [1, 84]).of(np.array(SPIDERS))
    assert faults == pytest.approx([1, 18.912360], abs=1e-5)
    assert 1 - unseen == pytest.approx([0.122327, 0.899514], abs=1e-5)


@pytest.mark.parametrize(
    ("total", "faults", "coverage"), [(248, 30.883406, 0.948273), (336, 34.730733, 0.963570)]
)
def test_more_spiders_are_foretold_as_published(total: int, faults: float, coverage: float):
    # The same: 248 individuals would show 30.883 species (0.948), 336 would show 34.731 (0.964)
    spiders = of(SPIDERS)
    assert spiders.met_after(total - 168) == pytest.approx(faults, abs=1e-5)
    assert 1 - spiders.unseen_after(total - 168) == pytest.approx(coverage, abs=1e-5)


def test_spiders_until_a_coverage_are_where_the_curve_reaches_it():
    spiders = of(SPIDERS)
    assert spiders.more_until(0.948273) == pytest.approx(248 - 168, abs=1e-2)
    assert spiders.more_until(0.9) == 0


def test_butterflies_of_a_little_longer_trapping_are_as_foretold_by_good_and_toulmin():
    # Fisher, Corbet & Williams 1943: species caught 1, 2, ..., 24 times in two years in Malaya. Good & Toulmin 1956
    # foretell 11.10 new ones in a tenth as long again and 20.96 in two tenths (Efron & Hastie 2016, section 6.2).
    caught = [118, 74, 44, 24, 29, 22, 20, 19, 20, 15, 12, 14, 6, 12, 6, 9, 9, 6, 10, 10, 11, 5, 3, 3]
    butterflies = of(np.repeat(np.arange(1, 25), caught))
    assert butterflies.met == 501
    for longer, new in ((0.1, 11.10), (0.2, 20.96)):
        found = butterflies.met_after(longer * butterflies.boards) - butterflies.met
        assert found == pytest.approx(new, rel=0.006)


@settings(deadline=None)
@given(samples.filter(lambda sizes: 2 in sizes))
def test_richness_is_that_of_scikit_bio_but_for_the_factor(sizes):
    found = of(sizes)
    assert found.met + found.unmet * found.boards / (found.boards - 1) == pytest.approx(
        chao1(np.array(sizes), bias_corrected=False)
    )


@settings(deadline=None)
@given(samples)
def test_coverage_of_all_boards_but_one_is_goods(sizes):
    # Good 1953, as in scikit-bio: one less the share of single sightings
    boards = sum(sizes)
    unseen, _ = thinning(boards, [boards - 1]).of(np.array(sizes))
    assert 1 - unseen[0] == pytest.approx(goods_coverage(np.array(sizes)), abs=1e-9)


def test_the_interval_of_richness_without_doubles_is_that_of_scikit_bio():
    # Chao 1987 for f2 = 0, as in scikit-bio, which has no (n - 1) / n: with many boards that is one
    sizes = [1_000_000, 50_000, *[1] * 7]
    found = of(sizes)
    assert (found.once, found.twice) == (7, 0)
    assert found.log_normal() == pytest.approx(chao1_ci(np.array(sizes), zscore=1.959964), rel=1e-5)


def test_the_variance_of_richness_without_doubles_shrinks_with_few_boards():
    # By hand, with A = 7/8: A · 3 + A² · 3 · 25 / 4 - A² · 81 / (4 · 6.625)
    assert of([5, 1, 1, 1]).variance == pytest.approx(2.625 + 14.355469 - 2.340212, abs=1e-5)


def test_the_interval_of_many_boards_is_estys():
    # Esty 1983, as in scikit-bio (of the unseen share, around Good's estimate)
    sizes = [*[1] * 300, *[2] * 140, *[3] * 60, *range(4, 200)]
    low, high = esty_ci(np.array(sizes))
    found = sample_coverage(of(sizes))
    assert (1 - found.high, 1 - found.low) == pytest.approx((low, high), rel=0.01)


@settings(max_examples=40, deadline=None)
@given(st.lists(st.integers(1, 4), min_size=1, max_size=4).filter(lambda sizes: 1 < sum(sizes) <= 9))
def test_rarefaction_is_the_mean_over_all_smaller_samples(sizes):
    faults = np.repeat(np.arange(len(sizes)), sizes)
    for size in range(1, len(faults)):
        shown, fresh = [], []
        for chosen in combinations(range(len(faults)), size):
            inside = {faults[place] for place in chosen}
            left = [faults[place] for place in range(len(faults)) if place not in chosen]
            shown.append(len(inside))
            fresh.append(np.mean([fault not in inside for fault in left]))
        unseen, met = thinning(len(faults), [size]).of(np.array(sizes))
        assert met[0] == pytest.approx(np.mean(shown))
        assert unseen[0] == pytest.approx(np.mean(fresh))


@settings(deadline=None)
@given(samples)
def test_extrapolation_begins_where_the_boards_are_and_rises(sizes):
    found = of(sizes)
    assert found.unseen_after(0) == pytest.approx(found.unseen)
    assert found.met_after(0) == pytest.approx(found.met)
    steps = [found.met_after(more) for more in range(0, 60, 10)]
    assert steps == sorted(steps)
    assert all(step <= found.met + found.unmet + 1e-9 for step in steps)


@settings(deadline=None)
@given(samples, st.integers(0, 1000))
def test_drawn_boards_are_as_many(sizes, seed):
    drawn = of(sizes).draw(np.random.default_rng(seed))
    assert drawn.boards == sum(sizes)
    assert np.all(drawn.sizes > 0)


def test_drawn_boards_show_what_was_not_met_as_often_as_the_estimate():
    spiders, rng = of(SPIDERS), np.random.default_rng(2)
    kept, others = spiders.drawing
    assert others == 18
    assert 1 - kept[-1] == pytest.approx(spiders.unseen)
    # Of 168 boards drawn from these chances so many different faults are expected
    chances = np.concatenate([np.diff(kept, prepend=0), np.full(others, (1 - kept[-1]) / others)])
    expected = np.sum(1 - (1 - chances) ** 168)
    assert np.mean([spiders.draw(rng).met for _ in range(2000)]) == pytest.approx(expected, abs=0.25)
