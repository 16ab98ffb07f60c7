"""Suspects that need not or cannot be told apart: one fix for all, or no check that separates them."""

from collections.abc import Iterator
from itertools import pairwise
from math import prod
from typing import Final

import numpy as np

from benchlore.model import FloatArray
from benchlore.procedure.advice import Alike
from benchlore.procedure.arrays import BoolArray
from benchlore.procedure.outlook import known_faults
from benchlore.procedure.position import Position

NOTICEABLE: Final = 0.02
"""Suspects less probable than this are not compared."""

MOST_COMPARED: Final = 12
"""So many of the most probable suspects are compared."""

SAME: Final = 0.01
"""Suspects that no combination of results tells apart better than this (total variation) count as alike."""

SEPARATES: Final = 0.2
"""A check whose results differ at least so much between two suspects (total variation) tells them apart."""

MOST_COMBINED: Final = 4096
"""Combinations of results on one condition that are gone through; beyond, its states are compared."""

MOST_NAMED: Final = 3
"""Checks that would separate a group and are named."""


def alike_of(position: Position) -> tuple[Alike, ...]:
    """Group the noticeable suspects that are alike here."""
    belief = position.state.b
    order = np.argsort(-belief, kind="stable")[:MOST_COMPARED]
    suspects = [int(f) for f in order if belief[f] >= NOTICEABLE]
    if len(suspects) < 2:
        return ()
    treated = list(_same_fixes(position, suspects))
    together = [{*group.faults} for group in treated]
    unseen = [
        group
        for group in _unseparated(position, suspects)
        if not any(names >= {*group.faults} for names in together)
    ]
    return (*treated, *unseen)


def _same_fixes(position: Position, suspects: list[int]) -> Iterator[Alike]:
    """Group suspects whose best fixes, each being known, come in the same order and cost no more for all."""
    names, options = position.prepared.instance.faults, position.prepared.options
    checks = len(position.state.digits)
    alone = np.zeros((len(suspects), len(names)))
    alone[np.arange(len(suspects)), suspects] = 1.0
    cost, order, length = known_faults(position.problem, position.state, alone)
    groups: dict[tuple[int, ...], list[int]] = {}
    for k in range(len(suspects)):
        groups.setdefault(tuple(order[k, : length[k]].tolist()), []).append(k)
    for sequence, members in groups.items():
        joint, _, _ = known_faults(position.problem, position.state, alone[members].sum(axis=0)[None])
        apart = float(cost[members].sum())
        if len(members) > 1 and float(joint[0]) <= apart * (1 + 1e-9):
            faults = tuple(names[suspects[k]] for k in members)
            if sequence:
                yield Alike(faults, "same fix", options[checks + sequence[0]].name)
            else:
                yield Alike(faults, "no fix")


def _unseparated(position: Position, suspects: list[int]) -> Iterator[Alike]:
    """Group suspects for whom all that can still be read looks the same."""
    options, names = position.prepared.options, position.prepared.instance.faults
    open_ = ~position.blocked[: len(position.state.digits)]
    apart = _apart(position, suspects)
    near = np.all(apart[open_] <= SAME, axis=0)
    groups: list[list[int]] = []
    for k in range(len(suspects)):
        home = next((group for group in groups if near[k, group].all()), None)
        if home is not None and all(_is_same(position, open_, suspects[k], suspects[m]) for m in home):
            home.append(k)
        else:
            groups.append([k])
    for group in (group for group in groups if len(group) > 1):
        gap = np.min([apart[:, a, b] for a, b in pairwise(group)], axis=0)
        telling = [c for c in np.argsort(-gap, kind="stable").tolist() if gap[c] >= SEPARATES]
        would = [(options[c].name, position.why[c]) for c in telling if c not in position.situation.read]
        yield Alike(tuple(names[suspects[k]] for k in group), "no check", checks=tuple(would[:MOST_NAMED]))


def _apart(position: Position, suspects: list[int]) -> FloatArray:
    """Total variation between the results of each check for each pair of suspects, ``(C, N, N)``."""
    arrays = position.problem.arrays
    states = position.states_of(suspects)
    shown = np.matmul(states[arrays.condition], arrays.shows)
    apart = np.zeros((len(shown), len(suspects), len(suspects)))
    for result in range(shown.shape[2]):
        chance = shown[:, :, result]
        apart += np.abs(chance[:, :, None] - chance[:, None, :])
    return apart / 2


def _is_same(position: Position, open_: BoolArray, one: int, other: int) -> bool:
    """Whether no combination of what can still be read tells two suspects apart.

    Each check alone may show the same for both and two on one condition together not.
    """
    condition = position.problem.arrays.condition
    first, second = position.states_of([one, other]).transpose(1, 0, 2)
    for g in np.unique(condition[open_]).tolist():
        gap = first[g] - second[g]
        if np.any(gap != 0) and _variation(position, np.flatnonzero(open_ & (condition == g)), gap) > SAME:
            return False
    return True


def _variation(
    position: Position, checks: np.ndarray[tuple[int], np.dtype[np.int64]], gap: FloatArray
) -> float:
    arrays = position.problem.arrays
    joint = np.ones((len(gap), 1))
    if prod(int(r) for r in arrays.results[checks]) > MOST_COMBINED:
        return float(np.abs(gap).sum() / 2)
    for c in checks:
        shows = arrays.shows[c, :, : arrays.results[c]]
        joint = (joint[:, :, None] * shows[:, None, :]).reshape(len(gap), -1)
    return float(np.abs(gap @ joint).sum() / 2)
