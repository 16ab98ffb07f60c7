"""Published problems with known optima. Every number was recomputed by exhaustive search before it was typed in."""

from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest
from planning_oracles import cheapest_order, fixes_in_order, identification

from benchlore.model import Gate
from benchlore.procedure import (
    CheckOption,
    Cost,
    FixOption,
    Instance,
    Limits,
    Mode,
    solve_anytime,
    solve_exact,
)
from benchlore.procedure.arrays import reduced
from benchlore.procedure.bounds import lower_bounds
from benchlore.procedure.estimate import stop_cost
from benchlore.procedure.exact import swept
from benchlore.procedure.habits import most_telling
from benchlore.procedure.lookahead import Search, following_one
from benchlore.procedure.policy import RETURN, PolicyBuilder, translated
from benchlore.procedure.state import first_state, information, problem_of, results_of
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
    habit = most_telling(instance)
    assert habit.expected == pytest.approx(2.86, abs=1e-9)
    assert instance.checks[habit.policy.action[0]].name == "t1"


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


def test_the_price_of_information_comes_close_to_shannons_bound():
    """Entropy 2.219880 bit, Huffman's code 2.24: all 31 splits, each read off a condition of its own."""
    problem = identification(HUFFMAN, list(subsets(6)))
    apart = replace(
        problem,
        tables=problem.tables * len(problem.checks),
        checks=tuple(replace(check, condition=g) for g, check in enumerate(problem.checks)),
    )
    bounds = {bound.method: bound.value for bound in lower_bounds(apart)}
    assert 0.97 * 2.219880 <= bounds["price of information"] <= 2.24


@pytest.mark.parametrize(
    ("chances", "share"),
    [
        (np.full(16, 1 / 16), 0.7),
        (np.full(32, 1 / 32), 0.7),
        (0.8 ** np.arange(24) / (0.8 ** np.arange(24)).sum(), 0.98),
        (0.9 ** np.arange(40) / (0.9 ** np.arange(40)).sum(), 0.98),
    ],
)
def test_without_checks_the_price_of_information_bounds_guesses_better_than_entropy(chances, share):
    """Fixes tried one by one are guesses: Massey, "Guessing and entropy", IEEE ISIT 1994.

    The least mean number of guesses takes the likeliest first; it is at least ``2**H / 4 + 1`` for ``H`` of two
    bits or more (his theorem), and close to a multiple of ``2**H`` where chances fall geometrically.
    """
    guesses = Instance(
        faults=tuple(f"f{k}" for k in range(len(chances))),
        prior=chances,
        tables=(),
        checks=(),
        fixes=tuple(
            FixOption(f"a{k}", row, Cost(hands_on=1.0)) for k, row in enumerate(np.eye(len(chances)))
        ),
        setups=(),
        give_up=1000.0,
        comeback=1000.0,
    )
    exact = float(chances @ np.arange(1, len(chances) + 1))
    massey = 2.0 ** -(chances @ np.log2(chances)) / 4 + 1
    bound = max(b.value for b in lower_bounds(guesses, states=16) if b.method == "price of information")
    assert massey < share * exact <= bound <= exact


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


def chain(stages):
    """Equally likely stages in series; each test has a condition of its own, "the signal is still good here"."""
    return Instance(
        faults=tuple(f"stage-{k + 1}" for k in range(stages)),
        prior=np.full(stages, 1 / stages),
        tables=tuple(np.eye(2)[(np.arange(stages) < k).astype(int)] for k in range(1, stages)),
        checks=tuple(
            CheckOption(f"after-{k}", k - 1, ("good", "dead"), np.eye(2), Cost(hands_on=1.0))
            for k in range(1, stages)
        ),
        fixes=(),
        setups=(),
        give_up=1e6,
        comeback=1e6,
        mode=Mode.IDENTIFY,
    )


def test_a_chain_of_sixteen_stages_is_halved_four_times():
    """Half-split, derived: log2 16 = 4. The look-ahead finds it and the price of information proves it."""
    solution = solve_anytime(chain(16), limits=Limits(nodes=4_000))
    assert solution.expected == pytest.approx(4.0, abs=1e-9)
    assert solution.bound == pytest.approx(4.0, abs=1e-6)
    assert solution.policy.action[0] == 7  # between the eighth and the ninth stage
    assert solution.policy.size == 15 + 16


# Quinlan, "Induction of decision trees", Machine Learning 1, 1986; Mitchell, "Machine Learning", 1997, Table 3.2.
TENNIS = """
sunny hot high weak no; sunny hot high strong no; overcast hot high weak yes; rain mild high weak yes;
rain cool normal weak yes; rain cool normal strong no; overcast cool normal strong yes; sunny mild high weak no;
sunny cool normal weak yes; rain mild normal weak yes; sunny mild normal strong yes; overcast mild high strong yes;
overcast hot normal weak yes; rain mild high strong no
"""


def tennis(keep):
    """The rows that ``keep`` accepts as a problem: "no" and "yes" are the faults, the weather is checked."""
    rows = [row.split() for row in TENNIS.split(";") if keep(row.split())]
    faults = ("no", "yes")
    shares = np.array([sum(row[-1] == fault for row in rows) for fault in faults]) / len(rows)
    tables, checks = [], []
    for place, name in enumerate(("outlook", "temperature", "humidity", "wind")):
        values = sorted({row[place] for row in rows})
        counts = np.array(
            [[sum(row[place] == v and row[-1] == f for row in rows) for v in values] for f in faults]
        )
        tables.append(counts / counts.sum(axis=1, keepdims=True))
        checks.append(CheckOption(name, place, tuple(values), np.eye(len(values)), Cost(hands_on=1.0)))
    return Instance(faults, shares, tuple(tables), tuple(checks), (), (), 1e3, 1e3, mode=Mode.IDENTIFY)


@pytest.mark.parametrize(
    ("keep", "gains"),
    [
        (
            lambda _: True,
            {"outlook": 0.246750, "temperature": 0.029223, "humidity": 0.151836, "wind": 0.048127},
        ),
        (lambda row: row[0] == "sunny", {"humidity": 0.970951, "temperature": 0.570951, "wind": 0.019973}),
    ],
)
def test_checks_tell_as_many_bits_as_quinlans_attributes(keep, gains):
    """The books print 0.246, 0.029, 0.151, 0.048: cut off, not rounded."""
    instance = tennis(keep)
    problem = problem_of(reduced(instance).arrays)
    state = first_state(problem.arrays)
    names = [instance.checks[c].name for c in reduced(instance).checks]
    for name, bits in gains.items():
        joint = np.empty((problem.arrays.shows.shape[2], 2))
        results_of(problem, state, names.index(name), joint)
        told = information(problem, state, names.index(name), joint)
        assert told / np.log(2) == pytest.approx(bits, abs=1e-6)


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


@pytest.mark.parametrize(
    ("order", "cost"),
    [
        ([2, 3, 1], 1.55),
        ([2, 1, 3], 1.50),
        ([3, 1], 1.45),
        ([1, 2, 3], 1.70),
        ([1, 3], 1.55),
        ([3, 2, 1], 1.65),
    ],
)
def test_every_sequence_of_the_dependent_fixes_costs_what_is_published(order, cost):
    """The same source and Ottosen, "Solutions and heuristics for troubleshooting", 2012; greedy by ratio is 1.55."""
    instance = fixes_in_order([0.20, 0.25, 0.40, 0.15], [1.0, 1.0, 1.0], [[0, 1], [1, 2], [2, 3]])
    builder, before = PolicyBuilder(), None
    for fix in order:
        node = builder.add(fix - 1, 2)
        if before is not None:
            builder.link(before, 0, node)
        before = node
    builder.link(before, 0, builder.add(RETURN))
    assert cost_of(builder.build(), instance) == pytest.approx(cost, abs=1e-9)


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
