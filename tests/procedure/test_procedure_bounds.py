from dataclasses import replace
from math import log

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from planning_oracles import brute_force, identification, odd_instance
from soaking_boards import overlooking

from benchlore.procedure import CheckOption, Cost, FixOption, Instance, SetupOption, lower_bound, solve_exact
from benchlore.procedure.arrays import reduced
from benchlore.procedure.bounds import lower_bounds
from benchlore.procedure.sales import MOST_CODES, expected_laws, first_sales, laws, open_checks, sales
from benchlore.procedure.state import first_state, problem_of
from benchlore.procedure.told import MOST_CURES, none_tried, told_costs
from benchlore.procedure.tries import Tries
from random_instances import random_instance

seeds = st.integers(0, 1_000_000)


@given(seeds, st.sampled_from([1 << 4, 1 << 8, 1 << 12]))
@settings(max_examples=60, deadline=None)
def test_no_bound_exceeds_the_optimum_of_a_board(seed, states):
    rng = np.random.default_rng(seed)
    size = (
        int(rng.integers(2, 8)),
        int(rng.integers(1, 6)),
        int(rng.integers(0, 8)),
        int(rng.integers(0, 6)),
    )
    instance = random_instance(rng, size, gates=0.3, setups=int(rng.integers(0, 4)))
    optimum = solve_exact(instance).expected
    for bound in lower_bounds(instance, states=states):
        assert bound.value <= optimum + 1e-9, bound.method


@given(seeds, st.sampled_from([1, 4, 32]))
@settings(max_examples=48, deadline=None)
def test_no_bound_exceeds_the_optimum_of_an_odd_problem(seed, states):
    instance = odd_instance(np.random.default_rng(seed))
    optimum = brute_force(instance)
    for bound in lower_bounds(instance, states=states):
        assert bound.value <= optimum + 1e-9, bound.method


@given(seeds)
@settings(max_examples=30, deadline=None)
def test_no_bound_exceeds_the_optimum_of_an_identification(seed):
    rng = np.random.default_rng(seed)
    states = int(rng.integers(2, 7))
    tests = rng.integers(0, 2, size=(6, states)).tolist()
    instance = identification(rng.dirichlet(np.ones(states)), tests, rng.uniform(0.5, 3, 6))
    optimum = solve_exact(instance).expected
    for bound in lower_bounds(instance):
        assert bound.value <= optimum * (1 + 1e-9), bound.method


def readers(rng, results, *, conditions=1):
    """A board with several checks on each condition; all but the first need a setup of their own."""
    faults, setups = int(rng.integers(2, 5)), int(rng.integers(1, 4))
    states = [int(rng.integers(2, 5)) for _ in range(conditions)]
    return Instance(
        faults=tuple(f"f{k}" for k in range(faults)),
        prior=rng.dirichlet(np.full(faults, 2.0)),
        tables=tuple(rng.dirichlet(np.full(count, 0.3), size=faults) for count in states),
        checks=tuple(
            CheckOption(
                f"c{g}-{k}",
                g,
                tuple(map(str, range(count))),
                rng.dirichlet(np.full(count, 0.3), size=states[g]),
                Cost(hands_on=rng.uniform(0.2, 6.0)),
                setups=0 if k == 0 else 1 << int(rng.integers(setups)),
            )
            for g in range(conditions)
            for k, count in enumerate(results)
        ),
        fixes=tuple(
            FixOption(f"a{k}", rng.uniform(0.8, 1.0) * row, Cost(parts=rng.uniform(10.0, 60.0)))
            for k, row in enumerate(np.eye(faults))
        ),
        setups=tuple(
            SetupOption(f"s{k}", Cost(setups=rng.uniform(0.5, 12.0)), 1 << k) for k in range(setups)
        ),
        give_up=rng.uniform(80.0, 200.0),
        comeback=250.0,
    )


@given(seeds)
@settings(max_examples=40, deadline=None)
def test_no_bound_exceeds_the_optimum_where_several_checks_read_a_condition(seed):
    instance = readers(np.random.default_rng(seed), (2, 3, 2), conditions=2)
    optimum = solve_exact(instance).expected
    for bound in lower_bounds(instance, states=1):
        assert bound.value <= optimum + 1e-9, bound.method


def most_sold(shows, costs, own, mixed, price, first=None):
    """What is sold at most beyond its cost, by trying every order; ``first`` is done first, if given."""
    best = 0.0 if first is None else -np.inf
    for k in range(len(shows)) if first is None else (first,):
        others = [j for j in range(len(shows)) if j != k]
        sale = -costs[k]
        for column in shows[k].T:
            chance, expected = own @ column, mixed @ column
            if chance > 0:
                sale += chance * price * log(chance / expected)
                sale += chance * most_sold(
                    [shows[j] for j in others],
                    [costs[j] for j in others],
                    own * column / chance,
                    mixed * column / expected,
                    price,
                )
        best = max(best, sale)
    return best


def firsts_of(instance, prices):
    problem = problem_of(reduced(instance).arrays)
    state = first_state(problem.arrays)
    left = open_checks(problem.arrays, state.digits)
    return first_sales(problem, state, left, prices, expected_laws(problem, state))[:, 0]


@given(seeds, st.floats(1.0, 60.0))
@settings(max_examples=25, deadline=None)
def test_what_a_check_sells_as_the_first_on_its_condition_is_that_of_the_best_order(seed, price):
    instance = readers(np.random.default_rng(seed), (2, 3, 2))
    firsts = firsts_of(instance, np.full(len(instance.faults), price))
    shows = [check.table for check in instance.checks]
    costs = [check.cost.total for check in instance.checks]
    for f, own in enumerate(instance.tables[0]):
        for k in range(len(shows)):
            sold = most_sold(shows, costs, own, instance.prior @ instance.tables[0], price, first=k)
            assert firsts[f, k] == pytest.approx(sold, rel=1e-9, abs=1e-9)


@given(seeds, st.floats(1.0, 60.0))
@settings(max_examples=10, deadline=None)
def test_where_a_condition_has_too_many_joint_results_no_less_is_sold(seed, price):
    instance = readers(np.random.default_rng(seed), (4, 4, 4, 4))
    assert MOST_CODES < 5**4
    firsts = firsts_of(instance, np.full(len(instance.faults), price))
    shows = [check.table for check in instance.checks]
    costs = [check.cost.total for check in instance.checks]
    for f, own in enumerate(instance.tables[0]):
        sold = most_sold(shows[:2], costs[:2], own, instance.prior @ instance.tables[0], price, first=0)
        assert firsts[f, 0] >= sold - 1e-9


def test_the_relaxed_sweep_is_the_optimum_when_everything_fits():
    instance = random_instance(np.random.default_rng(3), (6, 4, 5, 4))
    bound = lower_bound(instance)
    assert bound.method == "relaxed sweep"
    assert bound.value == pytest.approx(solve_exact(instance).expected, abs=1e-9)


def one_check(table):
    return Instance(
        faults=tuple(f"f{k}" for k in range(len(table))),
        prior=np.full(len(table), 1 / len(table)),
        tables=(np.eye(len(table)),),
        checks=(CheckOption("c", 0, tuple(map(str, range(len(table[0])))), np.array(table), Cost()),),
        fixes=tuple(FixOption(f"a{k}", row, Cost()) for k, row in enumerate(np.eye(len(table)))),
        setups=(),
        give_up=10.0,
        comeback=10.0,
    )


def sold(instance, price):
    problem = problem_of(reduced(instance).arrays)
    state = first_state(problem.arrays)
    left = open_checks(problem.arrays, state.digits)
    prices = np.full(len(state.b), price)
    firsts = first_sales(
        problem, state, left, prices, laws(problem, state, left, prices, expected_laws(problem, state), 30, 0)
    )
    return sales(problem.arrays, firsts, left, 0)[0]


@pytest.mark.parametrize(
    ("table", "nats"),
    [
        ([[0.9, 0.1], [0.1, 0.9]], log(2) + 0.1 * log(0.1) + 0.9 * log(0.9)),  # binary symmetric
        ([[0.7, 0.0, 0.3], [0.0, 0.7, 0.3]], 0.7 * log(2)),  # binary erasure
        ([[1.0, 0.0], [0.0, 1.0]], log(2)),
    ],
)
def test_a_symmetric_channel_sells_its_capacity_to_equal_faults(table, nats):
    """Cover & Thomas, "Elements of Information Theory", 2nd edition, section 7.1; uniform inputs reach it."""
    assert sold(one_check(table), 3.0) == pytest.approx(np.full(2, 3.0 * nats), abs=1e-12)


def test_a_dear_check_sells_no_more_than_its_capacity_whoever_asks():
    """A sure sign of one rare fault tells it 3 nats; a law between the two rows leaves either at most log 2."""
    instance = one_check([[1.0, 0.0], [0.0, 1.0]])
    rare = replace(
        instance,
        prior=np.array([0.05, 0.95]),
        checks=(replace(instance.checks[0], cost=Cost(hands_on=10.0 * log(2) + 2.0)),),
    )
    assert 10.0 * -log(0.05) > 29.0
    assert sold(rare, 10.0) == pytest.approx([0.0, 0.0])


def test_a_check_sells_nothing_below_its_cost():
    instance = one_check([[1.0, 0.0], [0.0, 1.0]])
    dear = replace(instance, checks=(replace(instance.checks[0], cost=Cost(hands_on=2.0)),))
    assert sold(dear, 2.0) == pytest.approx([0.0, 0.0])
    assert sold(dear, 4.0) == pytest.approx(np.full(2, 4.0 * log(2) - 2.0))


def soaked(rng):
    """A board whose fixes come with two soaks, and whose retests overlook much."""
    return overlooking(random_instance(rng, (6, 3, 3, 5)), rng)


@given(seeds)
@settings(max_examples=25, deadline=None)
def test_no_price_of_information_exceeds_the_optimum_where_fixes_have_soaks(seed):
    instance = soaked(np.random.default_rng(seed))
    optimum = solve_exact(instance).expected
    for bound in lower_bounds(instance, states=1):
        assert bound.value <= optimum + 1e-9, bound.method


@given(seeds, st.floats(1.0, 60.0), st.floats(0.1, 5.0))
@settings(max_examples=25, deadline=None)
def test_the_slopes_of_what_wrong_fixes_sell_are_slopes(seed, price, blur):
    rng = np.random.default_rng(seed)
    arrays = reduced(soaked(rng)).arrays
    tries = Tries(arrays)
    faults, fixes = len(arrays.prior), len(arrays.fix_cost)
    prices, logits = price * rng.uniform(0.5, 2.0, faults), rng.uniform(-3.0, 3.0, fixes)
    weights, ends = rng.random((fixes + 1, faults)), np.arange(fixes + 1)
    step = 1e-6

    def at(prices, logits):
        return tries.sales(prices, 1 / (1 + np.exp(-logits)), blur)

    sales = at(prices, logits)
    change = (at(prices * (1 + step), logits).off - at(prices * (1 - step), logits).off) / (2 * step * prices)
    assert change == pytest.approx(sales.slope, rel=1e-4, abs=1e-4)
    slope = tries.going_slope(sales, weights * prices, ends, 1 / (1 + np.exp(-logits)))
    for a in range(fixes):
        one = step * (np.arange(fixes) == a)
        change = (weights * (at(prices, logits + one).off - at(prices, logits - one).off)).sum() / (2 * step)
        assert -change == pytest.approx(slope[a], rel=1e-4, abs=1e-3)


def known_fault(cures, costs, setups, detect=1.0):
    """One fault and the fixes that may cure it; setup ``u0`` costs 20."""
    return Instance(
        faults=("f",),
        prior=np.ones(1),
        tables=(),
        checks=(),
        fixes=tuple(
            FixOption(f"a{k}", np.array([rho]), Cost(hands_on=cost), setup, detects=np.array([detect]))
            for k, (rho, cost, setup) in enumerate(zip(cures, costs, setups, strict=True))
        ),
        setups=(SetupOption("u0", Cost(setups=20.0), 1),),
        give_up=200.0,
        comeback=300.0,
    )


@pytest.mark.parametrize("detect", [1.0, 0.6])
def test_perfect_information_is_the_optimum_where_only_one_fault_is_possible(detect):
    instance = known_fault([0.5, 0.8, 0.4, 0.9], [10.0, 30.0, 5.0, 60.0], [1, 0, 1, 0], detect)
    problem = problem_of(reduced(instance).arrays)
    assert told_costs(problem, 0, none_tried(problem))[0] == pytest.approx(brute_force(instance), abs=1e-9)


def test_with_very_many_fixes_for_a_fault_setups_are_left_out():
    count = MOST_CURES + 1
    free = known_fault([0.3] * count, list(range(5, 5 + count)), [0] * count)
    problem = problem_of(reduced(free).arrays)
    bound = told_costs(problem, 0, none_tried(problem))[0]
    assert bound == pytest.approx(solve_exact(free).expected, abs=1e-9)
    with_setups = known_fault([0.3] * count, list(range(5, 5 + count)), [1] * count)
    problem = problem_of(reduced(with_setups).arrays)
    assert told_costs(problem, 0, none_tried(problem))[0] == pytest.approx(bound, abs=1e-9)
    assert solve_exact(with_setups).expected > bound


def test_checks_that_tell_only_together_still_sell_information():
    """Alone each result is as likely under either fault, so the channel from fault to result would sell nothing.

    Whether both agree is a Z-channel (Cover & Thomas, "Elements of Information Theory", 2nd edition, problem
    7.8): f0 always agrees, f1 half the time.
    """
    either = np.array([[1.0, 0.0], [0.0, 1.0], [0.5, 0.5]])
    instance = Instance(
        faults=("f0", "f1"),
        prior=np.array([0.5, 0.5]),
        tables=(np.array([[0.5, 0.5, 0.0], [0.0, 0.0, 1.0]]),),
        checks=tuple(
            CheckOption(name, 0, ("yes", "no"), either, Cost(hands_on=1.0)) for name in ("one", "two")
        ),
        fixes=tuple(FixOption(f"a{k}", np.eye(2)[k], Cost(hands_on=40.0)) for k in range(2)),
        setups=(),
        give_up=500.0,
        comeback=500.0,
    )
    assert brute_force(instance) == pytest.approx(52.0)
    free = replace(instance, checks=tuple(replace(check, cost=Cost()) for check in instance.checks))
    assert sold(free, 10.0) == pytest.approx([10.0 * log(4 / 3), 5.0 * log(4 / 3)])
    for bound in lower_bounds(instance, states=1):
        assert bound.value <= 52.0, bound.method


def test_a_setup_that_the_part_has_made_is_not_paid_again_outside_it():
    """The dear check with many results stays outside the part and is needed on a rare branch, with the board open."""
    faults = np.eye(3)
    rare = np.zeros((3, 10))
    rare[[0, 1, 2], [0, 0, 9]] = 1.0
    instance = Instance(
        faults=("common", "left", "right"),
        prior=np.array([0.8, 0.1, 0.1]),
        tables=(faults,),
        checks=(
            CheckOption(
                "sort", 0, ("common", "rare"), np.array([[1, 0], [0, 1], [0, 1.0]]), Cost(hands_on=1.0), 1
            ),
            CheckOption("image", 0, tuple(f"r{k}" for k in range(10)), rare, Cost(hands_on=30.0), 1),
        ),
        fixes=tuple(
            FixOption(name, row, Cost(hands_on=cost), 1)
            for name, row, cost in zip("abc", faults, (10.0, 100.0, 100.0), strict=True)
        ),
        setups=(SetupOption("open", Cost(setups=50.0), 1),),
        give_up=1000.0,
        comeback=1000.0,
    )
    optimum = 50 + 1 + 0.8 * 10 + 0.2 * (30 + 100)
    assert solve_exact(instance).expected == pytest.approx(optimum)
    for bound in lower_bounds(instance, states=32):
        assert bound.value <= optimum + 1e-9, bound.method
