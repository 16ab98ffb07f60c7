"""What must come first: gates that can never open, and power on a rail that may be shorted."""

from collections.abc import Iterator

from benchlore.book.bench import circles
from benchlore.book.review.likeness import SAME, overlap
from benchlore.book.values import Book, Check, Gate
from benchlore.notation import Key, Positions, Problem, Severity, listed
from benchlore.units import Measure

_POWERED = frozenset({Measure.VOLTAGE, Measure.CURRENT})
_UNPOWERED = frozenset({Measure.RESISTANCE, Measure.DIODE_DROP})
_NEVER = 0.001


def only_after_circle(book: Book, positions: Positions) -> Iterator[Problem]:
    """Refuse checks that wait for each other in a circle."""
    before = {name: [gate.check for gate in check.gates] for name, check in book.checks.items()}
    for circle in circles(before):
        words = (
            f"{listed(circle)} wait for each other" if len(circle) > 1 else f"'{circle[0]}' waits for itself"
        )
        message = f"{words} and can never be done; take one 'only after' away"
        yield positions.problem(("checks", circle[0], "only after"), "only-after-circle", message)


def only_after_never_met(book: Book, positions: Positions) -> Iterator[Problem]:
    """Refuse gates that never open: a result that is never shown, or two gates that exclude each other."""
    for key, gates in _gated(book):
        for place, gate in enumerate(gates):
            if reason := _never(book, gate, gates[:place]):
                yield positions.problem((*key, gate.check), "only-after-never-met", f"{_who(key)} {reason}")


def only_after_cannot_tell(book: Book, positions: Positions) -> Iterator[Problem]:
    """Doubt gates on a state that the other check cannot tell from another one."""
    for key, gates in _gated(book):
        for gate in gates:
            other = book.checks[gate.check]
            if gate.state is not None and (twin := _twin(book, other, gate.state)):
                message = (
                    f"{_who(key)} waits for '{gate.state}', but '{gate.check}' shows that like '{twin}'; "
                    "wait for a check that tells them apart"
                )
                yield positions.problem(
                    (*key, gate.check), "only-after-cannot-tell", message, Severity.WARNING
                )


def powered_before_resistance(book: Book, positions: Positions) -> Iterator[Problem]:
    """Doubt powered readings on a place that may be shorted before its resistance was read."""
    for name, check in book.checks.items():
        states = book.conditions[check.reads].states
        short = next((state for state in states if state.startswith("short")), None)
        if check.measures not in _POWERED or short is None or _has_resistance_first(book, check):
            continue
        resistance = [each.name for each in book.checks.values() if _is_unpowered(each, check.reads)]
        add = (
            f"add 'only after: {{{resistance[0]}: not {short}}}'"
            if resistance
            else f"add a check of its resistance ('reads: {check.reads}') and wait for it with 'only after'"
        )
        message = f"check '{name}' puts power on '{check.reads}', which may be {short}; {add}"
        yield positions.problem(("checks", name), "powered-before-resistance", message, Severity.WARNING)


def _gated(book: Book) -> Iterator[tuple[Key, tuple[Gate, ...]]]:
    for section, parts in (("checks", book.checks), ("fixes", book.fixes)):
        for name, part in parts.items():
            yield (section, name, "only after"), part.gates


def _who(key: Key) -> str:
    return f"{'check' if key[0] == 'checks' else 'fix'} '{key[1]}'"


def _never(book: Book, gate: Gate, before: tuple[Gate, ...]) -> str:
    """Return why a gate never opens; empty if it may."""
    for other in before:
        if other.check == gate.check and _exclude(gate, other):
            return f"waits for {_words(other)} and for {_words(gate)}, which cannot both be; take one away"
    check = book.checks[gate.check]
    if gate.state not in check.results or gate.state in book.conditions[check.reads].states:
        return ""
    shares = [row[gate.state].probability for row in check.chances.values()]
    if not gate.negated and max(shares, default=1.0) < _NEVER:
        return f"waits for {_words(gate)}, which no state ever gives; take it away"
    if gate.negated and min(shares, default=0.0) > 1 - _NEVER:
        return f"waits for {_words(gate)}, but every state gives that; take it away"
    return ""


def _exclude(one: Gate, other: Gate) -> bool:
    if one.state is None or other.state is None:
        return False
    if one.negated != other.negated:
        return one.state == other.state
    return not one.negated and one.state != other.state


def _words(gate: Gate) -> str:
    return f"'{gate.check}: {'not ' if gate.negated else ''}{gate.state}'"


def _twin(book: Book, check: Check, state: str) -> str | None:
    """Return another state that looks the same as ``state`` to ``check``."""
    shown = check.chances if check.measures is None else check.spans
    if state not in shown:
        return None
    return next(
        (
            each
            for each in book.conditions[check.reads].states
            if each != state and each in shown and overlap(check, state, each) >= SAME
        ),
        None,
    )


def _has_resistance_first(book: Book, check: Check) -> bool:
    """Follow the gates to a resistance or diode reading of the same condition."""
    waiting, seen = [gate.check for gate in check.gates], set[str]()
    while waiting:
        name = waiting.pop()
        if name in seen:
            continue
        seen.add(name)
        if _is_unpowered(book.checks[name], check.reads):
            return True
        waiting.extend(gate.check for gate in book.checks[name].gates)
    return False


def _is_unpowered(check: Check, condition: str) -> bool:
    return check.reads == condition and check.measures in _UNPOWERED
