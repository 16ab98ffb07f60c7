"""Random planning problems that look like boards: shared by the benchmarks and the tests.

A few faults are common and most are rare; the last is unlisted, moves everything a little and no fix cures
it. Every other fault moves one or two conditions. Fixes cure one or two faults with 75 to 100 %, a third of
the faults are overlooked by some retests. Costs are in one unit, about one for a minute.
"""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from benchlore.model.values import FloatArray, Gate
from benchlore.procedure import CheckOption, Cost, FixOption, Instance, SetupOption

UNLISTED = 0.04
RETURN = 150.0
COMEBACK = 220.0


def random_instance(
    rng: np.random.Generator,
    size: tuple[int, int, int, int],
    *,
    setups: int = 2,
    gates: float = 0.0,
    sure_retests: bool = False,
) -> Instance:
    """Draw a problem of ``(faults, conditions, checks, fixes)``.

    ``gates`` is the share of checks and fixes that wait for a result of an earlier check.
    """
    faults, conditions, checks, fixes = size
    prior = np.append(rng.dirichlet(np.full(faults - 1, 1.0)) * (1 - UNLISTED), UNLISTED)
    tables = _tables(rng, faults, conditions)
    options: list[CheckOption] = []
    for c in range(checks):
        options.append(_check(rng, c, tables, setups, _gates(rng, options, gates)))
    works = [_fix(rng, a, faults, setups, _gates(rng, options, gates)) for a in range(fixes)]
    benches = tuple(_setup(rng, k) for k in range(setups))
    detects = np.where(sure_retests | (rng.random(faults) > 0.3), 1.0, rng.uniform(0.6, 0.95, faults))
    return Instance(
        faults=tuple(f"f{f}" for f in range(faults)),
        prior=prior,
        tables=tables,
        checks=tuple(options),
        fixes=tuple(replace(fix, detects=detects) for fix in works),
        setups=benches,
        give_up=RETURN,
        comeback=COMEBACK,
    )


def _tables(rng: np.random.Generator, faults: int, conditions: int) -> tuple[FloatArray, ...]:
    """``P(state | fault)``: normal but for chance, unless the fault moves the condition."""
    most = min(conditions, 3 + conditions // 10)
    moved = [
        set(rng.choice(conditions, size=int(rng.integers(1, most + 1)), replace=False).tolist())
        for _ in range(faults)
    ]
    tables = []
    for g in range(conditions):
        states = int(rng.integers(2, 4))
        chance = rng.dirichlet(np.append(40.0, np.ones(states - 1)))
        rows = np.tile(chance, (faults, 1))
        for f in range(faults - 1):
            if g in moved[f]:
                rows[f] = _mostly(rng, states, int(rng.integers(1, states)), 0.85)
        rows[-1] = np.append(0.6, np.full(states - 1, 0.4 / (states - 1)))
        tables.append(rows)
    return tuple(tables)


def _mostly(rng: np.random.Generator, count: int, which: int, share: float) -> FloatArray:
    row = rng.dirichlet(np.ones(count)) * (1 - share)
    row[which] += share
    return row


def _check(
    rng: np.random.Generator,
    index: int,
    tables: Sequence[FloatArray],
    setups: int,
    gates: tuple[Gate, ...],
) -> CheckOption:
    condition = index if index < len(tables) else int(rng.integers(len(tables)))
    results = int(rng.integers(2, 4))
    states = tables[condition].shape[1]
    table = np.array([_mostly(rng, results, min(s, results - 1), 0.88) for s in range(states)])
    cost = Cost(
        hands_on=float(rng.uniform(2, 12)),
        waiting=float(rng.choice([0.0, 0.0, rng.uniform(1, 5)])),
        risk=float(rng.choice([0.0, 0.0, 0.5])),
    )
    names = tuple(f"r{r}" for r in range(results))
    return CheckOption(f"c{index}", condition, names, table, cost, _needs(rng, setups), gates)


def _fix(
    rng: np.random.Generator, index: int, faults: int, setups: int, gates: tuple[Gate, ...]
) -> FixOption:
    cures = np.zeros(faults)
    cures[index % (faults - 1)] = rng.uniform(0.85, 1.0)
    for f in rng.integers(faults - 1, size=int(rng.integers(3))):
        cures[f] = rng.uniform(0.75, 1.0)
    cost = Cost(
        hands_on=float(rng.uniform(8, 40)),
        parts=float(rng.uniform(0, 15)),
        retest=float(rng.uniform(4, 10)),
        risk=float(rng.choice([0.0, 1.5])),
    )
    return FixOption(f"a{index}", cures, cost, _needs(rng, setups), gates)


def _setup(rng: np.random.Generator, index: int) -> SetupOption:
    """Every second setup stands on the one before it."""
    needs = 1 << index | (1 << (index - 1) if index % 2 else 0)
    return SetupOption(
        f"u{index}", Cost(setups=float(rng.uniform(2, 12)), risk=float(rng.choice([0, 1]))), needs
    )


def _needs(rng: np.random.Generator, setups: int) -> int:
    """A closed mask: nothing, one setup with what is under it, or that and one more."""
    mask = 0
    for _ in range(int(rng.integers(3)) if setups else 0):
        k = int(rng.integers(setups))
        mask |= 1 << k | (1 << (k - 1) if k % 2 else 0)
    return mask


def _gates(rng: np.random.Generator, earlier: Sequence[CheckOption], share: float) -> tuple[Gate, ...]:
    if not earlier or rng.random() >= share:
        return ()
    check = int(rng.integers(len(earlier)))
    results = len(earlier[check].results)
    chosen = rng.choice(results, size=int(rng.integers(1, results)), replace=False)
    return (Gate(check, tuple(sorted(chosen.tolist()))),)
