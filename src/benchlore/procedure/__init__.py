"""Planning: a model and a shop become the cheapest procedure, the next step from anywhere, and the reasons.

``plan`` compiles a procedure, ``next_steps`` ranks what can be done from any state (an ``Adviser`` does so
for many states of one board); all price the model as an ``Instance``, which is all that the solvers know.
May import ``units``, ``book``, ``shop``, ``jobs`` and ``model``; does no input or output.
``docs/procedure.md`` has the cost model, the algorithms and the JSON form.
"""

from benchlore.procedure.advice import Advice, Alike, Equipped, GoOn, Option, Outlook, Surer
from benchlore.procedure.anytime import Effort, Limits, never, solve_anytime
from benchlore.procedure.bounds import Bound, lower_bound
from benchlore.procedure.codec import from_json, to_json
from benchlore.procedure.costing import expected_cost
from benchlore.procedure.errors import (
    ComebackTooCheapError,
    InvalidInstanceError,
    NoExchangeRateError,
    NoWorthError,
    PlanningError,
    ProcedureFormatError,
    TableTooLargeError,
)
from benchlore.procedure.exact import MEMORY, solve_exact
from benchlore.procedure.excerpt import Done, Excerpt, Exit, trimmed
from benchlore.procedure.follow import Boards, Followed, follow
from benchlore.procedure.graph import Title, procedure_of
from benchlore.procedure.habits import fixes_alone, knowing, most_telling, told
from benchlore.procedure.instance import CheckOption, FixOption, Instance, Mode, SetupOption
from benchlore.procedure.layout import instance_from_dict
from benchlore.procedure.next import Adviser, next_steps
from benchlore.procedure.onplan import step_at
from benchlore.procedure.plan import plan
from benchlore.procedure.policy import STILL_THERE, Policy, Solution
from benchlore.procedure.position import OVER_BUDGET, Situation
from benchlore.procedure.pricing import exchange_rate, instance_of, worth_of
from benchlore.procedure.sampled import FEWEST_JOBS, sampled_bound
from benchlore.procedure.shortfall import BandLoss, band_losses, cannot_do
from benchlore.procedure.simulate import SimulatedJobs, simulate
from benchlore.procedure.size import at_most
from benchlore.procedure.spread import Spread
from benchlore.procedure.values import RELEASE, Cost, Kind, Procedure, Step

__all__ = [
    "FEWEST_JOBS",
    "MEMORY",
    "OVER_BUDGET",
    "RELEASE",
    "STILL_THERE",
    "Advice",
    "Adviser",
    "Alike",
    "BandLoss",
    "Boards",
    "Bound",
    "CheckOption",
    "ComebackTooCheapError",
    "Cost",
    "Done",
    "Effort",
    "Equipped",
    "Excerpt",
    "Exit",
    "FixOption",
    "Followed",
    "GoOn",
    "Instance",
    "InvalidInstanceError",
    "Kind",
    "Limits",
    "Mode",
    "NoExchangeRateError",
    "NoWorthError",
    "Option",
    "Outlook",
    "PlanningError",
    "Policy",
    "Procedure",
    "ProcedureFormatError",
    "SetupOption",
    "SimulatedJobs",
    "Situation",
    "Solution",
    "Spread",
    "Step",
    "Surer",
    "TableTooLargeError",
    "Title",
    "at_most",
    "band_losses",
    "cannot_do",
    "exchange_rate",
    "expected_cost",
    "fixes_alone",
    "follow",
    "from_json",
    "instance_from_dict",
    "instance_of",
    "knowing",
    "lower_bound",
    "most_telling",
    "never",
    "next_steps",
    "plan",
    "procedure_of",
    "sampled_bound",
    "simulate",
    "solve_anytime",
    "solve_exact",
    "step_at",
    "to_json",
    "told",
    "trimmed",
    "worth_of",
]
