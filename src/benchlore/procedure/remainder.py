"""What is left of a problem at a state of evidence, as a problem of its own."""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Final, TypeVar

import numpy as np

from benchlore.model import FloatArray
from benchlore.procedure.arrays import IntArray
from benchlore.procedure.instance import CheckOption, FixOption, Instance

Option = TypeVar("Option", CheckOption, FixOption)

DONE: Final = "done"
"""Why what was done is left out, and what waits for another result of it."""


def remainder(instance: Instance, done: IntArray, weights: FloatArray, seen: FloatArray) -> Instance | None:
    """The problem from a state on, its actions numbered as before; ``None`` where the state is impossible.

    ``done (C + A,)`` is the result of each check and 0 for a failed fix, -1 where not done; ``weights (F,)``
    is ``P(state, fault)``, ``seen (G, S)`` the likelihood of the readings in each state of a condition.
    """
    total = float(weights.sum())
    if total <= 0:
        return None
    checks = len(instance.checks)
    tried = {fix.name for fix, result in zip(instance.fixes, done[checks:], strict=True) if result >= 0}
    standing = instance.standing
    for option in _done(instance, done):
        standing |= option.setups
    return replace(
        instance,
        prior=weights / total,
        tables=tuple(_updated(table, seen[g, : table.shape[1]]) for g, table in enumerate(instance.tables)),
        checks=tuple(_left(check, done, done[c] >= 0) for c, check in enumerate(instance.checks)),
        fixes=tuple(_left(fix, done, fix.name in tried) for fix in instance.fixes),
        standing=standing,
    )


def _done(instance: Instance, done: IntArray) -> Iterator[CheckOption | FixOption]:
    options: Sequence[CheckOption | FixOption] = [*instance.checks, *instance.fixes]
    yield from (option for option, result in zip(options, done, strict=True) if result >= 0)


def _updated(table: FloatArray, seen: FloatArray) -> FloatArray:
    """``P(state | fault, readings)``; rows of faults that the readings exclude stay."""
    joint = table * seen
    total = joint.sum(axis=1, keepdims=True)
    updated: FloatArray = np.where(total > 0, joint / np.where(total > 0, total, 1.0), table)
    return updated


def _left(option: Option, done: IntArray, is_done: bool) -> Option:
    gates = [gate for gate in option.gates if done[gate.check] not in gate.results]
    shut = is_done or any(done[gate.check] >= 0 for gate in gates)
    return replace(option, gates=tuple(gates), excluded=DONE if shut else option.excluded)
