"""From a fault book to a model: every chance becomes a count, with the boards that stand behind it.

``docs/model.md`` ("From a book to a model") states the rules; each function here is one of them.
"""

from collections.abc import Iterable, Mapping
from dataclasses import replace

import numpy as np

from benchlore.book import Book, Complaint, density_of
from benchlore.book import Check as BookCheck
from benchlore.book import Condition as BookCondition
from benchlore.book import Fix as BookFix
from benchlore.book import Gate as BookGate
from benchlore.book import Setup as BookSetup
from benchlore.book import Work as BookWork
from benchlore.jobs import UNLISTED
from benchlore.model.bands import banded, half_uniform
from benchlore.model.coverage import LEAST_UNSEEN, unseen_boards
from benchlore.model.densities import densities_of, frozen
from benchlore.model.errors import UnknownComplaintError
from benchlore.model.gates import open_results
from benchlore.model.rows import kept_inside, stated_row, unlisted_row, untouched_row, weak_row
from benchlore.model.values import (
    Check,
    Condition,
    Densities,
    Fix,
    FloatArray,
    Gate,
    Model,
    Setup,
    Work,
    normalised,
)

UNLISTED_TITLE = "A fault that the book does not know"


def build(book: Book, complaint: str, *, strength: float = 10.0) -> Model:
    """Make the model of one of the book's complaints.

    The models of one book's complaints share every array but the prior: their faults are all of the book's
    faults and ``unlisted``, which comes last.

    Parameters
    ----------
    book
        A valid book.
    complaint
        The name of one of its complaints.
    strength
        How many boards stand behind a chance for which the book does not say.

    Raises
    ------
    UnknownComplaintError
        If the book has no such complaint.
    """
    if complaint not in book.complaints:
        raise UnknownComplaintError(book.board.name, complaint, tuple(book.complaints))
    asked = book.complaints[complaint]
    beliefs = np.array([normalised(prior_counts(book, other)) for other in book.complaints.values()])
    states = state_counts(book, beliefs, strength)
    marginals = [beliefs.mean(axis=0) @ normalised(rows) for rows in states]
    checks = _checks(book, marginals, strength)
    return Model(
        board=book.board.name,
        complaint=asked.name,
        title=f"{book.board.title}: {asked.title}",
        currency=book.currency,
        worth=asked.worth,
        faults=(*book.faults, UNLISTED),
        fault_titles=(*(fault.title for fault in book.faults.values()), UNLISTED_TITLE),
        setups=tuple(Setup(s.name, s.title, _work(book, s.work)) for s in book.setups.values()),
        conditions=tuple(Condition(c.name, c.title, c.states) for c in book.conditions.values()),
        checks=checks,
        fixes=tuple(_fix(book, fix, checks, strength) for fix in book.fixes.values()),
        prior=frozen(prior_counts(book, asked)),
        states=tuple(frozen(rows) for rows in states),
        retest=_work(book, asked.retest),
        detects=frozen(detection(book, asked)),
        every=frozen(intervals(book, asked)),
    )


def prior_counts(book: Book, complaint: Complaint) -> FloatArray:
    """Return the counts of every fault and, last, of ``unlisted``, shape ``(F,)``.

    Without ``seen``, one board each and half a board unlisted. With it, the boards seen, nothing for a fault
    that is not among them, and for ``unlisted`` the boards that stayed unexplained and the Good–Turing
    estimate of what has not been met yet; all times ``weight``.
    """
    seen = complaint.seen
    if seen is None:
        return np.array([1.0] * len(book.faults) + [LEAST_UNSEEN])
    counts = [seen.faults.get(fault, 0.0) for fault in book.faults]
    unexplained = max(0.0, seen.boards - sum(counts))
    if sum(counts) == 0:
        counts = [1.0] * len(counts)
        return np.array([*counts, LEAST_UNSEEN + unexplained * seen.weight])
    return np.array([*counts, unseen_boards(counts) + unexplained]) * seen.weight


def state_counts(book: Book, beliefs: FloatArray, strength: float) -> list[FloatArray]:
    """Return the counts of ``P(state | fault)`` of every condition, shapes ``(F, S_g)``.

    ``beliefs`` are the priors of all complaints ``(M, F)``: what a typical board looks like does not depend
    on which complaint is asked about.
    """
    listed = beliefs[:, :-1].sum(axis=0)
    weights = normalised(listed)
    tables = []
    for condition in book.conditions.values():
        rows = np.array([_state_row(book, fault, condition, strength) for fault in book.faults])
        rows = rows.reshape(len(book.faults), len(condition.states))
        last = unlisted_row(rows, weights) if len(rows) else weak_row(len(condition.states))
        tables.append(np.vstack([rows, last]))
    return tables


def _state_row(book: Book, fault: str, condition: BookCondition, strength: float) -> FloatArray:
    caused = book.faults[fault].causes.get(condition.name)
    if not caused:
        return untouched_row(len(condition.states), condition.by_chance, strength)
    rest = 0 if condition.states[0] == "normal" else None
    return stated_row(condition.states, caused, strength, rest=rest)


def detection(book: Book, complaint: Complaint) -> FloatArray:
    """Return ``d`` of every fault, ``(F,)``: one for a hard complaint, else ``1 - exp(-t / T)``.

    ``t`` is the whole retest, hands-on and soak: the complaint shows in either. ``T`` are the
    :func:`intervals`.
    """
    if complaint.about_every is None:
        return np.ones(len(book.faults) + 1)
    watched = complaint.retest.takes + complaint.retest.waits
    return -np.expm1(-watched / intervals(book, complaint))


def intervals(book: Book, complaint: Complaint) -> FloatArray:
    """Return the mean minutes between events of every fault, ``(F,)``: zero for a hard complaint.

    It is the fault's own where the book gives one, else the complaint's.
    """
    if complaint.about_every is None:
        return np.zeros(len(book.faults) + 1)
    every = [fault.about_every or complaint.about_every for fault in book.faults.values()]
    return np.array([*every, complaint.about_every])


def _checks(book: Book, marginals: list[FloatArray], strength: float) -> tuple[Check, ...]:
    """Make all checks; gates are filled in last because they ask what other checks show."""
    bare = {
        name: _named_check(book, check, strength)
        if check.measures is None
        else _numeric_check(book, check, marginals, strength)
        for name, check in book.checks.items()
    }
    places = tuple(bare)
    return tuple(
        replace(check, gates=_gates(book, book.checks[name].gates, bare, places))
        for name, check in bare.items()
    )


def _named_check(book: Book, check: BookCheck, strength: float) -> Check:
    condition = book.conditions[check.reads]
    rows = [
        stated_row(check.results, check.chances[state], strength)
        if check.chances.get(state)
        else weak_row(len(check.results))
        for state in condition.states
    ]
    place = list(book.conditions).index(check.reads)
    return Check(check.name, check.title, place, check.results, _work(book, check.work), frozen(rows))


def _numeric_check(book: Book, check: BookCheck, marginals: list[FloatArray], strength: float) -> Check:
    condition = book.conditions[check.reads]
    place = list(book.conditions).index(check.reads)
    states = len(condition.states)
    bare = Check(check.name, check.title, place, (), _work(book, check.work), frozen(np.ones((states, 0))))
    return banded(bare, _densities(check, condition, strength), half_uniform(marginals[place]))


def _densities(check: BookCheck, condition: BookCondition, strength: float) -> Densities:
    """Expect of a state about which the book says nothing whatever the other states show."""
    assert check.measures is not None
    shown = {state: density_of(span, check.measures) for state, span in check.spans.items()}
    known = list(shown.values())
    low = min((d.mean - 4 * d.sd for d in known), default=-1.0)
    high = max((d.mean + 4 * d.sd for d in known), default=1.0)
    table = np.array(
        [
            (shown[s].mean, shown[s].sd, shown[s].over)
            if s in shown
            else ((low + high) / 2, (high - low) / 4, 0.002)
            for s in condition.states
        ]
    )
    log_normal = known[0].log if known else False
    return densities_of(check.measures, *table.T, log_normal=log_normal, strength=strength)


def _gates(
    book: Book, gates: Iterable[BookGate], checks: Mapping[str, Check], places: tuple[str, ...]
) -> tuple[Gate, ...]:
    return tuple(_gate(book, gate, checks[gate.check], places.index(gate.check)) for gate in gates)


def _gate(book: Book, gate: BookGate, check: Check, place: int) -> Gate:
    """Take a gate's name for a state of the other check's condition, or else for one of its results."""
    every = range(len(check.results))
    if gate.state is None:
        return Gate(place, tuple(every))
    states = book.conditions[book.checks[gate.check].reads].states
    if gate.state in states:
        state = states.index(gate.state)
        return Gate(place, open_results(check, state, negated=gate.negated), state, gate.negated)
    return Gate(place, tuple(r for r in every if (check.results[r] == gate.state) != gate.negated))


def _fix(book: Book, fix: BookFix, checks: tuple[Check, ...], strength: float) -> Fix:
    """Make a fix that never cures what the book does not name under it, ``unlisted`` among them."""
    by_name = {check.name: check for check in checks}
    return Fix(
        name=fix.name,
        title=fix.title,
        work=_work(book, fix.work),
        parts=sum(part.price for part in fix.parts),
        cures=frozen([_cure_row(fix, fault, strength) for fault in (*book.faults, UNLISTED)]),
        gates=_gates(book, fix.gates, by_name, tuple(by_name)),
    )


def _cure_row(fix: BookFix, fault: str, strength: float) -> FloatArray:
    if fault not in fix.cures:
        return np.array([0.0, strength])
    chance = fix.cures[fault]
    boards = strength if chance.of is None else chance.of
    return kept_inside(np.array([chance.probability, 1 - chance.probability])) * boards


def _work(book: Book, work: BookWork) -> Work:
    places = list(book.setups)
    order = [places.index(name) for name in _closed(book.setups, work.setups)]
    return Work(work.takes, work.waits, work.ruins, tuple(order), work.equipment)


def _closed(setups: Mapping[str, BookSetup], names: Iterable[str]) -> list[str]:
    """Return ``names`` and all that must stand before them, in the order in which to make them."""
    order: list[str] = []
    started: set[str] = set()

    def make(name: str) -> None:
        if name not in started:
            started.add(name)
            for before in setups[name].work.setups:
                make(before)
            order.append(name)

    for name in names:
        make(name)
    return order
