"""What a pool of procedures costs under models drawn from what is known."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, NamedTuple

import numpy as np

from benchlore.model import FloatArray, Model, sample
from benchlore.procedure import Instance
from benchlore.procedure.arrays import BoolArray, IntArray
from benchlore.procedure.pool import Pool, cheapest, costs_of, followed, weights_of
from benchlore.procedure.walk import whole
from benchlore.proof.rivals import Compared, Pricing
from benchlore.proof.work import Run

AT_ONCE: Final = 10
"""Draws in one task."""


class Drawn(NamedTuple):
    """``K`` drawn models, and what costs how much under each.

    ``own (K,)`` is the procedure's cost, ``now (K,)`` that of the cheapest mixture by present knowledge,
    ``best (K,)`` that of the cheapest if the draw were known; ``beginnings (K, B)`` is the least cost with
    each first step compared. ``prior (K, F)``, ``table (K, G, F, S)`` and ``shows (K, C, S, R)`` are the
    drawn probabilities. ``used (K, J)`` says which choices the cheapest mixture of each draw comes to.
    """

    own: FloatArray
    now: FloatArray
    best: FloatArray
    beginnings: FloatArray
    prior: FloatArray
    table: FloatArray
    shows: FloatArray
    used: BoolArray


def now_followed(pool: Pool, instance: Instance) -> IntArray:
    """The choices of the mixture that is cheapest on an instance."""
    arrays = whole(instance)
    costs = costs_of(pool, arrays, weights_of(pool, arrays))
    return followed(pool, cheapest(pool, costs).chosen[0])


@dataclass(frozen=True, eq=False)
class _Task:
    model: Model
    pricing: Pricing
    both: Compared
    now: IntArray
    seeds: tuple[np.random.SeedSequence, ...]


def drawn_of(
    model: Model,
    pricing: Pricing,
    both: Compared,
    seeds: Sequence[np.random.SeedSequence],
    run: Run,
) -> Drawn:
    """Draw a model for each seed, and follow what is compared under each."""
    now = now_followed(both.pool, pricing.instance(model))
    tasks = [
        _Task(model, pricing, both, now, tuple(seeds[k : k + AT_ONCE])) for k in range(0, len(seeds), AT_ONCE)
    ]
    rows = [row for some in run(_followed, tasks) for row in some]
    return Drawn(*(np.array(column) for column in zip(*rows, strict=True)))


def _followed(task: _Task) -> list[Drawn]:
    """Rows of :class:`Drawn`, one for each seed."""
    return [_row(task, np.random.default_rng(seed)) for seed in task.seeds]


def _row(task: _Task, rng: np.random.Generator) -> Drawn:
    arrays = whole(task.pricing.instance(sample(task.model, rng)))
    pool, begun = task.both.pool, task.both.beginnings
    costs = costs_of(pool, arrays, weights_of(pool, arrays))
    own = costs[followed(pool, pool.taken)].sum()
    best = cheapest(pool, costs)
    used = np.zeros(len(costs), dtype=np.bool_)
    used[followed(pool, best.chosen[0])] = True
    beginning = cheapest(begun, costs_of(begun, arrays, weights_of(begun, arrays))).beginning[0]
    return Drawn(
        own,
        costs[task.now].sum(),
        best.expected[0],
        beginning,
        arrays.prior,
        arrays.table,
        arrays.shows,
        used,
    )
