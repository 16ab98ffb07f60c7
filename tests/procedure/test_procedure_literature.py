"""Published problems with known optima. Every number was recomputed by exhaustive search before it was typed in."""

from itertools import combinations

import numpy as np
import pytest
from planning_oracles import cheapest_order, fixes_in_order, identification

from benchlore.model import Gate
from benchlore.procedure import CheckOption, Cost, FixOption, Instance, Limits, solve_anytime, solve_exact
from benchlore.procedure.arrays import reduced
from benchlore.procedure.bounds import lower_bounds
from benchlore.procedure.estimate import stop_cost
from benchlore.procedure.exact import swept
from benchlore.procedure.lookahead import Search, following_one
from benchlore.procedure.policy import translated
from benchlore.procedure.state import first_state, problem_of
from benchlore.procedure.walk import cost_of

# Pattipati & Alexandridis, "Application of heuristic search and information theory to sequential fault
# diagnosis", IEEE Trans. SMC 20(4), 1990; also Raghavan, Shakeri & Pattipati, IEEE Trans. SMC-A 29(2), 1999.
SIX_STATES = [0.70, 0.01, 0.02, 0.10, 0.05, 0.12]
FIVE_TESTS = [
    (0, 0, 0, 1, 1, 1),
    (0, 1, 0, 0, 1, 1),
    (0, 0, 1, 0, 0, 1),
    (0, 0, 1, 1, 0, 1),
    (0, 1, 0, 1, 0, 0),
]


def first_costs(instance):
    small = reduced(instance)
    costs = swept(small.arrays).action_costs()
    return {instance.checks[c].name: cost for c, cost in zip(small.checks, costs, strict=False)}


def test_six_states_five_tests_cost_2_18_and_begin_with_t2_or_t4():
    instance = identification(SIX_STATES, FIVE_TESTS)
    assert solve_exact(instance).expected == pytest.approx(2.18, abs=1e-9)
    costs = first_costs(instance)
    assert {name for name, cost in costs.items() if cost < 2.18 + 1e-9} == {"t2", "t4"}


def test_greedy_information_gain_costs_2_86_on_the_six_states():
    """The look-ahead of width one is greedy where faults are only identified; the published tree begins with t1."""
    instance = identification(SIX_STATES, FIVE_TESTS)
    small = reduced(instance)
    search = Search(problem_of(small.arrays), 1 << 20, leaf_states=0)
    list(search.compare(following_one(1e-9), lambda: 1_000))
    list(search.deepen(1e-9, lambda: 1_000))
    policy = translated(search.policy(), small.checks, small.fixes, len(instance.checks))
    assert cost_of(policy, instance) == pytest.approx(2.86, abs=1e-9)
    assert instance.checks[policy.action[0]].name == "t1"


def test_five_defects_of_a_circuit_board_need_2_4_tests_and_begin_in_the_middle():
    """Balakrishnan & Semmelbauer, Decision Support Systems, 1999, Table 2; the optimum is derived."""
    tests = [(0, 0, 0, 0, 1), (0, 0, 0, 1, 1), (0, 0, 1, 1, 1), (0, 1, 1, 1, 1)]
    instance = identification([0.2] * 5, tests)
    assert solve_exact(instance).expected == pytest.approx(2.4, abs=1e-9)
    costs = first_costs(instance)
    assert {name for name, cost in costs.items() if cost < 2.4 + 1e-9} == {"t2", "t3"}


HUFFMAN = [0.45, 0.13, 0.12, 0.16, 0.09, 0.05]
"""Cormen, Leiserson, Rivest & Stein, "Introduction to Algorithms", section on Huffman codes: 2.24 bits a symbol."""


def subsets(states):
    """Every split of the states in two, each once."""
    for size in range(1, states):
        for chosen in combinations(range(states), size):
            if 0 in chosen:
                yield tuple(int(k in chosen) for k in range(states))


def test_with_huffmans_splits_among_the_tests_the_optimum_is_huffmans_length():
    """Any set of tests costs at least Huffman's length, so one that holds his splits costs just that."""
    his = [{0}, {1, 2}, {2}, {3}, {4}]
    others = [{0, 1}, {0, 3}, {1, 3, 4}, {2, 3}]
    tests = [tuple(int(k in group) for k in range(6)) for group in his + others]
    assert solve_exact(identification(HUFFMAN, tests)).expected == pytest.approx(2.24, abs=1e-9)


def test_with_all_31_splits_the_search_proves_huffmans_code():
    """Entropy 2.219880 bit, Huffman's code 2.24; greedy splitting in halves costs 2.46."""
    problem = identification(HUFFMAN, list(subsets(6)))
    solution = solve_anytime(problem, limits=Limits(nodes=20_000))
    assert solution.expected == pytest.approx(2.24, abs=1e-9)
    assert solution.proof == "optimal"


@pytest.mark.parametrize(
    ("stages", "tests"), [(4, 2.0), (5, 2.4), (7, 20 / 7), (8, 3.0), (10, 3.4), (13, 49 / 13)]
)
def test_a_signal_chain_is_halved(stages, tests):
    """Equally likely stages in series, "is the fault in stage 1..k?": derived, the optimal alphabetic tree."""
    outcomes = [tuple(int(stage < k) for stage in range(stages)) for k in range(1, stages)]
    assert solve_exact(identification([1 / stages] * stages, outcomes)).expected == pytest.approx(
        tests, abs=1e-9
    )


@pytest.mark.parametrize(("coins", "weighings"), [(3, 2.0), (4, 2.25)])
def test_a_counterfeit_coin_is_weighed_out(coins, weighings):
    """Dyson, "The problem of the pennies", Mathematical Gazette 30, 1946; the expected number is recomputed."""
    states = [(coin, sign) for coin in range(coins) for sign in (-1, 1)]
    tests = []
    for pan in range(1, coins // 2 + 1):
        for left in combinations(range(coins), pan):
            for right in combinations([c for c in range(coins) if c not in left and c > left[0]], pan):
                outcome = tuple(1 + sign * ((coin in left) - (coin in right)) for coin, sign in states)
                tests.append(outcome)
    instance = identification([1 / len(states)] * len(states), tests)
    assert solve_exact(instance).expected == pytest.approx(weighings, abs=1e-9)


@pytest.mark.parametrize("seed", range(8))
def test_without_checks_fixes_go_by_chance_over_cost(seed):
    """Kadane & Simon, "Optimal strategies for a class of constrained sequential problems", Ann. Stat. 5, 1977."""
    rng = np.random.default_rng(seed)
    chances, costs = rng.dirichlet(np.ones(5)), rng.uniform(1, 20, 5)
    instance = fixes_in_order(chances, costs)
    solution = solve_exact(instance)
    assert solution.expected == pytest.approx(cheapest_order(chances, costs), abs=1e-9)
    order = [int(a) for a in solution.policy.action if a >= 0]
    assert order == np.argsort(-chances / costs).tolist()


def test_dependent_fixes_cost_1_45_where_the_ratio_gives_1_50():
    """Vomlelova, "Complexity of decision-theoretic troubleshooting", Int. J. Intelligent Systems 18, 2003."""
    instance = fixes_in_order([0.20, 0.25, 0.40, 0.15], [1.0, 1.0, 1.0], [[0, 1], [1, 2], [2, 3]])
    solution = solve_exact(instance)
    assert solution.expected == pytest.approx(1.45, abs=1e-9)
    assert [instance.fixes[a].name for a in solution.policy.action if a >= 0] == ["a3", "a1"]
    problem = problem_of(reduced(instance).arrays)
    sequence = np.empty(3, dtype=np.int64)
    cost, length = stop_cost(problem, first_state(problem.arrays), 0.0, sequence)
    assert cost == pytest.approx(1.50, abs=1e-9)
    assert sequence[:length].tolist() == [1, 0, 2]


def test_chains_of_inspections_are_interleaved_as_pinedo_does():
    """Pinedo, "Scheduling", chapter 3: chains 1-2-3-4 and 5-6-7, total weighted completion time 1967.

    A job becomes an inspection that finds its fault; its repair is free and waits for that.
    """
    weights, times = [6, 18, 12, 8, 8, 17, 18], [3.0, 6.0, 6.0, 5.0, 4.0, 8.0, 10.0]
    before = {1: 0, 2: 1, 3: 2, 5: 4, 6: 5}
    faults = len(weights)
    checks = tuple(
        CheckOption(
            f"inspect-{k + 1}",
            k,
            ("sound", "found"),
            np.eye(2),
            Cost(hands_on=times[k]),
            gates=(Gate(before[k], (0, 1)),) if k in before else (),
        )
        for k in range(faults)
    )
    instance = Instance(
        faults=tuple(f"f{k + 1}" for k in range(faults)),
        prior=np.array(weights) / sum(weights),
        tables=tuple(np.eye(2)[(np.arange(faults) == k).astype(int)] for k in range(faults)),
        checks=checks,
        fixes=tuple(
            FixOption(f"repair-{k + 1}", np.eye(faults)[k], Cost(), gates=(Gate(k, (1,)),))
            for k in range(faults)
        ),
        setups=(),
        give_up=1e4,
        comeback=1e4,
    )
    solution = solve_exact(instance)
    assert solution.expected == pytest.approx(1967 / 87, abs=1e-9)
    order, node = [], 0
    while (action := solution.policy.action[node]) >= 0 and action < faults:
        order.append(int(action) + 1)
        node = solution.policy.next_of(node)[0]
    assert order == [1, 2, 5, 6, 3, 7, 4]


def test_the_oil_wildcatter_buys_the_seismic_test():
    """Raiffa, "Decision Analysis", 1968; Shenoy, Operations Research 40, 1992: best 22.5, without the test 20.

    Costs are what the payoff falls short of 200. Drilling is a fix after which nothing is ever seen: a wet well
    "comes back" with probability 5/9 and a dry one always, at 270.
    """
    test = np.array([[0.6, 0.3, 0.1], [0.3, 0.4, 0.3], [0.1, 0.4, 0.5]])

    def wildcatter(checks):
        return Instance(
            faults=("dry", "wet", "soaking"),
            prior=np.array([0.5, 0.3, 0.2]),
            tables=(np.eye(3),),
            checks=checks,
            fixes=(FixOption("drill", np.array([0.0, 4 / 9, 1.0]), Cost(), detects=np.zeros(3)),),
            setups=(),
            give_up=200.0,
            comeback=270.0,
        )

    seismic = CheckOption("seismic", 0, ("no structure", "open", "closed"), test, Cost(hands_on=10.0))
    with_test = wildcatter((seismic,))
    solution = solve_exact(with_test)
    assert solution.expected == pytest.approx(200 - 22.5, abs=1e-9)
    assert solve_exact(wildcatter(())).expected == pytest.approx(200 - 20, abs=1e-9)
    nothing, open_, closed = solution.policy.next_of(0)
    assert [int(solution.policy.action[node]) for node in (nothing, open_, closed)] == [-1, 1, 1]
    told = {bound.method: bound.value for bound in lower_bounds(with_test)}["perfect information"]
    assert told == pytest.approx(200 - 20 - 35, abs=1e-9)
