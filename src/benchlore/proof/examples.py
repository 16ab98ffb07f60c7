"""A few held-out jobs told reading by reading: one that went well, an ordinary one, one that went astray."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from benchlore.jobs import Job
from benchlore.model import FloatArray, Model
from benchlore.proof.heldout import Foreseen
from benchlore.proof.worlds import IntArray

MOST_SUSPECTS: Final = 5
FEWEST_READINGS: Final = 2


@dataclass(frozen=True, slots=True)
class Belief:
    """What was believed at one point: the reading before it (``None`` at the start) and the suspects.

    ``text`` is what the bench wrote. ``suspects`` are (fault, probability), the same faults at every point.
    """

    check: str | None
    text: str
    suspects: tuple[tuple[str, float], ...]


@dataclass(frozen=True, slots=True)
class Example:
    """A held-out job, its confirmed ``fault`` and what a model that had not seen it believed on the way."""

    shop: str
    number: str
    fault: str
    beliefs: tuple[Belief, ...]


def examples_of(
    jobs: Sequence[Job],
    faults: IntArray,
    foreseen: Sequence[Foreseen],
    fold: IntArray,
    models: Sequence[Model],
) -> tuple[Example, ...]:
    """Pick the jobs whose confirmed fault ended most, middling and least probable; longest jobs first."""
    told = [k for k, each in enumerate(foreseen) if faults[k] >= 0 and len(each.checks) >= FEWEST_READINGS]
    if not told:
        return ()
    believed = {k: float(foreseen[k].beliefs[-1, faults[k]]) for k in told}
    ranked = sorted(told, key=lambda k: (-round(believed[k], 2), -len(foreseen[k].checks), k))
    chosen = dict.fromkeys([ranked[0], ranked[len(ranked) // 2], ranked[-1]])
    return tuple(_example(jobs[k], int(faults[k]), foreseen[k], models[fold[k]]) for k in chosen)


def _example(job: Job, fault: int, seen: Foreseen, model: Model) -> Example:
    peak: FloatArray = seen.beliefs.max(axis=0)
    order = np.argsort(-peak, kind="stable")[:MOST_SUSPECTS].tolist()
    shown = [fault, *(f for f in order if f != fault)][:MOST_SUSPECTS]
    written = {reading.check: reading.text for reading in sorted(job.readings, key=lambda each: each.step)}
    names = [model.checks[c].name for c in seen.checks]
    results = [model.checks[c].results[r] for c, r in zip(seen.checks, seen.shown, strict=True)]
    points = [
        (None, ""),
        *((name, written.get(name) or result) for name, result in zip(names, results, strict=True)),
    ]
    return Example(
        shop=job.shop,
        number=job.number,
        fault=model.faults[fault],
        beliefs=tuple(
            Belief(name, text, tuple((model.faults[f], float(row[f])) for f in shown))
            for (name, text), row in zip(points, seen.beliefs, strict=True)
        ),
    )
