"""What a state shows, as a distribution of readings."""

from dataclasses import dataclass
from math import log
from typing import Final

from benchlore.units import Measure, Span

LOG_MEASURES: Final = frozenset(
    {
        Measure.RESISTANCE,
        Measure.CURRENT,
        Measure.CAPACITANCE,
        Measure.INDUCTANCE,
        Measure.TIME,
        Measure.COUNT,
    }
)
"""Measures whose readings spread by factors: they are log-normal. The others are normal."""

OVER_WHEN_SHOWN: Final = 0.98
"""How often a state that shows ``OL`` really gives it (our own choice)."""

OVER_ABOVE: Final = 0.5
"""How often a state "above" some ohms or volts of drop gives ``OL``: an open part may read either.

Our own choice."""

OVER_OTHERWISE: Final = 0.002
"""How often any other state gives ``OL`` all the same (our own choice)."""

_RUNS_OUT: Final = frozenset({Measure.RESISTANCE, Measure.DIODE_DROP})

_Z: Final = 1.96  # 95 % of a normal distribution lies within this many standard deviations, 97.5 % below it
_SD_OF_A_BOUND: Final = (
    2.0  # "below 12 ohm" is wide towards its open side: 0.01 ohm is as good a short as 1 ohm
)
_LEAST: Final = 1e-15
_LEAST_SD: Final = 1e-9
_LOW_SHARE: Final = 50.0

# Where the bound is zero it says nothing of a scale; these are what a meter resolves at its low end.
_SMALL: Final = {Measure.TEMPERATURE: 5.0, Measure.FREQUENCY: 1.0}
_SMALL_OTHERWISE: Final = 0.01

# Readings of an OL state that are numbers after all: wide, around where meters of this kind run out.
_BEYOND: Final = {Measure.RESISTANCE: (log(1e7), 3.0), Measure.DIODE_DROP: (2.0, 1.0)}
_BEYOND_LOG: Final = (0.0, 5.0)
_BEYOND_NORMAL: Final = (0.0, 100.0)


@dataclass(frozen=True, slots=True)
class Density:
    """Readings that are over range with probability ``over`` and otherwise normal.

    ``mean`` and ``sd`` (never 0) are those of the value in SI units, or of its logarithm where ``log``.
    """

    log: bool
    mean: float
    sd: float
    over: float


def density_of(span: Span, measure: Measure) -> Density:
    """Return the distribution of readings that a span stands for.

    ``around`` and ``between`` hold 95 of 100 readings between their ends. ``below`` and ``above`` leave
    about 2.5 of 100 beyond their bound, and are wide towards their open side; ohms and diode drops "above" a
    bound are over range as often as not. A log-normal span that reaches zero starts at a fiftieth of its
    upper end instead. Total: a span that its measure cannot have is moved to the smallest value that it can.
    """
    is_log = measure in LOG_MEASURES
    if span.kind == "over range":
        mean, sd = _BEYOND.get(measure, _BEYOND_LOG if is_log else _BEYOND_NORMAL)
        return Density(is_log, mean, sd, OVER_WHEN_SHOWN)
    mean, sd = _log_normal(span) if is_log else _normal(span, _SMALL.get(measure, _SMALL_OTHERWISE))
    over = OVER_ABOVE if span.kind == "above" and measure in _RUNS_OUT else OVER_OTHERWISE
    return Density(is_log, mean, max(sd, _LEAST_SD), over)


def _log_normal(span: Span) -> tuple[float, float]:
    if span.kind == "below":
        return log(max(span.high, _LEAST)) - _Z * _SD_OF_A_BOUND, _SD_OF_A_BOUND
    if span.kind == "above":
        return log(max(span.low, _LEAST)) + _Z * _SD_OF_A_BOUND, _SD_OF_A_BOUND
    high = max(span.high, _LEAST)
    low = span.low if span.low > 0 else high / _LOW_SHARE
    return (log(low) + log(high)) / 2, (log(high) - log(low)) / (2 * _Z)


def _normal(span: Span, small: float) -> tuple[float, float]:
    if span.kind == "below":
        mean, sd = _normal_above(-span.high, small)
        return -mean, sd
    if span.kind == "above":
        return _normal_above(span.low, small)
    return (span.low + span.high) / 2, (span.high - span.low) / (2 * _Z)


def _normal_above(bound: float, small: float) -> tuple[float, float]:
    """Two standard deviations above ``bound``: towards zero from a negative one, away from a positive one."""
    if bound == 0:
        return 2 * small, small
    return (1.25 * bound, 0.125 * bound) if bound > 0 else (bound / 2, -bound / 4)
