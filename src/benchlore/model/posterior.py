"""Beliefs about faults and conditions, exactly, from readings and from fixes that were tried.

Conditions are independent given the fault, checks given the state of their condition, so with ``g`` over
conditions and ``c`` over the checks done that read ``g``

``L_g(f) = sum_s P(s | f) prod_c P(r_c | s)`` and ``P(f | e) ∝ P(f) prod_g L_g(f) prod_a m_a(f)``,

where a fix that failed has ``m_a(f) = (1 - rho) d`` and one after which the retest showed nothing
``m_a(f) = rho + (1 - rho)(1 - d)``; where it is known how long the retest ran,
:mod:`benchlore.model.retests` has the chances in place of ``d``. A raw number counts through its
predictive densities.
"""

from dataclasses import dataclass, replace
from math import inf, isnan

import numpy as np

from benchlore.model.cases import Tried
from benchlore.model.errors import EvidenceError
from benchlore.model.kernels import infer, state_logs, table_parallel, table_serial
from benchlore.model.packed import BoolArray, IntArray, Packed, pack
from benchlore.model.retests import retest_chances
from benchlore.model.values import Evidence, FloatArray, Model, Posterior


@dataclass(frozen=True, eq=False)
class ResultTable:
    """What each check that is not done would show.

    ``joint`` is ``P(f, result r of check c | evidence)``, ``(C, R, F)``, with ``R`` the most results of any
    check; it is zero beyond a check's results and for checks that are done. ``undone`` is ``(C,)``.
    """

    faults: FloatArray
    joint: FloatArray
    undone: BoolArray

    @property
    def results(self) -> FloatArray:
        """``P(result r of check c | evidence)``, shape ``(C, R)``."""
        total: FloatArray = self.joint.sum(axis=2)
        return total


def posterior(model: Model, evidence: Evidence) -> Posterior:
    """Return what to believe after ``evidence``.

    Raises
    ------
    EvidenceError
        If the evidence points at nothing in the model, names a check twice or gives a named check a number.
    """
    packed = pack(model)
    belief, log_evidence, place, given = _infer(packed, model, evidence)
    beliefs = packed.states @ belief
    if given.size:
        read = np.flatnonzero(place >= 0)
        beliefs[read] = given[place[read]] @ belief
    conditions = tuple(row[:count] for row, count in zip(beliefs, packed.state_counts.tolist(), strict=True))
    return Posterior(belief, conditions, log_evidence)


def fault_log_likelihoods(model: Model, evidence: Evidence) -> FloatArray:
    """``log P(evidence | f)`` of each fault, shape ``(F,)``; errors are those of :func:`posterior`."""
    logs: FloatArray = infer(pack(model), *_columns(model, evidence))[0] + _timed_logs(model, evidence)
    return logs


def state_log_likelihoods(model: Model, evidence: Evidence) -> FloatArray:
    """``log P(readings | state)`` of each condition, ``(G, S)``, zero where nothing was read.

    ``S`` is the most states of any condition; entries beyond a condition's own are zero.
    """
    checks, results, numbers, _, _ = _columns(model, evidence)
    return state_logs(pack(model), checks, results, numbers)


def result_table(model: Model, evidence: Evidence, *, parallel: bool = False) -> ResultTable:
    """Return what every check that is not done would show, in one pass; errors as in :func:`posterior`.

    ``parallel`` uses all cores, and may then be called from one thread at a time only.
    """
    packed = pack(model)
    belief, _, place, given = _infer(packed, model, evidence)
    undone = np.ones(len(model.checks), dtype=np.bool_)
    undone[[check for check, _ in (*evidence.readings, *evidence.values)]] = False
    table = table_parallel if parallel else table_serial
    return ResultTable(belief, table(packed, belief, place, given, undone), undone)


def conflict(model: Model, evidence: Evidence) -> Evidence:
    """Return a part of the evidence that no fault allows and that loses this if anything is left out.

    It is empty where the evidence is possible. Found by leaving out one piece after the other, so there
    may be a smaller one.
    """
    if not _is_impossible(model, evidence):
        return Evidence()
    for kind in ("readings", "values", "failed", "passed"):
        for piece in getattr(evidence, kind):
            others = tuple(other for other in getattr(evidence, kind) if other != piece)
            shorter = replace(evidence, **{kind: others})
            if _is_impossible(model, shorter):
                evidence = shorter
    return evidence


def _is_impossible(model: Model, evidence: Evidence) -> bool:
    logs = fault_log_likelihoods(model, evidence)
    return bool(np.all((logs == -inf) | (pack(model).prior == 0)))


def _infer(
    packed: Packed, model: Model, evidence: Evidence
) -> tuple[FloatArray, float, IntArray, FloatArray]:
    """Return belief, log evidence, and the two arrays of :func:`infer`; the prior if impossible."""
    logs, place, given = infer(packed, *_columns(model, evidence))
    logs += packed.log_prior + _timed_logs(model, evidence)
    high = float(logs.max())
    if high == -inf:
        return packed.prior.copy(), -inf, np.full_like(place, -1), given[:0]
    belief = np.exp(logs - high)
    total = float(belief.sum())
    return belief / total, high + float(np.log(total)), place, given


def _columns(model: Model, evidence: Evidence) -> tuple[IntArray, IntArray, FloatArray, IntArray, IntArray]:
    """Return the evidence as the kernels take it: fixes without those whose soak is known."""
    _refuse_misfits(model, evidence)
    timed = {fix for fix, _ in evidence.soaked}
    checks = [check for check, _ in (*evidence.readings, *evidence.values)]
    results = [result for _, result in evidence.readings] + [-1] * len(evidence.values)
    numbers = [0.0] * len(evidence.readings) + [value for _, value in evidence.values]
    return (
        np.array(checks, dtype=np.int64),
        np.array(results, dtype=np.int64),
        np.array(numbers, dtype=np.float64),
        np.array([fix for fix in evidence.failed if fix not in timed], dtype=np.int64),
        np.array([fix for fix in evidence.passed if fix not in timed], dtype=np.int64),
    )


def _timed_logs(model: Model, evidence: Evidence) -> FloatArray:
    """``log P(what retests of a known length showed | f)``, shape ``(F,)``."""
    minutes = dict(evidence.soaked)
    rows = [(fix, Tried.FAILED, minutes[fix]) for fix in evidence.failed if fix in minutes]
    rows += [(fix, Tried.PASSED, minutes[fix]) for fix in evidence.passed if fix in minutes]
    if not rows:
        return np.zeros(len(model.faults))
    fixes, outcomes, soaked = (np.array(column) for column in zip(*rows, strict=True))
    with np.errstate(divide="ignore"):
        logs: FloatArray = np.log(retest_chances(model, fixes, outcomes, soaked)).sum(axis=0)
    return logs


def _refuse_misfits(model: Model, evidence: Evidence) -> None:
    seen: set[int] = set()
    for check, what in (*evidence.readings, *evidence.values):
        if not 0 <= check < len(model.checks):
            raise EvidenceError((check, what), f"a check from 0 to {len(model.checks) - 1}")
        if check in seen:
            raise EvidenceError((check, what), f"one reading of check '{model.checks[check].name}'")
        seen.add(check)
    for fix in (*evidence.failed, *evidence.passed):
        if not 0 <= fix < len(model.fixes):
            raise EvidenceError(fix, f"a fix from 0 to {len(model.fixes) - 1}")
    for fix, minutes in evidence.soaked:
        if not (0 <= fix < len(model.fixes) and 0 <= minutes < inf):
            raise EvidenceError((fix, minutes), "a fix and minutes of soak from 0 on")
    _refuse_misfit_outcomes(model, evidence)


def _refuse_misfit_outcomes(model: Model, evidence: Evidence) -> None:
    for check, result in evidence.readings:
        if not 0 <= result < len(model.checks[check].results):
            raise EvidenceError((check, result), f"a result of check '{model.checks[check].name}'")
    for check, value in evidence.values:
        if model.checks[check].densities is None:
            raise EvidenceError((check, value), f"a named result of check '{model.checks[check].name}'")
        if isnan(value) or value == -inf:
            raise EvidenceError((check, value), "a number, or infinity for over range")
