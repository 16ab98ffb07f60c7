"""The posterior and the result table once more, in plain numpy and for reading.

The compiled kernels are checked against this, and the benchmarks show what they gain.
"""

from math import nan

import numpy as np

from benchlore.model.cases import Tried
from benchlore.model.densities import log_likelihoods
from benchlore.model.retests import uncured_chances
from benchlore.model.values import Evidence, FloatArray, Model


def joint_reference(model: Model, evidence: Evidence) -> tuple[FloatArray, list[FloatArray]]:
    """Return ``P(f, evidence)`` ``(F,)`` and, of each condition, ``P(s | f, evidence)`` ``(F, S_g)``.

    Plain products: for evidence that is not so improbable that it underflows.
    """
    joint = model.fault_probabilities.copy()
    given = []
    for g, rows in enumerate(model.state_probabilities):
        weighted = rows * _state_likelihood(model, evidence, g)
        likelihood = weighted.sum(axis=1, keepdims=True)
        given.append(weighted / np.where(likelihood > 0, likelihood, 1.0))
        joint *= likelihood[:, 0]
    soaked = dict(evidence.soaked)
    for outcome, fixes in ((Tried.FAILED, evidence.failed), (Tried.PASSED, evidence.passed)):
        for a in fixes:
            rho = model.fixes[a].cure_probabilities
            stays = (1 - rho) * uncured_chances(model, np.array([outcome]), np.array([soaked.get(a, nan)]))[0]
            joint *= rho + stays if outcome is Tried.PASSED else stays
    return joint, given


def _state_likelihood(model: Model, evidence: Evidence, g: int) -> FloatArray:
    """``prod_c P(r_c | s)`` over the checks of one condition, shape ``(S_g,)``."""
    likelihood = np.ones(model.states[g].shape[1])
    for c, r in evidence.readings:
        if model.checks[c].condition == g:
            likelihood *= model.checks[c].probabilities[:, r]
    for c, value in evidence.values:
        if model.checks[c].condition == g:
            likelihood *= np.exp(log_likelihoods(model.checks[c], [value])[0])
    return likelihood


def result_table_reference(model: Model, evidence: Evidence) -> FloatArray:
    """``P(f, result r of check c | evidence)`` as :func:`benchlore.model.result_table` gives it."""
    joint, given = joint_reference(model, evidence)
    belief = joint / joint.sum()
    done = {check for check, _ in (*evidence.readings, *evidence.values)}
    out = np.zeros((len(model.checks), max(len(check.results) for check in model.checks), belief.size))
    for c, check in enumerate(model.checks):
        if c not in done:
            out[c, : len(check.results)] = (
                (given[check.condition] @ check.probabilities) * belief[:, None]
            ).T
    return out
