"""Pictures of an intermittent complaint: the record of its events, and a soak that may end early."""

from collections.abc import Sequence
from typing import Final

import altair as alt
import numpy as np

from benchlore.press.drawing import (
    Label,
    Picture,
    Sheet,
    chart,
    draw,
    draw_nothing,
    paragraph,
    pixels,
)
from benchlore.press.text import wrapped
from benchlore.press.theme import LIGHT, LINE_HEIGHT
from benchlore.press.time_plot import TimePlot, line, time_plot, unit_of
from benchlore.soak import Finding, PowerLaw, RestartRecord, SequentialTest
from benchlore.units import counted

RUG: Final = 14
"""Height of the marks of single events, under the plot."""
MOST_MARKS: Final = 1_000
"""Events that are drawn; of more, so many spread evenly."""
POINTS: Final = 80
"""Points of a curve."""


def draw_record(
    record: RestartRecord,
    finding: Finding,
    trend: PowerLaw | None = None,
    *,
    title: str = "Restarts, one by one",
) -> Picture:
    """Draw events as marks, their number as a line that climbs, and the trend through it; gaps are shaded.

    ``trend`` is in minutes of watched time; without it the line of a constant rate is drawn.
    """
    if not record.count:
        return draw_nothing(title, "No event in this record, so there is nothing to draw.")
    total = max(record.spans[-1][1], float(record.events[-1])) / 60
    drawn = np.unique(np.linspace(0, record.count - 1, MOST_MARKS).astype(np.intp))
    events, numbers = record.events[drawn] / 60, drawn + 1

    def compose(width: float) -> Sheet:
        key = wrapped(record_key(record, trend), width)
        plot = time_plot(width, LINE_HEIGHT * (len(key) + 0.8), total, record.count)
        size = unit_of(total)[1]
        steps = climbing((events / size).tolist(), numbers.tolist(), total / size)
        curve = trend_points(record, trend, size)
        lines = [line(curve, plot, LIGHT.teal, dashed=True), line(steps, plot, LIGHT.copper)]
        scaled = [*gaps(record, plot, size), *plot.grid(), *lines]
        marks = rug((events / size).tolist(), plot)
        labels = [*paragraph(key, x=0, top=0), *plot.labels("Time", below=RUG)]
        return Sheet(plot.foot + RUG + 2.4 * LINE_HEIGHT, scaled, labels, marks)

    return draw(title, " ".join((f"{counted(record.count, 'event')}.", *finding.said)), compose)


def record_key(record: RestartRecord, trend: PowerLaw | None) -> str:
    """Say how the picture is read."""
    parts = ["Marks: one event each." if record.count <= MOST_MARKS else "Marks: some of the events."]
    parts.append("Line: how many so far.")
    parts.append("Dashed: the trend." if trend is not None else "Dashed: a constant rate.")
    if len(record.spans) > 1:
        parts.append("Shaded: nobody watched.")
    return " ".join(parts)


def climbing(events: Sequence[float], numbers: Sequence[int], end: float) -> list[tuple[float, float]]:
    """The corners of a count that climbs at each event."""
    corners, before = [(0.0, 0.0)], 0.0
    for time, number in zip(events, numbers, strict=True):
        corners += [(time, before), (time, float(number))]
        before = float(number)
    return [*corners, (max(end, events[-1]), before)]


def trend_points(record: RestartRecord, trend: PowerLaw | None, size: float) -> list[tuple[float, float]]:
    """The expected number of events along the record; level where nobody watched."""
    edges = np.array([edge for span in record.spans for edge in span])
    moments = np.unique(np.concatenate([np.linspace(0, edges[-1], POINTS), edges]))
    watched = record.on_watch(moments) / 60
    expected = record.count * watched * 60 / record.watched if trend is None else trend.expected(watched)
    return list(zip((moments / 60 / size).tolist(), expected.tolist(), strict=True))


def gaps(record: RestartRecord, plot: TimePlot, size: float) -> list[alt.Chart]:
    """Shade the times in which nobody watched."""
    between = zip(record.spans, record.spans[1:], strict=False)
    low, high = plot.counts[0], plot.counts[-1]
    boxes = [
        {"x": before[1] / 60 / size, "x2": after[0] / 60 / size, "y": low, "y2": high}
        for before, after in between
    ]
    if not boxes:
        return []
    layer: alt.Chart = chart(boxes).mark_rect(fill=LIGHT.stone, fillOpacity=0.5)
    return [layer.encode(x=plot.x, x2=alt.X2("x2:Q"), y=plot.y, y2=alt.Y2("y2:Q"))]


def rug(events: Sequence[float], plot: TimePlot) -> list[alt.Chart]:
    """Mark each event under the plot."""
    marks = [{"x": plot.across(time), "y": plot.foot + 3, "y2": plot.foot + RUG} for time in events]
    layer: alt.Chart = chart(marks).mark_rule(stroke=LIGHT.copper, strokeWidth=1.5)
    return [layer.encode(x=pixels(alt.X, "x"), y=pixels(alt.Y, "y"), y2=alt.Y2("y2:Q"))]


def draw_sequential(
    test: SequentialTest,
    soaked: float | None = None,
    events: Sequence[float] = (),
    *,
    title: str = "A soak that may end early",
) -> Picture:
    """Draw the lines of a sequential test in minutes, and where a soak stands.

    ``soaked`` are minutes so far, ``events`` the times of what was seen in them.
    """
    end = max(test.most_time, soaked or 0.0)
    seen = sorted(time for time in events if soaked is not None and time <= soaked)

    def compose(width: float) -> Sheet:
        key = wrapped(sequential_key(soaked), width)
        plot = time_plot(width, LINE_HEIGHT * (len(key) + 0.8), end, max(test.most_events, len(seen)))
        size = unit_of(end)[1]
        scaled = [*plot.grid(), *bounds(test, plot, size)]
        if soaked is not None:
            numbers = range(1, len(seen) + 1)
            path = climbing([t / size for t in seen], list(numbers), soaked / size) if seen else []
            scaled.append(line(path or [(0.0, 0.0), (soaked / size, 0.0)], plot, LIGHT.copper))
        labels = [*paragraph(key, x=0, top=0), *plot.labels("Time on the bench"), *regions(test, plot, size)]
        return Sheet(plot.foot + 2.4 * LINE_HEIGHT, scaled, labels)

    return draw(title, sequential_told(test, soaked, seen), compose)


def sequential_key(soaked: float | None) -> str:
    """Say how the picture is read."""
    parts = [
        "Events counted against time. Below the lower line it may go home, above the upper it is not cured."
    ]
    return " ".join([*parts, "Thick line: this soak."] if soaked is not None else parts)


def bounds(test: SequentialTest, plot: TimePlot, size: float) -> list[alt.Chart]:
    """Draw both lines to the end of the test, as far as they lie above zero."""
    rows = [(t / size, low, high) for t, low, high in test.chart()]
    accept = [(t, max(0.0, low)) for t, low, _ in rows if low >= -1e-9]
    reject = [(t, high) for t, _, high in rows]
    close = [(test.most_time / size, max(0.0, rows[-1][1])), (test.most_time / size, rows[-1][2])]
    return [
        line(accept, plot, LIGHT.teal),
        line(reject, plot, LIGHT.umber),
        line(close, plot, LIGHT.soft, dashed=True),
    ]


def regions(test: SequentialTest, plot: TimePlot, size: float) -> list[Label]:
    """Name the regions above and below the lines."""
    last = test.most_time / size
    home = Label(plot.across(last) - 6, plot.foot - 12, "may go home", "right", LIGHT.teal, bold=True)
    not_cured = Label(plot.across(0) + 8, plot.top + 10, "not cured", "left", LIGHT.umber, bold=True)
    return [home, not_cured]


def sequential_told(test: SequentialTest, soaked: float | None, seen: Sequence[float]) -> str:
    """Tell the test in words."""
    told = (
        f"Without an event it may go home after {test.accept_time(0):.3g} min; at the latest the test ends "
        f"after {test.most_time:.3g} min or {counted(test.most_events, 'event')}."
    )
    if soaked is None:
        return told
    standing, _ = test.standing(np.array(seen), soaked)
    words = {"accept": "it may go home", "reject": "it is not cured", "go on": "go on"}
    return f"{told} After {soaked:.3g} min with {counted(len(seen), 'event')}: {words[standing]}."
