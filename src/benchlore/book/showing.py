"""What each state of a check's condition shows: spans of numbers, or chances of named results."""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from benchlore.book.density import LOG_MEASURES
from benchlore.book.known import Known
from benchlore.book.rows import RowError, filled
from benchlore.notation import Key, quoted, shortened
from benchlore.notation.scalars import StatedChance, as_chance, as_filled_text
from benchlore.units import Chance, Measure, Span, parse_span

_LIKE: Final = re.compile(r"like +(?P<state>.+)", re.IGNORECASE)


@dataclass(frozen=True)
class Showing:
    """Reads the ``shows`` of one check, which stands at ``key``; ``states`` are its condition's."""

    known: Known
    key: Key
    states: tuple[str, ...]

    def spans(self, shows: Mapping[str, Any], measure: Measure) -> dict[str, Span]:
        """Return what each state shows as a span."""
        return {
            state: span
            for state, raw in self._resolved(shows).items()
            if (span := self._span(raw, measure, (*self.key, state))) is not None
        }

    def chances(self, shows: Mapping[str, Any], results: tuple[str, ...]) -> dict[str, dict[str, Chance]]:
        """Return how often each state gives each result."""
        return {
            state: row
            for state, raw in self._resolved(shows).items()
            if (row := self._row(raw, results, (*self.key, state))) is not None
        }

    def _resolved(self, shows: Mapping[str, Any]) -> dict[str, Any]:
        """Follow each ``like``; every state of the condition must say what it shows."""
        known = [
            state for state in shows if self.known.is_one(state, self.states, "state", (*self.key, state))
        ]
        silent = [state for state in self.states if state not in known]
        if silent and len(known) == len(shows):
            message = (
                f"nothing says what {quoted(silent[0])} shows; add it, or '{silent[0]}: like {known[0]}'"
            )
            self.known.findings.error(self.key, "missing", message)
        found = {state: self._followed(state, shows) for state in known}
        return {state: raw for state, raw in found.items() if raw is not None}

    def _followed(self, state: str, shows: Mapping[str, Any]) -> Any:
        """Return what ``state`` shows; ``None`` if that is a mistake."""
        way, key = [state], (*self.key, state)
        while (other := _likened(shows[way[-1]])) is not None:
            if not self.known.is_one(other, self.states, "state", key):
                return None
            if other in way:
                self.known.findings.error(key, "circle", f"{quoted(state)} is said to be like itself")
                return None
            if other not in shows:
                self.known.findings.error(key, "missing", f"nothing says what {quoted(other)} shows")
                return None
            way.append(other)
        return shows[way[-1]]

    def _span(self, raw: Any, measure: Measure, key: Key) -> Span | None:
        try:
            span = parse_span(as_filled_text(raw), measure)
        except ValueError as error:
            self.known.findings.error(key, "bad-value", str(error))
            return None
        if measure in LOG_MEASURES and _is_never(span):
            message = f"a {measure} is more than zero; leave signs out and say the direction in 'how'"
            self.known.findings.error(key, "bad-value", f"{quoted(raw)} cannot be: {message}")
            return None
        return span

    def _row(self, raw: Any, results: tuple[str, ...], key: Key) -> dict[str, Chance] | None:
        if not isinstance(raw, dict):
            example = f"{{{results[0]}: 97 %}}"
            message = f"how often each result shows is expected, such as {example}, not {quoted(raw)}"
            self.known.findings.error(key, "bad-value", message)
            return None
        stated = {
            result: chance
            for result, text in raw.items()
            if self.known.is_one(result, results, "result", (*key, result))
            and (chance := self._chance(text, (*key, result))) is not None
        }
        return fill_row(self.known, stated, results, None, key)

    def _chance(self, text: Any, key: Key) -> StatedChance | None:
        try:
            return as_chance(text)
        except ValueError as error:
            self.known.findings.error(key, "bad-value", str(error))
            return None


def fill_row(
    known: Known, stated: Mapping[str, StatedChance], options: tuple[str, ...], rest: str | None, key: Key
) -> dict[str, Chance] | None:
    """Fill a row that stands at ``key``; ``None`` where it does not add up."""
    try:
        return filled(stated, options, rest)
    except RowError as error:
        known.findings.error(key, "row-sum", str(error))
        return None


def _likened(raw: Any) -> str | None:
    found = _LIKE.fullmatch(raw.strip()) if isinstance(raw, str) else None
    return shortened(found["state"]) if found else None


def _is_never(span: Span) -> bool:
    """Say whether a span holds nothing that a measure without negative values can show."""
    return span.low <= 0 if span.kind == "above" else span.high <= 0
