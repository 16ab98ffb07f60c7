"""Learning from recorded jobs: variational Bayes expectation–maximisation.

The unknowns are Dirichlet rows (prior of each complaint, states given faults, results given states, cures)
and normal-inverse-gamma densities, shared by the complaints of one board. Hidden in a job are its fault
where nobody confirmed one, the states of the conditions that were read, whether a number was a blunder, and
whether a fix after which the retest showed nothing cured. The expectation step is exact given ``exp E log p``
for every probability; the bound ``sum_j log Z_j - KL(posterior | prior)`` never falls (Attias 1999; Beal
2003, "Variational algorithms for approximate Bayesian inference", chapters 2 and 3).

``exp E log p`` of a small count is far below its mean: a state that a book calls impossible (a count of 0.02)
would weigh ``1e-22`` and hardly ever be learned. So the first few steps are plain expectation–maximisation
with mean probabilities, from which the variational steps then start.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TypeAlias

import numpy as np

from benchlore.model.bands import banded, half_uniform
from benchlore.model.cases import Cases, refuse_misfits
from benchlore.model.densities import frozen
from benchlore.model.em import expect, fixed_of, maximise
from benchlore.model.errors import NotOneBoardError
from benchlore.model.gates import refreshed
from benchlore.model.grouping import group
from benchlore.model.parameters import Parameters, densities_after, divergence, weights_of
from benchlore.model.values import Check, FloatArray, Model, normalised

WARM_UP = 10
"""Steps of plain expectation–maximisation before the variational ones."""

Progress: TypeAlias = Callable[[int, float], None]


@dataclass(frozen=True, eq=False)
class LearningReport:
    """What learning read and did.

    ``jobs`` were used, of which ``confirmed`` have a confirmed fault. ``silent`` jobs say nothing;
    ``impossible`` counts jobs, and readings and fixes of confirmed jobs, that the model's structural zeros
    exclude; both were left out. ``fault_counts`` ``(M, F)`` is what the jobs added to each complaint's prior.
    ``bound`` is the evidence lower bound in nats, step by step. ``rebanded`` are numeric checks whose results
    have new names. ``ignored`` is the cases' own.
    """

    jobs: int
    confirmed: int
    silent: int
    impossible: float
    fault_counts: FloatArray
    bound: tuple[float, ...]
    converged: bool
    rebanded: tuple[str, ...]
    ignored: Mapping[str, int]


def learn(
    models: Sequence[Model],
    cases: Cases,
    *,
    iterations: int = 50,
    tol: float = 1e-6,
    progress: Progress | None = None,
) -> tuple[tuple[Model, ...], LearningReport]:
    """Learn the complaints of one board together; what they share is learned from the jobs of all.

    Parameters
    ----------
    models
        The complaints' models, built from one book.
    cases
        Their jobs, see :func:`benchlore.model.cases_from_jobs`.
    iterations
        At most so many variational steps.
    tol
        Stop when a step raises the bound by less than this share of it.
    progress
        Called with the number of each step and its bound.

    Returns
    -------
    tuple
        Models with the jobs' counts added and bands chosen anew, and a :class:`LearningReport`. A count of
        zero stays zero, except that a confirmed fault counts in a prior that had none of it.

    Raises
    ------
    NotOneBoardError
        If the models differ in more than their complaint.
    CasesError
        If the cases do not fit the models.
    """
    models = tuple(models)
    _refuse_different_boards(models)
    refuse_misfits(models, cases)
    groups = group(models, cases)
    fixed = fixed_of(models, groups)
    after = fixed.before
    for _ in range(WARM_UP):
        after = maximise(fixed.before, expect(fixed, weights_of(after, fixed.bands, mean=True)))
    bound: list[float] = []
    impossible = 0.0
    for step in range(iterations):
        expected = expect(fixed, weights_of(after, fixed.bands))
        impossible = expected.impossible
        bound.append(expected.log_likelihood - divergence(after, fixed.before))
        if progress:
            progress(step, bound[-1])
        if has_converged(bound, tol):
            break
        after = maximise(fixed.before, expected)
    learned = _models_after(models, after)
    return learned, LearningReport(
        jobs=len(cases.complaints) - groups.silent,
        confirmed=int((cases.faults >= 0).sum()),
        silent=groups.silent,
        impossible=impossible,
        fault_counts=after.prior - np.array([model.prior for model in models]),
        bound=tuple(bound),
        converged=has_converged(bound, tol),
        rebanded=_rebanded(models[0], learned[0]),
        ignored=cases.ignored,
    )


def _rebanded(before: Model, after: Model) -> tuple[str, ...]:
    pairs = zip(before.checks, after.checks, strict=True)
    return tuple(old.name for old, new in pairs if old.results != new.results)


def has_converged(bound: Sequence[float], tol: float) -> bool:
    """Whether the last step raised the bound by less than ``tol`` of it."""
    return len(bound) > 1 and bound[-1] - bound[-2] <= tol * max(1.0, abs(bound[-1]))


def _models_after(models: Sequence[Model], after: Parameters) -> tuple[Model, ...]:
    """Return models with new counts, bands chosen anew, and gates that follow them."""
    model = models[0]
    states = tuple(frozen(after.states[g, : rows.shape[1]].T) for g, rows in enumerate(model.states))
    belief = normalised(after.prior).mean(axis=0)
    marginals = [belief @ normalised(rows) for rows in states]
    bare = tuple(
        _check_after(check, after, c, half_uniform(marginals[check.condition]))
        for c, check in enumerate(model.checks)
    )
    checks = tuple(replace(check, gates=refreshed(check.gates, bare)) for check in bare)
    fixes = tuple(
        replace(fix, cures=frozen(after.cures[a]), gates=refreshed(fix.gates, bare))
        for a, fix in enumerate(model.fixes)
    )
    return tuple(
        replace(old, prior=frozen(after.prior[m]), states=states, checks=checks, fixes=fixes)
        for m, old in enumerate(models)
    )


def _check_after(check: Check, after: Parameters, c: int, weights: FloatArray) -> Check:
    size, width = check.counts.shape
    if check.densities is None:
        return replace(check, counts=frozen(after.results[c, :width, :size].T))
    densities = densities_after(check.densities, after.normal[:, c, :size], after.over[c, :size])
    return banded(check, densities, weights)


def _refuse_different_boards(models: Sequence[Model]) -> None:
    if not models:
        raise NotOneBoardError("that there are none")
    first = models[0]
    for other in models[1:]:
        for what in ("board", "faults", "conditions", "setups"):
            if getattr(first, what) != getattr(other, what):
                raise NotOneBoardError(what)
        for what, arrays in _shared_arrays(first).items():
            theirs = _shared_arrays(other)[what]
            if len(arrays) != len(theirs) or not all(map(np.array_equal, arrays, theirs)):
                raise NotOneBoardError(what)


def _shared_arrays(model: Model) -> dict[str, list[FloatArray]]:
    return {
        "states": list(model.states),
        "checks": [check.counts for check in model.checks],
        "fixes": [fix.cures for fix in model.fixes],
    }
