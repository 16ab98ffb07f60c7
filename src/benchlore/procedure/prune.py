"""The cheapest prunings of a policy: at every node go on, or stop there with fixes alone and the return.

Every node that stays costs a price, so that one pass from the leaves up finds the pruning that is cheapest at
that price (as for classification trees: Breiman, Friedman, Olshen & Stone 1984, chapter 10).
"""

from dataclasses import dataclass

import numpy as np
from numba import njit

from benchlore.model import FloatArray
from benchlore.procedure.arrays import IntArray, arrays_of
from benchlore.procedure.estimate import failed_fix, stop_cost
from benchlore.procedure.instance import Instance
from benchlore.procedure.policy import FINISHED, RETURN, ROOT, Policy, PolicyBuilder
from benchlore.procedure.state import (
    Problem,
    State,
    first_state,
    next_states,
    own_cost,
    problem_of,
    setups_cost,
)
from benchlore.procedure.values import RELEASE


@dataclass(frozen=True, eq=False)
class Prunable:
    """A policy and what stopping at each of its ``N`` nodes costs.

    ``own (N,)`` is the cost of a node's action, ``reach (N,)`` the probability of getting there. At node
    ``n`` one may stop after none, one, two, … of ``fixes[n]``: that costs ``ends[first[n]:first[n + 1]]``.
    All costs are times the probability.
    """

    policy: Policy
    own: FloatArray
    reach: FloatArray
    ends: FloatArray
    first: IntArray
    fixes: tuple[tuple[int, ...], ...]

    def at(self, price: float) -> Policy:
        """The cheapest pruning if every step costs so much, however few jobs get there."""
        length = np.arange(len(self.ends)) - np.repeat(self.first[:-1], np.diff(self.first))
        priced = self.ends + price * (length + 1)
        stop = np.minimum.reduceat(priced, self.first[:-1])
        stops = _stops(
            self.policy.action, self.policy.start, self.policy.target, self.own, self.reach, stop, price
        )
        builder = PolicyBuilder()
        stack = [(0, ROOT, 0)]
        while stack:
            n, parent, result = stack.pop()
            if stops[n]:
                segment = priced[self.first[n] : self.first[n + 1]]
                builder.add_fixes(self.fixes[n][: int(segment.argmin())], RETURN, parent, result)
                continue
            onwards = self.policy.next_of(n)
            node = builder.add(int(self.policy.action[n]), len(onwards), parent, result)
            links = [(child, node, r) for r, child in enumerate(onwards) if child != RELEASE]
            stack.extend(reversed(links))
        return builder.build()


def prunable(policy: Policy, instance: Instance) -> Prunable:
    """Find out what stopping costs at every node of a policy."""
    # A policy may take soaks that the reductions leave out, so nothing is left out here.
    open_checks, open_fixes = instance.open_checks, instance.open_fixes
    live = tuple((int(f),) for f in np.flatnonzero(instance.prior > 0))
    problem = problem_of(arrays_of(instance, open_checks, open_fixes, live))
    checks = len(instance.checks)
    code = {c: k for k, c in enumerate(open_checks)}
    code.update({checks + a: len(open_checks) + k for k, a in enumerate(open_fixes)})
    own, reach = np.zeros(policy.size), np.zeros(policy.size)
    ends: list[FloatArray] = [np.zeros(1)] * policy.size
    fixes: list[tuple[int, ...]] = [()] * policy.size
    sequence = np.empty(len(open_fixes), dtype=np.int64)
    stack = [(0, first_state(problem.arrays))]
    while stack:
        n, state = stack.pop()
        reach[n] = state.b.sum()
        _, length = stop_cost(problem, state, 0.0, sequence)
        ends[n] = ends_of(problem, state, sequence[:length])
        fixes[n] = tuple(checks + open_fixes[a] for a in sequence[:length].tolist())
        action = int(policy.action[n])
        if action in code:
            own[n] = own_cost(problem, state, code[action])
            after = zip(policy.next_of(n), next_states(problem, state, code[action]), strict=False)
            stack.extend((child, onwards) for child, onwards in after)
        elif action == RETURN:
            own[n] = reach[n] * instance.give_up
        else:
            assert action == FINISHED
            ends[n] = np.zeros(1)
    first = np.cumsum([0, *(len(each) for each in ends)])
    return Prunable(policy, own, reach, np.concatenate(ends), first, tuple(fixes))


@njit(cache=True, error_model="numpy")
def ends_of(p: Problem, state: State, sequence: IntArray) -> FloatArray:
    """Cost of trying none, the first, the first two, … of some fixes, then returning the board."""
    arrays = p.arrays
    left, standing, spent = state.b.copy(), state.standing, 0.0
    ends = np.empty(len(sequence) + 1)
    for k in range(len(sequence)):
        reach = left.sum()
        ends[k] = spent + reach * arrays.give_up
        a = sequence[k]
        spent += reach * (arrays.fix_cost[a] + setups_cost(p, arrays.fix_setups[a] & ~standing))
        standing |= arrays.fix_setups[a]
        slipped, _ = failed_fix(left, arrays.missed[a], arrays.detects[a])
        spent += slipped * arrays.comeback
    ends[len(sequence)] = spent + left.sum() * arrays.give_up
    return ends


@njit(cache=True)
def _stops(
    action: IntArray,
    start: IntArray,
    target: IntArray,
    own: FloatArray,
    reach: FloatArray,
    stop: FloatArray,
    price: float,
) -> IntArray:
    """Whether it is cheaper to stop at each node than to go on, ``(N,)``; children come after parents."""
    value = np.zeros(len(action))
    stops = np.zeros(len(action), dtype=np.int64)
    for n in range(len(action) - 1, -1, -1):
        if reach[n] <= 0.0 or action[n] < 0:
            value[n] = own[n] + price if reach[n] > 0.0 and action[n] == -1 else 0.0
            continue
        value[n] = own[n] + price
        for k in range(start[n], start[n + 1]):
            if target[k] >= 0:
                value[n] += value[target[k]]
        if stop[n] < value[n]:
            value[n], stops[n] = stop[n], 1
    return stops
