"""What a record leaves to believe of the rate that the next hour has, given what kind it is."""

import numpy as np

from benchlore.soak.bursts import dispersion
from benchlore.soak.clock import ClockBelief
from benchlore.soak.errors import NumberError
from benchlore.soak.kinds import Finding, Pattern
from benchlore.soak.rate import RateBelief, belief_of_record
from benchlore.soak.record import RestartRecord

MINUTE = 60.0


def belief_in(
    record: RestartRecord, finding: Finding, before: RateBelief | None = None
) -> tuple[RateBelief | ClockBelief, str]:
    """What to believe of the rate in events a minute, and how the record was taken.

    With a trend, only the newer half of the watched time counts. Bursts count as the quasi-Poisson model has
    it: events divided by the dispersion index, since a soak waits for a burst and not for an event. A clock
    is one (:class:`ClockBelief`), whatever was said before: its beats are counted, not guessed.
    """
    if finding.pattern is Pattern.FIXED and finding.period is not None:
        return _clock(record, finding.period)
    events, watched, how = float(record.count), record.watched / MINUTE, ""
    if finding.pattern in {Pattern.RARER, Pattern.OFTENER}:
        events, watched = float((record.times > record.watched / 2).sum()), watched / 2
        how = "with a trend, only the newer half of the record counts"
    elif finding.pattern is Pattern.BURSTS:
        try:
            index = dispersion(record.times, record.watched).index
        except NumberError:
            index = 1.0
        events /= max(1.0, index)
        how = f"its {record.count} events are {events:.3g} bursts' worth"
    return belief_of_record(events, watched, before), how


def _clock(record: RestartRecord, seconds: float) -> tuple[ClockBelief, str]:
    """Count the beats of a clock and how far intervals lie from whole numbers of them."""
    intervals = record.intervals
    beats = np.maximum(1.0, np.round(intervals / seconds))
    off = (intervals - beats * seconds) / np.sqrt(beats)
    spread = float(np.sqrt(np.mean(off**2)))
    clock = ClockBelief(seconds / MINUTE, spread / MINUTE, len(intervals), int(beats.sum()))
    return clock, f"by a clock, with an event in {len(intervals)} of {int(beats.sum())} beats"
