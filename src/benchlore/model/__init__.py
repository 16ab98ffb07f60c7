"""Book and jobs in, arrays out: the model of a board and a complaint, what to believe, and learning.

The one package that knows the statistics. It does no input or output and imports only ``units``, ``book`` and
``jobs``. Start at :func:`build`; ``docs/model.md`` has the mathematics and the JSON form.
"""

from benchlore.model.bands import half_uniform, information_lost
from benchlore.model.build import build
from benchlore.model.cases import Cases, Tried, cases_from_jobs
from benchlore.model.codec import from_json, to_json
from benchlore.model.columns import cases_from_columns
from benchlore.model.coverage import unseen_boards, unseen_share
from benchlore.model.densities import densities_of, log_likelihoods, result_of
from benchlore.model.errors import (
    CasesError,
    EvidenceError,
    ModelError,
    ModelFormatError,
    NotOneBoardError,
    UnknownComplaintError,
)
from benchlore.model.explanation import set_aside, without
from benchlore.model.gates import gate_open
from benchlore.model.learn import LearningReport, learn
from benchlore.model.make import counts_of, exact_densities, fix_of, model_of, named_check, numeric_check
from benchlore.model.packed import Packed, pack
from benchlore.model.posterior import (
    ResultTable,
    conflict,
    fault_log_likelihoods,
    posterior,
    result_table,
    state_log_likelihoods,
)
from benchlore.model.retests import caught_chances, detection, retest_chances, uncured_chances
from benchlore.model.sample import Draws, choose, draw_values, results_of, sample, shown, simulate
from benchlore.model.values import (
    Check,
    Condition,
    Densities,
    Evidence,
    Fix,
    FloatArray,
    Gate,
    Model,
    Posterior,
    Setup,
    Work,
    normalised,
)

__all__ = [
    "Cases",
    "CasesError",
    "Check",
    "Condition",
    "Densities",
    "Draws",
    "Evidence",
    "EvidenceError",
    "Fix",
    "FloatArray",
    "Gate",
    "LearningReport",
    "Model",
    "ModelError",
    "ModelFormatError",
    "NotOneBoardError",
    "Packed",
    "Posterior",
    "ResultTable",
    "Setup",
    "Tried",
    "UnknownComplaintError",
    "Work",
    "build",
    "cases_from_columns",
    "cases_from_jobs",
    "caught_chances",
    "choose",
    "conflict",
    "counts_of",
    "densities_of",
    "detection",
    "draw_values",
    "exact_densities",
    "fault_log_likelihoods",
    "fix_of",
    "from_json",
    "gate_open",
    "half_uniform",
    "information_lost",
    "learn",
    "log_likelihoods",
    "model_of",
    "named_check",
    "normalised",
    "numeric_check",
    "pack",
    "posterior",
    "result_of",
    "result_table",
    "results_of",
    "retest_chances",
    "sample",
    "set_aside",
    "shown",
    "simulate",
    "state_log_likelihoods",
    "to_json",
    "uncured_chances",
    "unseen_boards",
    "unseen_share",
    "without",
]
