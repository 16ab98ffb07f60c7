"""Fewer steps by leading branches to parts of the procedure that are there anyhow.

A branch may end in any other step of the procedure, if what follows there is allowed here too; what that
costs is exact. One step after another goes, the one whose branches lose least elsewhere for each step that is
saved.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from math import isfinite
from typing import Final, NamedTuple

import numpy as np
from numba import njit

from benchlore.model import FloatArray
from benchlore.procedure.arrays import Arrays, BoolArray, IntArray
from benchlore.procedure.graph import Merged, shared
from benchlore.procedure.instance import Instance
from benchlore.procedure.policy import FINISHED, ROOT, Policy, PolicyBuilder
from benchlore.procedure.values import RELEASE
from benchlore.procedure.walk import column_of, condition_on, levels_of, walked, whole

MOST_WORK: Final = 30_000
"""States of a policy times its steps above which it is left as it is: so many sub-policies are weighed."""

MOST_TRIED: Final = 12
"""Changes that are tried before it is taken that no step can be saved any more."""

MOST_NODES: Final = 2_000
"""States above which a policy is left as it is."""


@dataclass(frozen=True, eq=False)
class Sized:
    """A policy, what it costs, and how many steps it has once equal parts are shared.

    ``nodes`` are the states in its tree that some job gets to.
    """

    policy: Policy
    cost: float
    nodes: int
    merged: Merged

    @property
    def steps(self) -> int:
        """The number of steps that are printed."""
        return len(self.merged.action)


def sized(policy: Policy, instance: Instance) -> Sized:
    """Price a policy and count its steps."""
    walk = walked(policy, instance)
    nodes = int(((walk.reach > 0) & (policy.action != FINISHED)).sum())
    return Sized(policy, float(walk.total[0]), nodes, shared(policy, walk))


def shrinking(found: Sized, instance: Instance) -> Iterator[Sized]:
    """Save steps until half of them are left, or no more can be saved; yield every policy on the way.

    Those are also the ones beside the way that one change makes, where no other change saves more for less.
    """
    least = found.steps // 2
    while found.steps > least and found.policy.size * found.steps <= MOST_WORK:
        edges = _Edges(found, instance)
        moves = _moves(found, edges)
        yield from _made(found, instance, edges, _undominated(moves))
        best = sorted(moves, key=_loss_per_step)[:MOST_TRIED]
        smaller = next(_made(found, instance, edges, best), None)
        if smaller is None:
            return
        found = smaller


def _moves(found: Sized, edges: "_Edges") -> list[tuple[float, int, int]]:
    """Loss and saved steps of doing without each group of nodes."""
    moves = []
    for group, action in enumerate(found.merged.action):
        if action >= 0 and group != edges.root:
            loss, branches = edges.without(group)
            saved = found.steps - len(_reached(branches, edges.root))
            if saved > 0 and isfinite(loss):
                moves.append((loss, saved, group))
    return moves


def _loss_per_step(move: tuple[float, int, int]) -> tuple[float, int, int]:
    loss, saved, group = move
    return loss / saved, -saved, group


def _undominated(moves: Sequence[tuple[float, int, int]]) -> Iterator[tuple[float, int, int]]:
    """Yield the moves that save more steps than all that lose no more."""
    most = 0
    for move in sorted(moves):
        if move[1] > most:
            most = move[1]
            yield move


def _made(
    found: Sized, instance: Instance, edges: "_Edges", moves: Iterable[tuple[float, int, int]]
) -> Iterator[Sized]:
    """Yield the policies that moves make, if they have fewer steps indeed."""
    for _, _, group in moves:
        policy = _expanded(found.merged.action, edges.without(group)[1], edges.root)
        if policy is not None:
            smaller = sized(policy, instance)
            if smaller.steps < found.steps:
                yield smaller


class _Edges:
    """The branches of a policy's ``K`` shared steps, and what leading each elsewhere would cost more.

    ``losses[k]`` of the branch ``places[k]``, a pair of group and result, has a number for each group.
    """

    def __init__(self, found: Sized, instance: Instance) -> None:
        policy, merged = found.policy, found.merged
        self._branches = merged.branches
        self.root = int(merged.member[0])
        count = len(merged.action)
        _, roots = np.unique(merged.member, return_index=True)
        costs = _costs_elsewhere(whole(instance), policy.action, policy.start, policy.target, roots)
        losses = costs - costs[np.arange(policy.size), merged.member][:, None]
        parent = np.repeat(np.arange(policy.size), np.diff(policy.start))
        self._losses: dict[tuple[int, int], FloatArray] = {}
        for slot, child in enumerate(policy.target.tolist()):
            if child != RELEASE:
                node = int(parent[slot])
                place = (int(merged.member[node]), slot - int(policy.start[node]))
                self._losses[place] = self._losses.get(place, np.zeros(count)) + losses[child]
        self._leads_to = _leads_to(merged.branches)

    def without(self, group: int) -> tuple[float, list[tuple[int, ...]]]:
        """The least loss if every branch to a group leads elsewhere, and the branches then."""
        shut = self._leads_to[:, group]
        total, branches = 0.0, [list(onwards) for onwards in self._branches]
        for (parent, result), losses in self._losses.items():
            if self._branches[parent][result] == group:
                allowed = np.where(shut, np.inf, losses)
                branches[parent][result] = int(allowed.argmin())
                total += float(allowed.min())
        return total, [tuple(onwards) for onwards in branches]


def _leads_to(branches: Sequence[tuple[int, ...]]) -> BoolArray:
    """Whether one group leads to another or is it, ``(K, K)``; groups come after those they lead to."""
    leads = np.eye(len(branches), dtype=np.bool_)
    for group, onwards in enumerate(branches):
        for target in onwards:
            if target != RELEASE:
                leads[group] |= leads[target]
    return leads


def _reached(branches: Sequence[tuple[int, ...]], root: int) -> set[int]:
    reached, stack = {root}, [root]
    while stack:
        for target in branches[stack.pop()]:
            if target != RELEASE and target not in reached:
                reached.add(target)
                stack.append(target)
    return reached


def _expanded(action: Sequence[int], branches: Sequence[tuple[int, ...]], root: int) -> Policy | None:
    """Write shared steps as a tree again; ``None`` where that would be too large."""
    builder = PolicyBuilder()
    stack, size = [(root, ROOT, 0)], 0
    while stack:
        group, parent, result = stack.pop()
        node = builder.add(action[group], len(branches[group]), parent, result)
        links = [(target, node, r) for r, target in enumerate(branches[group]) if target != RELEASE]
        stack.extend(reversed(links))
        size += 1
        if size > MOST_NODES:
            return None
    return builder.build()


class _Place(NamedTuple):
    """Where a job stands, one row for each level: ``weights`` by fault, ``seen``, ``done``, ``standing``.

    ``done[level, column]`` is 0 for a check or fix that was not done, else the number of its result, from 1;
    all variants of a fix have one column.
    """

    weights: FloatArray
    seen: FloatArray
    done: IntArray
    standing: IntArray


@njit(cache=True)
def _place(arrays: Arrays, levels: int) -> _Place:
    """Room for so many levels; the first is the start of a job."""
    place = _Place(
        np.empty((levels, len(arrays.prior))),
        np.ones((levels, arrays.table.shape[0], arrays.table.shape[2])),
        np.zeros((levels, len(arrays.condition) + len(arrays.fix_cost)), dtype=np.int64),
        np.zeros(levels, dtype=np.int64),
    )
    place.weights[0] = arrays.prior
    place.standing[0] = arrays.standing
    return place


@njit(cache=True)
def _enter(arrays: Arrays, place: _Place, level: int, action: int, result: int) -> None:
    """Fill in a level from the one above and what was done there."""
    checks = len(arrays.condition)
    place.done[level] = place.done[level - 1]
    place.done[level, column_of(arrays, action)] = result + 1
    place.seen[level] = place.seen[level - 1]
    old, new = place.weights[level - 1], place.weights[level]
    if action < checks:
        condition_on(arrays, action, result, place.seen[level], old, new)
        needs = arrays.check_setups[action]
    else:
        new[:] = old * arrays.missed[action - checks] * arrays.detects[action - checks]
        needs = arrays.fix_setups[action - checks]
    place.standing[level] = place.standing[level - 1] | needs


@njit(cache=True)
def _may(arrays: Arrays, done: IntArray, action: int) -> bool:
    """Whether an action was not done yet and its gates are open."""
    if done[column_of(arrays, action)] > 0:
        return False
    for k in range(arrays.gate_check.shape[1]):
        check = arrays.gate_check[action, k]
        if check >= 0 and (done[check] == 0 or not arrays.gate_open[action, k, done[check] - 1]):
            return False
    return True


@njit(cache=True)
def _own_cost(arrays: Arrays, weights: FloatArray, standing: int, action: int) -> float:
    """What a step costs here, with missing setups and expected comebacks, times the probability."""
    checks = len(arrays.condition)
    reach = weights.sum()
    if action < 0:
        return float(reach * arrays.give_up) if action == -1 else 0.0
    if action < checks:
        own, needs, slips = arrays.check_cost[action], arrays.check_setups[action], 0.0
    else:
        a = action - checks
        own, needs = arrays.fix_cost[a], arrays.fix_setups[a]
        slips = (weights * arrays.missed[a] * (1.0 - arrays.detects[a])).sum()
    missing = needs & ~standing
    for k in range(len(arrays.setup_cost)):
        own += arrays.setup_cost[k] * (missing >> k & 1)
    return float(reach * own + slips * arrays.comeback)


@njit(cache=True)
def _follow(
    arrays: Arrays,
    action: IntArray,
    start: IntArray,
    target: IntArray,
    root: int,
    place: _Place,
    base: int,
) -> float:
    """The cost of following a sub-policy from the state at level ``base``; ``inf`` if it is not allowed."""
    cost = 0.0
    stack = [(root, base, -1, 0)]
    while len(stack) > 0:
        n, level, last, result = stack.pop()
        if level > base:
            _enter(arrays, place, level, last, result)
        if action[n] >= 0 and not _may(arrays, place.done[level], action[n]):
            return np.inf
        if action[n] == -2 and place.weights[level].sum() - place.weights[level].max() > 0.0:
            return np.inf  # one fault is certain where a sub-policy ends an identification, not here
        cost += _own_cost(arrays, place.weights[level], place.standing[level], action[n])
        for k in range(start[n], start[n + 1]):
            if target[k] >= 0:
                stack.append((target[k], level + 1, action[n], k - start[n]))  # noqa: PERF401 numba
    return cost


@njit(cache=True)
def _costs_elsewhere(
    arrays: Arrays, action: IntArray, start: IntArray, target: IntArray, roots: IntArray
) -> FloatArray:
    """The cost of going on at every node as at each of the ``roots``, ``(N, K)``, times the probability."""
    place = _place(arrays, 2 * levels_of(start, target).max() + 2)
    costs = np.empty((len(action), len(roots)))
    stack = [(0, 0, -1, 0)]
    while len(stack) > 0:
        n, level, last, result = stack.pop()
        if level > 0:
            _enter(arrays, place, level, last, result)
        for h in range(len(roots)):
            costs[n, h] = _follow(arrays, action, start, target, roots[h], place, level)
        for k in range(start[n], start[n + 1]):
            if target[k] >= 0:
                stack.append((target[k], level + 1, action[n], k - start[n]))  # noqa: PERF401 numba
    return costs
