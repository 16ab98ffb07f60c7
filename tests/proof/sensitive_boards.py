"""Small boards whose unknowns are known as weakly as a test wants."""

import numpy as np

from benchlore.model import Work, fix_of, model_of, named_check
from benchlore.shop import Shop

SHOP = Shop(
    name="shop",
    currency="EUR",
    hour=60.0,
    waiting_hour=0.0,
    worth_otherwise=200.0,
    comeback=300.0,
    diagnostic_fee=0.0,
)
FREE = Work(0.0)


def one_fix(cured, missed, *, minutes=100.0):
    """One fault and one fix, whose chance has Beta counts; the only other thing to do is to return."""
    fix = fix_of("swap", [cured / (cured + missed)], work=Work(minutes), weight=cured + missed)
    return model_of([1.0], [], [], [fix], faults=("dead",), retest=FREE, weight=1e6)


def two_twin_checks(weight=10.0, minutes=10.0):
    """Two faults, each with its own fix; two checks that tell them apart, alike in everything but the name."""
    rows = [[0.9, 0.1], [0.1, 0.9]]
    checks = [
        named_check(
            name, g, [[0.95, 0.05], [0.05, 0.95]], results=("low", "high"), work=Work(minutes), weight=weight
        )
        for g, name in enumerate(("left", "right"))
    ]
    fixes = [
        fix_of("fix-a", [0.95, 0.0], work=Work(40.0), weight=weight),
        fix_of("fix-b", [0.0, 0.95], work=Work(40.0), weight=weight),
    ]
    return model_of([0.5, 0.5], [rows, rows], checks, fixes, faults=("a", "b"), retest=FREE, weight=weight)


def random_board(seed, *, weight=8.0, faults=4, checks=4, fixes=4, results=3, conditions=2):
    """Checks that share conditions, fixes that cure some faults, an imperfect retest."""
    rng = np.random.default_rng(seed)
    states = [rng.dirichlet(np.ones(3), faults) for _ in range(conditions)]
    made = [
        named_check(
            f"c{c}",
            c % conditions,
            rng.dirichlet(np.ones(results), 3),
            work=Work(rng.uniform(2, 15)),
            weight=weight,
        )
        for c in range(checks)
    ]
    tried = [
        fix_of(
            f"a{a}",
            np.where(np.arange(faults) == a % faults, 0.8, 0.1 * rng.random(faults)),
            work=Work(rng.uniform(15, 60)),
            weight=weight,
        )
        for a in range(fixes)
    ]
    return model_of(
        rng.dirichlet(np.full(faults, 3.0)),
        states,
        made,
        tried,
        detects=rng.uniform(0.7, 1.0, faults),
        retest=Work(1.0),
        weight=weight,
    )
