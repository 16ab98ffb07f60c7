"""Intermittent complaints: from a restart record to "it may go home".

What kind of complaint a record shows, how often it happens, how long to soak, and what a clean soak proves.
``docs/soak.md`` has the formulae and their sources. May import all packages up to ``proof``; does no input
or output: a record is read from lines that the caller provides.
"""

from benchlore.soak.believing import belief_in
from benchlore.soak.bursts import Dispersion, dispersion
from benchlore.soak.clock import ClockBelief
from benchlore.soak.cures import CureCurve, cure_curve
from benchlore.soak.errors import DateOrderError, NumberError, RecordError, SoakError, WordsError
from benchlore.soak.evenness import Beat, Rayleigh, Spacing, beat, rayleigh, spacing
from benchlore.soak.intervals import mean_of_intervals, times_within
from benchlore.soak.kinds import Finding, KindTest, Pattern, find_kind, holm
from benchlore.soak.plan import (
    ACCELERATED,
    cheapest_soak,
    on_the_bench,
    side_by_side,
    soak_cost,
    soak_for,
    soak_for_cure,
)
from benchlore.soak.rate import (
    MeanBetween,
    Rate,
    RateBelief,
    RateMixture,
    belief_of_record,
    belief_with,
    mean_between,
)
from benchlore.soak.readers import LogLook
from benchlore.soak.reading import read_record
from benchlore.soak.record import Covariate, Remark, RestartRecord, record_of
from benchlore.soak.said import HOURS_A_DAY, Said, said
from benchlore.soak.sequential import Performance, SequentialTest, Standing
from benchlore.soak.ties import Poisson, Tie, poisson_regression, tie
from benchlore.soak.trend import (
    PowerLaw,
    TrendTest,
    burst_proof,
    laplace,
    military,
    power_law,
)
from benchlore.soak.verdict import Clean, Comeback, Verdict, clean_trial, verdict

__all__ = [
    "ACCELERATED",
    "HOURS_A_DAY",
    "Beat",
    "Clean",
    "ClockBelief",
    "Comeback",
    "Covariate",
    "CureCurve",
    "DateOrderError",
    "Dispersion",
    "Finding",
    "KindTest",
    "LogLook",
    "MeanBetween",
    "NumberError",
    "Pattern",
    "Performance",
    "Poisson",
    "PowerLaw",
    "Rate",
    "RateBelief",
    "RateMixture",
    "Rayleigh",
    "RecordError",
    "Remark",
    "RestartRecord",
    "Said",
    "SequentialTest",
    "SoakError",
    "Spacing",
    "Standing",
    "Tie",
    "TrendTest",
    "Verdict",
    "WordsError",
    "beat",
    "belief_in",
    "belief_of_record",
    "belief_with",
    "burst_proof",
    "cheapest_soak",
    "clean_trial",
    "cure_curve",
    "dispersion",
    "find_kind",
    "holm",
    "laplace",
    "mean_between",
    "mean_of_intervals",
    "military",
    "on_the_bench",
    "poisson_regression",
    "power_law",
    "rayleigh",
    "read_record",
    "record_of",
    "said",
    "side_by_side",
    "soak_cost",
    "soak_for",
    "soak_for_cure",
    "spacing",
    "tie",
    "times_within",
    "verdict",
]
