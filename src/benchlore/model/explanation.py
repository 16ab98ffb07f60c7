"""The best explanation of evidence that no fault allows: as few pieces as possible are set aside.

Evidence is possible if one fault allows it: each condition then needs one state that the fault may cause and
that every reading on it allows, and no fix may have done what it cannot do to that fault. So the fewest
pieces are found fault by fault and condition by condition, without a search over subsets.
"""

from collections.abc import Callable, Iterator
from dataclasses import replace
from math import inf
from typing import Any, TypeAlias

import numpy as np

from benchlore.model.posterior import fault_log_likelihoods, posterior, state_log_likelihoods
from benchlore.model.values import Evidence, FloatArray, Model

Piece: TypeAlias = tuple[str, object]
"""A field of ``Evidence`` and one entry of it."""

Places: TypeAlias = tuple[tuple[int, ...], ...]
"""The checks and fixes that evidence names, kind by kind."""


def set_aside(model: Model, evidence: Evidence) -> Evidence:
    """Return the smallest part of the evidence without which a fault allows the rest.

    Of several that are equally small, the one that leaves the most probable rest. Empty where the evidence is
    possible. Errors are those of :func:`benchlore.model.posterior`.
    """
    if posterior(model, evidence).log_evidence > -inf:
        return Evidence()
    choices = set(_choices(model, evidence))
    fewest = min(len(choice) for choice in choices)
    parts = [_only(evidence, choice) for choice in choices if len(choice) == fewest]
    return max(parts, key=lambda part: _likely(model, evidence, part))


def _likely(model: Model, evidence: Evidence, part: Evidence) -> tuple[float, Places]:
    """Rank a part by what it leaves; of equal ones (to nine digits, whatever the machine) the last counts."""
    left = posterior(model, without(evidence, part)).log_evidence
    checks = (tuple(check for check, _ in pieces) for pieces in (part.readings, part.values))
    return round(left, 9), (*checks, part.failed, part.passed)


def without(evidence: Evidence, part: Evidence) -> Evidence:
    """Return the evidence less a part of it."""
    return _kept(evidence, lambda kind, piece: piece not in getattr(part, kind))


def _only(evidence: Evidence, pieces: frozenset[Piece]) -> Evidence:
    return _kept(evidence, lambda kind, piece: (kind, piece) in pieces)


def _kept(evidence: Evidence, is_kept: Callable[[str, Any], bool]) -> Evidence:
    """Return the evidence with some of its pieces; of a fix that is left out its soak tells nothing."""
    kinds = ("readings", "values", "failed", "passed")
    kept = {kind: tuple(each for each in getattr(evidence, kind) if is_kept(kind, each)) for kind in kinds}
    return replace(evidence, **kept)


def _choices(model: Model, evidence: Evidence) -> Iterator[frozenset[Piece]]:
    """Yield for each possible fault the fewest pieces that it does not allow."""
    rows = _rows(model, evidence)
    fixes = [
        (piece, fault_log_likelihoods(model, _only(evidence, frozenset([piece]))))
        for piece in [*(("failed", a) for a in evidence.failed), *(("passed", a) for a in evidence.passed)]
    ]
    for f in np.flatnonzero(model.fault_probabilities > 0).tolist():
        bad: set[Piece] = {piece for piece, logs in fixes if logs[f] == -inf}
        for g, here in rows.items():
            bad |= _fewest(model.state_probabilities[g][f], here)
        yield frozenset(bad)


def _rows(model: Model, evidence: Evidence) -> dict[int, list[tuple[Piece, FloatArray]]]:
    """Log-likelihoods of the states, ``(S_g,)``, of the readings on each condition."""
    rows: dict[int, list[tuple[Piece, FloatArray]]] = {}
    alone: list[tuple[Piece, int, Evidence]] = [
        (("readings", each), each[0], Evidence(readings=(each,))) for each in evidence.readings
    ]
    alone += [(("values", each), each[0], Evidence(values=(each,))) for each in evidence.values]
    for piece, check, only in alone:
        g = model.checks[check].condition
        logs = state_log_likelihoods(model, only)[g, : model.states[g].shape[1]]
        rows.setdefault(g, []).append((piece, logs))
    return rows


def _fewest(states: FloatArray, here: list[tuple[Piece, FloatArray]]) -> set[Piece]:
    """Return the fewest readings on a condition that stand against some state which a fault may cause."""

    def rank(state: int) -> tuple[int, float]:
        kept = [row[state] for _, row in here if row[state] > -inf]
        return len(here) - len(kept), -float(np.log(states[state]) + sum(kept))

    best = min(np.flatnonzero(states > 0).tolist(), key=rank)
    return {piece for piece, row in here if row[best] == -inf}
