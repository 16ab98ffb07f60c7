"""How complete a book's knowledge is, from the faults that were confirmed on boards."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import ceil, floor, sqrt
from typing import Final

import numpy as np

from benchlore.model import FloatArray
from benchlore.proof.abundance import Abundance, Thinning, thinning
from benchlore.proof.estimate import Estimate, Z, between_percentiles, percentiles, proportion

TARGETS: Final = (0.95, 0.99)
"""Shares of the next boards for which ``until`` says how many more boards they take."""
DRAWS: Final = 1000
"""Samples drawn for the intervals of curves and of ``until``."""
POINTS: Final = 20
"""Points of the curve up to the boards there are, and beyond."""
REACH: Final = 2
"""The curve ends at so many times the boards there are: further, it leans on its assumptions alone."""


@dataclass(frozen=True, slots=True)
class BoardsUntil:
    """How many ``more`` boards until the expected sample coverage is ``target``.

    ``more`` is ``None`` where the target is ``reached`` (by the estimate: its interval may still begin
    below), and where no fault was met twice or oftener, which leaves everything open. ``far`` tells that
    ``more`` lies beyond the curve's end, where it is a lower bound rather than a figure to count on.
    """

    target: float
    reached: bool
    far: bool
    more: Estimate | None


@dataclass(frozen=True, slots=True)
class CurvePoint:
    """What so many ``boards`` show: their sample coverage and how many different faults."""

    boards: int
    coverage: Estimate
    faults: Estimate


@dataclass(frozen=True, slots=True)
class Coverage:
    """How much of what comes to the bench is known.

    ``known`` is the share of confirmed boards whose fault the book lists: the probability that the next
    board's fault is in the book. ``sample`` is the share of boards whose fault was met at least once among
    these ``boards``, in the book or not. ``met`` different faults were met, ``once`` and ``twice`` of them
    one and two times; ``listed`` are in the book and ``never_met`` those of them that no board had.
    ``faults`` is how many faults there are, at the least, and ``unmet`` how many of those were not met; both
    are ``None`` below two boards, as is the ``curve`` empty.
    """

    boards: int
    listed: int
    never_met: tuple[str, ...]
    met: int
    once: int
    twice: int
    known: Estimate
    sample: Estimate
    faults: Estimate | None
    unmet: Estimate | None
    until: tuple[BoardsUntil, ...]
    curve: tuple[CurvePoint, ...]


def coverage_of(counts: Mapping[str, int], unlisted: Sequence[int], *, rng: np.random.Generator) -> Coverage:
    """Return how complete the knowledge is.

    Parameters
    ----------
    counts
        How many boards had each fault that the book lists; zero for one that no board had.
    unlisted
        How many boards had each fault that the book does not list. Who cannot tell those faults apart passes
        a one for each board, which makes the knowledge look less complete rather than more.
    rng
        Draws the samples behind the intervals of ``until`` and ``curve``.

    Raises
    ------
    ValueError
        If a count is negative, or a group of boards with an unlisted fault is empty.
    """
    if any(count < 0 for count in counts.values()) or any(size < 1 for size in unlisted):
        raise ValueError(
            f"expected counts of 0 or more and groups of 1 or more, got {dict(counts)}, {list(unlisted)}"
        )
    listed = [count for count in counts.values() if count]
    abundance = Abundance(np.array(sorted([*listed, *unlisted]), dtype=np.int64))
    sample = sample_coverage(abundance)
    drawn = _draw(abundance, rng) if abundance.boards > 1 else None
    faults = _faults(abundance, drawn) if drawn else None
    return Coverage(
        boards=abundance.boards,
        listed=len(counts),
        never_met=tuple(name for name, count in counts.items() if count == 0),
        met=abundance.met,
        once=abundance.once,
        twice=abundance.twice,
        known=proportion(sum(listed), abundance.boards),
        sample=sample,
        faults=faults,
        unmet=_less(faults, abundance.met) if faults else None,
        until=tuple(_until(abundance, drawn, target) for target in TARGETS),
        curve=_curve(abundance, drawn, sample) if drawn else (),
    )


def sample_coverage(abundance: Abundance) -> Estimate:
    """The share of boards whose fault was met, with its interval; zero, from 0 to 1, below two boards.

    Esty's variance (1983, Annals of Statistics 11, 905-912) of the estimate less the true share has a part
    ``u (1 - u) / n`` and a part ``2 f_2 / n²``. The interval holds every unseen share ``u`` that lies within
    the normal range of the estimate when the first part is taken at ``u`` itself, as in Wilson's interval of
    a proportion, and a half is added to ``f_2``. ``docs/proof.md`` has how often it holds the truth.
    """
    if abundance.boards < 2:
        return Estimate(0.0, 0.0, 1.0)
    return _covered(abundance.unseen, abundance.boards, (2 * abundance.twice + 1) / abundance.boards**2)


def _covered(unseen: float, boards: int, extra: float) -> Estimate:
    """One less the unseen share, where ``(unseen - u)² <= Z² (u (1 - u) / boards + extra)``."""
    scale = Z**2 / boards
    middle = unseen + scale / 2
    reach = sqrt(middle**2 - (1 + scale) * (unseen**2 - Z**2 * extra))
    low, high = (middle - reach) / (1 + scale), (middle + reach) / (1 + scale)
    return Estimate(1 - unseen, max(1 - high, 0.0), min(1 - low, 1.0))


@dataclass(frozen=True, eq=False)
class _Drawn:
    """Samples drawn like the boards; sizes of the curve: ``smaller``, and ``more`` beyond the boards."""

    samples: tuple[Abundance, ...]
    smaller: tuple[int, ...]
    more: tuple[int, ...]
    thinned: Thinning


def _draw(abundance: Abundance, rng: np.random.Generator) -> _Drawn:
    boards = abundance.boards
    smaller = _spread(1, boards - 1)
    more = _spread(0, (REACH - 1) * boards)
    samples = tuple(abundance.draw(rng) for _ in range(DRAWS))
    return _Drawn(samples, smaller, more, thinning(boards, smaller))


def _spread(first: int, last: int) -> tuple[int, ...]:
    return tuple(sorted({round(size) for size in np.linspace(first, last, POINTS)}))


def _faults(abundance: Abundance, drawn: _Drawn) -> Estimate:
    """How many faults there are, at the least; with nothing unmet, up to what drawn samples show."""
    value = abundance.met + abundance.unmet
    if abundance.unmet > 0:
        return Estimate(value, *abundance.log_normal())
    high = percentiles([sample.met + sample.unmet for sample in drawn.samples])[1]
    return Estimate(value, value, max(value, high))


def _less(figure: Estimate, by: float) -> Estimate:
    return Estimate(figure.value - by, figure.low - by, figure.high - by)


def _until(abundance: Abundance, drawn: _Drawn | None, target: float) -> BoardsUntil:
    if drawn is None or abundance.once == abundance.boards:
        return BoardsUntil(target, reached=False, far=False, more=None)
    if abundance.unseen <= 1 - target:
        return BoardsUntil(target, reached=True, far=False, more=None)
    value = ceil(abundance.more_until(target))
    found = between_percentiles(value, [sample.more_until(target) for sample in drawn.samples])
    more = Estimate(value, floor(found.low), ceil(found.high))
    return BoardsUntil(target, reached=False, far=value > (REACH - 1) * abundance.boards, more=more)


def _curve(abundance: Abundance, drawn: _Drawn, sample: Estimate) -> tuple[CurvePoint, ...]:
    unseen, faults = _along(abundance, drawn)
    replicates = [_along(one, drawn) for one in drawn.samples]
    spread_unseen = np.var([one[0] for one in replicates], axis=0, ddof=1)
    spread_faults = np.std([one[1] for one in replicates], axis=0, ddof=1)
    boards = abundance.boards
    points = []
    for place, size in enumerate([*drawn.smaller, *(boards + more for more in drawn.more)]):
        share = float(unseen[place])
        extra = max(float(spread_unseen[place]) - share * (1 - share) / boards, 0.0) + 1 / boards**2
        coverage = sample if size == boards else _covered(share, boards, extra)
        points.append(
            CurvePoint(size, coverage, _counted(float(faults[place]), float(spread_faults[place]), size))
        )
    return tuple(points)


def _counted(value: float, deviation: float, boards: int) -> Estimate:
    """A number of faults among ``boards``: at least one, at most one a board."""
    value = min(max(value, 1.0), float(boards))
    return Estimate(value, max(value - Z * deviation, 1.0), min(value + Z * deviation, float(boards)))


def _along(abundance: Abundance, drawn: _Drawn) -> tuple[FloatArray, FloatArray]:
    """The unseen share and the number of faults along the curve."""
    unseen, faults = drawn.thinned.of(abundance.sizes)
    after = [abundance.unseen_after(more) for more in drawn.more]
    met = [abundance.met_after(more) for more in drawn.more]
    return np.concatenate([unseen, after]), np.concatenate([faults, met])
