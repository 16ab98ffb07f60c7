"""What a procedure's range of cost stems from: the share of its variance that each unknown explains alone.

The first-order index of Sobol (1993, "Sensitivity estimates for nonlinear mathematical models"): the
variance of the cost's expectation given one unknown. The cost is affine in each row of probabilities, so that
expectation is known without further draws. ``docs/proof.md``, "Sensitivity", has the formula.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np

from benchlore.model import Model
from benchlore.procedure import Instance
from benchlore.procedure.pool import Pool, followed, kept
from benchlore.proof.drawn import Drawn
from benchlore.proof.unknowns import Basis, Readings, cure, frequencies, slopes_of_states

SMALL: Final = 0.01
"""A share of the variance below this is not named."""


@dataclass(frozen=True, slots=True)
class Sway:
    """The ``share`` of the cost's variance that one unknown explains alone.

    ``of`` says which: how often each fault is the cause (``name`` and ``fault`` are ``""``); what the check
    ``name`` shows in each state; what ``fault`` does to the condition ``name``; how often the fix ``name``
    cures ``fault``.
    """

    of: Literal["faults", "check", "condition", "fix"]
    name: str
    fault: str
    share: float


def sways_of(model: Model, instance: Instance, pool: Pool, drawn: Drawn) -> tuple[Sway, ...]:
    """The unknowns that explain most of the variance of the pool's first policy's cost, the most first."""
    total = float(drawn.own.var())
    if total <= 0:
        return ()
    taken = np.zeros(len(pool.action), dtype=np.bool_)
    taken[followed(pool, pool.taken)] = True
    basis = Basis(kept(pool, taken), instance)
    shares = (
        Sway(sway.of, sway.name, sway.fault, sway.share / total) for sway in _variances(model, basis, drawn)
    )
    named = (sway for sway in shares if sway.share >= SMALL)
    return tuple(sorted(named, key=lambda sway: (-sway.share, sway.of, sway.name, sway.fault)))


def _variances(model: Model, basis: Basis, drawn: Drawn) -> Iterator[Sway]:
    """Every unknown with the variance of the cost's expectation given it."""
    _, slope = basis.affine(frequencies(basis), basis.now)
    yield Sway("faults", "", "", float((drawn.prior @ slope).var()))
    for c in np.flatnonzero(np.any(basis.pool.done[:, : len(model.checks)] >= 0, axis=0)).tolist():
        slopes = Readings(basis, c).slopes()
        expected = np.einsum("ksr,sr->k", drawn.shows[:, c], slopes)
        yield Sway("check", model.checks[c].name, "", float(expected.var()))
    for g, condition in enumerate(model.conditions):
        expected = np.einsum("kfs,fs->kf", drawn.table[:, g], slopes_of_states(basis, g))
        for fault, name in enumerate(model.faults):
            yield Sway("condition", condition.name, name, float(expected[:, fault].var()))
    yield from _of_fixes(model, basis)


def _of_fixes(model: Model, basis: Basis) -> Iterator[Sway]:
    """Their chances have Beta distributions, whose variance is known."""
    used = {basis.instance.fixes[a].name for a in _fixes_used(basis)}
    for fix in model.fixes:
        for fault, name in enumerate(model.faults) if fix.name in used else ():
            cured, missed = fix.cures[fault].tolist()
            if min(cured, missed) > 0 and basis.arrays.prior[fault] > 0:
                _, slope = basis.affine(cure(basis, fix.name, fault), basis.now)
                total = cured + missed
                variance = cured * missed / (total * total * (total + 1))
                yield Sway("fix", fix.name, name, float(slope[0]) ** 2 * variance)


def _fixes_used(basis: Basis) -> list[int]:
    checks = len(basis.instance.checks)
    used: list[int] = np.unique(basis.pool.action[basis.pool.action >= checks] - checks).tolist()
    return used
