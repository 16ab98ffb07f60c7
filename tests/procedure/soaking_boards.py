"""Boards whose complaint comes and goes: fixes with a choice of soaks, from random numbers and by hand."""

from dataclasses import replace

import numpy as np

from benchlore.procedure import Cost, FixOption, Instance


def soaked(fix, soaks, every, waiting):
    """Make the variants of a fix: ``every (F,)`` are minutes between events, ``waiting`` the price of a minute."""
    return tuple(
        replace(
            fix,
            cost=replace(fix.cost, retest=fix.cost.retest + soak * waiting),
            detects=-np.expm1(-soak / every),
            soak=soak,
        )
        for soak in soaks
    )


def overlooking(instance, rng):
    """The same board; every fix comes with two soaks, and retests overlook much."""
    fixes = [
        replace(fix, soak=soak, detects=fix.detects * caught, cost=replace(fix.cost, waiting=soak))
        for fix in instance.fixes
        for soak, caught in ((0.0, rng.uniform(0.2, 0.5)), (20.0, rng.uniform(0.6, 1.0)))
    ]
    return replace(instance, fixes=tuple(fixes))


def with_soaks(rng, board, choices=(2, 3)):
    """Give every fix of a board two or three soaks, with events of each fault in a rhythm of its own."""
    every = rng.uniform(5, 120, len(board.faults))
    waiting = float(rng.uniform(0.0, 0.4))
    fixes = []
    for fix in board.fixes:
        count = int(rng.choice(choices))
        fixes += soaked(fix, np.sort(rng.uniform(0, 200, count)).tolist(), every, waiting)
    return replace(board, fixes=tuple(fixes))


def one_fault(rho, cost, soaks, every, waiting, *, give_up=200.0, comeback=300.0):
    """One fault, one fix, nothing to check."""
    fix = FixOption("mend", np.array([rho]), Cost(hands_on=cost))
    return Instance(
        faults=("f",),
        prior=np.ones(1),
        tables=(),
        checks=(),
        fixes=soaked(fix, soaks, np.array([every]), waiting),
        setups=(),
        give_up=give_up,
        comeback=comeback,
    )
