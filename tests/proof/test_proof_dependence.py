"""Tests of independence: the statistic, its tail probabilities, what is planted is found."""

from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import TypeAdapter
from scipy import stats
from sklearn.metrics import mutual_info_score

from benchlore.model import Cases, exact_densities, model_of, named_check, numeric_check, result_of, simulate
from benchlore.proof import Between, Dependence, dependence_of
from benchlore.proof.chance_finds import shares_of_chance
from benchlore.proof.dependence_kernels import shuffles, table_information
from benchlore.units import Measure

NOTHING = np.empty(0, dtype=np.int64)


def cases_of(results, faults, values=None):
    """All checks read on all boards; ``values`` ``(J, C)`` are numbers where they are not NaN."""
    results = np.array(results)
    job, check = np.nonzero(results >= -1)
    numbers = np.zeros(len(job)) if values is None else np.nan_to_num(values[job, check])
    raw = np.zeros(len(job), dtype=bool) if values is None else ~np.isnan(values[job, check])
    return Cases(
        complaints=np.zeros(len(faults), dtype=np.int64),
        faults=np.array(faults),
        reading_jobs=job,
        reading_checks=check,
        reading_results=np.where(raw, -1, results[job, check]),
        reading_values=numbers,
        attempt_jobs=NOTHING,
        attempt_fixes=NOTHING,
        attempt_outcomes=NOTHING,
        attempt_soaked=np.array([]),
    )


def independent_model(checks=10, faults=4, seed=0):
    """Each check reads a condition of its own; the last fault is unlisted."""
    rng = np.random.default_rng(seed)
    states = [rng.dirichlet([3, 3], faults) for _ in range(checks)]
    prior = [*np.full(faults - 1, 0.9 / (faults - 1)), 0.1]
    return model_of(prior, states, [named_check(f"c{c}", c, [[0.9, 0.1], [0.2, 0.8]]) for c in range(checks)])


def information(first, second, strata):
    order = np.argsort(strata, kind="stable")
    starts = np.append(np.unique(np.array(strata)[order], return_index=True)[1], len(order))
    columns = [np.array(column)[order] for column in (first, second)]
    return table_information(*columns, starts, np.array([max(first) + 1, max(second) + 1]))


def test_two_coins_tell_of_each_other_once_their_sum_is_known():
    # Cover & Thomas 2006, "Elements of Information Theory", 2nd edition, section 2.8: X and Y independent fair
    # bits, Z = X + Y, then I(X; Y) = 0 but I(X; Y | Z) = 1/2 bit. (From memory.)
    x, y = np.array([0, 0, 1, 1] * 5), np.array([0, 1, 0, 1] * 5)
    assert information(x, y, np.zeros(20, dtype=int)) == pytest.approx(0, abs=1e-12)
    assert information(x, y, x + y) == pytest.approx(0.5, abs=1e-12)


@pytest.mark.parametrize("seed", range(5))
def test_information_is_that_of_a_general_library(seed):
    # scikit-learn's mutual_info_score in nats, stratum by stratum.
    rng = np.random.default_rng(seed)
    strata, x = rng.integers(0, 4, 120), rng.integers(0, 3, 120)
    y = np.where(rng.random(120) < 0.4, x, rng.integers(0, 4, 120))
    expected = sum(
        (strata == z).mean() * mutual_info_score(x[strata == z], y[strata == z]) for z in np.unique(strata)
    )
    assert information(x, y, strata) == pytest.approx(expected / np.log(2), abs=1e-12)


def test_shuffles_keep_to_their_stratum():
    # Between two strata that each have one value nothing can change, however different the strata are.
    x = np.repeat([0, 1], 10)
    made, beyond, mean = shuffles(
        x, x, np.array([0, 10, 20]), np.array([2, 2]), 50, 50, np.random.default_rng(0)
    )
    assert (made, beyond, mean) == (50, 50, 0.0)


def test_a_permutation_tail_is_that_of_fishers_exact_test():
    # In a 2 × 2 table, a shuffle has at least the information of [[5, 0], [0, 5]] with probability
    # 2 / C(10, 5) (Fisher's exact test, two-sided).
    x = np.repeat([0, 1], 5)
    made, beyond, _ = shuffles(
        x, x, np.array([0, 10]), np.array([2, 2]), 40_000, 40_000, np.random.default_rng(1)
    )
    assert beyond / made == pytest.approx(2 / 252, abs=4 * np.sqrt(2 / 252 / 40_000))


def test_false_discovery_shares_are_those_of_the_published_example():
    # Benjamini & Hochberg 1995, Journal of the Royal Statistical Society B 57, 289-300, section 3.2 (Neuhaus et
    # al. 1992): of these fifteen the procedure at 0.05 rejects the four smallest.
    tails = (
        "0.0001 0.0004 0.0019 0.0095 0.0201 0.0278 0.0298 0.0344 0.0459 0.3240 0.4262 0.5719 0.6528 0.7590 1"
    )
    surprises = [float(tail) for tail in tails.split()]
    assert (shares_of_chance(surprises) <= 0.05).sum() == 4


@given(st.lists(st.floats(0, 1), max_size=30))
def test_false_discovery_shares_are_those_of_scipy(surprises):
    expected = stats.false_discovery_control(surprises) if surprises else []
    np.testing.assert_allclose(shares_of_chance(surprises), expected, rtol=1e-12)


def test_tails_are_uniform_where_the_model_holds():
    model, tails, found = independent_model(), [], 0
    for seed in range(4):
        drawn = simulate(model, np.random.default_rng(seed), 250)
        out = dependence_of(model, cases_of(drawn.results, drawn.faults), rng=np.random.default_rng(seed))
        tails += [one.p for one in out]
        found += sum(one.found for one in out)
    # 180 pairs. Ties make the tails a little too large, never too small: four standard errors on that side.
    assert np.mean(np.array(tails) <= 0.05) < 0.05 + 4 * np.sqrt(0.05 * 0.95 / 180)
    assert 0.35 < np.mean(np.array(tails) <= 0.5) < 0.5 + 4 * np.sqrt(0.25 / 180)
    assert found <= 1


def dependent_boards(seed=0, boards=200):
    """Independent checks, but c3 and c7 see the same hidden thing, which no fault explains."""
    model = independent_model()
    rng = np.random.default_rng(seed)
    drawn = simulate(model, rng, boards)
    results = drawn.results.copy()
    results[:, 7] = np.where(rng.random(boards) < 0.5, results[:, 3], results[:, 7])
    return model, results, drawn.faults


def test_a_planted_dependence_is_found_and_nothing_else():
    model, results, faults = dependent_boards()
    first, *others = dependence_of(model, cases_of(results, faults), rng=np.random.default_rng(0))
    assert (first.checks, first.conditions, first.between) == (("c3", "c7"), ("g3", "g7"), Between.CONDITIONS)
    assert first.found
    assert first.q < 0.01
    assert 0 < first.excess_bits < first.bits
    assert first.boards == (np.array(faults) < 3).sum()
    assert first.proposal.startswith("Give 'c3' and 'c7' one condition")
    assert [one.checks for one in others if one.found] == []


def test_the_excess_of_independent_checks_is_about_nothing():
    model = independent_model()
    drawn = simulate(model, np.random.default_rng(5), 300)
    out = dependence_of(model, cases_of(drawn.results, drawn.faults), rng=np.random.default_rng(0))
    assert len(out) == len(list(combinations(range(10), 2)))
    assert np.mean([one.excess_bits for one in out]) == pytest.approx(0, abs=0.001)
    assert np.mean([one.bits for one in out]) > 0.004  # the plug-in estimate alone would be too large


def test_only_boards_with_a_listed_confirmed_fault_count():
    model, results, faults = dependent_boards()
    for other in (-1, 3):  # unknown, unlisted
        assert (
            dependence_of(model, cases_of(results, np.full(200, other)), rng=np.random.default_rng(0)) == ()
        )
    few = np.where(np.arange(200) < 19, faults % 3, -1)
    assert dependence_of(model, cases_of(results, few), rng=np.random.default_rng(0)) == ()


def test_a_dependence_that_the_fault_explains_is_none():
    states = [[[1, 0], [0, 1], [0.5, 0.5]]] * 2
    checks = [named_check(f"c{c}", c, [[0.9, 0.1], [0.1, 0.9]]) for c in range(2)]
    model = model_of([0.5, 0.4, 0.1], states, checks)
    drawn = simulate(model, np.random.default_rng(0), 300)
    (only,) = dependence_of(model, cases_of(drawn.results, drawn.faults), rng=np.random.default_rng(0))
    assert not only.found
    assert only.bits < 0.02


def test_numbers_count_as_the_bands_that_they_fall_into():
    named, results, faults = dependent_boards()
    volts = numeric_check("volts", 3, exact_densities(Measure.VOLTAGE, [1.0, 2.0], [0.1, 0.1]))
    checks = (*named.checks[:3], volts, *named.checks[4:])
    model = replace(named, checks=checks)
    values = np.full(results.shape, np.nan)
    values[:, 3] = 1.0 + results[:, 3]
    assert len({result_of(volts, 1.0), result_of(volts, 2.0)}) == 2
    first = dependence_of(model, cases_of(results, faults, values), rng=np.random.default_rng(0))[0]
    plain = dependence_of(named, cases_of(results, faults), rng=np.random.default_rng(0))[0]
    assert (first.checks, first.bits) == (("volts", "c7"), pytest.approx(plain.bits))


def three_on_one(boards, seed, missed_together):
    """Three checks on one condition; the first two may miss what is there on the same boards."""
    model = model_of(
        [0.45, 0.45, 0.1],
        [[[0.1, 0.9], [0.6, 0.4], [0.5, 0.5]]],
        [named_check(f"c{c}", 0, [[0.95, 0.05], [0.2, 0.8]]) for c in range(3)],
    )
    rng = np.random.default_rng(seed)
    drawn = simulate(model, rng, boards)
    results = drawn.results.copy()
    if missed_together:
        bad = drawn.states[:, 0] == 1
        miss = rng.random(boards) < 0.2
        results[bad, 0] = results[bad, 1] = np.where(miss[bad], 0, 1)
    return model, cases_of(results, drawn.faults)


def test_checks_on_one_condition_that_err_together_are_found():
    out = dependence_of(*three_on_one(300, 0, missed_together=True), rng=np.random.default_rng(0))
    assert [one.checks for one in out if one.found] == [("c0", "c1")]
    assert out[0].between is Between.READINGS
    assert out[0].proposal.startswith("Give condition 'g0' one more state")


def test_checks_on_one_condition_may_agree_through_its_state():
    for seed in range(5):
        out = dependence_of(*three_on_one(300, seed, missed_together=False), rng=np.random.default_rng(0))
        assert len(out) == 3
        assert [one for one in out if one.found] == []


def test_no_readings_give_no_pairs():
    model = independent_model()
    empty = cases_of(np.full((0, 10), 0), np.empty(0, dtype=np.int64))
    assert dependence_of(model, empty, rng=np.random.default_rng(0)) == ()


def test_equal_chance_gives_equal_reports_that_go_to_json_and_back():
    model, results, faults = dependent_boards(boards=80)
    out = [dependence_of(model, cases_of(results, faults), rng=np.random.default_rng(3)) for _ in range(2)]
    assert out[0] == out[1]
    adapter = TypeAdapter(tuple[Dependence, ...])
    assert adapter.validate_json(adapter.dump_json(out[0])) == out[0]
