"""A soak that may end early either way: the sequential probability ratio test, as lines on a chart.

Events are drawn against time. Two parallel lines bound the region in which one goes on: below the lower one
the board is accepted, above the upper one it is rejected. Any unit of time will do.
"""

from dataclasses import dataclass
from functools import cached_property
from math import inf, log
from typing import Final, Literal, TypeAlias

import numpy as np
from scipy import special

from benchlore.model import FloatArray
from benchlore.soak.errors import NumberError, above_zero, chance_of

Standing: TypeAlias = Literal["accept", "reject", "go on"]
MOST_EVENTS: Final = 2_000


@dataclass(frozen=True)
class SequentialTest:
    """Decide between a mean time between events of ``good`` and of ``bad``, with stated chances to be wrong.

    Accept when ``r <= a + b t``, reject when ``r >= c + b t``, where ``d = good / bad``, ``a = ln(beta / (1 -
    alpha)) / ln d``, ``b = (1 / bad - 1 / good) / ln d`` and ``c = ln((1 - beta) / alpha) / ln d``, with
    ``(d + 1) / (2 d)`` inside the last logarithm if ``corrected``. At ``most_time`` whoever has fewer than
    ``most_events`` events is accepted.

    Sources: A. Wald, *Sequential Analysis*, 1947; A. Dvoretzky, J. Kiefer and J. Wolfowitz, *Ann. Math.
    Stat.* 24 (1953) 254-264; MIL-HDBK-781A, 1996, section 5.9.5 (correction and truncation).

    Attributes
    ----------
    good, bad
        Mean time between events that is to be accepted and to be rejected; ``good`` is the longer.
    alpha, beta
        Chance to reject a board at ``good``, and to accept one at ``bad``; both below 0.5.
    """

    good: float
    bad: float
    alpha: float = 0.1
    beta: float = 0.1
    corrected: bool = True

    def __post_init__(self) -> None:
        """Refuse what decides nothing."""
        above_zero("the bad mean time between events", self.bad)
        if not self.bad < self.good < inf:
            raise NumberError("the good mean time between events", self.good, f"more than {self.bad:g}")
        for what, chance in (("alpha", self.alpha), ("beta", self.beta)):
            if chance_of(what, chance) >= 0.5:
                raise NumberError(what, chance, "a number below 0.5")

    @property
    def ratio(self) -> float:
        """``d``, the discrimination ratio."""
        return self.good / self.bad

    @property
    def slope(self) -> float:
        """``b``: events in a unit of time along both lines."""
        return (1 / self.bad - 1 / self.good) / log(self.ratio)

    @property
    def accept_at_start(self) -> float:
        """``a``: where the accept line begins; below zero."""
        return log(self.beta / (1 - self.alpha)) / log(self.ratio)

    @property
    def reject_at_start(self) -> float:
        """``c``: where the reject line begins; above zero."""
        odds = (1 - self.beta) / self.alpha
        return log(odds * (self.ratio + 1) / (2 * self.ratio) if self.corrected else odds) / log(self.ratio)

    @cached_property
    def most_events(self) -> int:
        """Events at which the test ends with "reject" whatever the time.

        The least ``r`` for which ``chi2(alpha; 2 r) / chi2(1 - beta; 2 r) >= 1 / d``.
        """
        for r in range(1, MOST_EVENTS + 1):
            if special.gammaincinv(r, self.alpha) * self.ratio >= special.gammaincinv(r, 1 - self.beta):
                return r
        raise NumberError(
            "good over bad", f"{self.ratio:.4g}", "a greater ratio, or greater chances to be wrong"
        )

    @cached_property
    def most_time(self) -> float:
        """Time at which the test ends with "accept" if there were fewer than ``most_events`` events."""
        return self.good * float(special.gammaincinv(self.most_events, self.alpha))

    def accept_time(self, events: int) -> float:
        """The time from which a board with so many events is accepted."""
        return min(self.most_time, max(0.0, (events - self.accept_at_start) / self.slope))

    def reject_time(self, events: int) -> float:
        """The time up to which a board that shows its ``events``-th event is rejected; below zero: never."""
        if events >= self.most_events:
            return self.most_time
        return (events - self.reject_at_start) / self.slope

    def standing(self, times: FloatArray, now: float) -> tuple[Standing, float]:
        """Say where a soak stands at ``now`` with events at ``times``, and when that was decided."""
        for k, time in enumerate(times, start=1):
            if time > now:
                break
            if (accepted := self.accept_time(k - 1)) <= time:
                return "accept", accepted
            if time <= self.reject_time(k):
                return "reject", float(time)
        seen = int(np.searchsorted(times, now, side="right"))
        accepted = self.accept_time(seen)
        return ("accept", accepted) if accepted <= now else ("go on", now)

    def chart(self) -> tuple[tuple[float, float, float], ...]:
        """Rows of time, accept line and reject line, from 0 to ``most_time``: what a chart is drawn from."""
        corners = {0.0, self.most_time}
        corners |= {-self.accept_at_start / self.slope}
        corners |= {(self.most_events - self.reject_at_start) / self.slope}
        return tuple(
            (
                t,
                self.accept_at_start + self.slope * t,
                min(float(self.most_events), self.reject_at_start + self.slope * t),
            )
            for t in sorted(corners)
            if 0 <= t <= self.most_time
        )

    def performance(self, every: float) -> "Performance":
        """What the test does with boards whose mean time between events is ``every``, exactly.

        Between the times at which a line crosses a whole number the count only rises, so the chances of all
        counts follow from Poisson's distribution, step by step (as in L. A. Aroian, *Technometrics* 10 (1968)
        125-132, without a grid).
        """
        return _performance(self, 1 / above_zero("the mean time between events", every))


@dataclass(frozen=True, slots=True)
class Performance:
    """Chance that a board is accepted, and the mean time until the decision."""

    accepted: float
    time: float


def _performance(test: SequentialTest, rate: float) -> Performance:
    accept = np.array([test.accept_time(r) for r in range(test.most_events)])
    reject = np.array([test.reject_time(r) for r in range(test.most_events + 1)])
    moments = np.unique(np.concatenate([accept, reject[(reject > 0) & (reject < test.most_time)]]))
    chances = np.zeros(test.most_events)
    chances[0] = 1.0
    accepted, time, now = 0.0, 0.0, 0.0
    for moment in moments:
        # Counts that an event within this step may lead to; the next one up is rejected.
        highest = int(np.searchsorted(reject, now, side="right")) - 1
        chances, spent = _step(chances, min(highest, test.most_events - 1), rate, float(moment) - now)
        time += spent
        now = float(moment)
        done = accept <= now
        accepted += float(chances[done].sum())
        chances[done] = 0.0
    return Performance(accepted, time)


def _step(chances: FloatArray, highest: int, rate: float, length: float) -> tuple[FloatArray, float]:
    """Let counts rise for a while; what rises above ``highest`` is rejected. Also the mean time spent."""
    after, spent, mean = np.zeros_like(chances), 0.0, rate * length
    for k in np.flatnonzero(chances):
        more = np.arange(max(0, highest - int(k)) + 1)
        after[int(k) : int(k) + len(more)] += chances[k] * np.exp(
            special.xlogy(more, mean) - special.gammaln(more + 1) - mean
        )
        spent += float(chances[k] * special.pdtrc(more, mean).sum()) / rate
    return after, spent
