"""Wearing in or out: whether events come more and more seldom, or more and more often.

Each test takes event times ``(n,)`` on a clock that starts at 0, and the time ``end`` up to which events
would have been seen; ``end=None`` is a record that stopped with its last event (failure-truncated): then that
event gives the end and is not counted among the others.
"""

from dataclasses import dataclass
from math import sqrt

import numpy as np
from scipy import special

from benchlore.model import FloatArray
from benchlore.soak.errors import NumberError, above_zero, chance_of


@dataclass(frozen=True, slots=True)
class TrendTest:
    """A trend test: its statistic, and how surprising it is if the rate is constant.

    ``rarer`` is the chance of a record that looks at least as much as if events became rarer, ``oftener``
    the same for more frequent; ``either`` is two-sided. ``counted`` events went in.
    """

    statistic: float
    rarer: float
    oftener: float
    counted: int

    @property
    def either(self) -> float:
        """Two-sided p-value."""
        return min(1.0, 2.0 * min(self.rarer, self.oftener))

    @property
    def is_rarer(self) -> bool:
        """Whether the record leans to events that become rarer."""
        return self.rarer <= self.oftener


def laplace(times: FloatArray, end: float | None = None) -> TrendTest:
    """Laplace's (centroid) test: ``sqrt(12 n) (mean(t) / T - 1/2)``, standard normal if the rate is constant.

    Negative: events lie early, they become rarer. Source: D. R. Cox and P. A. W. Lewis, *The Statistical
    Analysis of Series of Events*, 1966, section 3.3; NIST/SEMATECH e-Handbook, section 8.2.3.4.
    """
    before, until = _truncated(times, end)
    z = float(sqrt(12 * len(before)) * (before.mean() / until - 0.5))
    return TrendTest(z, float(special.ndtr(z)), float(special.ndtr(-z)), len(before))


def military(times: FloatArray, end: float | None = None) -> TrendTest:
    """The military handbook test: ``2 sum ln(T / t)``, chi-square with ``2 n`` degrees of freedom.

    Large: events become rarer. Strong against a power law. Source: MIL-HDBK-189, 1981; NIST/SEMATECH
    e-Handbook, section 8.2.3.4.
    """
    before, until = _truncated(times, end)
    chi = float(2 * np.log(until / np.maximum(before, until * 1e-15)).sum())
    freedom = 2 * len(before)
    return TrendTest(
        chi, float(special.chdtrc(freedom, chi)), float(special.chdtr(freedom, chi)), len(before)
    )


def burst_proof(trend: TrendTest, intervals: FloatArray) -> TrendTest:
    """Laplace's test for events that come in bursts: divided by the intervals' coefficient of variation.

    Source: P. A. W. Lewis and D. W. Robinson, "Testing for a monotone trend in a modulated renewal process",
    in *Reliability and Biometry*, 1974.
    """
    spread = float(intervals.std(ddof=1) / intervals.mean()) if len(intervals) > 1 else 1.0
    z = trend.statistic / max(spread, 1e-12)
    return TrendTest(z, float(special.ndtr(z)), float(special.ndtr(-z)), trend.counted)


@dataclass(frozen=True, slots=True)
class PowerLaw:
    """Expected events up to ``t``: ``scale t ** exponent`` (Crow-AMSAA, Duane).

    An exponent below one: events become rarer (``growth`` above zero). ``now`` is the mean time between
    events at the end, from ``low`` to ``high``.
    """

    exponent: float
    scale: float
    now: float
    low: float
    high: float

    @property
    def growth(self) -> float:
        """Duane's growth rate."""
        return 1 - self.exponent

    def expected(self, t: FloatArray | float) -> FloatArray:
        """Expected number of events up to ``t``."""
        values: FloatArray = np.asarray(self.scale * np.asarray(t, dtype=np.float64) ** self.exponent)
        return values


def power_law(times: FloatArray, end: float | None = None, *, confidence: float = 0.8) -> PowerLaw:
    """Fit the power law by the bias-corrected ("modified") maximum likelihood.

    ``exponent = (n - 1) / sum ln(T / t)`` and ``scale = n / T ** exponent``; for a record that stopped with
    its last event ``n - 2`` in place of ``n - 1``. Limits are the handbook's. Source: NIST/SEMATECH
    e-Handbook, section 8.4.5.2; MIL-HDBK-189, 1981.

    Raises
    ------
    NumberError
        If there are fewer than three events.
    """
    chance_of("the confidence", confidence)
    if len(times) < 3:
        raise NumberError("the number of events", len(times), "3 or more")
    before, until = _truncated(times, end)
    n = len(times)
    logs = float(np.log(until / np.maximum(before, until * 1e-15)).sum())
    exponent = (len(before) - 1) / logs
    scale = n / until**exponent
    now = until / (n * exponent)
    z = float(special.ndtri(0.5 + confidence / 2))
    below = n + z * z / 4 + sqrt(n * z * z / 2 + z**4 / 16)
    above = n - z * sqrt(n / 2)
    high = now * n * (n - 1) / above**2 if above > 0 else float("inf")
    return PowerLaw(exponent, scale, now, now * n * (n - 1) / below**2, high)


def _truncated(times: FloatArray, end: float | None) -> tuple[FloatArray, float]:
    """The events that count, and the end."""
    if len(times) < (1 if end is not None else 2):
        raise NumberError("the number of events", len(times), "1 or more (2 without an end)")
    before = times if end is not None else times[:-1]
    until = above_zero("the end of the record", float(end if end is not None else times[-1]))
    if (before < 0).any() or float(before.max(initial=0.0)) > until:
        raise NumberError("the last event", float(before.max()), f"a time up to {until:g}")
    return before, until
