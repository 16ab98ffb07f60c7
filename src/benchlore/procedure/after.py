"""The planning problem that is left of a job: what is known is put into its beliefs, what is done is gone."""

from collections.abc import Collection, Iterator
from dataclasses import replace
from math import inf
from typing import TypeVar

import numpy as np

from benchlore.model import Evidence, FloatArray, Gate, Model, gate_open, log_likelihoods, posterior
from benchlore.procedure.instance import CheckOption, FixOption, Instance

_Option = TypeVar("_Option", CheckOption, FixOption)

DONE = "done"
TRIED = "tried"
SKIPPED = "skipped"


def instance_after(
    instance: Instance,
    model: Model,
    evidence: Evidence,
    *,
    setups_done: Collection[int] = (),
    skipped: Collection[str] = (),
) -> Instance:
    """Return what is left to decide after ``evidence``, with the indices of ``instance``.

    The prior becomes ``P(f | evidence)`` and each table ``P(state | f, evidence)``. What was done or is to be
    skipped is excluded; a gate that the evidence opens is gone, one that it shuts excludes. The setups of
    what was done stand, and so do ``setups_done`` with all that must stand before them.

    A fix that passed its retest ends a job. Whoever asks what to do next after one has the device back, so
    the board was not cured then.
    """
    known = {check for check, _ in (*evidence.readings, *evidence.values)}
    tried = {model.fixes[fix].name for fix in (*evidence.failed, *evidence.passed)}
    standing = instance.standing
    for check in known:
        standing |= instance.checks[check].setups
    for option in instance.fixes:
        standing |= option.setups if option.name in tried else 0
    for setup in setups_done:
        standing |= instance.setups[setup].needs
    belief = posterior(model, replace(evidence, passed=()))
    seen = _seen(model, evidence) if belief.log_evidence > -inf else {}
    judge = _Judge(model, evidence, frozenset(skipped))
    return replace(
        instance,
        prior=_came_back(belief.faults, model, evidence.passed),
        tables=tuple(_after(table, seen.get(g)) for g, table in enumerate(instance.tables)),
        checks=tuple(
            judge.settle(check, DONE if c in known else "") for c, check in enumerate(instance.checks)
        ),
        fixes=tuple(judge.settle(fix, TRIED if fix.name in tried else "") for fix in instance.fixes),
        standing=standing,
    )


def _came_back(belief: FloatArray, model: Model, passed: Collection[int]) -> FloatArray:
    """Believe that fixes did not cure although their retests showed nothing.

    Where retests overlook no possible fault, they are taken to have overlooked this one all the same.
    """
    for fix in passed:
        uncured = belief * (1 - model.fixes[fix].cure_probabilities)
        overlooked = uncured * (1 - model.detects)
        likely = overlooked if overlooked.sum() > 0 else uncured
        if likely.sum() > 0:
            belief = likely / likely.sum()
    return belief


def _seen(model: Model, evidence: Evidence) -> dict[int, FloatArray]:
    """``P(readings | state)`` of each condition that was read, up to a factor."""
    logs: dict[int, FloatArray] = {}
    for check, row in _log_rows(model, evidence):
        place = model.checks[check].condition
        logs[place] = logs.get(place, np.zeros(row.size)) + row
    return {place: np.exp(row - row.max()) for place, row in logs.items()}


def _log_rows(model: Model, evidence: Evidence) -> Iterator[tuple[int, FloatArray]]:
    with np.errstate(divide="ignore"):
        for check, result in evidence.readings:
            yield check, np.log(model.checks[check].probabilities[:, result])
    for check, value in evidence.values:
        yield check, log_likelihoods(model.checks[check], [value])[0]


def _after(table: FloatArray, seen: FloatArray | None) -> FloatArray:
    if seen is None:
        return table
    joint = table * seen
    total = joint.sum(axis=1, keepdims=True)
    # A fault that the readings exclude has no probability; its row only has to be one.
    after: FloatArray = np.where(total > 0, joint / np.where(total > 0, total, 1.0), table)
    return after


class _Judge:
    """Decides what may still be done."""

    def __init__(self, model: Model, evidence: Evidence, skipped: frozenset[str]) -> None:
        self._model = model
        self._results = dict(evidence.readings)
        self._values = dict(evidence.values)
        self._skipped = skipped

    def settle(self, option: _Option, done: str) -> _Option:
        waiting = tuple(gate for gate in option.gates if not self._is_read(gate.check))
        return replace(option, gates=waiting, excluded=done or option.excluded or self._reason(option))

    def _reason(self, option: CheckOption | FixOption) -> str:
        if option.name in self._skipped:
            return SKIPPED
        for gate in option.gates:
            if self._is_read(gate.check) and not self._is_open(gate):
                return f"'{self._model.checks[gate.check].name}' showed what forbids it"
        return ""

    def _is_read(self, check: int) -> bool:
        return check in self._results or check in self._values

    def _is_open(self, gate: Gate) -> bool:
        if gate.check in self._results:
            return self._results[gate.check] in gate.results
        return gate_open(self._model, gate, self._values[gate.check])
