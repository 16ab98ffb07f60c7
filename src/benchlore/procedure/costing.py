"""What a procedure costs on another instance than its own: its steps found by name, every state walked."""

import numpy as np

from benchlore.procedure.arrays import IntArray
from benchlore.procedure.instance import Instance
from benchlore.procedure.policy import RETURN, ROOT, STILL_THERE, Policy, PolicyBuilder
from benchlore.procedure.values import RELEASE, Kind, Procedure, Step
from benchlore.procedure.walk import cost_of


def expected_cost(procedure: Procedure, instance: Instance) -> float:
    """The exact expected cost of following a procedure on an instance.

    Checks are found by name with the same results, and fixes by name and soak.

    Raises
    ------
    KeyError
        If the instance lacks something that the procedure does or sees.
    """
    return cost_of(policy_of(procedure, instance), instance)


def policy_of(procedure: Procedure, instance: Instance) -> Policy:
    """Unfold a procedure into the tree of its states of evidence; equal parts stand as often as they come.

    Checks that share a condition tell about each other, so what is believed at a step depends on the way
    there: only the tree keeps it apart.

    Raises
    ------
    KeyError
        As :func:`expected_cost`.
    """
    return unfolded(procedure, instance)[0]


def unfolded(procedure: Procedure, instance: Instance) -> tuple[Policy, IntArray]:
    """The tree of :func:`policy_of`, and the number of the step that each of its nodes is, ``(N,)``."""
    known = [_onwards(step, instance) for step in procedure.steps]
    builder, numbers = PolicyBuilder(), []
    stack = [(0, ROOT, 0)]
    while stack:
        number, parent, result = stack.pop()
        action, targets = known[number]
        node = builder.add(action, len(targets), parent, result)
        numbers.append(number)
        onwards = [(target, node, k) for k, target in enumerate(targets) if target != RELEASE]
        stack += reversed(onwards)
    return builder.build(), np.array(numbers, dtype=np.int64)


def unfolded_size(procedure: Procedure) -> int:
    """How many nodes that tree has, without building it."""
    sizes = [0] * len(procedure.steps)
    for step in reversed(procedure.steps):
        onwards = (target for target in step.branches.values() if target != RELEASE)
        sizes[step.number] = 1 + sum(sizes[target] for target in onwards)
    return sizes[0]


def _onwards(step: Step, instance: Instance) -> tuple[int, tuple[int, ...]]:
    """The action code of a step, and the next steps in the order of its results."""
    if step.kind is Kind.CHECK:
        codes = {check.name: c for c, check in enumerate(instance.checks)}
        code = codes[step.action]
        return code, tuple(step.branches[name] for name in instance.checks[code].results)
    if step.kind is Kind.FIX:
        variants = {(fix.name, fix.soak): a for a, fix in enumerate(instance.fixes)}
        code = len(instance.checks) + variants[step.action, step.soak]
        return code, (step.branches[STILL_THERE], RELEASE)
    return RETURN, ()
