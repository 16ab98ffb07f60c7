"""Proof: what a procedure does on jobs that it was not made from, and how complete the knowledge is.

May import ``procedure`` and all that lies below it; does no input or
output. ``docs/proof.md`` has the methods and their sources.
"""

from benchlore.proof.calibration import Bar, Calibration, Sharpness, calibration_of
from benchlore.proof.candidates import Candidate, Sign, candidates_of
from benchlore.proof.coverage import BoardsUntil, Coverage, CurvePoint, coverage_of
from benchlore.proof.dependence import Between, Dependence, dependence_of
from benchlore.proof.estimate import LEVEL, Estimate, between_percentiles, percentiles, proportion
from benchlore.proof.outliers import Outlier, outliers_in
from benchlore.proof.ranking import RocArea
from benchlore.proof.reasons import Misreading, Odd, Rival
from benchlore.proof.reliability import BrierParts, CalibrationTest, ReliabilityBin
from benchlore.proof.scores import FLOOR, Score
from benchlore.proof.work import Run, in_turn, seeds

__all__ = [
    "FLOOR",
    "LEVEL",
    "Bar",
    "Between",
    "BoardsUntil",
    "BrierParts",
    "Calibration",
    "CalibrationTest",
    "Candidate",
    "Coverage",
    "CurvePoint",
    "Dependence",
    "Estimate",
    "Misreading",
    "Odd",
    "Outlier",
    "ReliabilityBin",
    "Rival",
    "RocArea",
    "Run",
    "Score",
    "Sharpness",
    "Sign",
    "between_percentiles",
    "calibration_of",
    "candidates_of",
    "coverage_of",
    "dependence_of",
    "in_turn",
    "outliers_in",
    "percentiles",
    "proportion",
    "seeds",
]
