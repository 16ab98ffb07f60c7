"""A problem and a state of evidence as the look-ahead's kernels see them, and how one state leads to others.

``b`` is a belief, unnormalised: ``P(state, fault)``; costs are times ``P(state)``.
"""

from typing import Final, NamedTuple

import numpy as np
from numba import njit

from benchlore.model import FloatArray
from benchlore.procedure.arrays import Arrays, BoolArray, IntArray
from benchlore.procedure.rows import put_row, put_rows

TABLED_SETUPS: Final = 12
"""Up to so many setups the cost of every set of them is tabled."""


class Problem(NamedTuple):
    """Arrays and what can be computed from them once.

    ``expects (C, R, F)`` is ``P(result | fault)`` before any reading on the check's condition, ``sharp (C,
    F)`` is ``sum_r P log P`` of its rows. The faults that fix ``a`` cures are ``cured[first[a]:first[a +
    1]]``. The variants of fix ``g`` are ``member[begin[g]:begin[g + 1]]``, the cheapest first;
    ``leads (A,)`` says which are. ``setups (2^k,)`` is the cost of every set of setups, where there are few.
    """

    arrays: Arrays
    expects: FloatArray
    sharp: FloatArray
    first: IntArray
    cured: IntArray
    begin: IntArray
    member: IntArray
    leads: BoolArray
    setups: FloatArray


class State(NamedTuple):
    """Where a job stands: ``b (F,)`` the belief, ``seen (G, S)`` what the readings say of states.

    ``digits (C,)`` are results + 1 of the checks done (0: not done), ``failed (A,)`` the variants of
    fixes that failed.
    """

    b: FloatArray
    seen: FloatArray
    digits: IntArray
    failed: BoolArray
    standing: int


def problem_of(arrays: Arrays) -> Problem:
    """Compute once what every state needs."""
    expects = np.einsum("cfs,csr->crf", arrays.table[arrays.condition], arrays.shows)
    logs = np.log(expects, out=np.zeros_like(expects), where=expects > 0)
    cures = [np.flatnonzero(row < 1) for row in arrays.missed]
    begin = np.append(0, np.cumsum(np.bincount(arrays.fix_group))).astype(np.int64)
    member = np.lexsort((arrays.fix_cost, arrays.fix_group)).astype(np.int64)
    count = len(arrays.setup_cost)
    setups = np.zeros(1)
    for cost in arrays.setup_cost if count <= TABLED_SETUPS else ():
        setups = np.concatenate([setups, setups + cost])
    return Problem(
        arrays=arrays,
        expects=np.ascontiguousarray(expects),
        sharp=np.ascontiguousarray((expects * logs).sum(axis=1)),
        first=np.cumsum([0, *(len(faults) for faults in cures)]),
        cured=np.concatenate([*cures, np.zeros(0, dtype=np.int64)]).astype(np.int64),
        begin=begin,
        member=member,
        leads=np.isin(np.arange(len(member)), member[begin[:-1]]),
        setups=setups,
    )


def first_state(arrays: Arrays) -> State:
    """Nothing read, nothing tried."""
    conditions, _, states = arrays.table.shape
    return State(
        b=arrays.prior.copy(),
        seen=np.ones((conditions, states)),
        digits=np.zeros(len(arrays.condition), dtype=np.int64),
        failed=np.zeros(len(arrays.fix_cost), dtype=np.bool_),
        standing=arrays.standing,
    )


@njit(cache=True)
def setups_cost(p: Problem, missing: int) -> float:
    """What the setups in a mask cost."""
    if missing < len(p.setups):
        return float(p.setups[missing])
    cost = 0.0
    k = 0
    while missing > 0:
        if missing & 1:
            cost += p.arrays.setup_cost[k]
        missing >>= 1
        k += 1
    return cost


@njit(cache=True)
def is_allowed(arrays: Arrays, digits: IntArray, action: int) -> bool:
    """Whether every gate of an action (checks first) is open."""
    for k in range(arrays.gate_check.shape[1]):
        check = arrays.gate_check[action, k]
        if check >= 0 and (digits[check] == 0 or not arrays.gate_open[action, k, digits[check] - 1]):
            return False
    return True


@njit(cache=True)
def tried_fixes(p: Problem, failed: BoolArray) -> BoolArray:
    """Whether each variant's fix was tried, with whatever soak, ``(A,)``."""
    if len(p.begin) > len(failed):
        return failed
    tried = failed.copy()
    if np.any(failed):
        for a in range(len(failed)):
            if failed[a]:
                group = p.arrays.fix_group[a]
                tried[p.member[p.begin[group] : p.begin[group + 1]]] = True
    return tried


@njit(cache=True)
def can_help(p: Problem, state: State, a: int) -> bool:
    """Whether a fix cures a fault that is left, or its retest may overlook one."""
    for f in range(len(state.b)):
        if state.b[f] > 0.0 and p.arrays.missed[a, f] * p.arrays.detects[a, f] < 1.0:
            return True
    return False


@njit(cache=True)
def is_seen(seen: FloatArray, condition: int) -> bool:
    """Whether a reading has told anything of a condition yet."""
    return bool(np.any(seen[condition] != 1.0))


@njit(cache=True, error_model="numpy")
def results_of(p: Problem, state: State, check: int, joint: FloatArray) -> None:
    """``P(state, fault, result)`` of a check, ``joint (R, F)``."""
    g = p.arrays.condition[check]
    count, faults = p.arrays.results[check], len(state.b)
    if not is_seen(state.seen, g):
        for r in range(count):
            for f in range(faults):
                joint[r, f] = state.b[f] * p.expects[check, r, f]
        return
    for f in range(faults):
        total = 0.0
        for r in range(count):
            joint[r, f] = 0.0
        for s in range(state.seen.shape[1]):
            mass = p.arrays.table[g, f, s] * state.seen[g, s]
            total += mass
            for r in range(count):
                joint[r, f] += mass * p.arrays.shows[check, s, r]
        for r in range(count):
            joint[r, f] = joint[r, f] * state.b[f] / total if total > 0.0 else 0.0


@njit(cache=True, error_model="numpy")
def information(p: Problem, state: State, check: int, joint: FloatArray) -> float:
    """Mutual information of fault and result times ``P(state)``, in nats (Lindley 1956)."""
    total, gain = state.b.sum(), 0.0
    if is_seen(state.seen, p.arrays.condition[check]):
        for r in range(p.arrays.results[check]):
            for f in range(len(state.b)):
                if joint[r, f] > 0.0:
                    gain += joint[r, f] * np.log(joint[r, f] / state.b[f])
    else:
        for f in range(len(state.b)):
            gain += state.b[f] * p.sharp[check, f]
    for r in range(p.arrays.results[check]):
        share = 0.0
        for f in range(len(state.b)):
            share += joint[r, f]
        if share > 0.0:
            gain -= share * np.log(share / total)
    return max(gain, 0.0)


@njit(cache=True, error_model="numpy", fastmath={"reassoc", "contract"})
def unseen_information(p: Problem, b: FloatArray, check: int, total: float) -> float:
    """As :func:`information` where no reading has told of the condition: a few plain sums, in any order."""
    gain = 0.0
    for f in range(len(b)):
        gain += b[f] * p.sharp[check, f]
    for r in range(p.arrays.results[check]):
        share = 0.0
        for f in range(len(b)):
            share += b[f] * p.expects[check, r, f]
        if share > 0.0:
            gain -= share * np.log(share / total)
    return max(gain, 0.0)


@njit(cache=True)
def own_cost(p: Problem, state: State, action: int) -> float:
    """What an action costs by itself at a state: with missing setups and, for a fix, expected comebacks."""
    arrays = p.arrays
    checks = len(arrays.condition)
    reach = state.b.sum()
    if action < checks:
        missing = arrays.check_setups[action] & ~state.standing
        return float(reach * (arrays.check_cost[action] + setups_cost(p, missing)))
    a = action - checks
    missing = arrays.fix_setups[a] & ~state.standing
    slips = (state.b * arrays.missed[a] * (1.0 - arrays.detects[a])).sum()
    return float(reach * (arrays.fix_cost[a] + setups_cost(p, missing)) + slips * arrays.comeback)


@njit(cache=True, error_model="numpy")
def put_next(  # noqa: PLR0913, PLR0917 a kernel writes into rows
    p: Problem,
    state: State,
    action: int,
    b: FloatArray,
    seen: FloatArray,
    digits: IntArray,
    failed: BoolArray,
    standing: IntArray,
) -> int:
    """Write the states that an action may lead to, other than the release, into rows; return how many.

    There is one for each result of a check; after a fix the one in which the complaint is still there.
    """
    arrays = p.arrays
    checks = len(arrays.condition)
    if action >= checks:
        a = action - checks
        for f in range(len(state.b)):
            b[0, f] = state.b[f] * arrays.missed[a, f] * arrays.detects[a, f]
        put_rows(seen[0], state.seen)
        put_row(digits[0], state.digits)
        put_row(failed[0], state.failed)
        failed[0, a] = True
        standing[0] = state.standing | arrays.fix_setups[a]
        return 1
    results_of(p, state, action, b)
    for r in range(arrays.results[action]):
        put_rows(seen[r], state.seen)
        put_row(digits[r], state.digits)
        put_row(failed[r], state.failed)
        for s in range(state.seen.shape[1]):
            seen[r, arrays.condition[action], s] *= arrays.shows[action, s, r]
        digits[r, action] = r + 1
        standing[r] = state.standing | arrays.check_setups[action]
    return int(arrays.results[action])


@njit(cache=True)
def rows_for(p: Problem, count: int) -> tuple[FloatArray, FloatArray, IntArray, BoolArray, IntArray]:
    """Room for so many states: beliefs, likelihoods of states, digits, failed fixes, setups standing."""
    arrays = p.arrays
    conditions, faults, states = arrays.table.shape
    return (
        np.empty((count, faults)),
        np.empty((count, conditions, states)),
        np.empty((count, len(arrays.condition)), dtype=np.int64),
        np.empty((count, len(arrays.fix_cost)), dtype=np.bool_),
        np.empty(count, dtype=np.int64),
    )


def next_states(p: Problem, state: State, action: int) -> list[State]:
    """The states an action may lead to, other than the release: one for each result, or "still there"."""
    rows = rows_for(p, p.arrays.shows.shape[2])
    count = put_next(p, state, action, *rows)
    b, seen, digits, failed, standing = rows
    return [State(b[r], seen[r], digits[r], failed[r], int(standing[r])) for r in range(count)]
