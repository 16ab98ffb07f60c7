"""How complete a book's knowledge is."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import TypeAdapter
from sightings import COMMUNITIES, SPIDERS, any_sizes, met

from benchlore.proof import Coverage, Estimate, coverage_of, proportion
from benchlore.proof.abundance import Abundance
from benchlore.proof.coverage import sample_coverage


def told(counts, unlisted=(), seed=1):
    return coverage_of(counts, list(unlisted), rng=np.random.default_rng(seed))


def named(sizes):
    return {f"fault-{place}": size for place, size in enumerate(sizes)}


def test_the_book_knows_the_share_of_boards_whose_fault_it_lists():
    found = told({"joint": 12, "via": 5, "coil": 0}, [2, 1])
    assert found.known == proportion(17, 20)
    assert (found.boards, found.listed, found.never_met) == (20, 3, ("coil",))
    assert (found.met, found.once, found.twice) == (4, 1, 1)


def test_spiders_are_told_as_published():
    # Chao et al. 2014 and Hsieh, Ma & Chao 2016: coverage 0.9289; 43.893 species, 30.511 to 96.971
    found = told(named(SPIDERS[:10]), SPIDERS[10:])
    assert found.sample.value == pytest.approx(0.9289, abs=5e-5)
    assert found.faults is not None
    assert (found.faults.value, found.faults.low, found.faults.high) == pytest.approx(
        (43.893, 30.511, 96.971), abs=1e-3
    )
    assert found.unmet is not None
    assert found.unmet.value == pytest.approx(43.893 - 26, abs=1e-3)
    first, second = found.until
    # coverage 0.948 at 248 and 0.964 at 336: 95 per cent lies between
    assert first.more is not None
    assert second.more is not None
    assert 248 < 168 + first.more.value < 336
    assert (first.reached, first.far, second.far) == (False, False, True)
    assert first.more.low <= first.more.value <= first.more.high < second.more.high


@settings(max_examples=15, deadline=None)
@given(any_sizes, any_sizes)
def test_every_figure_lies_within_its_interval_and_its_bounds(listed, others):
    found = told(named(listed), others)
    for share in (found.known, found.sample, *(point.coverage for point in found.curve)):
        assert 0 <= share.low <= share.value <= share.high <= 1
    for point in found.curve:
        assert 1 <= point.faults.low <= point.faults.value <= point.faults.high <= point.boards
    for more in (one.more for one in found.until if one.more):
        assert 0 <= more.low <= more.value <= more.high
    if found.faults:
        assert found.met <= found.faults.low <= found.faults.value <= found.faults.high


@settings(max_examples=15, deadline=None)
@given(any_sizes.filter(lambda sizes: sum(sizes) > 1))
def test_the_curve_rises_from_one_board_through_what_was_met(sizes):
    found = told(named(sizes))
    boards = sum(sizes)
    faults = [point.faults.value for point in found.curve]
    assert faults == sorted(faults)
    assert faults[0] == pytest.approx(1)
    here = next(point for point in found.curve if point.boards == boards)
    assert here.faults.value == len(sizes)
    assert here.coverage == found.sample
    assert found.curve[-1].boards == 2 * boards
    coverage = [point.coverage.value for point in found.curve]
    assert np.all(np.diff(coverage) >= -1e-9)


def test_what_lies_beyond_the_curve_is_far():
    near, far = told(named(SPIDERS)).until[0], told(named([10, 5, 2, 1, 1, 1])).until[0]
    assert near.more is not None
    assert near.more.value < 168
    assert not near.far
    assert far.more is not None
    assert 20 < far.more.value < 40
    assert far.far


def test_the_curve_has_about_forty_points():
    assert 35 <= len(told(named(SPIDERS)).curve) <= 40


@settings(max_examples=10, deadline=None)
@given(any_sizes, st.randoms(use_true_random=False))
def test_the_order_of_faults_carries_no_meaning(sizes, random):
    shuffled = random.sample(sizes, len(sizes))
    assert told(named(sizes)) == told(named(shuffled))


@settings(max_examples=15, deadline=None)
@given(any_sizes, any_sizes)
def test_a_coverage_goes_to_json_and_back(listed, others):
    adapter = TypeAdapter(Coverage)
    found = told(named(listed), others)
    assert adapter.validate_json(adapter.dump_json(found)) == found


def test_without_boards_nothing_is_known():
    found = told({"joint": 0})
    assert (found.boards, found.met, found.never_met) == (0, 0, ("joint",))
    assert found.known == Estimate(0.5, 0, 1)
    assert found.sample == Estimate(0, 0, 1)
    assert found.faults is found.unmet is None
    assert found.curve == ()
    assert [(one.reached, one.more) for one in found.until] == [(False, None), (False, None)]


def test_one_board_tells_no_coverage():
    found = told({"joint": 1})
    assert found.sample == Estimate(0, 0, 1)
    assert found.faults is None
    assert found.curve == ()


def test_one_fault_on_all_boards_leaves_room_for_others():
    found = told({"joint": 50})
    assert found.sample.value == 1
    assert 0.9 < found.sample.low < 0.95
    assert found.faults is not None
    assert (found.faults.value, found.faults.low) == (1, 1)
    assert found.faults.high > 2
    assert all(one.reached and one.more is None for one in found.until)


def test_faults_that_were_all_met_once_leave_everything_open():
    found = told({}, [1] * 30)
    assert found.sample.value < 0.01
    assert found.sample.high < 0.2
    assert all(one.more is None and not one.reached for one in found.until)
    assert found.faults is not None
    assert found.faults.high > found.faults.value > 400


def test_a_single_sighting_without_doubles_leaves_room_for_others():
    found = told({"joint": 19, "via": 1})
    assert found.sample.value == 1
    assert found.sample.low < 0.85


def test_counts_that_cannot_be_are_refused():
    with pytest.raises(ValueError, match="counts of 0 or more"):
        told({"joint": -1})
    with pytest.raises(ValueError, match="groups of 1 or more"):
        told({"joint": 1}, [0])


def test_the_same_seed_gives_the_same_curve():
    assert told(named(SPIDERS), seed=4) == told(named(SPIDERS), seed=4)


@pytest.mark.parametrize("boards", [20, 50, 100, 200])
def test_the_interval_of_sample_coverage_holds_the_truth(boards: int):
    # 300 samples of each of 7 communities: no community below 90 %, all together 95 % less 3 standard deviations
    rng = np.random.default_rng(boards)
    rates = []
    for community in COMMUNITIES.values():
        held = 0
        for _ in range(300):
            sizes, unseen = met(rng, community, boards)
            found = sample_coverage(Abundance(np.array(sizes)))
            held += found.low <= 1 - unseen <= found.high
        rates.append(held / 300)
    assert min(rates) >= 0.90
    assert np.mean(rates) >= 0.936


def test_the_curves_intervals_hold_the_expected_coverage():
    rng = np.random.default_rng(7)
    community = COMMUNITIES["three and dust"]
    held = []
    for seed in range(50):
        sizes, _ = met(rng, community, 20)
        for point in told(named(sizes), seed=seed).curve[::5]:
            expected = 1 - float(np.sum(community * (1 - community) ** point.boards))
            held.append(point.coverage.low <= expected <= point.coverage.high)
    assert np.mean(held) >= 0.95
