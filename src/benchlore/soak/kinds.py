"""What kind of complaint a record shows: by a clock, in bursts, with a trend, tied, or by chance.

Every test that the record has events for is made, and their p-values are corrected together, so that the
chance to call a record of random events anything else is at most ``ALPHA``.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum
from functools import partial
from typing import Final, TypeVar

from benchlore.soak.bursts import dispersion
from benchlore.soak.errors import NumberError
from benchlore.soak.evenness import Beat, Spacing, beat, spacing
from benchlore.soak.record import RestartRecord
from benchlore.soak.ties import Tie, tie
from benchlore.soak.trend import TrendTest, burst_proof, laplace, military
from benchlore.units import counted, format_duration, share

T = TypeVar("T")

ALPHA: Final = 0.05
FEW: Final = 8
"""Fewer events than this show only strong patterns."""
FEWEST_FOR_TREND: Final = 4
EVEN: Final = 0.15
"""Intervals that vary by no more than this share come by a clock; others that are even only build up."""
IN_PHASE: Final = 0.8
"""The least length of the mean phase at which events keep to the beat of a clock."""
MOST_SHARED: Final = 0.1
"""Share of intervals shorter than half a beat up to which a clock is believed."""


class Pattern(StrEnum):
    """The kind of a record."""

    FIXED = "fixed"
    ROUGH = "roughly even"
    TIED = "tied"
    RARER = "rarer"
    OFTENER = "oftener"
    BURSTS = "bursts"
    RANDOM = "random"
    TOO_FEW = "too few"


@dataclass(frozen=True, slots=True)
class KindTest:
    """One test: what it looks for, its p-value, and the same after correction for all that were made."""

    name: str
    p: float
    adjusted: float

    @property
    def shows(self) -> bool:
        """Whether it shows something that chance alone hardly would."""
        return self.adjusted < ALPHA


@dataclass(frozen=True, slots=True)
class Finding:
    """What a record shows.

    ``period`` is the clock's, in seconds, for ``FIXED`` and ``ROUGH``; ``tie`` is the covariate's for
    ``TIED``. ``said`` are sentences for whoever has to find the fault.
    """

    pattern: Pattern
    tests: tuple[KindTest, ...]
    period: float | None = None
    tie: Tie | None = None
    said: tuple[str, ...] = ()


def holm(values: Sequence[float]) -> tuple[float, ...]:
    """Correct p-values for being many (S. Holm, *Scand. J. Statist.* 6 (1979) 65-70).

    >>> holm([0.01, 0.04, 0.03])
    (0.03, 0.06, 0.06)
    """
    order = sorted(range(len(values)), key=lambda k: values[k])
    adjusted, highest = [0.0] * len(values), 0.0
    for rank, k in enumerate(order):
        highest = max(highest, min(1.0, (len(values) - rank) * values[k]))
        adjusted[k] = highest
    return tuple(adjusted)


@dataclass(frozen=True, slots=True)
class _Tried:
    """What the tests found, where there were events enough."""

    even: Spacing | None
    beat: Beat | None
    laplace: TrendTest | None
    military: TrendTest | None
    bursts: float | None
    ties: tuple[Tie, ...]

    def all(self) -> Iterator[tuple[str, float]]:
        if self.even is not None:
            yield "even intervals", self.even.even
        if self.beat is not None:
            yield "a beat", self.beat.p
        if self.laplace is not None:
            yield "trend (Laplace)", self.laplace.either
        if self.military is not None:
            yield "trend (power law)", self.military.either
        if self.bursts is not None:
            yield "bursts", self.bursts
        for each in self.ties:
            yield f"tied to {each.name}", each.p


def _tried(record: RestartRecord) -> _Tried:
    end = None if record.to_event else record.watched
    enough = record.count >= FEWEST_FOR_TREND
    bursts = _perhaps(lambda: dispersion(record.times, record.watched))
    ties = (_perhaps(partial(tie, record, each)) for each in record.covariates)
    return _Tried(
        even=_perhaps(lambda: spacing(record.intervals)),
        beat=_perhaps(lambda: beat(record.events)),
        laplace=_perhaps(lambda: laplace(record.times, end)) if enough else None,
        military=_perhaps(lambda: military(record.times, end)) if enough else None,
        bursts=None if bursts is None else bursts.bursts,
        ties=tuple(each for each in ties if each is not None),
    )


def _perhaps(test: Callable[[], T]) -> T | None:
    """Make a test where there are events enough for it."""
    try:
        return test()
    except NumberError:
        return None


def find_kind(record: RestartRecord) -> Finding:
    """Try a record for all kinds, and name the strongest that holds after Holm's correction.

    A clock comes first, since even intervals mislead no other test; then a tie, then a trend, then bursts.
    Bursts make trends look stronger than they are: with bursts, a trend has to hold in Lewis and Robinson's
    test too.
    """
    tried = _tried(record)
    names = [name for name, _ in tried.all()]
    values = [p for _, p in tried.all()]
    tests = tuple(KindTest(*row) for row in zip(names, values, holm(values), strict=True))
    by_name = {test.name: test for test in tests}
    pattern, period, tied = _pattern(tried, by_name, record)
    finding = Finding(pattern, tests, period, tied)
    return Finding(pattern, tests, period, tied, tuple(_said(finding, tried, record)))


def _pattern(
    tried: _Tried, tests: dict[str, KindTest], record: RestartRecord
) -> tuple[Pattern, float | None, Tie | None]:
    """The first kind that holds, its period, and its tie."""

    def shows(name: str) -> bool:
        return name in tests and tests[name].shows

    even = tried.even if shows("even intervals") else None
    beats = tried.beat if shows("a beat") else None
    tied = min(tried.ties, key=lambda each: each.p, default=None)
    found: tuple[Pattern, float | None, Tie | None]
    if even is not None and even.variation <= EVEN:
        found = Pattern.FIXED, even.mean, None
    elif beats is not None and beats.length >= IN_PHASE and _is_one_a_beat(record, beats.period):
        found = Pattern.FIXED, beats.period, None
    elif tied is not None and shows(f"tied to {tied.name}"):
        found = Pattern.TIED, None, tied
    elif even is not None:
        found = Pattern.ROUGH, even.mean, None
    else:
        found = _loose(tried, shows, record), None, None
    return found


def _is_one_a_beat(record: RestartRecord, period: float) -> bool:
    """Whether hardly two events share a beat: bursts have one phase too, whatever the period."""
    return float((record.intervals < period / 2).mean()) <= MOST_SHARED


def _loose(tried: _Tried, shows: Callable[[str], bool], record: RestartRecord) -> Pattern:
    """A kind without a clock: a trend, bursts, or neither."""
    trend = _trend(tried, shows)
    if trend is not None and (not shows("bursts") or burst_proof(trend, record.intervals).either < ALPHA):
        return Pattern.RARER if trend.is_rarer else Pattern.OFTENER
    if shows("bursts"):
        return Pattern.BURSTS
    return Pattern.TOO_FEW if record.count < FEWEST_FOR_TREND else Pattern.RANDOM


def _trend(tried: _Tried, shows: Callable[[str], bool]) -> TrendTest | None:
    """Laplace's test, if either trend test shows something and they do not contradict each other."""
    if tried.laplace is None or tried.military is None:
        return None
    if not (shows("trend (Laplace)") or shows("trend (power law)")):
        return None
    return tried.laplace if tried.laplace.is_rarer == tried.military.is_rarer else None


def _said(finding: Finding, tried: _Tried, record: RestartRecord) -> Iterator[str]:
    yield _what(finding, tried)
    yield _WHERE[finding.pattern]
    shown = [test for test in finding.tests if test.shows]
    if shown:
        least = min(shown, key=lambda test: test.adjusted)
        yield (
            f"Chance alone makes a record look like this in {share(least.adjusted)} of cases, all "
            f"{len(finding.tests)} tests counted."
        )
    if record.count < FEW and finding.pattern is not Pattern.FIXED:
        events = counted(record.count, "event")
        yield f"With {events} only a strong pattern shows: more may hide here. Record on."


def _every(seconds: float) -> str:
    return format_duration(float(f"{seconds / 60:.4g}"))


def _what(finding: Finding, tried: _Tried) -> str:
    if finding.tie is not None:
        return tie_said(finding.tie)
    if finding.period is None:
        return _PLAIN[finding.pattern]
    every = _every(finding.period)
    if finding.pattern is Pattern.ROUGH:
        return f"Roughly even: about every {every}, more even than chance."
    if tried.even is not None and tried.even.variation <= EVEN:
        return f"By a clock: every {every}, even to {share(tried.even.variation)}."
    return f"By a clock: on a beat of {every}, some beats left out."


_PLAIN: Final = {
    Pattern.RARER: "It becomes rarer.",
    Pattern.OFTENER: "It becomes more frequent.",
    Pattern.BURSTS: "It comes in bursts, with quiet between them.",
    Pattern.RANDOM: "At random, at a constant rate, as far as this record tells.",
    Pattern.TOO_FEW: "Too few events to say what kind it is.",
}
_WHERE: Final = {
    Pattern.FIXED: "Something counts this time: look for a supervisor, a watchdog, or a timer in a program.",
    Pattern.ROUGH: "Something builds up and lets go: look for heat, a charge that runs down, or memory.",
    Pattern.TIED: "Look for what this moves, and bring it about on the bench: the soak gets shorter.",
    Pattern.RARER: "A contact that wears in, or somebody avoids what brings it on. A soak now proves less.",
    Pattern.OFTENER: "Something wears or cracks further: soak with the newest rate, not with the mean.",
    Pattern.BURSTS: "One event brings the next, or it needs a state that comes and goes: soak over many.",
    Pattern.RANDOM: "Soak by the rate: there is no better moment to look.",
    Pattern.TOO_FEW: "Record on, or take the customer's words for the rate.",
}
"""Where each kind points. Common practice, no source."""


def tie_said(found: Tie) -> str:
    """Say how a covariate moves the rate."""
    if found.levels:
        ranked = sorted(found.levels, key=lambda level: -level[1])
        most, least = ranked[0], ranked[-1]
        times = f"{most[1] / least[1]:.2g} times as often as" if least[1] > 0 else "and never"
        return f"Tied to {found.name}: with {most[0]} {times} with {least[0]}."
    more = found.factor if found.factor >= 1 else 1 / found.factor
    way = "often" if found.factor >= 1 else "rarely"
    return f"Tied to {found.name}: {more:.2g} times as {way} at {found.to:.4g} as at {found.from_:.4g}."
