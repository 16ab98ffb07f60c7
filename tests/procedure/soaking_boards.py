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
