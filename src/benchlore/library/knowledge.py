"""What a book knows, in figures to be shown: faults with intervals, what each fault does, what checks read.

A fault's share is Dirichlet, so that each one alone is Beta, with the counts of the fault against those of
all others (Gelman et al. 2013, "Bayesian Data Analysis", third edition, appendix A).
"""

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy import special

from benchlore.book import UNLISTED, Book
from benchlore.library.folder import Library, sound_book_of, store_of
from benchlore.library.planning import known_models
from benchlore.model import Check, Densities, Model
from benchlore.model.densities import from_scale, log_density, over_probabilities, predictive_scale
from benchlore.proof import Estimate
from benchlore.units import Measure

LEVEL: Final = 0.95
"""The level of every interval."""
POINTS: Final = 61
"""Points of a density's curve around each state, and again along the whole scale."""
REACH: Final = 3.5
"""A curve's scale reaches so many scales beyond the outermost states' means."""


@dataclass(frozen=True, slots=True)
class FaultKnown:
    """A fault of one complaint: its share of boards with the 95 % interval, and who met it.

    ``seen`` are boards that the book's expert counted, ``confirmed`` recorded jobs with this fault confirmed.
    """

    name: str
    title: str
    share: Estimate
    seen: float
    confirmed: int


@dataclass(frozen=True, slots=True)
class ComplaintKnown:
    """A complaint's faults, the most frequent first; ``unlisted`` stands among them."""

    name: str
    title: str
    faults: tuple[FaultKnown, ...]
    seen: float
    confirmed: int


@dataclass(frozen=True, slots=True)
class Cell:
    """What a fault does to a condition: its states with their shares, and the share that is not the first."""

    states: tuple[tuple[str, float], ...]
    off: float

    @property
    def strongest(self) -> tuple[str, float]:
        """The most frequent state but the first; the first where it is alone."""
        return max(self.states[1:] or self.states, key=lambda pair: pair[1])


@dataclass(frozen=True, slots=True)
class Effects:
    """A fault's row: one cell for each condition."""

    fault: str
    title: str
    cells: tuple[Cell, ...]


@dataclass(frozen=True, slots=True)
class StateCurve:
    """What a numeric check reads in one state.

    ``over`` is the share over range. ``points`` are ``(reading in SI units, density)``; the density is
    of the reading's logarithm where the check's scale is logarithmic, and is scaled so that its highest is 1.
    """

    state: str
    over: float
    points: tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True)
class CheckKnown:
    """A check: curves for a numeric one, else the chance of each result in each state."""

    name: str
    title: str
    reads: str
    measure: Measure | None
    is_logarithmic: bool
    curves: tuple[StateCurve, ...]
    results: tuple[str, ...]
    chances: tuple[tuple[str, tuple[float, ...]], ...]


@dataclass(frozen=True, eq=False)
class Knowledge:
    """All of it, with the book; ``jobs`` of ``stored`` recorded ones taught it, ``stale`` what did not."""

    book: Book
    complaints: tuple[ComplaintKnown, ...]
    conditions: tuple[tuple[str, str], ...]
    effects: tuple[Effects, ...]
    checks: tuple[CheckKnown, ...]
    jobs: int
    stored: int
    stale: tuple[str, ...]


def knowledge(library: Library, board: str) -> Knowledge:
    """Tell what a book knows, from the models that are kept; where there are none, from the book alone.

    Raises
    ------
    NoBookError, BookRefusedError
        If there is no such book, or it has errors.
    """
    book = sound_book_of(library, board).book
    assert book is not None
    known = known_models(library, book)
    confirmed = _confirmed(library, board)
    model = next(iter(known.models.values()), None)
    return Knowledge(
        book=book,
        complaints=tuple(_complaint(book, model, confirmed) for model in known.models.values()),
        conditions=() if model is None else tuple((c.name, c.title) for c in model.conditions),
        effects=() if model is None else _effects(model),
        checks=() if model is None else tuple(_check(model, check) for check in model.checks),
        jobs=known.jobs,
        stored=known.stored,
        stale=known.stale,
    )


def share_of(counts: float, all_counts: float) -> Estimate:
    """Return a share's mean and 95 % interval, from its Dirichlet counts and the sum of all.

    >>> share = share_of(8.0, 10.0)
    >>> round(share.value, 3), round(share.low, 3), round(share.high, 3)
    (0.8, 0.518, 0.972)
    """
    if counts <= 0 or all_counts <= 0:
        return Estimate(0.0, 0.0, 0.0)
    if counts >= all_counts:
        return Estimate(1.0, 1.0, 1.0)
    low, high = special.betaincinv(counts, all_counts - counts, ((1 - LEVEL) / 2, (1 + LEVEL) / 2))
    return Estimate(counts / all_counts, float(low), float(high))


def _confirmed(library: Library, board: str) -> Mapping[tuple[str, str | None], int]:
    """Count jobs by complaint and confirmed fault."""
    store = store_of(library)
    if store is None:
        return {}
    with store:
        columns = store.columns(board)
    pairs = Counter(zip(columns.complaint.tolist(), columns.fault.tolist(), strict=True))
    return {
        (columns.complaints[complaint], columns.faults[fault]): count
        for (complaint, fault), count in pairs.items()
        if fault >= 0 and complaint >= 0
    }


def _complaint(book: Book, model: Model, confirmed: Mapping[tuple[str, str | None], int]) -> ComplaintKnown:
    seen = book.complaints[model.complaint].seen
    by_expert = {} if seen is None else dict(seen.faults)
    if seen is not None:
        by_expert[UNLISTED] = max(0.0, seen.boards - sum(seen.faults.values()))
    total = float(model.prior.sum())
    faults = [
        FaultKnown(
            name,
            title,
            share_of(float(counts), total),
            by_expert.get(name, 0.0),
            confirmed.get((model.complaint, name), 0),
        )
        for name, title, counts in zip(model.faults, model.fault_titles, model.prior, strict=True)
        if counts > 0
    ]
    faults.sort(key=lambda fault: (-fault.share.value, fault.name))
    return ComplaintKnown(
        name=model.complaint,
        title=model.title,
        faults=tuple(faults),
        seen=0.0 if seen is None else seen.boards,
        confirmed=sum(n for (complaint, _), n in confirmed.items() if complaint == model.complaint),
    )


def _effects(model: Model) -> tuple[Effects, ...]:
    tables = model.state_probabilities
    return tuple(
        Effects(
            name,
            model.fault_titles[f],
            tuple(
                Cell(
                    tuple(zip(condition.states, tables[g][f].tolist(), strict=True)),
                    float(1 - tables[g][f, 0]),
                )
                for g, condition in enumerate(model.conditions)
            ),
        )
        for f, name in enumerate(model.faults)
    )


def _check(model: Model, check: Check) -> CheckKnown:
    condition = model.conditions[check.condition]
    densities = check.densities
    return CheckKnown(
        name=check.name,
        title=check.title,
        reads=condition.title,
        measure=None if densities is None else densities.measure,
        is_logarithmic=densities is not None and densities.log_normal,
        curves=() if densities is None else _curves(densities, condition.states),
        results=check.results if densities is None else (),
        chances=()
        if densities is not None
        else tuple(
            (state, tuple(row.tolist()))
            for state, row in zip(condition.states, check.probabilities, strict=True)
        ),
    )


def _curves(densities: Densities, states: tuple[str, ...]) -> tuple[StateCurve, ...]:
    """The density of each state on one scale that holds all of them; blunders are left out of it."""
    over = over_probabilities(densities)
    width = predictive_scale(densities)
    shown = over < 0.9  # a state that is over range gives too few numbers to set the scale
    shown = shown if shown.any() else np.ones_like(shown)
    low = float((densities.mean - REACH * width)[shown].min())
    high = float((densities.mean + REACH * width)[shown].max())
    around = densities.mean + np.linspace(-REACH, REACH, POINTS)[:, None] * width  # narrow states stay smooth
    ys = np.unique(np.clip(np.append(around, np.linspace(low, high, POINTS)), low, high))
    heights = np.exp(log_density(densities, ys))
    heights /= np.maximum(heights.max(axis=0), 1e-300)
    readings = from_scale(densities, ys)
    return tuple(
        StateCurve(state, float(over[s]), tuple(zip(readings.tolist(), heights[:, s].tolist(), strict=True)))
        for s, state in enumerate(states)
    )
