"""A book's standing: computed from what was proven, never typed in."""

from dataclasses import dataclass
from enum import StrEnum
from math import floor
from typing import Final

from benchlore.proof.calibration import Calibration
from benchlore.proof.coverage import Coverage
from benchlore.proof.parts import from_to, p_text
from benchlore.proof.replay import Replay
from benchlore.proof.ways import Way
from benchlore.units import share


class Standing(StrEnum):
    """How far a procedure can be relied on, from least to most."""

    OPINION = "opinion"
    """What an expert says; too few jobs to test it on."""
    TRIED = "tried"
    """Tested on jobs that it was not made from."""
    SOUND = "sound"
    """Knows most of what comes in, its percentages hold, and it beats trying fixes."""
    SETTLED = "settled"
    """The same on many jobs, and it beats what benches do without it."""


@dataclass(frozen=True, slots=True)
class Ground:
    """One thing that a standing asks for, whether it is ``met``, and what was ``found``."""

    standing: Standing
    asks: str
    found: str
    met: bool


@dataclass(frozen=True, slots=True)
class Graded:
    """The highest standing all of whose grounds, and those of the lower ones, are met."""

    standing: Standing
    grounds: tuple[Ground, ...]

    @property
    def missing(self) -> tuple[Ground, ...]:
        """What the next standing still asks for."""
        order = list(Standing)
        place = order.index(self.standing) + 1
        return tuple(g for g in self.grounds if not g.met and order.index(g.standing) == place)


@dataclass(frozen=True, slots=True)
class _Measure:
    """How many jobs, how much coverage and how likely a chance overconfidence a standing asks for."""

    jobs: int
    coverage: float
    calibration: float


MEASURES: Final = {
    Standing.TRIED: _Measure(10, 0.0, 0.0),
    Standing.SOUND: _Measure(30, 0.8, 0.01),
    Standing.SETTLED: _Measure(100, 0.9, 0.05),
}
"""Chosen so that luck alone hardly reaches a standing: with 10 jobs the interval of a share is some 0.5 wide,
with 30 some 0.3, with 100 some 0.2 (common practice, no source)."""


MOST_DRAWN: Final = 0.5
"""Share of results that may be drawn: beyond it the book is mostly asked about itself."""

FEWEST_DRAWS: Final = 10
CLOCK: Final = (2 / 3, 1.5)
"""Minutes that benches took for each that the book reckons: outside this, its minutes are not theirs."""


def graded(confirmed: int, replay: Replay, calibration: Calibration | None, coverage: Coverage) -> Graded:
    """Grade a book by its proof; ``confirmed`` are the held-out jobs with a confirmed fault."""
    grounds: list[Ground] = []
    for standing, measure in MEASURES.items():
        asks = f"{measure.jobs} held-out jobs with a confirmed fault"
        grounds.append(Ground(standing, asks, f"{confirmed}", confirmed >= measure.jobs))
        if measure.coverage:
            low = coverage.known.low
            asks = f"the book knows at least {measure.coverage * 100:.0f} % of what comes in"
            found = f"at least {floor(low * 1000) / 10:.1f} %"
            grounds.append(Ground(standing, asks, found, low >= measure.coverage))
            grounds.append(_calibrated(standing, measure.calibration, calibration))
    grounds += [
        _told_by_readings(calibration),
        _recorded(replay),
        _promise_kept(replay),
        _beats(Standing.SOUND, replay, Way.FIXES),
        _beats(Standing.SETTLED, replay, Way.BENCH),
        _timed(replay),
    ]
    reached = Standing.OPINION
    for standing in MEASURES:
        if not all(ground.met for ground in grounds if ground.standing is standing):
            break
        reached = standing
    return Graded(reached, tuple(sorted(grounds, key=lambda ground: list(Standing).index(ground.standing))))


def _told_by_readings(calibration: Calibration | None) -> Ground:
    asks = "a job's readings make its forecasts better"
    gain = calibration.log_score.gain if calibration else None
    if gain is None:
        return Ground(Standing.SOUND, asks, "not tested", met=False)
    return Ground(Standing.SOUND, asks, f"by {from_to(gain)} nats", gain.low > 0)


def _recorded(replay: Replay) -> Ground:
    asks = f"at most half of the results on its way are drawn, {FEWEST_DRAWS} times or oftener"
    found = f"{share(replay.drawn)}, {replay.draws} times"
    met = replay.drawn <= MOST_DRAWN and replay.draws >= FEWEST_DRAWS
    return Ground(Standing.SOUND, asks, found, met)


def _promise_kept(replay: Replay) -> Ground:
    own = replay.of(Way.PROCEDURE)
    assert own is not None
    found = f"promised {replay.promised:.2f}, found {from_to(own.cost)}"
    return Ground(Standing.SOUND, "it costs no more than it promised", found, own.cost.low <= replay.promised)


def _timed(replay: Replay) -> Ground:
    asks = "benches take about the minutes that the book reckons"
    if replay.clock is None:
        return Ground(Standing.SETTLED, asks, "not known: nobody recorded the minutes", met=False)
    ratio = replay.clock
    found = f"{ratio.value:.2f} times as many, {from_to(ratio)}"
    return Ground(Standing.SETTLED, asks, found, ratio.high >= CLOCK[0] and ratio.low <= CLOCK[1])


def _calibrated(standing: Standing, least: float, calibration: Calibration | None) -> Ground:
    """Too timid is no fault: who is right oftener than he says can be relied on."""
    asks = "it is not surer of its suspects than it should be"
    test = calibration.test if calibration else None
    if test is None:
        return Ground(standing, asks, "not tested", met=False)
    leaning = "surer" if test.z > 0 else "less sure"
    return Ground(
        standing,
        asks,
        f"{leaning} by z = {abs(test.z):.1f}, {p_text(test.p)}",
        test.z <= 0 or test.p >= least,
    )


def _beats(standing: Standing, replay: Replay, way: Way) -> Ground:
    asks = {
        Way.FIXES: "it costs less than trying fixes without checks",
        Way.BENCH: "it costs less than what benches did",
    }[way]
    account = replay.of(way)
    if account is None or account.more is None:
        return Ground(standing, asks, "not known: nobody recorded the minutes", met=False)
    more = account.more
    found = f"{more.value:.2f} less a job, {more.low:.2f} to {more.high:.2f}"
    return Ground(standing, asks, found, more.low > 0)
