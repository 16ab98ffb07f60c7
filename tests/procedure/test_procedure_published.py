"""Published examples with a known optimum."""

import itertools
from math import inf

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchlore.model import Gate
from benchlore.procedure import CheckOption, Cost, FixOption, Instance, Mode, solve_exact, solve_lookahead

NEVER = 1e6


def unit(amount=1.0):
    return Cost(hands_on=amount)


def identification(prior, outcomes):
    """Unit-cost tests without error; ``outcomes[test][state]``; the job ends when one state is left."""
    prior = np.asarray(prior, dtype=float)
    tables, checks = [], []
    for t, row in enumerate(outcomes):
        results = max(row) + 1
        tables.append(np.eye(results)[list(row)])
        names = tuple(str(r) for r in range(results))
        checks.append(CheckOption(f"t{t + 1}", t, names, np.eye(results), unit()))
    return Instance(
        faults=tuple(f"s{k}" for k in range(len(prior))),
        prior=prior / prior.sum(),
        tables=tuple(tables),
        checks=tuple(checks),
        fixes=(),
        setups=(),
        detects=np.ones(len(prior)),
        give_up=NEVER,
        comeback=NEVER,
        mode=Mode.IDENTIFY,
    )


def repair(prior, cures, costs, *, checks=(), tables=(), gates=(), give_up=NEVER):
    """Fixes with unit retests that never miss; ``cures[fix]`` are the faults that it ends."""
    prior = np.asarray(prior, dtype=float)
    rows = np.zeros((len(cures), len(prior)))
    for a, faults in enumerate(cures):
        rows[a, list(faults)] = 1.0
    waits = gates or [()] * len(cures)
    return Instance(
        faults=tuple(f"f{k}" for k in range(len(prior))),
        prior=prior,
        tables=tables,
        checks=checks,
        fixes=tuple(
            FixOption(f"a{a + 1}", rows[a], unit(cost), gates=waits[a]) for a, cost in enumerate(costs)
        ),
        setups=(),
        detects=np.ones(len(prior)),
        give_up=give_up,
        comeback=give_up,
    )


# Pattipati & Alexandridis, IEEE Trans. SMC 20(4), 1990; reused in Raghavan, Shakeri & Pattipati, IEEE Trans. SMC-A
# 29(2), 1999. The matrix is from memory; the optimum 2.18 was recomputed by exhaustive search.
SIX_STATES = ([0.70, 0.01, 0.02, 0.10, 0.05, 0.12], [
    (0, 0, 0, 1, 1, 1),
    (0, 1, 0, 0, 1, 1),
    (0, 0, 1, 0, 0, 1),
    (0, 0, 1, 1, 0, 1),
    (0, 1, 0, 1, 0, 0),
])  # fmt: skip


def test_six_states_and_five_tests_cost_2_18():
    assert solve_exact(identification(*SIX_STATES)).expected == pytest.approx(2.18, abs=1e-9)


def test_six_states_begin_with_the_second_or_fourth_test():
    prior, outcomes = SIX_STATES
    costs = []
    for first in range(5):
        cost = 1.0
        for result in (0, 1):
            left = [p if outcomes[first][k] == result else 0.0 for k, p in enumerate(prior)]
            rest = [row for t, row in enumerate(outcomes) if t != first]
            cost += sum(left) * solve_exact(identification(left, rest)).expected
        costs.append(cost)
    assert [k for k in range(5) if costs[k] == pytest.approx(2.18, abs=1e-9)] == [1, 3]


# Balakrishnan & Semmelbauer, Decision Support Systems, 1999, tables 1 and 2 (five equally likely defects).
def test_circuit_board_case_base_costs_2_4_tests():
    outcomes = [(0, 0, 0, 0, 1), (0, 0, 0, 1, 1), (0, 0, 1, 1, 1), (0, 1, 1, 1, 1)]
    assert solve_exact(identification([1] * 5, outcomes)).expected == pytest.approx(2.4, abs=1e-9)


# Cormen, Leiserson, Rivest & Stein, Introduction to Algorithms, Huffman codes: weights 45, 13, 12, 16, 9, 5.
def test_with_every_subset_as_a_test_the_optimum_is_the_huffman_length():
    subsets = [bits for bits in itertools.product((0, 1), repeat=6) if bits[0] == 0 and any(bits)]
    # Thirty-one tests are more than a table holds; a Huffman tree needs one of its own splits at each node.
    splits = [{0}, {2, 1}, {3, 5, 4}, {2}, {1}, {3}, {5}, {4}, {5, 4}, {2, 1, 3}]
    chosen = [bits for bits in subsets if {k for k in range(6) if bits[k]} in splits or
              {k for k in range(6) if not bits[k]} in splits]  # fmt: skip
    found = solve_exact(identification([45, 13, 12, 16, 9, 5], chosen)).expected
    assert found == pytest.approx(2.24, abs=1e-9)


# Half-split of a signal chain (derived): n equally likely stages, test k asks whether the fault is in 1..k.
@pytest.mark.parametrize(("stages", "tests"), [(4, 2.0), (5, 2.4), (7, 20 / 7), (8, 3.0), (10, 3.4)])
def test_half_split_of_a_chain(stages, tests):
    outcomes = [tuple(int(s > k) for s in range(stages)) for k in range(stages - 1)]
    assert solve_exact(identification([1] * stages, outcomes)).expected == pytest.approx(tests, abs=1e-9)


# Dyson, The problem of the pennies, Math. Gazette 30, 1946: one of the coins is heavy or light; name coin and kind.
@pytest.mark.parametrize(("coins", "weighings"), [(3, 2.0), (4, 2.25)])
def test_pennies_on_a_balance(coins, weighings):
    states = [(coin, sign) for coin in range(coins) for sign in (1, -1)]
    outcomes = set()
    for size in range(1, coins // 2 + 1):
        for left in itertools.combinations(range(coins), size):
            for right in itertools.combinations(set(range(coins)) - set(left), size):
                if left < right:
                    outcomes.add(
                        tuple(1 + sign * ((coin in left) - (coin in right)) for coin, sign in states)
                    )
    found = solve_exact(identification([1] * len(states), sorted(outcomes))).expected
    assert found == pytest.approx(weighings, abs=1e-9)


# Kadane & Simon 1977; Heckerman, Breese & Rommelse 1995: without checks, descending p/c is optimal.
@given(st.integers(1, 5).flatmap(lambda n: st.tuples(
    st.lists(st.floats(0.01, 1), min_size=n, max_size=n), st.lists(st.floats(0.1, 20), min_size=n, max_size=n)
)))  # fmt: skip
@settings(max_examples=60, deadline=None)
def test_without_checks_the_best_ratio_comes_first(problem):
    weights, costs = problem
    prior = np.array(weights) / sum(weights)
    order = sorted(range(len(costs)), key=lambda k: -prior[k] / costs[k])
    instance = repair(prior, [(k,) for k in range(len(costs))], costs)
    for solve in (solve_exact, solve_lookahead):
        assert solve(instance).expected == pytest.approx(sequence_cost(prior, costs, order), rel=1e-9)
    cheapest = min(sequence_cost(prior, costs, each) for each in itertools.permutations(range(len(costs))))
    assert cheapest == pytest.approx(sequence_cost(prior, costs, order), rel=1e-9)


def sequence_cost(prior, costs, order):
    """Every fix is paid by the boards that the ones before it left uncured."""
    left, total = 1.0, 0.0
    for k in order:
        total += costs[k] * left
        left -= prior[k]
    return total


# Vomlelova, Int. J. Intelligent Systems 18, 2003: dependent actions, where p/c is not optimal (assignment of faults
# to actions rebuilt from the published costs 1.50 and 1.45).
def test_dependent_actions_cost_1_45():
    instance = repair([0.20, 0.25, 0.40, 0.15], [(0, 1), (1, 2), (2, 3)], [1, 1, 1])
    assert solve_exact(instance).expected == pytest.approx(1.45, abs=1e-9)


# Raiffa, Decision Analysis, 1968; Shenoy, Operations Research 40, 1992: the oil wildcatter. Costs are 200 less the
# net gain; the seismic test is a check, drilling a fix that always ends the job, not drilling the return.
def wildcatter(*, test=10.0):
    soil = np.eye(3)
    seismic = np.array([[0.6, 0.3, 0.1], [0.3, 0.4, 0.3], [0.1, 0.4, 0.5]])
    # Drilling nets -70, 50, 200. An uncured board slips through the retest and costs the comeback: with rho = 1 the
    # cost is that of the fix alone (200 - 200 = 0), so a dry hole is a slip with probability 270 / comeback.
    comeback = 540.0
    slips = np.array([270.0, 150.0, 0.0]) / comeback
    return Instance(
        faults=("dry", "wet", "soaking"),
        prior=np.array([0.5, 0.3, 0.2]),
        tables=(soil,),
        checks=(CheckOption("seismic", 0, ("none", "open", "closed"), seismic, unit(test)),),
        fixes=(FixOption("drill", 1 - slips, Cost()),),
        setups=(),
        detects=np.zeros(3),
        give_up=200.0,
        comeback=comeback,
    )


def test_the_wildcatter_tests_and_nets_22_5():
    assert 200 - solve_exact(wildcatter()).expected == pytest.approx(22.5, abs=1e-9)
    assert 200 - solve_exact(wildcatter(test=1000.0)).expected == pytest.approx(20.0, abs=1e-9)


def test_the_wildcatters_test_is_worth_12_5():
    free, none = solve_exact(wildcatter(test=0.0)).expected, solve_exact(wildcatter(test=1e5)).expected
    assert none - free == pytest.approx(12.5, abs=1e-9)


def test_the_wildcatters_bound_is_perfect_information_or_better():
    solution = solve_lookahead(wildcatter())
    assert (
        200 - 55.0 <= solution.bound + 1e-9 <= solution.expected + 1e-9
    )  # 20 and the 35 of perfect information
    assert solution.bound < inf


def test_a_gate_on_a_check_that_nobody_makes_keeps_a_fix_shut():
    table = np.array([[1.0, 0.0], [0.0, 1.0]])
    checks = (CheckOption("look", 0, ("yes", "no"), table, unit(5.0)),)
    gate = ((Gate(0, (0,)),),)
    instance = repair(
        [0.5, 0.5], [(0, 1)], [1.0], checks=checks, tables=(np.eye(2),), gates=gate, give_up=20.0
    )
    # Look (5); if "yes" (half) fix for 1, else return for 20.
    assert solve_exact(instance).expected == pytest.approx(5 + 0.5 * 1 + 0.5 * 20, abs=1e-9)
