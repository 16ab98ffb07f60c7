"""How alike states look to a check, and faults to all checks of a book."""

from collections.abc import Iterator
from itertools import combinations
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from benchlore.book.density import Density, density_of
from benchlore.book.values import Book, Check, Condition

SAME = 0.98
"""States whose outcomes overlap by this much look the same to a check."""

BARELY_TOLD = 0.95
"""States whose outcomes overlap by this much are not told apart in practice."""


def overlap(check: Check, first: str, second: str) -> float:
    """Return how far the outcomes of two states overlap: 0 tells them apart for certain, 1 not at all.

    The overlapping coefficient, the sum or integral of the smaller of the two probabilities (Inman and
    Bradley, Communications in Statistics 18, 1989).
    """
    if check.measures is None:
        one, other = check.chances[first], check.chances[second]
        return sum(min(one[result].probability, other[result].probability) for result in check.results)
    return density_overlap(
        density_of(check.spans[first], check.measures), density_of(check.spans[second], check.measures)
    )


def density_overlap(one: Density, other: Density) -> float:
    """Return the overlapping coefficient of two densities on the same scale."""
    of_numbers = NormalDist(one.mean, one.sd).overlap(NormalDist(other.mean, other.sd))
    return of_numbers * (1 - max(one.over, other.over)) + min(one.over, other.over)


def state_pairs(book: Book, check: Check) -> Iterator[tuple[str, str]]:
    """Yield each pair of states that the check says something about."""
    shown = check.chances if check.measures is None else check.spans
    states = [state for state in book.conditions[check.reads].states if state in shown]
    return combinations(states, 2)


def row(book: Book, fault: str, condition: Condition) -> NDArray[np.float64]:
    """Return ``P(state | fault)``, shape ``(S,)``."""
    if caused := book.faults[fault].causes.get(condition.name):
        return np.array([caused[state].probability for state in condition.states])
    return untouched(condition)


def untouched(condition: Condition) -> NDArray[np.float64]:
    """Return ``P(state)`` on boards whose fault does not cause it, shape ``(S,)``."""
    states = np.full(len(condition.states), condition.by_chance / max(len(condition.states) - 1, 1))
    states[0] = 1 - condition.by_chance
    return states


def looks(book: Book) -> NDArray[np.float64]:
    """Return how each fault looks to all checks together, shape ``(F, K)``, in order of ``book.faults``.

    Columns are the groups of states that checks tell apart, of each condition that is read. Half the sum
    of absolute differences of two rows bounds from above how often readings can tell the two faults apart.
    """
    parts = []
    for condition in book.conditions.values():
        checks = [check for check in book.checks.values() if check.reads == condition.name]
        if checks:
            rows = np.array([row(book, fault, condition) for fault in book.faults])
            parts.append(rows @ _merging(condition, checks))
    return np.hstack(parts) if parts else np.zeros((len(book.faults), 0))


def healthy_look(book: Book) -> NDArray[np.float64]:
    """Return how a board looks on which no fault causes anything, shape ``(K,)``."""
    parts = [
        untouched(condition) @ _merging(condition, checks)
        for condition in book.conditions.values()
        if (checks := [check for check in book.checks.values() if check.reads == condition.name])
    ]
    return np.concatenate(parts) if parts else np.zeros(0)


def _merging(condition: Condition, checks: list[Check]) -> NDArray[np.float64]:
    """Return 0/1, shape ``(S, K)``: which group each state belongs to, of those that no check tells apart."""
    pairs = [
        (condition.states.index(first), condition.states.index(second))
        for first, second in combinations(condition.states, 2)
        if all(overlap(check, first, second) >= BARELY_TOLD for check in checks)
    ]
    labels = groups(len(condition.states), pairs)
    merging = np.zeros((len(condition.states), labels.max() + 1))
    merging[np.arange(len(condition.states)), labels] = 1
    return merging


def groups(count: int, pairs: list[tuple[int, int]]) -> NDArray[np.int32]:
    """Return the number of the group that ``pairs`` join each of ``count`` things into, ``(count,)``."""
    ends = np.array(pairs, dtype=np.int64).reshape(-1, 2)
    graph = coo_array((np.ones(len(ends)), (ends[:, 0], ends[:, 1])), shape=(count, count))
    labels: NDArray[np.int32] = connected_components(graph, directed=False)[1]
    return labels
