"""Proof: what a procedure does on jobs that it was not made from, and how complete the knowledge is.

May import ``procedure`` and all that lies below it; does no input or
output. ``docs/proof.md`` has the methods and their sources.
"""

from benchlore.proof.estimate import LEVEL, Estimate, between_percentiles, percentiles, proportion
from benchlore.proof.records_worth import RecordsWorth
from benchlore.proof.sensitivity import FirstStep, Sensitivity, sensitivity_of
from benchlore.proof.sways import Sway
from benchlore.proof.work import Run, in_turn, seeds

__all__ = [
    "LEVEL",
    "Estimate",
    "FirstStep",
    "RecordsWorth",
    "Run",
    "Sensitivity",
    "Sway",
    "between_percentiles",
    "in_turn",
    "percentiles",
    "proportion",
    "seeds",
    "sensitivity_of",
]
