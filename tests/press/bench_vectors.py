"""Questions and the Python's answers, for the page's engine to answer too.

A vector is ``{"data", "cases"}``: the page form of a model, and pairs of a situation and the advice that Python
gives in it. Infinity is written as the text "OL", as JSON has no such number.
"""

import json
from dataclasses import replace
from math import inf

import numpy as np

from benchlore.model import (
    Evidence,
    Gate,
    Setup,
    Work,
    densities_of,
    fix_of,
    model_of,
    named_check,
    numeric_check,
)
from benchlore.press.bench_data import bench_data
from benchlore.procedure import Adviser, Limits, Situation, instance_of, plan
from benchlore.procedure.next import EXACT_BYTES
from benchlore.procedure.position import position_of, prepare
from benchlore.shop import Shop
from benchlore.units import Measure

TOOLS = ("meter", "scope", "hot air")


def random_shop(rng):
    """A shop that may lack some tools, with rates and prices of its own."""
    return Shop(
        "Quay bench",
        "EUR",
        hour=float(rng.uniform(20, 80)),
        waiting_hour=float(rng.uniform(0, 15)),
        worth_otherwise=float(rng.uniform(20, 400)),
        diagnostic_fee=float(rng.choice([0.0, 15.0])),
        instruments=frozenset(tool for tool in TOOLS if rng.random() < 0.8),
    )


def random_work(rng, setups):
    """Minutes, a chance of ruin, setups and tools."""
    return Work(
        float(rng.uniform(0.5, 20)),
        float(rng.choice([0.0, rng.uniform(1, 30)])),
        float(rng.choice([0.0, 0.02])),
        tuple(k for k in range(setups) if rng.random() < 0.4),
        tuple(tool for tool in TOOLS if rng.random() < 0.15),
    )


def random_board(seed, *, faults=5, conditions=4, checks=6, fixes=4, more_setups=0):
    """A board with everything that a book can say: numbers, over range, bands, gates, setups, soaks, zeros."""
    rng = np.random.default_rng(seed)
    sizes = rng.integers(2, 4, conditions)
    states = [_table(rng, faults, size) for size in sizes]
    setups = [
        Setup("open", "Case open", Work(6.0)),
        Setup("shield", "Shield off", Work(9.0, 0.0, 0.005, (0,))),
        *(Setup(f"s{k}", f"Setup {k}", Work(1.0 + k % 7, 0.0, 0.0, (k,))) for k in range(1, more_setups + 1)),
    ]
    made = []
    for c in range(checks):
        g, work = int(rng.integers(conditions)), random_work(rng, len(setups))
        gates = _gates(rng, made, sizes)
        if rng.random() < 0.5:
            log_normal = bool(rng.integers(2))
            densities = densities_of(
                Measure.RESISTANCE if log_normal else Measure.VOLTAGE,
                rng.normal(3, 2, sizes[g]),
                rng.uniform(0.1, 1.0, sizes[g]),
                rng.choice([0.0, 0.02, 0.6], sizes[g]),
                log_normal=log_normal,
            )
            made.append(replace(numeric_check(f"c{c}", g, densities, work=work), gates=gates))
        else:
            table = _table(rng, sizes[g], int(rng.integers(2, 5)))
            made.append(replace(named_check(f"c{c}", g, table, work=work), gates=gates))
    tried = [_fix(rng, a, faults, made, sizes, len(setups)) for a in range(fixes)]
    every = np.where(rng.random(faults) < 0.7, rng.uniform(5, 90, faults), 0.0) * (seed % 2)
    retest = Work(2.0, 20.0, 0.0, (), ("scope",) if rng.random() < 0.1 else ())
    prior = rng.dirichlet(np.ones(faults)) * np.where(rng.random(faults) < 0.1, 0.0, 1.0)
    model = model_of(
        prior / prior.sum(), states, made, tried, setups=setups, retest=retest, detects=np.ones(faults)
    )
    model = replace(model, every=every)
    shown = np.where(
        every > 0, -np.expm1(-(retest.takes + retest.waits) / np.where(every > 0, every, 1.0)), 1.0
    )
    return replace(model, detects=np.ascontiguousarray(shown)), random_shop(rng)


def _table(rng, rows, columns):
    table = rng.dirichlet(np.full(columns, 0.7), rows)
    table[rng.random(table.shape) < 0.15] = 0.0
    table[table.sum(axis=1) == 0] = 1.0
    return table / table.sum(axis=1, keepdims=True)


def _gates(rng, made, sizes):
    if not made or rng.random() < 0.6:
        return ()
    check = int(rng.integers(len(made)))
    results = made[check].results
    state = None if rng.random() < 0.5 else int(rng.integers(sizes[made[check].condition]))
    opening = tuple(r for r in range(len(results)) if rng.random() < 0.7)
    return (Gate(check, opening, state, negated=bool(rng.integers(2))),)


def _fix(rng, a, faults, made, sizes, setups):
    cures = rng.choice([0.0, 1.0, 0.6, 0.95], faults, p=[0.5, 0.1, 0.2, 0.2])
    work, parts = random_work(rng, setups), float(rng.choice([0.0, 7.5]))
    return replace(fix_of(f"a{a}", cures, work=work, parts=parts), gates=_gates(rng, made, sizes))


def random_situation(model, shop, rng):
    """What a bench may say, in any order, whether it goes together or not."""
    checks = rng.permutation(len(model.checks))[: rng.integers(len(model.checks))].tolist()
    readings, values, unclear = [], [], []
    for c in checks:
        check = model.checks[c]
        if rng.random() < 0.12:
            unclear.append(c)
        elif check.densities is None or rng.random() < 0.2:
            readings.append((c, int(rng.integers(len(check.results)))))
        else:
            y = float(rng.choice(check.densities.mean) + rng.normal(0, 1.5))
            value = float(np.exp(y)) if check.densities.log_normal else y
            values.append((c, inf if rng.random() < 0.15 else 0.0 if rng.random() < 0.05 else value))
    fixes = rng.permutation(len(model.fixes)).tolist()
    failed = fixes[: int(rng.choice([0, 0, 1, 2]))]
    passed = [a for a in fixes[len(failed) :][:1] if rng.random() < 0.1]
    names = [*(check.name for check in model.checks), *(fix.name for fix in model.fixes)]
    return Situation(
        Evidence(tuple(readings), tuple(values), tuple(failed), tuple(passed)),
        setups=tuple(k for k in range(len(model.setups)) if rng.random() < 0.15),
        unclear=tuple(unclear),
        skipped=tuple(name for name in names if rng.random() < 0.05),
        without=tuple(sorted(tool for tool in shop.equipment if rng.random() < 0.1)),
        budget=float(rng.uniform(5, 60)) if rng.random() < 0.1 else None,
    )


def on_the_plan(procedure, model, rng):
    """A situation on the way through a procedure, some steps from the start."""
    step, readings, failed = procedure.steps[0], [], []
    names = [check.name for check in model.checks]
    for _ in range(int(rng.integers(6))):
        if not step.branches:
            break
        result = str(rng.choice([*step.branches]))
        if step.branches[result] < 0:
            break
        if step.kind == "fix":
            failed.append([fix.name for fix in model.fixes].index(step.action))
        else:
            readings.append(
                (names.index(step.action), model.checks[names.index(step.action)].results.index(result))
            )
        step = procedure.steps[step.branches[result]]
    return Situation(Evidence(tuple(readings), failed=tuple(failed)))


def vector(model, shop, situations, *, procedure=None, memory=EXACT_BYTES):
    """A model's questions and answers."""
    data = bench_data(model, shop, instance_of(model, shop), procedure)
    adviser = Adviser(model, shop, plan=procedure, exact_bytes=memory)
    prepared = prepare(model, shop)
    cases = [
        {
            "situation": asked(situation),
            "advice": answered(model, adviser.advise(situation), position_of(prepared, situation)),
        }
        for situation in situations
    ]
    return {"data": data, "memory": memory, "cases": cases}


def asked(situation):
    evidence = situation.evidence
    return {
        "evidence": {
            "readings": evidence.readings,
            "values": [(c, "OL" if value == inf else value) for c, value in evidence.values],
            "failed": evidence.failed,
            "passed": evidence.passed,
        },
        "setups": situation.setups,
        "unclear": situation.unclear,
        "skipped": situation.skipped,
        "without": situation.without,
        "budget": situation.budget,
    }


def answered(model, advice, position):
    """The advice, in the names that the script gives it."""
    return {
        "belief": position.state.b.tolist(),
        "suspects": [{"fault": model.faults.index(f), "probability": share} for f, share in advice.suspects],
        "options": [_option(model, option) for option in advice.options],
        "heldBack": advice.held_back,
        "conflict": advice.conflict,
        "setAside": advice.set_aside,
        "method": advice.method,
        "knowing": advice.knowing,
        "alike": [
            {
                "faults": [model.faults.index(f) for f in each.faults],
                "reason": each.reason,
                "fix": each.fix,
                "checks": each.checks,
            }
            for each in advice.alike
        ],
        "goOn": None if advice.go_on is None else _go_on(model, advice.go_on),
    }


def _go_on(model, said):
    surer = said.surer
    return {
        "surer": surer
        and {
            "fault": model.faults.index(surer.fault),
            "fix": surer.fix,
            "chance": surer.chance,
            "needed": surer.needed,
        },
        "equipment": [
            {"equipment": e.equipment, "kind": e.kind.value, "action": e.action, "expected": e.expected}
            for e in said.equipment
        ],
    }


def _option(model, option):
    return {
        "kind": option.kind.value,
        "action": option.action,
        "soak": option.soak,
        "setups": option.setups,
        "cost": {part: getattr(option.cost, part) for part in option.cost.__slots__},
        "expected": option.expected,
        "ranked": option.ranked,
        "information": option.information,
        "method": option.method,
        "outlooks": [
            {
                "result": each.result,
                "chance": each.chance,
                "expected": each.expected,
                "suspects": [{"fault": model.faults.index(f), "probability": p} for f, p in each.suspects],
            }
            for each in option.outlooks
        ],
    }


def random_vectors(seeds, *, situations=6, memory=EXACT_BYTES):
    for seed in seeds:
        rng = np.random.default_rng(1000 + seed)
        model, shop = random_board(seed)
        yield vector(
            model, shop, [random_situation(model, shop, rng) for _ in range(situations)], memory=memory
        )


def planned_vector(seed, *, situations=6):
    rng = np.random.default_rng(1000 + seed)
    model, shop = random_board(seed, checks=4, fixes=3)
    procedure = plan(model, shop, limits=Limits(nodes=500))
    return vector(
        model, shop, [on_the_plan(procedure, model, rng) for _ in range(situations)], procedure=procedure
    )


def set_up_vectors(seed, *, more_setups):
    """A board with more setups than a script's number has bits, ranked exactly and by look-ahead; and its plan."""
    rng = np.random.default_rng(seed)
    model, shop = random_board(seed, checks=5, fixes=3, more_setups=more_setups)
    situations = [
        replace(random_situation(model, shop, rng), setups=(int(rng.integers(len(model.setups))),))
        for _ in range(3)
    ]
    yield vector(model, shop, situations)
    yield vector(model, shop, situations, memory=0)
    procedure = plan(model, shop, limits=Limits(nodes=300))
    yield vector(model, shop, [on_the_plan(procedure, model, rng) for _ in range(3)], procedure=procedure)


def wide_vector(seed):
    """A board with more checks and fixes than the look-ahead looks at."""
    rng = np.random.default_rng(seed)
    model, shop = random_board(seed, faults=20, conditions=12, checks=30, fixes=26)
    return vector(model, shop, [random_situation(model, shop, rng) for _ in range(3)])


def written(vectors):
    return json.dumps(list(vectors))
