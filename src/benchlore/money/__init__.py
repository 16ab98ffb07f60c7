"""Money: what to charge for a repair, which research to pay for, what to buy, whom to credit.

May import ``proof`` and all that lies below it; does no input or output. It computes in floating point;
amounts become decimal where they leave the program. ``docs/money.md`` has the formulae, their sources and
what they assume.
"""

from benchlore.money.errors import AmountError, MoneyError
from benchlore.money.job_costs import JobCosts, costs_of, job_costs
from benchlore.money.quote import QUANTILES, AtRate, Offer, at_rates, break_even, expected_margin, offer
from benchlore.money.stopping import Decline, Stop, decline_rule

__all__ = [
    "QUANTILES",
    "AmountError",
    "AtRate",
    "Decline",
    "JobCosts",
    "MoneyError",
    "Offer",
    "Stop",
    "at_rates",
    "break_even",
    "costs_of",
    "decline_rule",
    "expected_margin",
    "job_costs",
    "offer",
]
