"""A procedure's steps as numbers, for kernels that walk boards through it."""

from typing import Final, NamedTuple

import numpy as np

from benchlore.procedure.arrays import IntArray
from benchlore.procedure.instance import Instance
from benchlore.procedure.policy import GONE, STILL_THERE
from benchlore.procedure.values import Kind, Procedure

RETURNS: Final = 0
CHECKS: Final = 1
FIXES: Final = 3


class Actions(NamedTuple):
    """A procedure of ``N`` steps.

    ``kind (N,)`` is ``RETURNS``, ``CHECKS`` or ``FIXES``. ``row (N,)`` is the check or fix of the instance.
    ``target[start[n] + r]`` is the step after result ``r``: those of the check; "still there" and "gone".
    """

    kind: IntArray
    row: IntArray
    start: IntArray
    target: IntArray


def actions_of(procedure: Procedure, instance: Instance) -> Actions:
    """Number the steps' actions, which are found by name, and fixes by soak too."""
    checks = {check.name: c for c, check in enumerate(instance.checks)}
    fixes = {(fix.name, fix.soak): a for a, fix in enumerate(instance.fixes)}
    kind, row, target, start = [], [], [], [0]
    for step in procedure.steps:
        if step.kind is Kind.CHECK:
            row.append(checks[step.action])
            kind.append(CHECKS)
            target += [step.branches[name] for name in instance.checks[row[-1]].results]
        elif step.kind is Kind.FIX:
            row.append(fixes[step.action, step.soak])
            kind.append(FIXES)
            target += [step.branches[STILL_THERE], step.branches[GONE]]
        else:
            row.append(0)
            kind.append(RETURNS)
        start.append(len(target))
    return Actions(*(np.array(column, dtype=np.int64) for column in (kind, row, start, target)))
