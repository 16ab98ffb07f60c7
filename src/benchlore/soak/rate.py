"""How often it happens: intervals for the mean time between events, and what is believed of the rate.

Any unit of time will do, if it is the same throughout.
"""

from dataclasses import dataclass
from math import exp, expm1, inf, log, log1p
from typing import Final, TypeAlias

from scipy import optimize, special

from benchlore.soak.clock import ClockBelief
from benchlore.soak.errors import NumberError, above_zero, chance_of, not_negative

KNOWN: Final = 1e12
"""The shape of a belief that stands for a rate known exactly; what it computes is right to twelve digits."""


@dataclass(frozen=True, slots=True)
class MeanBetween:
    """A mean time between events and its two-sided interval; ``inf`` where nothing bounds it."""

    mean: float
    low: float
    high: float
    confidence: float


def mean_between(
    events: int, watched: float, *, confidence: float = 0.9, to_event: bool = False
) -> MeanBetween:
    """Estimate the mean time between events from ``events`` in ``watched`` time, at a constant rate.

    From ``2 T / chi2(1 - alpha/2; 2 n + 2)`` to ``2 T / chi2(alpha/2; 2 n)``; for a record that stopped with
    its last event (``to_event``) both have ``2 n`` degrees of freedom. Source: NIST/SEMATECH e-Handbook,
    section 8.4.5.1; B. Epstein and M. Sobel, *JASA* 48 (1953) 486-502.

    >>> found = mean_between(2, 800)
    >>> round(found.low, 3), round(found.high, 2)
    (127.069, 2251.23)
    """
    above_zero("the time watched", watched)
    tail = (1 - chance_of("the confidence", confidence)) / 2
    if events < 0 or (to_event and events < 1):
        raise NumberError("the number of events", events, "1 or more" if to_event else "0 or more")
    below = 2 * events if to_event else 2 * events + 2
    low = 2 * watched / float(special.chdtri(below, tail))
    high = watched / float(special.gammaincinv(events, tail)) if events else inf
    return MeanBetween(watched / events if events else inf, low, high, confidence)


@dataclass(frozen=True, slots=True)
class RateBelief:
    """What is believed of a rate: a gamma distribution, as of ``shape`` events in ``time``.

    Its mean is ``shape / time``. The chance of no event in ``t`` is ``(time / (time + t)) ** shape``, Lomax's
    (K. S. Lomax, *JASA* 49 (1954) 847-852).
    """

    shape: float
    time: float

    def __post_init__(self) -> None:
        """Refuse what is no distribution."""
        above_zero("the shape of a rate", self.shape)
        above_zero("the time of a rate", self.time)

    @classmethod
    def known(cls, every: float) -> "RateBelief":
        """A rate that is known: one event in ``every``, on average."""
        return cls(KNOWN, KNOWN * above_zero("the mean time between events", every))

    @property
    def every(self) -> float:
        """One over the mean rate: the time between events that the belief amounts to."""
        return self.time / self.shape

    @property
    def typical(self) -> float:
        """One over the median rate: a time between events that is as likely too long as too short."""
        return self.every if self.shape >= KNOWN else self.time / float(special.gammaincinv(self.shape, 0.5))

    def after(self, events: float, watched: float) -> "RateBelief":
        """What is believed after ``events`` more were seen in ``watched`` more time."""
        return RateBelief(self.shape + events, self.time + not_negative("the time watched", watched))

    def quiet(self, t: float) -> float:
        """The chance of no event in ``t``."""
        return exp(-self.shape * log1p(not_negative("a time", t) / self.time))

    def shown(self, t: float) -> float:
        """The chance of an event in ``t``."""
        return -expm1(-self.shape * log1p(not_negative("a time", t) / self.time))

    def falling(self, t: float) -> float:
        """How fast the chance of no event falls at ``t``: ``a / (b + t)`` times that chance."""
        return self.shape / (self.time + t) * self.quiet(t)

    def quiet_until(self, chance: float) -> float:
        """The time in which nothing happens with this chance."""
        return self.time * expm1(-log(chance_of("a chance", chance)) / self.shape)

    def between(self, inside: float = 0.9) -> tuple[float, float]:
        """The mean time between events, from and to, that the belief holds ``inside`` of."""
        tail = (1 - chance_of("the share inside", inside)) / 2
        if self.shape >= KNOWN:
            return self.every, self.every
        low = self.time / float(special.gammainccinv(self.shape, tail))
        rarest = float(special.gammaincinv(self.shape, tail))
        return low, self.time / rarest if rarest > 0 else inf


@dataclass(frozen=True, slots=True)
class RateMixture:
    """One of several beliefs, each with its chance: which fault it is decides how often it shows."""

    parts: tuple[tuple[float, RateBelief], ...]

    def __post_init__(self) -> None:
        """Refuse what is no distribution."""
        if not self.parts or abs(sum(chance for chance, _ in self.parts) - 1) > 1e-6:
            raise NumberError("the chances of the parts", [chance for chance, _ in self.parts], "a sum of 1")

    def after(self, events: float, watched: float) -> "RateMixture":
        """What is left to believe after a time without an event; parts that would have shown one lose.

        Raises
        ------
        NumberError
            If there were events: a mixture is of a board that shows none.
        """
        if events:
            raise NumberError("the number of events", events, "0")
        left = [(chance * part.quiet(watched), part.after(0, watched)) for chance, part in self.parts]
        total = sum(chance for chance, _ in left)
        if total <= 0:
            return self
        return RateMixture(tuple((chance / total, part) for chance, part in left))

    def quiet(self, t: float) -> float:
        """The chance of no event in ``t``."""
        return sum(chance * part.quiet(t) for chance, part in self.parts)

    def shown(self, t: float) -> float:
        """The chance of an event in ``t``."""
        return sum(chance * part.shown(t) for chance, part in self.parts)

    def falling(self, t: float) -> float:
        """How fast the chance of no event falls at ``t``."""
        return sum(chance * part.falling(t) for chance, part in self.parts)

    def quiet_until(self, chance: float) -> float:
        """The time in which nothing happens with this chance."""
        longest = max(part.quiet_until(chance) for _, part in self.parts)
        shortest = min(part.quiet_until(chance) for _, part in self.parts)
        if longest <= shortest:
            return longest
        return float(optimize.brentq(lambda t: self.quiet(t) - chance, shortest, longest, xtol=1e-9))

    @property
    def typical(self) -> float:
        """The time in which half of such boards show an event, as a mean time between events."""
        return self.quiet_until(0.5) / log(2)

    def between(self, inside: float = 0.9) -> tuple[float, float]:
        """The mean times between events, from and to, of the parts that hold ``inside`` of the chance."""
        tail = (1 - chance_of("the share inside", inside)) / 2
        ranked = sorted((part.typical, chance) for chance, part in self.parts)
        below, low, high = 0.0, ranked[0][0], ranked[-1][0]
        for every, chance in ranked:
            low = every if below <= tail else low
            high = every if below < 1 - tail else high
            below += chance
        return low, high


Rate: TypeAlias = RateBelief | RateMixture | ClockBelief
"""What is believed of a rate."""

NOTHING_KNOWN: Final = (0.5, 0.0)
"""Events and time of Jeffreys' prior for a Poisson rate, which is no distribution before a record."""


def belief_of_record(events: float, watched: float, before: RateBelief | None = None) -> RateBelief:
    """What a record leaves to believe of the rate, after ``before``, or after nothing (Jeffreys' prior)."""
    if before is not None:
        return before.after(events, watched)
    return RateBelief(NOTHING_KNOWN[0] + events, above_zero("the time watched", watched))


def belief_with(low: float, high: float, *, below_low: float = 0.05, below_high: float = 0.95) -> RateBelief:
    """The gamma distribution with two given quantiles of the rate.

    The ratio of two quantiles depends on the shape alone, and falls as it rises. Source: the "50/95 method",
    NIST/SEMATECH e-Handbook, section 8.2.5.

    >>> found = belief_with(1 / 600, 1 / 250, below_low=0.5)
    >>> round(found.shape, 3), round(found.time, 1)
    (2.863, 1522.5)
    """
    if not 0 < low < high < inf:
        raise NumberError("a range of rates", f"{low} to {high}", "two rising rates above zero")
    if not 0 < below_low < below_high < 1:
        raise NumberError("the shares below", f"{below_low}, {below_high}", "two rising shares within 0 to 1")

    def excess(logarithm: float) -> float:
        shape = exp(logarithm)
        rare = float(special.gammaincinv(shape, below_low))
        often = float(special.gammaincinv(shape, below_high))
        return (log(often) - log(rare) if rare > 0 else 1e9) - log(high / low)

    if excess(log(1e-2)) < 0 or excess(log(1e8)) > 0:
        raise NumberError("a range of rates", f"{low} to {high}", "a range neither endless nor a point")
    shape = exp(float(optimize.brentq(excess, log(1e-2), log(1e8), xtol=1e-13)))
    return RateBelief(shape, float(special.gammaincinv(shape, below_high)) / high)
