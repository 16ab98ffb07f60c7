"""What finishing a job on the bench may cost: the range that the page shows beside the expectation."""

from dataclasses import dataclass
from typing import Final

import numpy as np

from benchlore.library.asking import Companion
from benchlore.library.desk_values import Due, JobView
from benchlore.library.desk_view import retest_of
from benchlore.model import FloatArray
from benchlore.procedure import Spread

SEED: Final = 20_000
"""One job shows one range, however often it is asked."""


@dataclass(frozen=True, slots=True)
class CostRange:
    """In the shop's currency, from here to the end: eight jobs in ten that stand so cost ``low`` to ``high``.

    ``expected`` is that of :class:`Ahead`, ``most`` what the dearest of a hundred costs.
    """

    low: float
    expected: float
    high: float
    most: float


def range_of(companion: Companion, view: JobView) -> CostRange | None:
    """Simulate the rest of a job; ``None`` where no step is open: it is closed, or the complaint is gone."""
    asked = view.asked or (view.due.otherwise if view.due else None)
    if asked is None or view.ahead is None:
        return None
    rng = np.random.default_rng(SEED)
    spread = companion.adviser.spread(asked.situation, rng)
    if view.due is not None:
        spread = _after_retest(companion, view, view.due, spread, rng)
    return CostRange(spread.low, view.ahead.to_finish, spread.high, spread.quantile(0.99))


def _after_retest(
    companion: Companion, view: JobView, due: Due, otherwise: Spread, rng: np.random.Generator
) -> Spread:
    """Draw how the retest ends: caught, the job goes on; overlooked, it comes back; else that is all."""
    trying, ends = retest_of(companion, view.bench, view.tried, due)
    drawn = rng.random(len(otherwise.costs))
    follows = np.where(drawn < ends.caught + ends.overlooked, companion.instance.comeback, 0.0)
    costs: FloatArray = trying + np.where(drawn < ends.caught, otherwise.costs, follows)
    return Spread(np.sort(costs))
