"""The curves of single complaints, in boards and shares: what learning curves are made of."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np

from benchlore.jobs import Job
from benchlore.library.errors import BookRefusedError, NoCurveError
from benchlore.library.folder import Library, store_of
from benchlore.library.planning import learn_board, model_of_complaint
from benchlore.library.progress import Report
from benchlore.model import FloatArray, Model
from benchlore.money import KnowingCost, knowing_cost
from benchlore.procedure import Effort, PlanningError, instance_of
from benchlore.proof import CurvePoint, Estimate, Run, candidates_of, coverage_of, generator
from benchlore.proof.prove import COVERAGE
from benchlore.proof.questions import Record
from benchlore.proof.trial import usable_jobs
from benchlore.shop import Shop

SIZES: Final = 6
"""Numbers of boards at which procedures are planned."""
ORDERS: Final = 3
"""Orders in which the boards may have come, each a sample of what so many boards teach."""
LEAST_BOARDS: Final = 2
"""Confirmed boards without which nothing can be said of those not met."""


@dataclass(frozen=True, eq=False)
class Shape:
    """A complaint's own curve: ``cost (P,)`` beside its points, ``returned`` what a return costs."""

    board: str
    complaint: str
    boards: int
    points: tuple[CurvePoint, ...]
    cost: FloatArray
    returned: float
    hours: float | None
    timed: int


@dataclass(frozen=True, eq=False)
class _Task:
    model: Model
    shop: Shop
    seen: frozenset[str]
    effort: Effort


def _known(task: _Task) -> KnowingCost:
    return knowing_cost(task.model, task.shop, task.seen, effort=task.effort)


@dataclass(frozen=True, eq=False)
class ShapeMaker:
    """Makes the curves of complaints."""

    library: Library
    shop: Shop
    effort: Effort
    seed: int
    run: Run
    report: Report

    def own(self, board: str, complaint: str) -> tuple[str, Shape | None]:
        """A complaint's title and its own curve; ``None`` where there is no book, or too few boards."""
        if board not in self.library.boards():
            return complaint, None
        model = model_of_complaint(learn_board(self.library, board, report=self.report), complaint)
        return model.title, self._shape(model)

    def like(self, board: str, complaint: str, boards: Sequence[str]) -> tuple[Shape, ...]:
        """Curves of other boards' complaints of that name; where there are none, of all others."""
        others = [each for each in boards or self.library.boards() if each != board]
        models = [model for each in others for model in self._models(each, named=bool(boards))]
        same = [model for model in models if model.complaint == complaint]
        for group in (same, [model for model in models if model.complaint != complaint]):
            found = [shape for model in group if (shape := self._unless_unpriced(model)) is not None]
            if found:
                return tuple(found)
        why = (
            f"fewer than {LEAST_BOARDS} recorded jobs have a confirmed fault, and no like book has more; "
            f"take in jobs, or name books with --like"
        )
        raise NoCurveError(board, complaint, why)

    def _models(self, board: str, *, named: bool) -> tuple[Model, ...]:
        """A board's models; none where its book has errors, unless the user named it."""
        try:
            return tuple(learn_board(self.library, board, report=self.report).models.values())
        except BookRefusedError:
            if named:
                raise
            return ()

    def _unless_unpriced(self, model: Model) -> Shape | None:
        try:
            return self._shape(model)
        except PlanningError:
            return None

    def _shape(self, model: Model) -> Shape | None:
        jobs = _jobs(self.library, model)
        record = Record(model, jobs)
        met = record.met(candidates_of(model, record.cases, jobs))
        faults = [model.faults[f] for f in record.cases.faults if f >= 0]
        if sum(met[0].values()) + sum(met[1]) < LEAST_BOARDS or len(faults) < LEAST_BOARDS:
            return None
        coverage = coverage_of(*met, rng=generator(self.seed, COVERAGE))
        timed = [job.hands_on for job in jobs if job.hands_on is not None]
        return Shape(
            board=model.board,
            complaint=model.complaint,
            boards=coverage.boards,
            points=coverage.curve,
            cost=self._costs(model, faults, coverage.curve, coverage.boards),
            returned=_return_cost(model, self.shop),
            hours=sum(timed) / len(timed) / 60 if timed else None,
            timed=len(timed),
        )

    def _costs(
        self, model: Model, faults: Sequence[str], points: Sequence[CurvePoint], boards: int
    ) -> FloatArray:
        """The cost at each point: planned up to the boards there are, extrapolated beyond."""
        rng = np.random.default_rng(self.seed)
        orders = [rng.permutation(len(faults)) for _ in range(ORDERS)]
        sizes = sorted({round(size) for size in np.geomspace(1, len(faults), SIZES)})
        sets = [[frozenset(faults[k] for k in order[:size]) for order in orders] for size in sizes]
        wanted = list(dict.fromkeys(seen for group in sets for seen in group))
        known = self._plans(model, wanted)
        each = [float(np.mean([known[seen].each for seen in group])) for group in sets]
        here = np.array([point.boards for point in points], dtype=np.float64)
        costs = np.interp(here, sizes, each)
        last, now = known[sets[-1][0]], [p.coverage.value for p in points if p.boards <= boards][-1]
        gained = np.array([max(0.0, point.coverage.value - now) for point in points])
        apart = 0.0 if last.known is None or last.unknown is None else max(0.0, last.unknown - last.known)
        found: FloatArray = np.where(here > boards, each[-1] - gained * apart, costs)
        return np.maximum(found, 0.0)

    def _plans(self, model: Model, wanted: Sequence[frozenset[str]]) -> Mapping[frozenset[str], KnowingCost]:
        tasks = [_Task(model, self.shop, seen, self.effort) for seen in wanted]
        stage = f"Planning with less known, {model.board}, {model.complaint}"
        self.report(stage, 0, len(tasks))
        known = {}
        for seen, found in zip(wanted, self.run(_known, tasks), strict=True):
            known[seen] = found
            self.report(stage, len(known), len(tasks))
        return known


def _return_cost(model: Model, shop: Shop) -> float:
    return instance_of(model, shop).give_up


def _jobs(library: Library, model: Model) -> tuple[Job, ...]:
    store = store_of(library)
    if store is None:
        return ()
    with store:
        return usable_jobs([model], tuple(store.jobs(board=model.board, complaint=model.complaint)))


def pooled(shapes: Sequence[Shape]) -> tuple[tuple[CurvePoint, ...], FloatArray]:
    """The mean curve as far as all reach, and its cost as a share of what a return costs.

    The interval reaches from the lowest of theirs to the highest.
    """
    if len(shapes) == 1:
        (only,) = shapes
        return only.points, only.cost / only.returned if only.returned > 0 else only.cost * 0.0
    end = min(shape.points[-1].boards for shape in shapes)
    longest = max(shapes, key=lambda shape: sum(point.boards <= end for point in shape.points))
    sizes = [point.boards for point in longest.points if point.boards <= end]

    def along(shape: Shape, figures: Sequence[float]) -> FloatArray:
        found: FloatArray = np.interp(sizes, [point.boards for point in shape.points], figures)
        return found

    def estimates(which: Literal["coverage", "faults"]) -> list[Estimate]:
        columns = [[getattr(point, which) for point in shape.points] for shape in shapes]
        value, low, high = (
            [along(s, [getattr(e, part) for e in c]) for s, c in zip(shapes, columns, strict=True)]
            for part in ("value", "low", "high")
        )
        middles, lows, highs = np.mean(value, axis=0), np.min(low, axis=0), np.max(high, axis=0)
        return [Estimate(*map(float, each)) for each in zip(middles, lows, highs, strict=True)]

    points = tuple(
        CurvePoint(size, coverage, faults)
        for size, coverage, faults in zip(sizes, estimates("coverage"), estimates("faults"), strict=True)
    )
    shares = [along(s, (s.cost / s.returned).tolist()) for s in shapes if s.returned > 0]
    return points, np.mean(shares, axis=0) if shares else np.zeros(len(sizes))
