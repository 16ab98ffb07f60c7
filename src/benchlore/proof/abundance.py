"""What the numbers of boards of each fault tell about the faults that were not met yet.

``n`` boards have ``S`` different faults, ``f_1`` of which were met once and ``f_2`` twice. Sources: Chao &
Jost 2012, Ecology 93, 2533-2547 (coverage); Chao 1987, Biometrics 43, 783-791 (number of faults); Colwell et
al. 2012, Journal of Plant Ecology 5, 3-21, and Chao et al. 2014, Ecological Monographs 84, 45-67 (curves,
bootstrap).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from math import ceil, exp, log, sqrt
from typing import Final

import numpy as np
from scipy.special import gammaln

from benchlore.model import FloatArray, unseen_share
from benchlore.procedure.arrays import IntArray
from benchlore.proof.estimate import Z

LEAST_UNMET: Final = 2
"""Faults not met that boards are drawn with at the least: with fewer, drawn samples differ too little."""


@dataclass(frozen=True, eq=False)
class Abundance:
    """How many boards had each fault that was met: ``sizes`` is ``(S,)``, each at least 1.

    All that tells of faults not met asks for two boards or more.
    """

    sizes: IntArray

    @cached_property
    def boards(self) -> int:
        """``n``."""
        return int(self.sizes.sum())

    @cached_property
    def met(self) -> int:
        """``S``, how many different faults."""
        return len(self.sizes)

    @cached_property
    def once(self) -> int:
        """``f_1``, how many faults were met once."""
        return int(np.count_nonzero(self.sizes == 1))

    @cached_property
    def twice(self) -> int:
        """``f_2``, how many faults were met twice."""
        return int(np.count_nonzero(self.sizes == 2))

    @cached_property
    def unseen(self) -> float:
        """The share of boards whose fault was not met: ``f_1 / n · A`` (Chao & Jost 2012, equation 4a)."""
        return unseen_share(self.sizes.tolist())

    @cached_property
    def decay(self) -> float:
        """``A``, by which each further board lowers the unseen share."""
        return self.unseen * self.boards / self.once if self.once else 0.0

    @cached_property
    def unmet(self) -> float:
        """``f_0``, how many faults were not met, at the least (Chao 1987, with ``(n - 1) / n``)."""
        factor = (self.boards - 1) / self.boards
        if self.twice:
            return factor * self.once**2 / (2 * self.twice)
        return factor * self.once * (self.once - 1) / 2

    @cached_property
    def variance(self) -> float:
        """The variance of ``S + f_0`` (Chao 1987; without doubletons, of the bias-corrected form)."""
        once, twice, factor = self.once, self.twice, (self.boards - 1) / self.boards
        if twice:
            ratio = once / twice
            return twice * (factor / 2 * ratio**2 + factor**2 * ratio**3 + factor**2 / 4 * ratio**4)
        spread = factor * once * (once - 1) / 2 + factor**2 * once * (2 * once - 1) ** 2 / 4
        return spread - factor**2 * once**4 / (4 * (self.met + self.unmet))

    def log_normal(self) -> tuple[float, float]:
        """The interval of ``S + f_0`` that never ends below ``S`` (Chao 1987); ``f_0`` is above zero."""
        factor = exp(Z * sqrt(log(1 + self.variance / self.unmet**2)))
        return self.met + self.unmet / factor, self.met + self.unmet * factor

    def unseen_after(self, more: float) -> float:
        """The unseen share after ``more`` further boards (Chao & Jost 2012)."""
        return float(self.unseen * self.decay**more)

    def met_after(self, more: float) -> float:
        """How many different faults are met after ``more`` further boards (Colwell et al. 2012)."""
        if self.unmet == 0:
            return float(self.met)
        left = 1 - self.once / (self.boards * self.unmet + self.once)
        return float(self.met + self.unmet * (1 - left**more))

    def more_until(self, coverage: float) -> float:
        """How many further boards until the expected coverage is ``coverage``; zero where it is reached.

        With single sightings only, the answer is a lower bound and nothing more.
        """
        if self.unseen <= 1 - coverage:
            return 0.0
        return log((1 - coverage) / self.unseen) / log(self.decay)

    @cached_property
    def drawing(self) -> tuple[FloatArray, int]:
        """What ``draw`` draws from: cumulative chances of the faults met, ``(S,)``, and how many others.

        Those that were met give up the unseen share, the rarer the more of it; the others have equal parts of
        it (Chao et al. 2014). Where the boards show less unseen than one board, one board's share goes to two
        faults: drawing as if nothing were unseen would make every interval too short.
        """
        shares = self.sizes / self.boards
        unseen = max(self.unseen, 1 / self.boards)
        missed = (1 - shares) ** self.boards
        given = float(shares @ missed)
        kept = shares * (1 - unseen / given * missed) if given > unseen else shares * (1 - unseen)
        return np.cumsum(kept), max(ceil(self.unmet), LEAST_UNMET)

    def draw(self, rng: np.random.Generator) -> "Abundance":
        """As many boards again, drawn from what these show."""
        kept, others = self.drawing
        where = rng.random(self.boards)
        fault = np.searchsorted(kept, where, side="right")
        other = (where - kept[-1]) / (1 - kept[-1]) * others
        fault = np.where(fault < self.met, fault, self.met + np.minimum(other.astype(np.int64), others - 1))
        return Abundance(np.unique(fault, return_counts=True)[1])


@dataclass(frozen=True, eq=False)
class Thinning:
    """What smaller samples of ``boards`` would show: weights of ``f_0, f_1, ..., f_n``, each ``(n + 1, M)``.

    Rarefaction is linear in how many faults were met ``x`` times, so one table serves every drawn sample.
    """

    unseen: FloatArray
    met: FloatArray

    def of(self, sizes: IntArray) -> tuple[FloatArray, FloatArray]:
        """The expected unseen share and number of faults in each smaller sample, both ``(M,)``."""
        times = np.bincount(sizes, minlength=len(self.met)).astype(np.float64)
        return times @ self.unseen, times @ self.met


def thinning(boards: int, sizes: Sequence[int]) -> Thinning:
    """Rarefaction from ``boards`` to ``sizes`` boards (each from 1 to ``boards - 1``).

    A fault that was met ``x`` times is missed by ``m`` boards with probability ``C(n - x, m) / C(n, m)``
    (Hurlbert 1971); it is missed by ``m`` boards and shown by another with ``x / n · C(n - x, m) / C(n - 1,
    m)`` (Chao & Jost 2012).
    """
    times, smaller = np.arange(boards + 1.0)[:, None], np.asarray(sizes, dtype=np.float64)[None, :]
    possible = times <= boards - smaller
    ways = gammaln(boards - times + 1) - gammaln(np.where(possible, boards - times - smaller, 0) + 1)
    missed = np.where(possible, np.exp(ways - gammaln(boards + 1) + gammaln(boards - smaller + 1)), 0.0)
    shown = np.where(possible, np.exp(ways - gammaln(boards) + gammaln(boards - smaller)), 0.0)
    return Thinning(times / boards * shown, 1 - missed)
