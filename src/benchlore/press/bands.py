"""A numeric check's bands on paper: what lies between them, and which states the book says show there."""

from collections.abc import Mapping, Sequence
from math import isfinite, sqrt

from benchlore.book import Check
from benchlore.units import OL, Measure, Span, UnitError, parse_quantity, parse_span


def edges_of(results: Sequence[str]) -> tuple[str, ...]:
    """Name the numbers between neighbouring bands, as the bands name them; ``OL`` is a band apart.

    >>> edges_of(["below 12 ohm", "12 ohm to 3.1 kohm", "above 3.1 kohm", "OL"])
    ('12 ohm', '3.1 kohm')
    """
    numbers = [result for result in results if result != "OL"]
    return tuple(name.removeprefix("below ").rpartition(" to ")[2] for name in numbers[:-1])


def states_shown(check: Check, results: Sequence[str]) -> Mapping[str, tuple[str, ...]]:
    """Name, for each band, the states whose usual reading lies in it, in the book's words.

    ``like normal`` puts two states into one band. Nothing is named where a result is no band.
    """
    shown: dict[str, list[str]] = {result: [] for result in results}
    if check.measures is None:
        return {}
    for state, span in check.spans.items():
        value = usual(span)
        for result in results:
            if _holds(result, value, check.measures):
                shown[result].append(state)
                break
    return {result: tuple(states) for result, states in shown.items()}


def usual(span: Span) -> float:
    """A reading in the middle of a span: half of what it stays below, twice what it stays above."""
    if span.kind == "over range":
        return OL
    if span.centre is not None:
        return span.centre
    if not isfinite(span.low):
        return span.high / 2
    if not isfinite(span.high):
        return span.low * 2
    return sqrt(span.low * span.high) if span.low > 0 else (span.low + span.high) / 2


def _holds(result: str, value: float, measure: Measure) -> bool:
    if result == "OL" or not isfinite(value):
        return result == "OL" and not isfinite(value)
    if result == "any value":
        return True
    try:
        if " to " in result:
            low, high = (parse_quantity(end, measure) for end in result.split(" to "))
        else:
            span = parse_span(result, measure)
            low, high = span.low, span.high
    except UnitError:
        return False
    return low <= value < high
