"""The model of one board and one complaint: names, costs in minutes, and Dirichlet counts for every unknown.

Shapes: ``F`` faults (the last is ``unlisted``), ``S_g`` states of condition ``g``, ``R_c`` results of check
``c``, ``A`` fixes. Arrays are float64, C-contiguous and read-only. A count of exactly zero is a structural
zero: learning never moves it and its probability is exactly 0.
"""

from dataclasses import dataclass
from functools import cached_property
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from benchlore.units import Measure

FloatArray: TypeAlias = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Work:
    """What a setup, check or fix asks: minutes, chance of ruining the board, setups and equipment.

    ``setups`` are indices into ``Model.setups``, closed under "after" and in the order in which to make
    them. ``equipment`` are names of instruments or skills.
    """

    takes: float
    waits: float = 0.0
    ruins: float = 0.0
    setups: tuple[int, ...] = ()
    equipment: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Setup:
    """A bench state; ``work.setups`` are the ones that must stand before it."""

    name: str
    title: str
    work: Work


@dataclass(frozen=True, slots=True)
class Condition:
    """The hidden state of one place on the board."""

    name: str
    title: str
    states: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Gate:
    """The check (index) that must have been done, and the results (indices) that open the gate.

    ``state`` is the state (index, of that check's condition) that the gate asks for, or asks ``negated``;
    ``None`` where it asks for any reading or for named results. From it the gate of a numeric check is
    opened by the number itself, and ``results`` follow when bands are chosen anew.
    """

    check: int
    results: tuple[int, ...]
    state: int | None = None
    negated: bool = False


@dataclass(frozen=True, eq=False)
class Densities:
    """What a numeric check shows in each of the ``S`` states of its condition.

    A reading ``x`` has ``y = log(x)`` if ``log_normal`` else ``y = x``. In state ``s``, ``y`` is normal with
    unknown mean and variance, normal-inverse-gamma with parameters ``mean, kappa, shape, scale`` (each
    ``(S,)``), so its predictive is Student-t with ``2 shape`` degrees of freedom, location ``mean`` and
    squared scale ``scale (kappa + 1) / (shape kappa)`` (Murphy 2007, "Conjugate Bayesian analysis of the
    Gaussian distribution", section 6). ``over`` is ``(S, 2)``: Beta counts of [a number, over range].
    With probability ``slip`` a reading is a blunder, drawn from a normal in ``y`` with ``slip_mean`` and
    ``slip_sd``, so that no reading is impossible.
    """

    measure: Measure
    log_normal: bool
    mean: FloatArray
    kappa: FloatArray
    shape: FloatArray
    scale: FloatArray
    over: FloatArray
    slip: float
    slip_mean: float
    slip_sd: float


@dataclass(frozen=True, eq=False)
class Check:
    """A check that reads condition ``condition`` (index) and has ``results``.

    A named check has Dirichlet ``counts`` of shape ``(S, R)`` and no ``densities``. A numeric check has
    ``densities``; its results are bands between the increasing ``edges`` (SI units, ``R - 1`` of them, or
    ``R - 2`` when ``has_over_range``: the last result is then ``OL``), and its ``counts`` are the band
    probabilities times the evidence behind them.
    """

    name: str
    title: str
    condition: int
    results: tuple[str, ...]
    work: Work
    counts: FloatArray
    gates: tuple[Gate, ...] = ()
    densities: Densities | None = None
    edges: tuple[float, ...] = ()
    has_over_range: bool = False

    @cached_property
    def probabilities(self) -> FloatArray:
        """``P(result | state)``, shape ``(S, R)``."""
        return normalised(self.counts)


@dataclass(frozen=True, eq=False)
class Fix:
    """A repair action; ``cures`` is ``(F, 2)``: Beta counts of [cured, not cured]. ``parts`` is money."""

    name: str
    title: str
    work: Work
    parts: float
    cures: FloatArray
    gates: tuple[Gate, ...] = ()

    @cached_property
    def cure_probabilities(self) -> FloatArray:
        """``rho``, shape ``(F,)``."""
        return np.ascontiguousarray(normalised(self.cures)[:, 0])


@dataclass(frozen=True, eq=False)
class Model:
    """A board and a complaint, ready to be asked.

    ``prior`` is ``(F,)`` Dirichlet counts; ``states[g]`` is ``(F, S_g)``. ``retest`` is the work of trying
    the complaint again (``waits`` is the soak). ``detects[f]`` is the probability that the retest shows the
    complaint on a board with fault ``f`` that is not cured. ``every[f]`` is the mean time between events in
    minutes, 0 where the complaint always shows: another soak than the retest's own catches another share.
    ``worth`` is the book's own figure in ``currency``, or ``None``.
    """

    board: str
    complaint: str
    title: str
    currency: str
    worth: float | None
    faults: tuple[str, ...]
    fault_titles: tuple[str, ...]
    setups: tuple[Setup, ...]
    conditions: tuple[Condition, ...]
    checks: tuple[Check, ...]
    fixes: tuple[Fix, ...]
    prior: FloatArray
    states: tuple[FloatArray, ...]
    retest: Work
    detects: FloatArray
    every: FloatArray

    @cached_property
    def fault_probabilities(self) -> FloatArray:
        """``P(f)``, shape ``(F,)``."""
        return normalised(self.prior)

    @cached_property
    def state_probabilities(self) -> tuple[FloatArray, ...]:
        """``P(state | f)`` of each condition, shapes ``(F, S_g)``."""
        return tuple(normalised(counts) for counts in self.states)


@dataclass(frozen=True, slots=True)
class Evidence:
    """What is known of one job, as indices into a model.

    ``readings`` are ``(check, result)`` with ``result`` an index, ``values`` are ``(check, number)`` in SI
    units with ``inf`` for over range; a check stands in one of the two at most. ``failed`` are fixes after
    which the complaint was still there, ``passed`` fixes after which the retest showed nothing; ``soaked``
    are ``(fix, minutes)`` of soak of either where they are known, the planned ones otherwise. Order carries
    no meaning.
    """

    readings: tuple[tuple[int, int], ...] = ()
    values: tuple[tuple[int, float], ...] = ()
    failed: tuple[int, ...] = ()
    passed: tuple[int, ...] = ()
    soaked: tuple[tuple[int, float], ...] = ()


@dataclass(frozen=True, eq=False)
class Posterior:
    """``faults`` is ``P(f | evidence)``, ``(F,)``; ``conditions[g]`` is ``P(state | evidence)``, ``(S_g,)``.

    ``log_evidence`` is ``log P(evidence)`` (``-inf`` if impossible: then the beliefs are the prior's).
    """

    faults: FloatArray
    conditions: tuple[FloatArray, ...]
    log_evidence: float


def normalised(counts: FloatArray) -> FloatArray:
    """Divide by the sum over the last axis; a row of zeros becomes uniform."""
    total = counts.sum(axis=-1, keepdims=True)
    row = np.where(total > 0, counts / np.where(total > 0, total, 1.0), 1.0 / counts.shape[-1])
    row.setflags(write=False)
    return row
