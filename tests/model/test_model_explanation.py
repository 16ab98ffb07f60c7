from itertools import chain, combinations
from math import inf

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchlore.model import (
    Evidence,
    exact_densities,
    fix_of,
    log_likelihoods,
    model_of,
    named_check,
    numeric_check,
    posterior,
    set_aside,
    state_log_likelihoods,
    without,
)
from benchlore.units import Measure


def jagged_model(seed):
    """Three faults, two conditions, five checks and two fixes with many impossible results."""
    rng = np.random.default_rng(seed)

    def rows(count, width):
        zeros = rng.random((count, width)) < 0.4
        zeros[np.arange(count), rng.integers(width, size=count)] = False
        table = np.where(zeros, 0.0, rng.uniform(0.1, 1, (count, width)))
        return table / table.sum(axis=1, keepdims=True)

    return model_of(
        [0.5, 0.3, 0.2],
        [rows(3, 2), rows(3, 3)],
        [named_check(f"c{c}", c % 2, rows(2 + c % 2, 2)) for c in range(5)],
        [fix_of("a0", [1.0, 0.5, 0.0]), fix_of("a1", [0.2, 1.0, 0.0])],
    )


def pieces(evidence):
    return [("readings", each) for each in evidence.readings] + [("failed", each) for each in evidence.failed]


def parts(evidence):
    """Every part of the evidence, the smallest first."""
    whole = pieces(evidence)
    for chosen in chain.from_iterable(combinations(whole, n) for n in range(len(whole) + 1)):
        yield Evidence(
            readings=tuple(piece for kind, piece in chosen if kind == "readings"),
            failed=tuple(piece for kind, piece in chosen if kind == "failed"),
        )


@given(
    st.integers(0, 10_000), st.lists(st.integers(0, 1), min_size=5, max_size=5), st.sets(st.integers(0, 1))
)
@settings(max_examples=24, deadline=None)
def test_what_is_set_aside_is_the_smallest_part_that_makes_the_rest_possible(seed, results, failed):
    model = jagged_model(seed)
    evidence = Evidence(tuple(enumerate(results)), failed=tuple(failed))
    aside = set_aside(model, evidence)
    possible = [
        (len(pieces(part)), posterior(model, without(evidence, part)).log_evidence)
        for part in parts(evidence)
        if posterior(model, without(evidence, part)).log_evidence > -inf
    ]
    fewest = min(count for count, _ in possible)
    rest = posterior(model, without(evidence, aside)).log_evidence
    assert rest > -inf
    assert len(pieces(aside)) == fewest
    assert rest == pytest.approx(max(log for count, log in possible if count == fewest), abs=1e-9)


def test_possible_evidence_keeps_all_its_pieces():
    model = model_of([0.5, 0.5], [np.eye(2)], [named_check("c0", 0, [[0.9, 0.1], [0.2, 0.8]])])
    assert set_aside(model, Evidence(((0, 1),))) == Evidence()


def test_the_reading_that_stands_against_two_others_is_set_aside():
    check = [[1.0, 0.0], [0.0, 1.0]]
    model = model_of([0.9, 0.1], [np.eye(2)], [named_check(f"c{k}", 0, check) for k in range(3)])
    assert set_aside(model, Evidence(((0, 0), (1, 1), (2, 1)))) == Evidence(((0, 0),))


def test_a_fix_that_could_not_have_failed_may_be_what_is_set_aside():
    model = model_of(
        [0.5, 0.5],
        [np.eye(2)],
        [named_check("c0", 0, np.eye(2)), named_check("c1", 0, np.eye(2))],
        [fix_of("a0", [1.0, 0.0])],
    )
    evidence = Evidence(((0, 0), (1, 0)), failed=(0,))
    assert set_aside(model, evidence) == Evidence(failed=(0,))


def test_state_likelihoods_are_products_over_the_readings_on_a_condition():
    ohms = exact_densities(Measure.RESISTANCE, [8.3, 1.6], [0.1, 1.0], log_normal=True)
    model = model_of(
        [0.6, 0.4],
        [np.eye(2), np.full((2, 3), 1 / 3)],
        [named_check("look", 0, [[0.9, 0.1], [0.2, 0.8]]), numeric_check("ohms", 0, ohms)],
    )
    logs = state_log_likelihoods(model, Evidence(((0, 1),), ((1, 5.0),)))
    expected = np.log([0.1, 0.8]) + log_likelihoods(model.checks[1], [5.0])[0]
    assert logs[0, :2] == pytest.approx(expected)
    assert not logs[1].any()
