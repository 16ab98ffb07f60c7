"""Gates: a check or fix that may be done only after another check, and only if that showed the right thing.

"Not shorted" is open only for what a shorted board hardly ever shows; "normal" only for what no other board
shows more often. A reading that every board shows equally often says nothing and leaves both shut.
"""

from dataclasses import replace
from math import inf

import numpy as np

from benchlore.model.densities import log_likelihoods, result_of
from benchlore.model.values import Check, FloatArray, Gate, Model

RULED_OUT = 0.1
"""A state is ruled out if it explains a reading at most this share as well as the best state does."""

TIE = 1e-9


def _opens(likelihood: FloatArray, state: int, *, negated: bool) -> bool:
    """Whether ``P(reading | s)``, shape ``(S,)``, opens a gate that asks for ``state``."""
    best = float(likelihood.max())
    if negated:
        return bool(best > 0 and likelihood[state] <= RULED_OUT * best)
    says_something = likelihood.size == 1 or likelihood.min() < best - TIE
    return bool(best > 0 and says_something and likelihood[state] >= best - TIE)


def open_results(check: Check, state: int, *, negated: bool) -> tuple[int, ...]:
    """Return the results of ``check`` that open a gate asking for ``state`` (or, ``negated``, against it)."""
    table = check.probabilities
    return tuple(r for r in range(table.shape[1]) if _opens(table[:, r], state, negated=negated))


def gate_open(model: Model, gate: Gate, value: float) -> bool:
    """Whether the number ``value`` of the gate's check opens it (``inf`` is over range)."""
    check = model.checks[gate.check]
    if gate.state is None:
        return result_of(check, value) in gate.results
    logs = log_likelihoods(check, [value])[0]
    if logs.max() == -inf:
        return False
    return _opens(np.exp(logs - logs.max()), gate.state, negated=gate.negated)


def refreshed(gates: tuple[Gate, ...], checks: tuple[Check, ...]) -> tuple[Gate, ...]:
    """Return the gates with results that follow from ``checks`` as they are now."""
    return tuple(
        replace(gate, results=open_results(checks[gate.check], gate.state, negated=gate.negated))
        if gate.state is not None
        else replace(gate, results=_all_if_any(gate, checks[gate.check]))
        for gate in gates
    )


def _all_if_any(gate: Gate, check: Check) -> tuple[int, ...]:
    """Keep named results; on a numeric check, a gate without a state asks for any reading at all."""
    return gate.results if check.densities is None else tuple(range(len(check.results)))
