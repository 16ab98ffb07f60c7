"""Boards completed by what one book makes of the jobs, as boards of another book."""

from dataclasses import replace

import numpy as np

from benchlore.model import Cases, Check, Model
from benchlore.proof.worlds import IntArray, World, completed


def translated(world: World, model: Model, other: Model, cases: Cases, seed: np.random.SeedSequence) -> World:
    """Take over a world of ``model``'s in terms of the ``other``, whose cases of the same jobs are given.

    Faults, checks and fixes are the same where their names are. A fault that the other does not list is
    unlisted there; what only the other knows is completed by it, given the fault.
    """
    places = {name: place for place, name in enumerate(other.faults)}
    known = np.array([places.get(name, len(other.faults) - 1) for name in model.faults])
    faults = np.where(cases.faults >= 0, cases.faults, known[world.fault])
    own = completed(other, replace(cases, faults=faults), seed)
    results, values = own.results.copy(), own.values.copy()
    cured, luck = own.cured.copy(), own.luck.copy()
    checks = {check.name: c for c, check in enumerate(model.checks)}
    for c, check in enumerate(other.checks):
        if check.name not in checks:
            continue
        theirs = checks[check.name]
        if check.densities is not None and model.checks[theirs].densities is not None:
            values[:, c] = np.where(own.known_results[:, c], values[:, c], world.values[:, theirs])
        elif (named := _same_results(model.checks[theirs], check)) is not None:
            drawn = named[world.results[:, theirs]]
            results[:, c] = np.where(own.known_results[:, c], results[:, c], drawn)
    fixes = {fix.name: a for a, fix in enumerate(model.fixes)}
    for a, fix in enumerate(other.fixes):
        if (theirs := fixes.get(fix.name, -1)) >= 0:
            cured[:, a] = np.where(own.known_fixes[:, a], cured[:, a], world.cured[:, theirs])
            luck[:, a] = np.where(own.known_fixes[:, a], luck[:, a], world.luck[:, theirs])
    fault_known = cases.faults >= 0
    return replace(own, results=results, values=values, cured=cured, luck=luck, fault_known=fault_known)


def _same_results(check: Check, other: Check) -> IntArray | None:
    """Where each result of a named check stands in the other's; none if they do not fit."""
    if check.densities is not None or other.densities is not None:
        return None
    if not set(check.results) <= set(other.results):
        return None
    return np.array([other.results.index(name) for name in check.results], dtype=np.int64)
