"""How a bench works without a plan: three ways to compare a procedure with, as policies.

Fixes alone: the best ratio of cure to cost first (Kadane & Simon 1977), no check at all. The most telling
check: whatever tells most about the fault for its cost, until it is cheaper to go on with fixes alone (judged
with foresight). Told: somebody names the fault at the start, which no procedure can do better than.
"""

from dataclasses import replace
from typing import Final

import numpy as np
from numba import njit

from benchlore.procedure.arrays import Reduced, reduced
from benchlore.procedure.estimate import stop_cost
from benchlore.procedure.exact import solve_exact
from benchlore.procedure.instance import Instance
from benchlore.procedure.policy import FINISHED, RETURN, ROOT, Policy, PolicyBuilder, Solution, translated
from benchlore.procedure.prune import prunable
from benchlore.procedure.state import (
    Problem,
    State,
    first_state,
    information,
    is_allowed,
    next_states,
    own_cost,
    problem_of,
    results_of,
)
from benchlore.procedure.walk import walked

TELLS_NOTHING: Final = 1e-9
"""Nats for one unit of money below which a check is not worth making."""

RARE: Final = 3e-4
"""Share of jobs below which the habit of the most telling check goes on with fixes alone."""


def fixes_alone(instance: Instance) -> Solution:
    """Try fixes without any check, then return the board."""
    policy = _Habit(instance).policy(rare=np.inf)
    return _solution(policy, instance, "fixes alone, best ratio of cure to cost first")


def most_telling(instance: Instance, *, rare: float = RARE) -> Solution:
    """Make the check that tells most for its cost, again and again; stop where fixes alone are cheaper."""
    policy = prunable(_Habit(instance).policy(rare=rare), instance).at(0.0)
    return _solution(policy, instance, "most telling check for its cost first")


def told(instance: Instance, fault: int) -> Solution:
    """Repair a board whose fault is known, in the cheapest way; a solution of :func:`knowing`."""
    return solve_exact(knowing(instance, fault))


def knowing(instance: Instance, fault: int) -> Instance:
    """The same problem with the fault known: no check is made, and what a check would allow is allowed."""
    chances = np.zeros(len(instance.faults))
    chances[fault] = 1.0
    return replace(
        instance,
        prior=chances,
        checks=tuple(replace(check, excluded="the fault is known") for check in instance.checks),
        fixes=tuple(
            replace(fix, gates=())
            if fix.cures[fault] > 0
            else replace(fix, excluded="does not cure the fault")
            for fix in instance.fixes
        ),
    )


def _solution(policy: Policy, instance: Instance, method: str) -> Solution:
    return Solution(
        policy=policy,
        expected=float(walked(policy, instance).total[0]),
        bound=0.0,
        proof="bounded",
        method=method,
        bound_method="no cost is negative",
    )


class _Habit:
    """A policy in the making."""

    def __init__(self, instance: Instance) -> None:
        self._instance = instance
        self._small: Reduced = reduced(instance)
        self._problem: Problem = problem_of(self._small.arrays)
        self._builder = PolicyBuilder()
        self._sequence = np.empty(len(self._small.fixes), dtype=np.int64)

    def policy(self, rare: float) -> Policy:
        """Checks, the most telling first, in every state reached by so many jobs; then fixes alone."""
        self._add(first_state(self._problem.arrays), ROOT, 0, rare)
        checks = len(self._instance.checks)
        return translated(self._builder.build(), self._small.checks, self._small.fixes, checks)

    def _add(self, state: State, parent: int, result: int, rare: float) -> None:
        check = int(_most_telling(self._problem, state)) if state.b.sum() >= rare else -1
        if check < 0:
            self._stop(state, parent, result)
            return
        after = next_states(self._problem, state, check)
        node = self._builder.add(check, len(after), parent, result)
        for r, each in enumerate(after):
            self._add(each, node, r, rare)

    def _stop(self, state: State, parent: int, result: int) -> None:
        """Add the fixes worth trying without another check, and how the job ends if they fail."""
        if state.b.sum() <= 0:
            self._builder.add(RETURN, 0, parent, result)
            return
        cost, length = stop_cost(self._problem, state, 0.0, self._sequence)
        fixes = [len(self._small.checks) + int(a) for a in self._sequence[:length]]
        is_identified = self._problem.arrays.identify and cost == 0
        self._builder.add_fixes(fixes, FINISHED if is_identified else RETURN, parent, result)


@njit(cache=True)
def _most_telling(p: Problem, state: State) -> int:
    """The check with the most information on the fault for its cost, or -1 if none tells anything."""
    joint = np.empty((p.arrays.shows.shape[2], len(state.b)))
    best, most = -1, TELLS_NOTHING
    for check in range(len(state.digits)):
        if state.digits[check] == 0 and is_allowed(p.arrays, state.digits, check):
            results_of(p, state, check, joint)
            gain = information(p, state, check, joint) / max(own_cost(p, state, check), 1e-12)
            if gain > most:
                best, most = check, gain
    return best
