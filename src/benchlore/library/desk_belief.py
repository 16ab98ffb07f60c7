"""What is believed of a job: how suspicion moved, and what a retest that shows nothing proves."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import inf
from typing import Final

import numpy as np

from benchlore.library.bench import Bench, evidence_of
from benchlore.library.desk_standing import Move
from benchlore.library.desk_values import Believed, Proves
from benchlore.model import Evidence, FloatArray, Model, detection, posterior, set_aside, without
from benchlore.soak import clean_trial

MOST_SUSPECTS: Final = 6
"""Faults whose shares are followed one by one; the rest is summed up."""


def belief_of(model: Model, evidence: Evidence) -> FloatArray:
    """``P(f | evidence)``, ``(F,)``; evidence that no fault allows is set aside as advice does."""
    believed = posterior(model, evidence)
    if believed.log_evidence == -inf:
        believed = posterior(model, without(evidence, set_aside(model, evidence)))
    return believed.faults


def history_of(model: Model, moves: Sequence[Move]) -> tuple[tuple[str, ...], tuple[Believed, ...]]:
    """Name the strongest suspects of the whole job, and say how their shares moved."""
    benches = [Bench(), *(move.bench for move in moves)]
    beliefs = np.array([belief_of(model, evidence_of(model, bench)) for bench in benches])
    # By the highest share that each ever had; equal ones in the order of the book.
    order = np.argsort(-beliefs.max(axis=0), kind="stable")[:MOST_SUSPECTS]
    rows = [_row(None, beliefs[0], order.tolist())]
    rows += [_row(move, row, order.tolist()) for move, row in zip(moves, beliefs[1:], strict=True)]
    return tuple(model.faults[f] for f in order), tuple(rows)


def _row(move: Move | None, belief: FloatArray, order: Sequence[int]) -> Believed:
    shares = tuple(float(belief[f]) for f in order)
    others = float(np.delete(belief, order).sum())
    if move is None:
        return Believed(0, None, "", "", "", shares, others)
    return Believed(move.place, move.kind, move.action, move.title, move.text, shares, others)


def chance_cured(model: Model, bench: Bench, fixes: Iterable[int]) -> float:
    """The chance that fixes (indices) cured the board, before it is tried: ``sum b (1 - prod (1 - rho))``."""
    return float(1.0 - uncured_by(model, bench, fixes).sum())


def proves(model: Model, bench: Bench, fixes: Iterable[int], minutes: float) -> Proves:
    """What a retest with so many minutes of soak proves if it shows nothing.

    With ``b`` the belief, ``u = b prod_a (1 - rho_a)`` over the fixes that were tried and ``d`` the chance
    that the retest shows the complaint of a board that is not cured, ``sum u`` of boards are not cured and
    ``sum u (1 - d)`` are not and show nothing; :func:`clean_trial` has the rest.
    """
    uncured = uncured_by(model, bench, fixes)
    overlooked = float(uncured @ (1.0 - detection(model, minutes)))
    clean = clean_trial(float(uncured.sum()), overlooked)
    return Proves(minutes, clean.cured, clean.overlooked, clean.clean)


@dataclass(frozen=True, slots=True)
class Ends:
    """Chances of a retest: ``caught`` shows the complaint, ``overlooked`` is not cured and shows nothing."""

    caught: float
    overlooked: float


def ends_of(model: Model, bench: Bench, fixes: Iterable[int], soaked: float, planned: float) -> Ends:
    """Say how a retest may end whose soak of ``planned`` minutes has shown nothing for ``soaked`` minutes.

    A complaint that always shows was not tried yet, whatever the board soaked.
    """
    uncured = uncured_by(model, bench, fixes)
    every = np.where(model.every > 0, model.every, inf)
    silent = uncured * np.exp(-soaked / every)
    overlooked = np.minimum(uncured * (1.0 - detection(model, planned)), silent)
    total = 1.0 - float(uncured.sum()) + float(silent.sum())
    if total <= 0:
        return Ends(0.0, 0.0)
    return Ends(float((silent - overlooked).sum()) / total, float(overlooked.sum()) / total)


def uncured_by(model: Model, bench: Bench, fixes: Iterable[int]) -> FloatArray:
    """``P(f, not cured)`` after fixes (indices) and before the retest, ``(F,)``."""
    uncured = belief_of(model, evidence_of(model, bench))
    for fix in fixes:
        uncured = uncured * (1.0 - model.fixes[fix].cure_probabilities)
    return uncured
