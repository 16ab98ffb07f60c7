"""What a retest says of a board that is not cured, by how long it ran.

A complaint that comes and goes shows itself after an exponential time of mean ``T``, and a retest of ``s``
minutes of soak tries the board for ``takes + s`` minutes. So one that showed nothing has the likelihood of a
time censored on the right, ``exp(-(takes + s) / T)``, and one that failed that of a time censored on the
left, ``1 - exp(-(takes + s) / T)``: it showed itself by then (J. C. Lindsey and L. M. Ryan, *Statistics in
Medicine* 17 (1998) 219-238, section 2). Nobody records whether a failure was seen at once or in the morning;
taken as the very time, a board that was seen late would rule out the faults that show themselves oftenest.
"""

from typing import Final

import numpy as np

from benchlore.model.cases import Tried
from benchlore.model.packed import BoolArray, IntArray, pack
from benchlore.model.values import FloatArray, Model

SHORTEST: Final = 1.0
"""Minutes that a failed retest tried the board at least: it did fail, whatever a record says."""

LONGEST: Final = 500.0
"""Mean times after which a chance falls no further: a length by itself makes no record impossible."""


def detection(model: Model, soak: float) -> FloatArray:
    """Probability ``(F,)`` that a retest with so many minutes of soak shows the complaint if not cured."""
    return model.detects if soak == model.retest.waits else caught_chances(model, np.array([soak]))[0]


def caught_chances(model: Model, soaked: FloatArray) -> FloatArray:
    """:func:`detection` of many soaks, ``(N,)`` to ``(N, F)``; ``nan`` is the retest's own."""
    shown = -np.expm1(-_mean_times(model, model.retest.takes + soaked))
    return np.where(_timed(model, soaked), shown, model.detects)


def retest_chances(model: Model, fixes: IntArray, outcomes: IntArray, soaked: FloatArray) -> FloatArray:
    """``P(what each fix's retest showed | f)``, each ``(N,)`` to ``(N, F)``; see :func:`uncured_chances`."""
    rho = pack(model).cures[fixes]
    stays = (1 - rho) * uncured_chances(model, outcomes, soaked)
    return np.where((outcomes == Tried.PASSED)[:, None], rho + stays, stays)


def uncured_chances(model: Model, outcomes: IntArray, soaked: FloatArray) -> FloatArray:
    """Chance of what each retest showed if its board is not cured, shape ``(N, F)``.

    Parameters
    ----------
    model
        The board and complaint.
    outcomes
        ``(N,)``, each a :class:`Tried`. A board that came back was not cured, whatever its retest showed: 1.
    soaked
        ``(N,)``, minutes of soak, not negative; ``nan`` where they were not recorded: then they are the
        book's. Of a complaint that always shows itself they tell nothing.

    Examples
    --------
    >>> from benchlore.model import Work, model_of
    >>> model = model_of([0.5, 0.5], [], every=60.0, detects=0.5, retest=Work(takes=6.0))
    >>> uncured_chances(model, np.array([1, 1]), np.array([np.nan, 54.0]))[:, 0].round(4).tolist()
    [0.5, 0.3679]
    """
    tried = model.retest.takes + soaked
    timed = _timed(model, soaked)
    clean = np.where(timed, np.exp(-_mean_times(model, tried)), 1 - model.detects)
    caught = np.where(timed, -np.expm1(-_mean_times(model, np.maximum(tried, SHORTEST))), model.detects)
    outcome = outcomes[:, None]
    return np.where(outcome == Tried.PASSED, clean, np.where(outcome == Tried.FAILED, caught, 1.0))


def _timed(model: Model, soaked: FloatArray) -> BoolArray:
    """Where a length tells more than the book does, ``(N, F)``."""
    other: BoolArray = (~np.isnan(soaked) & (soaked != model.retest.waits))[:, None] & (model.every > 0)
    return other


def _mean_times(model: Model, minutes: FloatArray) -> FloatArray:
    """How many mean times of each fault so many minutes are, ``(N,)`` to ``(N, F)``."""
    times: FloatArray = np.minimum(minutes[:, None] / np.where(model.every > 0, model.every, 1.0), LONGEST)
    return times
