"""What is believed of a complaint that comes by a clock: one event a beat, at fixed intervals.

Any unit of time will do, if it is the same throughout.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from math import exp, inf, lgamma, sqrt
from typing import Final

import numpy as np
from scipy import optimize, special

from benchlore.soak.errors import above_zero, chance_of, not_negative

JEFFREYS: Final = 0.5
"""Half a beat with an event and half a beat without, before any was seen (Jeffreys' prior of a share)."""
MOST_BEATS: Final = 400
"""Beats that are followed one by one; after so many silent ones hardly anything is left to tell."""


@dataclass(frozen=True, slots=True)
class ClockBelief:
    """A clock with a beat every ``period``, each interval off by ``spread`` (a standard deviation).

    Of ``beats`` beats seen, ``hits`` had an event; the share that has one is believed to be
    ``Beta(hits + 1/2, beats - hits + 1/2)``. The clock starts with the soak, so its ``m``-th beat comes at a
    normal ``m period`` with deviation ``spread sqrt(m)``, and a board that is not cured stays quiet for ``t``
    with ``q(t) = sum_m P(m beats by t) g_m``, ``g_m = E[(1 - p)^m] = B(h + 1/2, k - h + 1/2 + m) / B(h + 1/2,
    k - h + 1/2)``. Source: the number of renewals by ``t``, D. R. Cox, *Renewal Theory*, 1962, chapter 3; the
    beta-binomial law of beats that have an event is its thinning.

    ``soaked`` is time without an event already; what is told is of what follows.
    """

    period: float
    spread: float
    hits: int
    beats: int
    soaked: float = 0.0

    def __post_init__(self) -> None:
        """Refuse what is no clock."""
        above_zero("the period of a clock", self.period)
        not_negative("the spread of a clock", self.spread)

    def missed(self, beats: int) -> float:
        """The chance that so many beats in a row have no event."""
        hit, miss = self.hits + JEFFREYS, self.beats - self.hits + JEFFREYS
        return exp(lgamma(miss + beats) + lgamma(hit + miss) - lgamma(miss) - lgamma(hit + miss + beats))

    def after(self, events: float, watched: float) -> "ClockBelief":  # noqa: ARG002  as of every belief
        """What is left to believe after a time without an event."""
        return replace(self, soaked=self.soaked + not_negative("the time watched", watched))

    def quiet(self, t: float) -> float:
        """The chance of no event in ``t`` more."""
        before = self._quiet(self.soaked)
        return self._quiet(self.soaked + not_negative("a time", t)) / before if before > 0 else 0.0

    def shown(self, t: float) -> float:
        """The chance of an event in ``t`` more."""
        return 1.0 - self.quiet(t)

    def falling(self, t: float) -> float:
        """How fast the chance of no event falls at ``t``; nearly in steps, one at each beat."""
        step = self._wide(1) / 100
        return max(0.0, (self.quiet(max(0.0, t - step)) - self.quiet(t + step)) / (2 * step))

    def quiet_until(self, chance: float) -> float:
        """The time in which nothing happens with this chance."""
        wanted, late = chance_of("a chance", chance), self.period
        while self.quiet(late) > wanted and late < MOST_BEATS * self.period:
            late *= 2
        if self.quiet(late) > wanted:
            return inf
        return float(optimize.brentq(lambda t: self.quiet(t) - wanted, 0.0, late, xtol=1e-9))

    @property
    def typical(self) -> float:
        """The period."""
        return self.period

    def between(self, inside: float = 0.9) -> tuple[float, float]:
        """From and to what a single interval lasts, with chance ``inside``."""
        off = float(special.ndtri(0.5 + chance_of("the share inside", inside) / 2)) * self.spread
        return max(0.0, self.period - off), self.period + off

    def cheapest(self, uncured: float, minute: float, saved: float) -> float:
        """The soak that costs least: none, or one that ends just after a beat.

        ``w t + u q(t) s`` has a minimum of its own behind each beat, so all are compared.
        """
        times = np.array([0.0, *self._after_beats()])
        costs = [minute * t + uncured * saved * self.quiet(t) for t in times.tolist()]
        return float(times[int(np.argmin(costs))])

    def _after_beats(self) -> Iterator[float]:
        """Moments behind each beat of the first ones: from on time to four deviations late."""
        for beat in range(1, 13):
            wide = self._wide(beat)
            yield from (beat * self.period + k * wide / 4 for k in range(17))

    def _wide(self, beat: int) -> float:
        # A clock without any spread still falls over a thousandth of its period: steps are no help to search.
        return max(self.spread, self.period / 1000) * sqrt(beat)

    def _quiet(self, t: float) -> float:
        last = min(MOST_BEATS, int(t / self.period) + 12)
        beats = np.arange(1, last + 1)
        wide = max(self.spread, self.period / 1000) * np.sqrt(beats)
        came = special.ndtr((t - beats * self.period) / wide)
        missed = np.array([self.missed(int(m)) for m in range(last + 1)])
        return float(max(0.0, 1.0 - (missed[:-1] - missed[1:]) @ came))
