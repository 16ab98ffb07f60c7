"""Money: what to charge for a repair, which research to pay for, what to buy, whom to credit.

May import ``proof`` and all that lies below it; does no input or output. It computes in floating point;
amounts become decimal where they leave the program. ``docs/money.md`` has the formulae, their sources and
what they assume.
"""

from benchlore.money.coalitions import Coalition, coalition_costs, cost_of_declining, taught
from benchlore.money.equipment import Purchase, Return, Use, Yearly, purchased, yearly
from benchlore.money.errors import MOST_MONEY, AmountError, MoneyError
from benchlore.money.fund import (
    Candidate,
    Chosen,
    ConflictError,
    Margin,
    Pot,
    choose,
    curve,
    highest_fee,
    how_often,
    margin,
)
from benchlore.money.growth import (
    KnowingCost,
    Served,
    StopPaying,
    knowing_cost,
    knowing_only,
    marginal,
    stop_at,
    values_along,
)
from benchlore.money.impact import Pair, combined, more_repaired, saved
from benchlore.money.job_costs import JobCosts, Ways, costs_of, job_costs, ways_through
from benchlore.money.payout import divided, pot_of
from benchlore.money.quote import QUANTILES, AtRate, Offer, at_rates, break_even, expected_margin, offer
from benchlore.money.research import (
    Demand,
    Research,
    Verdict,
    Year,
    demand_from_jobs,
    demand_from_quantiles,
    verdict,
)
from benchlore.money.shapley import (
    Shares,
    coalitions_of,
    covered_among,
    drawn_orders,
    shapley_values,
    shares_with_a_key,
    summed,
    with_a_key,
)
from benchlore.money.stopping import Decline, Stop, decline_rule

__all__ = [
    "MOST_MONEY",
    "QUANTILES",
    "AmountError",
    "AtRate",
    "Candidate",
    "Chosen",
    "Coalition",
    "ConflictError",
    "Decline",
    "Demand",
    "JobCosts",
    "KnowingCost",
    "Margin",
    "MoneyError",
    "Offer",
    "Pair",
    "Pot",
    "Purchase",
    "Research",
    "Return",
    "Served",
    "Shares",
    "Stop",
    "StopPaying",
    "Use",
    "Verdict",
    "Ways",
    "Year",
    "Yearly",
    "at_rates",
    "break_even",
    "choose",
    "coalition_costs",
    "coalitions_of",
    "combined",
    "cost_of_declining",
    "costs_of",
    "covered_among",
    "curve",
    "decline_rule",
    "demand_from_jobs",
    "demand_from_quantiles",
    "divided",
    "drawn_orders",
    "expected_margin",
    "highest_fee",
    "how_often",
    "job_costs",
    "knowing_cost",
    "knowing_only",
    "margin",
    "marginal",
    "more_repaired",
    "offer",
    "pot_of",
    "purchased",
    "saved",
    "shapley_values",
    "shares_with_a_key",
    "stop_at",
    "summed",
    "taught",
    "values_along",
    "verdict",
    "ways_through",
    "with_a_key",
    "yearly",
]
