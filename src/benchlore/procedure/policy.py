"""A policy for an instance as a tree in arrays: what the solvers return before it becomes a procedure.

Every node is one state of evidence: two paths of a policy differ in the result of the action at which they
part, so no two nodes share their evidence. Nodes are numbered in preorder, parents before children.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np

from benchlore.procedure.arrays import IntArray
from benchlore.procedure.values import RELEASE

RETURN: Final = -1
"""Action code of returning the board unrepaired."""

FINISHED: Final = -2
"""Action code of the end of an identification: one fault is certain."""

STILL_THERE: Final = "still there"
GONE: Final = "gone"
"""The two outcomes of a fix: what trying the complaint again shows."""


@dataclass(frozen=True, eq=False)
class Policy:
    """A tree of actions on an instance with ``C`` checks.

    ``action[n]`` is a check (below ``C``), ``C`` plus a fix, ``RETURN`` or ``FINISHED``. The next nodes of
    ``n`` are ``target[start[n]:start[n + 1]]``: one for each result of a check; after a fix the one for
    "still there", then ``RELEASE``.
    """

    action: IntArray
    start: IntArray
    target: IntArray

    @property
    def size(self) -> int:
        """The number of nodes."""
        return len(self.action)

    def next_of(self, node: int) -> tuple[int, ...]:
        """The nodes that follow, in the order of results."""
        return tuple(int(n) for n in self.target[self.start[node] : self.start[node + 1]])


@dataclass(frozen=True, eq=False)
class Solution:
    """A policy, its exact expected cost, a lower bound on every policy's, and how both were found.

    ``limit`` is the number of steps that it may have at most, ``unlimited`` the cost without that limit; both
    ``None`` where nobody set one.
    """

    policy: Policy
    expected: float
    bound: float
    proof: Literal["optimal", "bounded"]
    method: str
    bound_method: str
    limit: int | None = None
    unlimited: float | None = None


ROOT: Final = -1
"""The parent of a policy's first node: there is none."""


class PolicyBuilder:
    """Collects nodes in preorder: open a node, then build what follows each of its results."""

    def __init__(self) -> None:
        self._actions: list[int] = []
        self._targets: list[list[int]] = []

    def add(self, action: int, results: int = 0, parent: int = ROOT, result: int = 0) -> int:
        """Append a node with so many results, following a result of its parent; return its number."""
        node = len(self._actions)
        self._actions.append(action)
        self._targets.append([RELEASE] * results)
        if parent != ROOT:
            self.link(parent, result, node)
        return node

    def add_fixes(self, fixes: Iterable[int], last: int, parent: int = ROOT, result: int = 0) -> None:
        """Append fixes, each after the one before failed, and the last action after they all did."""
        for action in fixes:
            parent, result = self.add(action, 2, parent, result), 0
        self.add(last, 0, parent, result)

    def link(self, node: int, result: int, target: int) -> None:
        """Say which node follows a result."""
        self._targets[node][result] = target

    def build(self) -> Policy:
        """Freeze what was collected."""
        counts = np.array([0, *(len(targets) for targets in self._targets)], dtype=np.int64)
        return Policy(
            action=np.array(self._actions, dtype=np.int64),
            start=np.cumsum(counts),
            target=np.array([n for targets in self._targets for n in targets], dtype=np.int64),
        )


def translated(policy: Policy, checks: tuple[int, ...], fixes: tuple[int, ...], all_checks: int) -> Policy:
    """Renumber the actions of a policy for a reduced instance into those of the whole one."""
    codes = np.array([*checks, *(all_checks + a for a in fixes), FINISHED, RETURN], dtype=np.int64)
    return Policy(codes[policy.action], policy.start, policy.target)
