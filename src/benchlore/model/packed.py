"""A model as flat, padded arrays for the kernels."""

from functools import lru_cache
from typing import NamedTuple, TypeAlias

import numpy as np
from numpy.typing import NDArray

from benchlore.model.densities import over_probabilities, predictive_scale, student_constant
from benchlore.model.values import Check, FloatArray, Model

IntArray: TypeAlias = NDArray[np.int64]
BoolArray: TypeAlias = NDArray[np.bool_]


class Packed(NamedTuple):
    """All probabilities of a model, padded with zeros (log: ``-inf``) to ``S`` states and ``R`` results.

    ======================  ===========  =====================================================================
    field                   shape        meaning
    ======================  ===========  =====================================================================
    ``prior``               ``(F,)``     ``P(f)``
    ``log_prior``           ``(F,)``     its logarithm
    ``detects``             ``(F,)``     ``d``: a retest shows the complaint on a board that is not cured
    ``states``              ``(G,S,F)``  ``P(s | f)``: faults run fastest, so that kernels sweep over them
    ``state_counts``        ``(G,)``     number of states of each condition
    ``conditions``          ``(C,)``     the condition that each check reads
    ``results``             ``(C,R,S)``  ``P(r | s)``
    ``log_results``         ``(C,R,S)``  its logarithm
    ``result_counts``       ``(C,)``     number of results of each check
    ``order``               ``(C,)``     checks sorted by condition
    ``starts``              ``(G+1,)``   checks of condition ``g`` are ``order[starts[g]:starts[g + 1]]``
    ``cures``               ``(A,F)``    ``rho``
    ``numeric``             ``(C,3)``    whether numeric; whether logarithmic; whether over range is a result
    ``student``             ``(C,6,S)``  location, scale, (degrees of freedom + 1) / 2, degrees of freedom,
                                         log of (its constant × (1 - slip) × P(number)), log P(over range)
    ``log_number``          ``(C,S)``    log P(number | s)
    ``slip``                ``(C,3)``    mean, deviation, log of (its constant × slip)
    ======================  ===========  =====================================================================
    """

    prior: FloatArray
    log_prior: FloatArray
    detects: FloatArray
    states: FloatArray
    state_counts: IntArray
    conditions: IntArray
    results: FloatArray
    log_results: FloatArray
    result_counts: IntArray
    order: IntArray
    starts: IntArray
    cures: FloatArray
    numeric: BoolArray
    student: FloatArray
    log_number: FloatArray
    slip: FloatArray


@lru_cache(maxsize=32)
def pack(model: Model) -> Packed:
    """Lay out ``model`` for the kernels; the last few models asked for are remembered."""
    tables = model.state_probabilities
    depth = max((table.shape[1] for table in tables), default=1)
    width = max((len(check.results) for check in model.checks), default=1)
    states = np.zeros((len(tables), depth, len(model.faults)))
    for g, table in enumerate(tables):
        states[g, : table.shape[1]] = table.T
    results = np.zeros((len(model.checks), width, depth))
    for c, check in enumerate(model.checks):
        results[c, : len(check.results), : check.counts.shape[0]] = check.probabilities.T
    conditions = np.array([check.condition for check in model.checks], dtype=np.int64)
    numeric, student, log_number, slip = _pack_numbers(model.checks, depth)
    packed = Packed(
        prior=np.ascontiguousarray(model.fault_probabilities),
        log_prior=_log(model.fault_probabilities),
        detects=np.ascontiguousarray(model.detects),
        states=states,
        state_counts=np.array([table.shape[1] for table in tables], dtype=np.int64),
        conditions=conditions,
        results=results,
        log_results=_log(results),
        result_counts=np.array([len(check.results) for check in model.checks], dtype=np.int64),
        order=np.argsort(conditions, kind="stable"),
        starts=np.searchsorted(np.sort(conditions), np.arange(len(tables) + 1)),
        cures=np.array([fix.cure_probabilities for fix in model.fixes]).reshape(-1, len(model.faults)),
        numeric=numeric,
        student=student,
        log_number=log_number,
        slip=slip,
    )
    for array in packed:
        array.setflags(write=False)
    return packed


def _log(probabilities: FloatArray) -> FloatArray:
    with np.errstate(divide="ignore"):
        logs: FloatArray = np.log(probabilities)
    return logs


def _pack_numbers(
    checks: tuple[Check, ...], depth: int
) -> tuple[BoolArray, FloatArray, FloatArray, FloatArray]:
    numeric = np.zeros((len(checks), 3), dtype=np.bool_)
    student = np.zeros((len(checks), 6, depth))
    log_number = np.zeros((len(checks), depth))
    slip = np.zeros((len(checks), 3))
    for c, check in enumerate(checks):
        if (d := check.densities) is None:
            continue
        numeric[c] = True, d.log_normal, check.has_over_range
        scale, over, size = predictive_scale(d), over_probabilities(d), d.mean.size
        log_number[c, :size] = _log(1 - over)
        student[c, :, :size] = (
            d.mean,
            scale,
            d.shape + 0.5,
            2 * d.shape,
            student_constant(d) + np.log1p(-d.slip) + log_number[c, :size],
            _log(over),
        )
        constant_of_slip = np.log(d.slip / d.slip_sd) - np.log(2 * np.pi) / 2
        slip[c] = d.slip_mean, d.slip_sd, constant_of_slip
    return numeric, student, log_number, slip
