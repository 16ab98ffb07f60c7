"""Proof: what a procedure does on jobs that it was not made from, and how complete the knowledge is.

May import ``procedure`` and all that lies below it; does no input or
output. ``docs/proof.md`` has the methods and their sources.
"""

from benchlore.proof.calibration import Bar, Calibration, Sharpness, calibration_of
from benchlore.proof.candidates import Candidate, Sign, candidates_of
from benchlore.proof.codec import from_json, to_json
from benchlore.proof.compare import Difference
from benchlore.proof.coverage import BoardsUntil, Coverage, CurvePoint, coverage_of
from benchlore.proof.dependence import Between, Dependence, dependence_of
from benchlore.proof.errors import OneShopError, ProofError, ProofFormatError, TooFewJobsError, UndatedError
from benchlore.proof.estimate import LEVEL, Estimate, between_percentiles, percentiles, proportion
from benchlore.proof.examples import Belief, Example
from benchlore.proof.fold import Planning
from benchlore.proof.folds import Split
from benchlore.proof.outliers import Outlier, outliers_in
from benchlore.proof.parts import Part, Table, Topic
from benchlore.proof.prove import Against, HeldOutPart, Proof, Settings, prove
from benchlore.proof.ranking import RocArea
from benchlore.proof.reasons import Misreading, Odd, Rival
from benchlore.proof.records_worth import RecordsWorth
from benchlore.proof.reliability import BrierParts, CalibrationTest, ReliabilityBin
from benchlore.proof.replay import Account, Replay
from benchlore.proof.scores import FLOOR, Score
from benchlore.proof.sensitivity import FirstStep, Sensitivity, sensitivity_of
from benchlore.proof.standing import Graded, Ground, Standing
from benchlore.proof.sways import Sway
from benchlore.proof.telling import parts_of, records_text, tried_said, worth_saying
from benchlore.proof.telling_doubts import odd_text
from benchlore.proof.trial import Subject
from benchlore.proof.ways import Way
from benchlore.proof.work import Run, generator, in_turn, seeds, untold

__all__ = [
    "FLOOR",
    "LEVEL",
    "Account",
    "Against",
    "Bar",
    "Belief",
    "Between",
    "BoardsUntil",
    "BrierParts",
    "Calibration",
    "CalibrationTest",
    "Candidate",
    "Coverage",
    "CurvePoint",
    "Dependence",
    "Difference",
    "Estimate",
    "Example",
    "FirstStep",
    "Graded",
    "Ground",
    "HeldOutPart",
    "Misreading",
    "Odd",
    "OneShopError",
    "Outlier",
    "Part",
    "Planning",
    "Proof",
    "ProofError",
    "ProofFormatError",
    "RecordsWorth",
    "ReliabilityBin",
    "Replay",
    "Rival",
    "RocArea",
    "Run",
    "Score",
    "Sensitivity",
    "Settings",
    "Sharpness",
    "Sign",
    "Split",
    "Standing",
    "Subject",
    "Sway",
    "Table",
    "TooFewJobsError",
    "Topic",
    "UndatedError",
    "Way",
    "between_percentiles",
    "calibration_of",
    "candidates_of",
    "coverage_of",
    "dependence_of",
    "from_json",
    "generator",
    "in_turn",
    "odd_text",
    "outliers_in",
    "parts_of",
    "percentiles",
    "proportion",
    "prove",
    "records_text",
    "seeds",
    "sensitivity_of",
    "to_json",
    "tried_said",
    "untold",
    "worth_saying",
]
