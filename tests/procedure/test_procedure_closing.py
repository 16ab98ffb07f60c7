import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from planning_oracles import brute_force, identification, odd_instance

from benchlore.procedure import closing, solve_exact
from benchlore.procedure.arrays import reduced
from benchlore.procedure.closing import PATIENCE, Closing
from benchlore.procedure.policy import translated
from benchlore.procedure.state import problem_of
from benchlore.procedure.walk import cost_of
from random_instances import random_instance

seeds = st.integers(0, 1_000_000)


def searched(instance, **options):
    search = Closing(problem_of(reduced(instance).arrays), **options)
    for _ in search.stretches():
        pass
    return search


def priced(search, instance):
    """What the search's policy costs, by a walk that shares nothing with it."""
    small = reduced(instance)
    return cost_of(translated(search.policy(), small.checks, small.fixes, len(instance.checks)), instance)


@given(seeds)
@settings(max_examples=10, deadline=None)
def test_both_sides_meet_at_the_optimum_of_a_board(seed):
    rng = np.random.default_rng(seed)
    size = (
        int(rng.integers(2, 8)),
        int(rng.integers(1, 6)),
        int(rng.integers(0, 7)),
        int(rng.integers(0, 5)),
    )
    instance = random_instance(rng, size, gates=0.3, setups=int(rng.integers(0, 4)))
    search = searched(instance)
    assert search.is_solved
    optimum = solve_exact(instance).expected
    assert search.low == pytest.approx(optimum, rel=2e-9)
    assert priced(search, instance) == pytest.approx(optimum, rel=2e-9)


@given(seeds)
@settings(max_examples=80, deadline=None)
def test_the_optimum_of_an_odd_problem_lies_between_the_sides(seed):
    instance = odd_instance(np.random.default_rng(seed))
    search = searched(instance)
    optimum = brute_force(instance)
    assert search.low <= optimum + 1e-9
    assert search.high >= optimum - 1e-9
    assert priced(search, instance) <= search.high + 1e-9


@given(seeds)
@settings(max_examples=20, deadline=None)
def test_the_optimum_of_an_identification_is_found(seed):
    rng = np.random.default_rng(seed)
    states = int(rng.integers(2, 7))
    tests = rng.integers(0, 2, size=(6, states)).tolist()
    instance = identification(rng.dirichlet(np.ones(states)), tests, rng.uniform(0.5, 3, 6))
    search = searched(instance)
    assert search.is_solved
    assert search.low == pytest.approx(solve_exact(instance).expected, rel=2e-9)
    assert priced(search, instance) == pytest.approx(search.high, rel=2e-9)


def test_the_sides_only_close_and_stay_around_the_optimum():
    instance = random_instance(np.random.default_rng(4), (8, 6, 8, 6), gates=0.2)
    optimum = solve_exact(instance).expected
    search = Closing(problem_of(reduced(instance).arrays))
    low, high = search.low, search.high
    for _ in search.stretches():
        assert low <= search.low <= optimum * (1 + 1e-9)
        assert optimum * (1 - 1e-9) <= search.high <= high
        low, high = search.low, search.high
    assert search.is_solved


def test_the_search_ends_when_its_memory_is_full():
    instance = random_instance(np.random.default_rng(4), (8, 6, 8, 6))
    search = searched(instance, memory=1 << 14)
    assert not search.is_solved
    assert search.low <= solve_exact(instance).expected <= priced(search, instance)


def test_a_bound_known_before_is_kept():
    instance = random_instance(np.random.default_rng(4), (8, 6, 8, 6))
    problem = problem_of(reduced(instance).arrays)
    better = Closing(problem).low + 1.0
    assert Closing(problem, at_least=better).low == pytest.approx(better)


@pytest.fixture
def short(monkeypatch):
    """A fiftieth of each stretch."""
    monkeypatch.setattr(closing, "WORK", closing.WORK // 50)


def stretches(instance, known):
    search = Closing(problem_of(reduced(instance).arrays), at_least=known)
    lows = list(search.stretches())
    assert all(low >= known for low in lows)
    assert lows == sorted(lows)
    return lows


def test_a_search_that_cannot_reach_what_is_known_ends_soon(short):
    large = random_instance(np.random.default_rng(3), (20, 15, 30, 15), setups=2)
    alone = stretches(large, 0.0)
    assert len(stretches(large, 1.2 * alone[-1])) < PATIENCE < len(alone)


def test_a_search_that_brings_nothing_ends_after_one_stretch(short):
    """Its bound rises for the first time after about twenty trials; a stretch here has four."""
    wide = random_instance(np.random.default_rng(1), (40, 30, 60, 40), gates=0.2)
    assert len(stretches(wide, 0.0)) > 1
    own = Closing(problem_of(reduced(wide).arrays)).low
    assert len(stretches(wide, 1.01 * own)) == 1


def test_a_search_that_will_pass_what_is_known_goes_on_though_its_bound_does_not_rise_yet(short):
    """What is known lies where it gets alone in so many stretches that it once was given up before."""
    board = random_instance(np.random.default_rng(3), (10, 7, 10, 7), setups=2)
    alone = stretches(board, 0.0)
    known = alone[PATIENCE + 2]
    beside = stretches(board, known)
    assert beside[PATIENCE - 1] == known
    assert beside[-1] > known
