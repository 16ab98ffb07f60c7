"""How improbable a board's readings are: tail probabilities by simulation from the model.

Two discrepancies are looked at: ``-log P(readings | fault)``, or ``-log P(readings)`` where nobody confirmed
the fault; and how much better the readings go with all boards than with the confirmed fault,
``log P(readings) - log P(readings | fault)``, which is small unless another fault explains them. A number
enters by its density, so a discrepancy means nothing by itself: it is compared with those of boards drawn
from the model, with the same fault, on which the same checks are read. Blunders are no part of that model:
they are looked for.
"""

from collections.abc import Iterable, Mapping, Sequence
from typing import TypeAlias

import numpy as np
from scipy.special import logsumexp

from benchlore.model import FloatArray, Model
from benchlore.model.densities import log_likelihoods
from benchlore.model.packed import IntArray
from benchlore.model.sample import choose, draw_values

Logs: TypeAlias = Mapping[int, FloatArray]
"""``log P(reading | state)`` of checks (index), ``(N, S)`` for ``N`` boards."""

TIES = 1e-9
"""Discrepancies that differ by less are equal."""


MOST_BYTES = 2**27
"""Memory for likelihoods that are kept."""


class Boards:
    """Boards drawn from a model, with what checks show on them.

    What a set of checks says of the faults is kept, for many jobs have read the same checks on a condition.
    """

    def __init__(self, model: Model, logs: Logs) -> None:
        self.model = model
        self.logs = logs
        self._kept: dict[tuple[int, ...], FloatArray] = {}

    def by_fault(self, checks: Iterable[int]) -> FloatArray:
        """``log P(readings of the checks | f)`` of each board, shape ``(N, F)``."""
        conditions: dict[int, list[int]] = {}
        for c in sorted(checks):
            conditions.setdefault(self.model.checks[c].condition, []).append(c)
        total: FloatArray = np.zeros((1, len(self.model.faults)))
        for here in conditions.values():
            total = total + self._of_condition(tuple(here))
        return total

    def _of_condition(self, checks: tuple[int, ...]) -> FloatArray:
        if checks not in self._kept:
            found = by_fault(self.model, {c: self.logs[c] for c in checks})
            if (len(self._kept) + 1) * found.nbytes > MOST_BYTES:
                self._kept.clear()
            self._kept[checks] = found
        return self._kept[checks]


def drawn_boards(
    model: Model, fault: int, checks: Iterable[int], boards: int, rng: np.random.Generator
) -> Boards:
    """Draw boards with a fault (-1: with any, as the prior says) and read the checks on them."""
    chances = model.fault_probabilities
    faults = rng.choice(len(chances), boards, p=chances) if fault < 0 else np.full(boards, fault)
    states: dict[int, IntArray] = {}
    logs = {}
    for c in checks:
        g = model.checks[c].condition
        if g not in states:
            states[g] = choose(model.state_probabilities[g][faults], rng)
        logs[c] = _read(model, c, states[g], rng)
    return Boards(model, logs)


def _read(model: Model, c: int, states: IntArray, rng: np.random.Generator) -> FloatArray:
    check = model.checks[c]
    if check.densities is not None:
        return log_likelihoods(check, draw_values(check.densities, states, rng))
    with np.errstate(divide="ignore"):
        logs: FloatArray = np.log(check.probabilities.T[choose(check.probabilities[states], rng)])
    return logs


def discrepancies(model: Model, fault: int, logs: Logs) -> FloatArray:
    """``-log P(readings | fault)`` of each board, or ``-log P(readings)`` for fault -1, shape ``(N,)``."""
    if fault >= 0:
        return -by_fault(model, logs, np.array([fault]))[:, 0]
    with np.errstate(divide="ignore"):
        prior = np.log(model.fault_probabilities)
        surprise: FloatArray = -logsumexp(by_fault(model, logs) + prior, axis=1)
    return surprise


def by_fault(model: Model, logs: Logs, faults: IntArray | None = None) -> FloatArray:
    """``log P(readings | f)`` of each board and each of ``faults`` (all if left out), shape ``(N, F)``."""
    chosen = np.arange(len(model.faults)) if faults is None else faults
    total: FloatArray = np.zeros((1, len(chosen)))
    for g, here in _by_condition(model, logs).items():
        high = here.max(axis=1, keepdims=True)
        high = np.where(np.isfinite(high), high, 0.0)
        with np.errstate(divide="ignore"):
            total = total + high + np.log(np.exp(here - high) @ model.state_probabilities[g][chosen].T)
    return total


def _by_condition(model: Model, logs: Logs) -> dict[int, FloatArray]:
    sums: dict[int, FloatArray] = {}
    for c, here in logs.items():
        g = model.checks[c].condition
        sums[g] = sums[g] + here if g in sums else here
    return sums


def tail(model: Model, fault: int, seen: Logs, drawn: Boards) -> float:
    """Return how improbable the board that was seen is among those that were drawn.

    Of each discrepancy it is the share of boards with at least as much. The one that was seen counts as one
    of them, so the share is never zero and is a valid tail probability (Davison & Hinkley 1997, "Bootstrap
    methods and their application", section 4.2). Twice the smaller of two such shares is one again
    (Bonferroni). Only the checks that were seen count.
    """
    if not seen:
        return 1.0
    here = _surprises(model, fault, by_fault(model, seen))
    others = _surprises(model, fault, drawn.by_fault(seen))
    shares = (1 + (others >= here - TIES).sum(axis=1)) / (1 + others.shape[1])
    return min(1.0, len(shares) * float(shares.min()))


def _surprises(model: Model, fault: int, given: FloatArray) -> FloatArray:
    """Return the discrepancies of boards, ``(1, N)`` for fault -1 and else ``(2, N)``.

    ``given`` is ``log P(readings | f)``, ``(N, F)``.
    """
    with np.errstate(divide="ignore"):
        prior = np.log(model.fault_probabilities)
    total: FloatArray = -logsumexp(given + prior, axis=1)
    if fault < 0:
        return total[None]
    here = -given[:, fault]
    against = np.subtract(here, total, out=np.zeros_like(here), where=np.isfinite(total))
    return np.stack([here, against])


def tails(
    model: Model, faults: Sequence[int], seen: Sequence[Logs], boards: int, rng: np.random.Generator
) -> list[float]:
    """Return the tail probability of each job; jobs of one fault are compared with the same drawn boards."""
    found = [1.0] * len(seen)
    for fault in sorted(set(faults)):
        members = [j for j, one in enumerate(faults) if one == fault]
        checks = sorted({c for j in members for c in seen[j]})
        drawn = drawn_boards(model, fault, checks, boards, rng)
        for j in members:
            found[j] = tail(model, fault, seen[j], drawn)
    return found
