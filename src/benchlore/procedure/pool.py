"""Policies and parts of policies in one graph of evidence, so that they can be mixed under any probabilities.

A state is a set of results and failed fixes; policies that get to one share it, whatever the order. At each
state any choice that some policy makes there may be taken: the cheapest such mixture is found by one sweep.
The choices' costs are times the probability of their state, so a sweep only adds and compares.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numba import njit

from benchlore.model import FloatArray
from benchlore.procedure.arrays import Arrays, BoolArray, IntArray
from benchlore.procedure.instance import CheckOption, FixOption, Instance
from benchlore.procedure.policy import RETURN, Policy
from benchlore.procedure.values import RELEASE
from benchlore.procedure.walk import condition_on

Done: TypeAlias = frozenset[tuple[int, int]]
"""Evidence: what was done (action codes) and what it showed; 0 for a fix that failed."""


@dataclass(frozen=True, eq=False)
class Part:
    """A policy from some evidence on; ``done`` is a state that another policy of the pool gets to."""

    done: Done
    policy: Policy


@dataclass(frozen=True, eq=False)
class Pool:
    """``N`` states of evidence and ``J`` choices at them, of policies on instances of one shape.

    ``done (N, C + A)`` is the result of each check and 0 for a failed fix, -1 where not done. A state comes
    from ``parent (N,)`` by ``after (N, 2)``, action and result; parents come first, state 0 is the start. The
    choices at state ``n`` are ``start[n]`` to ``start[n + 1]``, ``state (J,)`` is where each stands. Each
    does ``action (J,)``, costs ``own (J,)`` with its setups and without comebacks, and leads to the states
    ``target[first[j]:first[j + 1]]``. ``taken (P, N)`` is the choice of each policy, -1 where it does not get
    to.
    """

    done: IntArray
    parent: IntArray
    after: IntArray
    start: IntArray
    state: IntArray
    action: IntArray
    own: FloatArray
    first: IntArray
    target: IntArray
    taken: IntArray

    @property
    def beginnings(self) -> range:
        """The choices at the start."""
        return range(int(self.start[1]))


@dataclass(frozen=True, eq=False)
class Weights:
    """What is believed at each state: ``faults (N, F)`` is ``P(state, fault)``.

    ``seen (N, G, S)`` is the likelihood of a condition's readings in each of its states.
    """

    faults: FloatArray
    seen: FloatArray


def pool_of(policy: Policy, parts: Sequence[Part], instance: Instance) -> Pool:
    """Join a policy and parts of others; costs are those of the instance."""
    draft = _Draft()
    taken = draft.add(Part(frozenset(), policy))
    for part in parts:
        draft.add(part)
    return draft.pool(instance, taken)


class _Draft:
    """States and choices as they are met."""

    def __init__(self) -> None:
        self._number: dict[Done, int] = {}
        self._choices: list[dict[int, tuple[int, ...]]] = []

    def add(self, part: Part) -> dict[int, int]:
        """Take over the nodes of a policy; return its action at each state."""
        evidence = [part.done] * part.policy.size
        taken = {}
        for n, action in enumerate(part.policy.action.tolist()):
            here = self._state(evidence[n])
            onwards = []
            for result, target in enumerate(part.policy.next_of(n)):
                if target != RELEASE:
                    evidence[target] = evidence[n] | {(action, result)}
                    onwards.append(self._state(evidence[target]))
            self._choices[here].setdefault(action, tuple(onwards))
            taken[here] = action
        return taken

    def _state(self, evidence: Done) -> int:
        if evidence not in self._number:
            self._number[evidence] = len(self._choices)
            self._choices.append({})
        return self._number[evidence]

    def pool(self, instance: Instance, taken: dict[int, int]) -> Pool:
        """Write down what was met, in the order of how much was done."""
        order = np.argsort([len(evidence) for evidence in self._number], kind="stable")
        place = np.empty(len(order), dtype=np.int64)
        place[order] = np.arange(len(order))
        done = np.full((len(order), len(instance.checks) + len(instance.fixes)), -1, dtype=np.int64)
        for evidence, n in self._number.items():
            for action, result in evidence:
                done[place[n], action] = result
        rows = [(k, *choice) for k, n in enumerate(order.tolist()) for choice in self._choices[n].items()]
        number = {(row[0], row[1]): j for j, row in enumerate(rows)}
        state = np.array([row[0] for row in rows], dtype=np.int64)
        actions = np.array([row[1] for row in rows], dtype=np.int64)
        return _linked(
            done=done,
            state=state,
            action=actions,
            own=_own_costs(instance, done, state, actions),
            counts=np.array([len(row[2]) for row in rows], dtype=np.int64),
            target=place[np.array([n for row in rows for n in row[2]], dtype=np.int64)],
            taken=np.array(
                [number.get((k, taken[n]), -1) if n in taken else -1 for k, n in enumerate(order.tolist())]
            ),
        )


def _linked(
    *,
    done: IntArray,
    state: IntArray,
    action: IntArray,
    own: FloatArray,
    counts: IntArray,
    target: IntArray,
    taken: IntArray,
) -> Pool:
    """Find what follows from the columns: where each state's choices start, and one way to each state."""
    came = np.repeat(np.arange(len(state)), counts)
    parent, after = np.full(len(done), -1, dtype=np.int64), np.zeros((len(done), 2), dtype=np.int64)
    parent[target] = state[came]
    after[target, 0] = action[came]
    after[target, 1] = done[target, action[came]]
    return Pool(
        done=done,
        parent=parent,
        after=after,
        start=np.searchsorted(state, np.arange(len(done) + 1)),
        state=state,
        action=action,
        own=own,
        first=np.append(0, np.cumsum(counts)),
        target=target,
        taken=taken,
    )


def kept(pool: Pool, choices: BoolArray) -> Pool:
    """The pool without the choices (``False`` in ``(J,)``) that are not wanted, and what only they lead to.

    Every state that a kept choice leads to must keep a choice.
    """
    reached = _reached(pool.state, pool.first, pool.target, choices)
    choices = choices & reached[pool.state]
    place, number = np.cumsum(reached) - 1, np.append(np.where(choices, np.cumsum(choices) - 1, -1), -1)
    counts = np.diff(pool.first)
    return _linked(
        done=pool.done[reached],
        state=place[pool.state[choices]],
        action=pool.action[choices],
        own=pool.own[choices],
        counts=counts[choices],
        target=place[pool.target[np.repeat(choices, counts)]],
        taken=number[pool.taken[reached]],
    )


@njit(cache=True)
def _reached(state: IntArray, first: IntArray, target: IntArray, choices: BoolArray) -> BoolArray:
    reached = np.zeros(state[-1] + 1, dtype=np.bool_)
    reached[0] = True
    for j in range(len(state)):
        if choices[j] and reached[state[j]]:
            for k in range(first[j], first[j + 1]):
                reached[target[k]] = True
    return reached


def _own_costs(instance: Instance, done: IntArray, state: IntArray, action: IntArray) -> FloatArray:
    """What each choice costs by itself, with the setups that do not stand yet."""
    options: list[CheckOption | FixOption] = [*instance.checks, *instance.fixes]
    needs = np.array([*(option.setups for option in options), 0], dtype=np.int64)
    standing = np.full(len(done), instance.standing, dtype=np.int64)
    for k, option in enumerate(options):
        standing[done[:, k] >= 0] |= option.setups
    missing = np.where(action == RETURN, 0, needs[action] & ~standing[state])
    own: FloatArray = np.array([*(option.cost.total for option in options), instance.give_up])[action]
    for k, setup in enumerate(instance.setups):
        own += setup.cost.total * (missing >> k & 1)
    return own


def weights_of(pool: Pool, arrays: Arrays) -> Weights:
    """What is believed at each state, under the probabilities of the whole instance in ``arrays``."""
    return Weights(*_weigh(arrays, pool.parent, pool.after))


@njit(cache=True)
def _weigh(arrays: Arrays, parent: IntArray, after: IntArray) -> tuple[FloatArray, FloatArray]:
    checks = len(arrays.condition)
    faults = np.empty((len(parent), len(arrays.prior)))
    seen = np.ones((len(parent), arrays.table.shape[0], arrays.table.shape[2]))
    faults[0] = arrays.prior
    for n in range(1, len(parent)):
        seen[n] = seen[parent[n]]
        action = after[n, 0]
        if action < checks:
            condition_on(arrays, action, after[n, 1], seen[n], faults[parent[n]], faults[n])
        else:
            a = action - checks
            faults[n] = faults[parent[n]] * arrays.missed[a] * arrays.detects[a]
    return faults, seen


def costs_of(pool: Pool, arrays: Arrays, weights: Weights) -> FloatArray:
    """What each choice costs by itself with its comebacks, times the probability of its state, ``(J,)``."""
    costs: FloatArray = weights.faults.sum(axis=1)[pool.state] * pool.own
    fixes = np.flatnonzero(pool.action >= len(arrays.condition))
    slips = slips_of(arrays)[pool.action[fixes] - len(arrays.condition)]
    costs[fixes] += arrays.comeback * np.einsum("jf,jf->j", weights.faults[pool.state[fixes]], slips)
    return costs


def costs_by_fault(pool: Pool, arrays: Arrays, weights: Weights) -> FloatArray:
    """:func:`costs_of`, split by the fault that the board has, ``(J, F)``."""
    by_fault = np.repeat(pool.own[:, None], len(arrays.prior), axis=1)
    fixes = np.flatnonzero(pool.action >= len(arrays.condition))
    by_fault[fixes] += arrays.comeback * slips_of(arrays)[pool.action[fixes] - len(arrays.condition)]
    return by_fault * weights.faults[pool.state]


def slips_of(arrays: Arrays) -> FloatArray:
    """Probability that a board with each fault goes home uncured after each fix, ``(A, F)``."""
    slips: FloatArray = arrays.missed * (1 - arrays.detects)
    return slips


@dataclass(frozen=True, eq=False)
class Mixtures:
    """The cheapest mixture of the pool's policies under each of ``X`` rows of costs.

    ``expected (X,)``; ``chosen (X, N)`` is its choice at each state, ``beginning (X, B)`` the least cost with
    each choice at the start.
    """

    expected: FloatArray
    chosen: IntArray
    beginning: FloatArray


def cheapest(pool: Pool, costs: FloatArray) -> Mixtures:
    """Find the cheapest mixture under each row of choices' costs ``(X, J)``."""
    chosen, beginning = _swept(pool.start, pool.first, pool.target, np.atleast_2d(costs))
    return Mixtures(beginning.min(axis=1), chosen, beginning)


@njit(cache=True)
def _swept(
    start: IntArray, first: IntArray, target: IntArray, costs: FloatArray
) -> tuple[IntArray, FloatArray]:
    """Sweep backwards, children first."""
    states = len(start) - 1
    chosen = np.empty((len(costs), states), dtype=np.int64)
    beginning = np.empty((len(costs), start[1]))
    value = np.empty(states)
    for x in range(len(costs)):
        for n in range(states - 1, -1, -1):
            value[n] = np.inf
            for j in range(start[n], start[n + 1]):
                cost = costs[x, j]
                for k in range(first[j], first[j + 1]):
                    cost += value[target[k]]
                if n == 0:
                    beginning[x, j] = cost
                if cost < value[n]:
                    value[n], chosen[x, n] = cost, j
    return chosen, beginning


def followed(pool: Pool, chosen: IntArray) -> IntArray:
    """The choices that a mixture comes to from the start, in order; ``chosen (N,)``."""
    found: IntArray = _followed(pool.first, pool.target, chosen)
    return found


@njit(cache=True)
def _followed(first: IntArray, target: IntArray, chosen: IntArray) -> IntArray:
    reached = np.zeros(len(chosen), dtype=np.bool_)
    reached[0] = True
    for n in range(len(chosen)):
        if reached[n]:
            for k in range(first[chosen[n]], first[chosen[n] + 1]):
                reached[target[k]] = True
    return chosen[np.flatnonzero(reached)]
