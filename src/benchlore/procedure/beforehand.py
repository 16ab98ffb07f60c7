"""Checks that cost nothing come first: what is known for nothing never makes the rest dearer.

Some best procedure makes them before all else (Good, "On the principle of total evidence", British Journal
for the Philosophy of Science 17, 1967), so that a bound may be sought for each of their results by itself, at
its own prices.
"""

from collections.abc import Iterator
from typing import Final, NamedTuple

import numpy as np

from benchlore.procedure.instance import Instance
from benchlore.procedure.remainder import remainder

MOST: Final = 16
"""Results together that are told apart."""


class Known(NamedTuple):
    """The probability of what free checks showed, and the problem from there on."""

    chance: float
    left: Instance


def after_free_checks(instance: Instance) -> tuple[Known, ...]:
    """All that the checks which cost nothing can show, up to :data:`MOST` results together."""
    known: tuple[Known, ...] = (Known(1.0, instance),)
    for c, check in enumerate(instance.checks):
        is_made = check.setups & ~instance.standing == 0
        is_free = check.cost.total <= 0.0 and is_made and not check.gates and not check.excluded
        if is_free and len(known) * len(check.results) <= MOST:
            known = tuple(after for before in known for after in _shown(before, c))
    return known


def _shown(before: Known, c: int) -> Iterator[Known]:
    """What can follow one check."""
    instance = before.left
    check, states = instance.checks[c], max(table.shape[1] for table in instance.tables)
    for r in range(len(check.results)):
        done = np.full(len(instance.checks) + len(instance.fixes), -1)
        done[c] = r
        seen = np.ones((len(instance.tables), states))
        seen[check.condition, : len(check.table)] = check.table[:, r]
        likely = instance.tables[check.condition] @ check.table[:, r]
        left = remainder(instance, done, instance.prior * likely, seen)
        if left is not None:
            yield Known(before.chance * float(instance.prior @ likely), left)
