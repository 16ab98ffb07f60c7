"""A bench supply's log: where the current falls to nearly nothing and comes back.

The log is put into windows as it streams past, at most ``MOST_WINDOWS``; of each the least and the greatest
current are kept, so that a short drop in a long log is not averaged away.
"""

from dataclasses import dataclass, field
from typing import Final

import numpy as np
from numpy.typing import NDArray

from benchlore.model import FloatArray
from benchlore.soak.errors import RecordError
from benchlore.soak.record import Remark, RestartRecord
from benchlore.units import counted

MOST_WINDOWS: Final = 20_000
BLOCK: Final = 1 << 15
"""Rows that are put into windows together."""
DEAD: Final = 0.2
"""Share of the running current below which the board is taken to be off or in reset."""
ALIVE: Final = 0.5
"""Share above which it runs again; the two differ so that noise at one of them makes no events."""
LONGEST_DIP: Final = 60.0
"""Seconds below ``DEAD`` up to which it is a restart; after more the device was off."""


@dataclass(frozen=True, eq=False)
class SupplyLog:
    """Windows of a supply's log: begin (s from the first row), least and greatest current (A), ``(k,)``.

    Windows without a row are left out; ``width`` is in seconds.
    """

    times: FloatArray
    least: FloatArray
    greatest: FloatArray
    width: float


@dataclass(slots=True)
class SupplyGatherer:
    """Puts rows into windows; the windows double their width whenever they become too many."""

    origin: float | None = None
    width: float = 1e-3
    least: FloatArray = field(default_factory=lambda: np.full(MOST_WINDOWS, np.inf))
    greatest: FloatArray = field(default_factory=lambda: np.full(MOST_WINDOWS, -np.inf))
    _times: list[float] = field(default_factory=list)
    _amps: list[float] = field(default_factory=list)
    _last: float = float("-inf")
    _back: int = 0

    def add(self, time: float, amps: float) -> None:
        """Take a row; one before the row above is counted and left out."""
        if self.origin is None:
            self.origin = time
        if time < self._last:
            self._back += 1
            return
        self._last = time
        self._times.append(time - self.origin)
        self._amps.append(amps)
        if len(self._times) >= BLOCK:
            self._flush()

    def _flush(self) -> None:
        if not self._times:
            return
        times, amps = np.array(self._times), np.array(self._amps)
        self._times.clear()
        self._amps.clear()
        while times[-1] >= self.width * MOST_WINDOWS:
            self.width *= 2
            self.least = _halved(self.least, np.minimum, np.inf)
            self.greatest = _halved(self.greatest, np.maximum, -np.inf)
        places = (times / self.width).astype(np.intp)
        np.minimum.at(self.least, places, amps)
        np.maximum.at(self.greatest, places, amps)

    def log(self) -> tuple[SupplyLog, tuple[Remark, ...]]:
        """The windows, and what is odd about the rows.

        Raises
        ------
        RecordError
            If there are too few rows.
        """
        self._flush()
        kept = np.isfinite(self.least)
        if kept.sum() < 3:
            raise RecordError(None, "it has too few rows with a time and a current", "give the whole log")
        times: FloatArray = np.flatnonzero(kept).astype(np.float64)
        log = SupplyLog(times * self.width, self.least[kept], self.greatest[kept], self.width)
        text = f"{counted(self._back, 'row stands', 'rows stand')} before the one above; left out"
        return log, (Remark(None, text),) if self._back else ()


def _halved(values: FloatArray, join: np.ufunc, empty: float) -> FloatArray:
    """Join neighbouring windows; the other half is empty."""
    joined: FloatArray = np.full(len(values), empty)
    joined[: len(values) // 2] = join(values[::2], values[1::2])
    return joined


def running_current(log: SupplyLog) -> float:
    """The current of a board that runs: the median of the windows' greatest above a tenth of the highest.

    The highest is the 95th percentile, so that a start-up peak does not count.
    """
    peak = float(np.percentile(log.greatest, 95))
    busy = log.greatest[log.greatest > peak / 10]
    return float(np.median(busy)) if len(busy) else 0.0


def restarts_of(log: SupplyLog, remarks: tuple[Remark, ...] = ()) -> RestartRecord:
    """Make a record of a supply's log: a short drop of the current is a restart, a long one the device off.

    Raises
    ------
    RecordError
        If the current never stands above zero.
    """
    running = running_current(log)
    if running <= 0:
        raise RecordError(None, "the current is never above zero", "name the right column 'current'")
    events, spans, since = [], [], 0.0
    end = float(log.times[-1] + log.width)
    for fell, rose in _lows(log, running):
        if rose - fell <= LONGEST_DIP and rose < end and fell > 0:
            events.append(fell)
        else:
            if fell > since:
                spans.append((since, fell))
            since = rose
    if since < end:
        spans.append((since, end))
    if not spans:
        raise RecordError(None, "the device never runs", "name the right column 'current'")
    start = spans[0][0]
    told = Remark(
        None,
        f"running at about {running:.3g} A; a restart is a drop below {DEAD * running:.3g} A of at most "
        f"{LONGEST_DIP:g} s. A board that sleeps looks the same: watch one event with your own eyes",
    )
    return RestartRecord(
        np.array(events) - start,
        tuple((a - start, b - start) for a, b in spans),
        remarks=(*remarks, told),
    )


def _lows(log: SupplyLog, running: float) -> list[tuple[float, float]]:
    """Spells of low current, from and to, at the windows' resolution."""
    is_dead: NDArray[np.bool_] = log.least < DEAD * running
    is_alive: NDArray[np.bool_] = log.greatest > ALIVE * running
    lows: list[tuple[float, float]] = []
    fell: float | None = None
    for k in np.flatnonzero(is_dead | is_alive):
        at = float(log.times[k])
        if fell is None and is_dead[k]:
            fell = at
            if is_alive[k] and (k + 1 == len(log.times) or not is_dead[k + 1]):
                lows.append((fell, at + log.width))
                fell = None
        elif fell is not None and is_alive[k]:
            lows.append((fell, at))
            fell = None
    if fell is not None:
        lows.append((fell, float(log.times[-1] + log.width)))
    return lows
