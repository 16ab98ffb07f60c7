"""Residuals, and the bound from sampled jobs that know their fault and all results beforehand.

The bound is a theorem on expectations (Brown, Smith & Sun, "Information relaxations and duality in stochastic
dynamic programs", Operations Research 58, 2010, theorem 2.1): on small problems every job there can be is
looked at, each with its probability, so that no luck is left.
"""

import re
from dataclasses import replace
from itertools import product
from threading import Event
from time import monotonic, sleep

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from planning_oracles import brute_force, odd_instance
from soaking_boards import overlooking

from benchlore.procedure import CheckOption, Cost, FixOption, Instance, lower_bound, sampled, solve_exact
from benchlore.procedure.arrays import reduced
from benchlore.procedure.clairvoyant import Foreseen, cheapest_way
from benchlore.procedure.information import best_market
from benchlore.procedure.remainder import remainder
from benchlore.procedure.residual import bound_at, certificate_of, point_of, put_residuals
from benchlore.procedure.sampled import FEWEST_JOBS, _Sample, foreseen, sampled_bound
from benchlore.procedure.state import first_state, next_states, problem_of
from benchlore.procedure.tree import tree_of
from random_instances import random_instance

seeds = st.integers(0, 1_000_000)
ENOUGH = 100_000
GO_ON = np.zeros(1, dtype=np.bool_)


def prepared(instance):
    problem = problem_of(reduced(instance).arrays)
    cert = certificate_of(best_market(problem))
    assert cert is not None
    return problem, cert, tree_of(problem, 1 << 4, 1)


def residuals_at(problem, cert, tree, state):
    at = point_of(problem, cert, tree, state)
    out = np.empty(len(state.digits) + len(state.failed) + 1)
    put_residuals(problem, cert, tree, at, out)
    return out, float(bound_at(at))


def boards(rng):
    """Boards with gates and setups, some with several checks on a condition, some with soaks."""
    instance = random_instance(rng, (5, 3, 6, 4), gates=0.2, setups=int(rng.integers(0, 4)))
    return overlooking(instance, rng) if rng.random() < 0.5 else instance


@given(seeds)
@settings(max_examples=25, deadline=None)
def test_no_residual_is_negative_wherever_a_job_gets(seed):
    rng = np.random.default_rng(seed)
    problem, cert, tree = prepared(boards(rng))
    state = first_state(problem.arrays)
    while state.b.sum() > 1e-9:
        out, _ = residuals_at(problem, cert, tree, state)
        assert out.min() >= -1e-6 * problem.arrays.give_up
        actions = np.flatnonzero(out[:-1] < np.inf)
        if len(actions) == 0:
            break
        after = next_states(problem, state, int(rng.choice(actions)))
        state = after[int(rng.integers(len(after)))]


@given(seeds)
@settings(max_examples=20, deadline=None)
def test_the_residual_of_an_action_is_its_cost_and_what_it_adds_to_the_bound(seed):
    """Against the definition: the cost, with the bound after each result, less the bound before."""
    rng = np.random.default_rng(seed)
    problem, cert, tree = prepared(boards(rng))
    arrays, state = problem.arrays, first_state(problem.arrays)
    checks = len(state.digits)
    for _ in range(4):
        out, here = residuals_at(problem, cert, tree, state)
        total = state.b.sum()
        assert out[-1] == pytest.approx(arrays.give_up - here)
        actions = np.flatnonzero(out[:-1] < np.inf)
        for action in actions:
            after = [each for each in next_states(problem, state, int(action)) if each.b.sum() > 0]
            rest = sum(each.b.sum() * residuals_at(problem, cert, tree, each)[1] for each in after)
            assert out[action] == pytest.approx(
                own_cost(problem, state, action) + rest / total - here, abs=1e-6
            )
        action = int(rng.choice(actions))
        after = [each for each in next_states(problem, state, action) if each.b.sum() > 1e-6]
        if not after or len(actions) < 2:
            break
        state = after[int(rng.integers(len(after)))]
    assert checks == len(arrays.condition)


def own_cost(problem, state, action):
    arrays, checks = problem.arrays, len(state.digits)
    setups = arrays.check_setups[action] if action < checks else arrays.fix_setups[action - checks]
    missing = int(setups) & ~state.standing
    cost = sum(price for k, price in enumerate(arrays.setup_cost) if missing >> k & 1)
    if action < checks:
        return cost + arrays.check_cost[action]
    a = action - checks
    slips = arrays.missed[a] * (1 - arrays.detects[a])
    return cost + arrays.fix_cost[a] + arrays.comeback * (state.b @ slips) / state.b.sum()


@given(seeds)
@settings(max_examples=15, deadline=None)
def test_the_bound_at_a_state_is_at_most_the_optimum_of_what_is_left(seed):
    rng = np.random.default_rng(seed)
    instance = boards(rng)
    small = reduced(instance)
    problem, cert, tree = prepared(instance)
    state, done = first_state(problem.arrays), np.full(len(instance.checks) + len(instance.fixes), -1)
    numbers = [*small.checks, *(len(instance.checks) + a for a in small.fixes)]
    for _ in range(5):
        out, here = residuals_at(problem, cert, tree, state)
        weights = np.zeros(len(instance.prior))
        for group, share in zip(small.merged, state.b, strict=True):
            split = instance.prior[list(group)]
            weights[list(group)] = share * split / split.sum()
        left = remainder(instance, done, weights, state.seen)
        assert here <= solve_exact(left).expected + 1e-6
        actions = np.flatnonzero(out[:-1] < np.inf)
        if len(actions) == 0:
            return
        action = int(rng.choice(actions))
        after = next_states(problem, state, action)
        r = int(rng.integers(len(after)))
        if after[r].b.sum() < 1e-6:
            return
        done[numbers[action]], state = r, after[r]


def every_job(arrays):
    """Yield every fault with every result, and its probability, where checks read alone."""
    for f, prior in enumerate(arrays.prior):
        chances = [
            (arrays.table[g, f] @ arrays.shows[c])[: arrays.results[c]]
            for c, g in enumerate(arrays.condition)
        ]
        on = arrays.missed[:, f] * arrays.detects[:, f]
        for results in product(*(range(len(chance)) for chance in chances)):
            seen = prior * np.prod([chance[r] for chance, r in zip(chances, results, strict=True)])
            if seen > 0:
                yield seen, Foreseen(np.array(results, dtype=np.int64), on)


@given(seeds)
@settings(max_examples=12, deadline=None)
def test_over_every_job_there_can_be_the_mean_is_at_most_the_optimum_and_no_less_than_the_market(seed):
    rng = np.random.default_rng(seed)
    instance = random_instance(rng, (3, 4, 4, 3), gates=0.2, setups=2)
    alone = tuple(replace(check, condition=k) for k, check in enumerate(instance.checks))
    tables = tuple(instance.tables[check.condition] for check in instance.checks)
    instance = replace(instance, checks=alone, tables=tables)
    problem, cert, tree = prepared(instance)
    first = first_state(problem.arrays)
    bound = float(bound_at(point_of(problem, cert, tree, first)))
    jobs = list(every_job(problem.arrays))
    assert sum(chance for chance, _ in jobs) == pytest.approx(1.0)
    ways = sum(chance * cheapest_way(problem, cert, tree, first, job, ENOUGH, GO_ON) for chance, job in jobs)
    assert bound <= bound + ways <= solve_exact(instance).expected + 1e-9


@given(seeds)
@settings(max_examples=12, deadline=None)
def test_the_cheapest_way_is_that_of_trying_every_order(seed):
    rng = np.random.default_rng(seed)
    problem, cert, tree = prepared(overlooking(random_instance(rng, (4, 3, 3, 2), gates=0.3, setups=2), rng))
    job = foreseen(problem.arrays, int(rng.integers(4)) % len(problem.arrays.prior), rng)

    def least(state):
        out, _ = residuals_at(problem, cert, tree, state)
        best = out[-1]
        for action in np.flatnonzero(out[:-1] < np.inf):
            after = next_states(problem, state, int(action))
            if action < len(state.digits):
                best = min(best, max(0.0, out[action]) + least(after[job.results[action]]))
            elif (on := job.goes_on[action - len(state.digits)]) > 0.0:
                best = min(best, max(0.0, out[action]) + on * least(after[0]))
            else:
                best = min(best, max(0.0, out[action]))
        return best

    first = first_state(problem.arrays)
    found = cheapest_way(problem, cert, tree, first, job, ENOUGH, GO_ON)
    assert found == pytest.approx(max(0.0, least(first)), abs=1e-6)
    assert cheapest_way(problem, cert, tree, first, job, 3, GO_ON) <= found + 1e-9
    assert cheapest_way(problem, cert, tree, first, job, ENOUGH, ~GO_ON) == 0.0


@pytest.mark.parametrize("seed", range(6))
def test_a_sampled_bound_lies_between_the_proven_one_and_the_optimum(seed):
    instance = random_instance(np.random.default_rng(seed), (6, 5, 7, 5), setups=2)
    problem = problem_of(reduced(instance).arrays)
    bound = sampled_bound(instance, 200, seed=seed)
    assert re.fullmatch(
        r"sampled: 99 % sure, from 20\d jobs that know their fault and all results", bound.method
    )
    assert best_market(problem).best * (1 - 1e-3) <= bound.value <= solve_exact(instance).expected
    assert bound == sampled_bound(instance, 200, seed=seed)
    assert bound == sampled_bound(instance, 200, seed=seed, workers=2)


def test_a_sampled_bound_closes_much_of_the_gap_that_is_proven():
    """Over twenty boards of 7 faults the proven bound stands at 85 % of the optimum, the sampled at 93."""
    proven, sampled = [], []
    for seed in range(6):
        instance = random_instance(np.random.default_rng(seed), (7, 5, 7, 5), setups=2)
        optimum = solve_exact(instance).expected
        proven.append(best_market(problem_of(reduced(instance).arrays)).best / optimum)
        sampled.append(sampled_bound(instance, 300).value / optimum)
    assert np.mean(sampled) > np.mean(proven) + 0.04


def test_boxes_without_checks_are_searched_in_the_order_of_chance_to_cost():
    """An object in one of four boxes, each surely found when opened (Kadane & Simon, "Optimal strategies for a
    class of constrained sequential problems", Annals of Statistics 5, 1977): the largest ratio first.
    """
    chances, costs = np.array([0.4, 0.3, 0.2, 0.1]), np.array([3.0, 1.0, 2.0, 5.0])
    order = np.argsort(-chances / costs)
    optimum = float(chances[order] @ np.cumsum(costs[order]))
    instance = Instance(
        faults=tuple("abcd"),
        prior=chances,
        tables=(),
        checks=(),
        fixes=tuple(FixOption(f"open {k}", np.eye(4)[k], Cost(hands_on=costs[k])) for k in range(4)),
        setups=(),
        give_up=1000.0,
        comeback=1000.0,
    )
    assert solve_exact(instance).expected == pytest.approx(optimum)
    told = float(chances @ costs)
    bound = sampled_bound(instance, 2000).value
    assert told < bound <= optimum
    assert bound >= lower_bound(instance, states=1).value * (1 - 1e-3)


@pytest.mark.parametrize("seed", range(20))
def test_odd_problems_are_bounded_or_refused_without_a_mistake(seed):
    instance = odd_instance(np.random.default_rng(seed))
    bound = sampled_bound(instance, FEWEST_JOBS)
    assert bound is None or bound.value <= brute_force(instance) + 1e-9


def test_too_few_jobs_are_refused_and_a_stopped_sample_has_no_bound():
    instance = random_instance(np.random.default_rng(1), (4, 3, 4, 3))
    with pytest.raises(ValueError, match="29"):
        sampled_bound(instance, FEWEST_JOBS - 1)
    assert sampled_bound(instance, FEWEST_JOBS, stopped=lambda: True) is None
    told = []
    bound = sampled_bound(instance, FEWEST_JOBS, told=lambda *each: told.append(each))
    assert told == sorted(told, key=lambda each: each[0])
    assert told[-1] == (1.0, pytest.approx(bound.value))
    stop = iter([False] * 5)
    assert sampled_bound(instance, FEWEST_JOBS, stopped=lambda: next(stop, True)) is None


def test_jobs_under_way_are_cut_short_when_it_is_stopped(monkeypatch):
    """A job that would never end but for that; without it this fails after a minute."""
    begun = Event()

    def endless(*arguments):
        begun.set()
        started = monotonic()
        while not arguments[-1][0]:
            assert monotonic() - started < 60, "nobody stopped it"
            sleep(0.01)
        return 0.0

    monkeypatch.setattr(sampled, "cheapest_way", endless)
    instance = random_instance(np.random.default_rng(1), (4, 3, 4, 3))
    assert sampled_bound(instance, FEWEST_JOBS, workers=2, stopped=begun.is_set) is None


def test_kinds_of_jobs_that_are_rare_share_a_few():
    instance = random_instance(np.random.default_rng(1), (4, 3, 4, 3))
    rare = replace(instance, prior=np.array([0.997, 0.001, 0.001, 0.001]))
    assert "from 38 jobs" in sampled_bound(rare, FEWEST_JOBS).method


@pytest.mark.parametrize("jobs", [FEWEST_JOBS, 100])
def test_the_limit_holds_in_99_of_100_samples_where_few_jobs_come_out_cheap(jobs):
    """Most kinds of jobs are rare, and each now and then costs nothing: the hard side for Student's limit."""
    rng = np.random.default_rng(7)
    shares = rng.dirichlet(np.full(40, 0.7))
    costs, cheap = rng.uniform(1, 9, 40), rng.uniform(0.02, 0.3, 40)
    truth = float(shares @ (costs * (1 - cheap)))
    failed = 0
    for _ in range(1500):
        sample = _Sample(shares, jobs)
        for stratum in sample.order():
            kind = sample.kind_of(stratum, rng)
            sample.ways[stratum].append(0.0 if rng.random() < cheap[kind] else float(costs[kind]))
        failed += sample.lower_limit > truth
    assert failed <= 0.01 * 1500 + 3 * (0.01 * 1500) ** 0.5


def test_each_result_of_a_free_check_has_prices_and_jobs_of_its_own():
    """A free question that names one of three faults: what is left is certain, or one of two."""
    faults, names = np.eye(3), np.array([[1.0, 0.0], [0.0, 1.0], [0.0, 1.0]])
    instance = Instance(
        faults=tuple("abc"),
        prior=np.array([0.5, 0.3, 0.2]),
        tables=(names,),
        checks=(CheckOption("ask", 0, ("a", "not a"), np.eye(2), Cost()),),
        fixes=tuple(FixOption(f"fix {k}", faults[k], Cost(hands_on=10.0)) for k in range(3)),
        setups=(),
        give_up=100.0,
        comeback=100.0,
    )
    assert solve_exact(instance).expected == pytest.approx(10.0 + 0.2 * 10.0)
    bound = sampled_bound(instance, 1000)
    assert bound.value == pytest.approx(12.0, rel=1e-2)
    assert bound.value <= 12.0
    assert "from 1000 jobs" in bound.method


def test_more_joint_results_than_tables_hold_are_no_case_for_a_sample():
    check = CheckOption("c", 0, tuple("abcdefghi"), np.full((2, 9), 1 / 9), Cost(hands_on=1.0))
    shows = np.linspace(1, 2, 18).reshape(2, 9)
    checks = tuple(replace(check, name=f"c{k}", table=shows / shows.sum(axis=1)[:, None]) for k in range(5))
    instance = Instance(
        faults=("a", "b"),
        prior=np.array([0.5, 0.5]),
        tables=(np.eye(2),),
        checks=checks,
        fixes=tuple(FixOption(f"fix {k}", np.eye(2)[k], Cost(hands_on=9.0)) for k in range(2)),
        setups=(),
        give_up=100.0,
        comeback=100.0,
    )
    assert sampled_bound(instance, FEWEST_JOBS) is None
