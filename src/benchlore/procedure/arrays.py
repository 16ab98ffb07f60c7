"""An instance as arrays for the kernels, and the reductions that cannot change the optimum.

Only live things are kept: faults that are possible, checks that can tell faults apart or open a gate, fixes
that can help. Faults that every remaining check and fix treats alike become one. ``Arrays`` is a named tuple
because numba takes those as they are.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple, TypeAlias

import numpy as np
from numpy.typing import NDArray

from benchlore.model import FloatArray
from benchlore.procedure.instance import CheckOption, FixOption, Instance, Mode

IntArray: TypeAlias = NDArray[np.int64]
BoolArray: TypeAlias = NDArray[np.bool_]


class Arrays(NamedTuple):
    """Faults ``F``, conditions ``G``, states ``S``, checks ``C``, results ``R``, fixes ``A``; zeros pad.

    ``prior (F,)``; ``table (G, F, S)`` is ``P(state | f)``; ``shows (C, S, R)`` is ``P(result | state)``;
    ``missed (A, F)`` is ``1 - rho``, ``detects (A, F)`` is ``d``. ``A`` counts every variant of a fix;
    ``fix_group (A,)`` numbers the fix that each is a variant of. Actions are numbered checks first:
    ``gate_check (C + A, K)`` names the check of each gate (``-1``: none), ``gate_open (C + A, K, R)`` the
    results that open it.
    """

    prior: FloatArray
    table: FloatArray
    condition: IntArray
    results: IntArray
    shows: FloatArray
    check_cost: FloatArray
    check_setups: IntArray
    fix_cost: FloatArray
    fix_setups: IntArray
    missed: FloatArray
    detects: FloatArray
    fix_group: IntArray
    setup_cost: FloatArray
    gate_check: IntArray
    gate_open: BoolArray
    give_up: float
    comeback: float
    standing: int
    identify: bool


@dataclass(frozen=True, eq=False)
class Reduced:
    """The arrays of what matters, and which of the instance's checks, fixes and faults they stand for.

    ``merged[k]`` are the faults that stand behind row ``k``.
    """

    arrays: Arrays
    checks: tuple[int, ...]
    fixes: tuple[int, ...]
    merged: tuple[tuple[int, ...], ...]


def reduced(instance: Instance) -> Reduced:
    """Keep what can matter to the optimal procedure.

    A check is dropped if its result does not depend on the fault, no kept action waits for it, and it does
    not foretell one that kept actions wait for. A fix is dropped if it cures no possible fault and the retest
    never overlooks one (else the retest after it is itself a test). Both only add cost: what is believed
    after them is what was believed before, and a setup made for them costs the same later. A variant of a fix
    is dropped if a shorter soak can always take its place.
    """
    live = [int(f) for f in np.flatnonzero(instance.prior > 0)]
    fixes = _worth_soaking(instance, live, _live_fixes(instance, live))
    checks = _live_checks(instance, live, fixes)
    merged = _merged(instance, live, checks, fixes)
    return Reduced(arrays_of(instance, checks, fixes, merged), checks, fixes, merged)


def arrays_of(
    instance: Instance,
    checks: tuple[int, ...],
    fixes: tuple[int, ...],
    merged: tuple[tuple[int, ...], ...],
) -> Arrays:
    """Arrays of chosen checks and fixes, with groups of equal faults; gates on other checks count as open."""
    first = [group[0] for group in merged]
    states = max([1, *(table.shape[1] for table in instance.tables)])
    results = max([1, *(len(instance.checks[c].results) for c in checks)])
    missed = 1 - np.array([instance.fixes[a].cures[first] for a in fixes]).reshape(len(fixes), len(first))
    gate_check, gate_open = _gates(instance, checks, fixes, results)
    names = list(dict.fromkeys(instance.fixes[a].name for a in fixes))
    return Arrays(
        prior=np.array([instance.prior[list(group)].sum() for group in merged]),
        table=_tables(instance, first, states),
        condition=np.array([instance.checks[c].condition for c in checks], dtype=np.int64),
        results=np.array([len(instance.checks[c].results) for c in checks], dtype=np.int64),
        shows=_shows(instance, checks, states, results),
        check_cost=np.array([instance.checks[c].cost.total for c in checks], dtype=float),
        check_setups=np.array([instance.checks[c].setups for c in checks], dtype=np.int64),
        fix_cost=np.array([instance.fixes[a].cost.total for a in fixes], dtype=float),
        fix_setups=np.array([instance.fixes[a].setups for a in fixes], dtype=np.int64),
        missed=missed,
        detects=np.array([instance.fixes[a].detects[first] for a in fixes]).reshape(missed.shape),
        fix_group=np.array([names.index(instance.fixes[a].name) for a in fixes], dtype=np.int64),
        setup_cost=np.array([setup.cost.total for setup in instance.setups], dtype=float),
        gate_check=gate_check,
        gate_open=gate_open,
        give_up=float(instance.give_up),
        comeback=float(instance.comeback),
        standing=int(instance.standing),
        identify=instance.mode is Mode.IDENTIFY,
    )


def part_of(
    arrays: Arrays,
    checks: IntArray,
    fixes: IntArray,
    faults: IntArray,
    *,
    prior: FloatArray,
    states: FloatArray,
    standing: int,
) -> Arrays:
    """What is left of a problem: some checks, fixes and faults (indices), with evidence in ``states``.

    ``prior (F',)`` is the belief in those faults and ``states (G, F', S)`` their ``P(state | f, evidence)``.
    Gates on other checks count as open.
    """
    count = len(arrays.condition)
    actions = np.concatenate([checks, count + fixes])
    number = np.full(count + 1, -1, dtype=np.int64)  # the last answers for "no gate", -1
    number[checks] = np.arange(len(checks))
    conditions, condition = np.unique(arrays.condition[checks], return_inverse=True)
    most = int(arrays.results[checks].max(initial=1))
    return arrays._replace(
        prior=prior,
        table=np.ascontiguousarray(states[conditions]),
        condition=condition.astype(np.int64),
        results=arrays.results[checks],
        shows=np.ascontiguousarray(arrays.shows[checks][:, :, :most]),
        check_cost=arrays.check_cost[checks],
        check_setups=arrays.check_setups[checks],
        fix_cost=arrays.fix_cost[fixes],
        fix_setups=arrays.fix_setups[fixes],
        missed=np.ascontiguousarray(arrays.missed[fixes][:, faults]),
        detects=np.ascontiguousarray(arrays.detects[fixes][:, faults]),
        fix_group=np.unique(arrays.fix_group[fixes], return_inverse=True)[1].astype(np.int64),
        gate_check=number[arrays.gate_check[actions]],
        gate_open=np.ascontiguousarray(arrays.gate_open[actions][:, :, :most]),
        standing=int(standing),
    )


def _live_fixes(instance: Instance, live: list[int]) -> tuple[int, ...]:
    return tuple(
        a
        for a in instance.open_fixes
        if np.any(instance.fixes[a].detects[live] < 1) or np.any(instance.fixes[a].cures[live] > 0)
    )


def _worth_soaking(instance: Instance, live: list[int], fixes: tuple[int, ...]) -> tuple[int, ...]:
    """Drop every variant of a fix whose place a cheaper one of its variants can take at any belief.

    Say it catches fault ``f`` with ``d``, the cheaper one with ``e <= d``. Do the same after both failed.
    The cheaper then costs at most ``max_f (1 - rho)(d - e)(comeback - rest)`` more in comebacks, where
    ``rest`` is what any job costs at least that goes on; if it saves that much, it is never worse.
    """
    costs = [instance.checks[c].cost.total for c in instance.open_checks]
    own = [instance.fixes[a].cost.total for a in fixes]
    at_stake = instance.comeback - min([instance.give_up, *costs, *own])
    names = list(dict.fromkeys(instance.fixes[a].name for a in fixes))
    kept = worth_soaking(
        np.array(own),
        np.array([names.index(instance.fixes[a].name) for a in fixes], dtype=np.int64),
        np.array([1 - instance.fixes[a].cures[live] for a in fixes]),
        np.array([instance.fixes[a].detects[live] for a in fixes]),
        at_stake,
    )
    return tuple(fixes[k] for k in kept.tolist())


def worth_soaking(
    cost: FloatArray, group: IntArray, missed: FloatArray, detects: FloatArray, at_stake: float
) -> IntArray:
    """Return the variants ``(K,)``, in order, whose place no cheaper one of the same fix can always take.

    ``cost`` and ``group`` are ``(A,)``, ``missed`` and ``detects`` ``(A, F)`` of the possible faults.
    """
    if len(np.unique(group)) == len(group):
        return np.arange(len(group))
    kept: list[int] = []
    for a in np.argsort(cost, kind="stable").tolist():
        rivals = [
            (detects[a] - detects[k], missed[a], cost[a] - cost[k]) for k in kept if group[k] == group[a]
        ]
        if not any(_replaces(*rival, at_stake) for rival in rivals):
            kept.append(a)
    return np.array(sorted(kept), dtype=np.int64)


def _replaces(caught: FloatArray, missed: FloatArray, dearer: float, at_stake: float) -> bool:
    """Whether the cheaper of two variants is never worse, at whatever belief over the live faults."""
    if np.any(caught < 0):
        return False
    return dearer >= float((caught * missed).max(initial=0.0)) * at_stake


def _live_checks(instance: Instance, live: list[int], fixes: tuple[int, ...]) -> tuple[int, ...]:
    kept = {c for c in instance.open_checks if _tells(instance, c, live)}
    waiting: list[CheckOption | FixOption] = [instance.fixes[a] for a in fixes]
    condition = np.array([check.condition for check in instance.checks], dtype=np.int64)
    shown = np.array(
        [bool(np.any(check.table != check.table[0])) for check in instance.checks], dtype=np.bool_
    )
    while True:
        doing = [*waiting, *(instance.checks[c] for c in kept)]
        openers = {gate.check for option in doing for gate in option.gates}
        foretelling = np.flatnonzero(foretells(condition, shown, sorted(openers))).tolist()
        needed = openers | ({*foretelling} & {*instance.open_checks})
        if needed <= kept:
            return tuple(sorted(kept))
        kept |= needed


def foretells(condition: IntArray, shown: BoolArray, openers: Sequence[int]) -> BoolArray:
    """Whether each check may tell what one of ``openers`` will show, so whether a gate will open, ``(C,)``.

    That takes no news of the fault: it reads the same ``condition``, and that moves its result (``shown``).
    """
    answer: BoolArray = shown & np.isin(condition, condition[list(openers)])
    return answer


def _tells(instance: Instance, check: int, live: list[int]) -> bool:
    """Whether the fault moves the condition, and the condition the result.

    Equal ``P(result | fault)`` alone is not enough: with a second check on the same condition, such a check
    may still tell.
    """
    option = instance.checks[check]
    states = instance.tables[option.condition][live]
    return not (np.all(states == states[0]) or np.all(option.table == option.table[0]))


def _merged(
    instance: Instance, live: list[int], checks: tuple[int, ...], fixes: tuple[int, ...]
) -> tuple[tuple[int, ...], ...]:
    if instance.mode is Mode.IDENTIFY:
        return tuple((f,) for f in live)
    conditions = sorted({instance.checks[c].condition for c in checks})
    groups: dict[bytes, list[int]] = {}
    for f in live:
        rows = [instance.tables[g][f] for g in conditions]
        fates = np.array([(instance.fixes[a].cures[f], instance.fixes[a].detects[f]) for a in fixes])
        key = np.concatenate([*rows, fates.ravel()]).tobytes()
        groups.setdefault(key, []).append(f)
    return tuple(tuple(group) for group in groups.values())


def _tables(instance: Instance, faults: list[int], states: int) -> FloatArray:
    table = np.zeros((len(instance.tables), len(faults), states))
    for g, rows in enumerate(instance.tables):
        table[g, :, : rows.shape[1]] = rows[faults]
    return table


def _shows(instance: Instance, checks: tuple[int, ...], states: int, results: int) -> FloatArray:
    shows = np.zeros((len(checks), states, results))
    for k, c in enumerate(checks):
        rows = instance.checks[c].table
        shows[k, : rows.shape[0], : rows.shape[1]] = rows
    return shows


def _gates(
    instance: Instance, checks: tuple[int, ...], fixes: tuple[int, ...], results: int
) -> tuple[IntArray, BoolArray]:
    options: list[CheckOption | FixOption] = [instance.checks[c] for c in checks]
    options += [instance.fixes[a] for a in fixes]
    most = max([0, *(len(option.gates) for option in options)])
    gate_check = np.full((len(options), most), -1, dtype=np.int64)
    gate_open = np.zeros((len(options), most, results), dtype=np.bool_)
    for row, option in enumerate(options):
        for column, gate in enumerate(gate for gate in option.gates if gate.check in checks):
            gate_check[row, column] = checks.index(gate.check)
            gate_open[row, column, list(gate.results)] = True
    return gate_check, gate_open
