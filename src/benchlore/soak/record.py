"""A restart record: when it happened, when anybody would have seen it, and what else was known then."""

from dataclasses import dataclass, field
from datetime import datetime
from functools import cached_property

import numpy as np

from benchlore.model import FloatArray
from benchlore.soak.errors import RecordError


@dataclass(frozen=True, slots=True)
class Remark:
    """Something about a record that its reader should know; ``line`` is the first that shows it."""

    line: int | None
    text: str

    def __str__(self) -> str:
        """Name the line."""
        return self.text if self.line is None else f"line {self.line}: {self.text}"


@dataclass(frozen=True, eq=False)
class Covariate:
    """What else was recorded: from ``times[k]`` on (seconds) it was ``values[k]``, until the next time.

    ``values`` are numbers; where the record has words, they are places in ``words``.
    """

    name: str
    times: FloatArray
    values: FloatArray
    words: tuple[str, ...] = ()


@dataclass(frozen=True, eq=False)
class RestartRecord:
    """Events of one device on one time axis, in seconds since the start.

    ``events`` are in rising order. ``spans`` are the times ``(from, to)`` in which an event would have been
    recorded; between them the device was off. Where nobody wrote when watching began, it begins with the
    first event, which then is the origin (``from_event``) and not among ``events``; where nobody wrote when
    it ended, it ends with the last event (``to_event``; such a record is failure-truncated). ``began`` is
    the start on the calendar, where the record says that.

    Raises
    ------
    RecordError
        If events are not in rising order, lie outside all spans, or spans overlap.
    """

    events: FloatArray
    spans: tuple[tuple[float, float], ...]
    covariates: tuple[Covariate, ...] = ()
    began: datetime | None = None
    from_event: bool = False
    to_event: bool = False
    remarks: tuple[Remark, ...] = field(default=())

    def __post_init__(self) -> None:
        """Refuse what no record can be."""
        flat = np.array(self.spans, dtype=np.float64).reshape(-1)
        if not self.spans or not np.isfinite(flat).all() or (np.diff(flat) < 0).any():
            raise RecordError(None, "its spans overlap, run backwards or are missing", "give them in order")
        if not np.isfinite(self.events).all() or (np.diff(self.events) < 0).any():
            raise RecordError(None, "its events are not in rising order", "sort them")
        if (self.events < flat[0]).any() or (self.events > flat[-1]).any():
            raise RecordError(None, "an event lies outside the time that was watched", "widen the spans")

    @property
    def count(self) -> int:
        """How many events, the origin not counted."""
        return len(self.events)

    @property
    def watched(self) -> float:
        """Seconds in which an event would have been seen."""
        return float(sum(end - start for start, end in self.spans))

    @cached_property
    def times(self) -> FloatArray:
        """Events on the clock that only runs while watched, ``(n,)``, in seconds."""
        return self.on_watch(self.events)

    def on_watch(self, moments: FloatArray) -> FloatArray:
        """Put moments on the clock that only runs while watched."""
        starts = np.array([start for start, _ in self.spans])
        ends = np.array([end for _, end in self.spans])
        before = np.concatenate([[0.0], np.cumsum(ends - starts)])
        place = np.clip(np.searchsorted(starts, moments, side="right") - 1, 0, len(starts) - 1)
        within: FloatArray = before[place] + np.clip(moments, starts[place], ends[place]) - starts[place]
        return within

    @cached_property
    def intervals(self) -> FloatArray:
        """Seconds from each event to the next where the device was watched all the while."""
        moments = np.concatenate([[self.spans[0][0]], self.events]) if self.from_event else self.events
        starts = np.array([start for start, _ in self.spans])
        span = np.searchsorted(starts, moments, side="right")
        gaps: FloatArray = np.diff(moments)[span[1:] == span[:-1]]
        return gaps


def record_of(
    events: FloatArray | list[float], watched: float | None = None, *, to_event: bool = False
) -> RestartRecord:
    """Make a record of events that was watched from 0 to ``watched``, or to its last event.

    >>> record_of([5, 40, 43], 50).watched
    50.0
    """
    times = np.asarray(events, dtype=np.float64)
    ends = to_event or watched is None
    until = float(times[-1]) if watched is None and len(times) else float(watched or 0.0)
    return RestartRecord(times, ((0.0, until),), to_event=ends)
