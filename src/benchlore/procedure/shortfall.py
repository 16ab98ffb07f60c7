"""What a procedure has to do without: work that the shop cannot do, and what a number's band does not say."""

from collections.abc import Mapping
from dataclasses import dataclass

from benchlore.model import Model, half_uniform, information_lost
from benchlore.procedure.instance import CheckOption, FixOption
from benchlore.procedure.pricing import CURES_NOTHING, instance_of
from benchlore.procedure.values import Kind, Procedure
from benchlore.shop import Shop


@dataclass(frozen=True, slots=True)
class BandLoss:
    """A numeric check, how often a job makes it, and the share of a number's information its bands lose.

    The information is about the state of the condition that the check reads.
    """

    check: str
    taken: float
    lost: float


def cannot_do(model: Model, shop: Shop) -> Mapping[str, tuple[str, ...]]:
    """The checks and fixes that the shop cannot do, by the reason, which says what each would need.

    Raises
    ------
    PlanningError
        If the model cannot be priced for the shop.
    """
    instance = instance_of(model, shop)
    found: dict[str, tuple[str, ...]] = {}
    options: tuple[CheckOption | FixOption, ...] = (*instance.checks, *instance.fixes)
    for option in options:
        names = found.get(option.excluded, ())
        if option.excluded not in {"", CURES_NOTHING} and option.name not in names:  # a fix has many soaks
            found[option.excluded] = (*names, option.name)
    return found


def band_losses(model: Model, procedure: Procedure) -> tuple[BandLoss, ...]:
    """What banding loses at every numeric check that the procedure makes, the most lost first."""
    taken: dict[str, float] = {}
    for step in procedure.steps:
        if step.kind is Kind.CHECK:
            taken[step.action] = taken.get(step.action, 0.0) + step.reach
    losses = []
    for check in model.checks:
        if check.densities is not None and taken.get(check.name, 0.0) > 0:
            states = model.fault_probabilities @ model.state_probabilities[check.condition]
            lost = information_lost(check, half_uniform(states))
            losses.append(BandLoss(check.name, taken[check.name], lost))
    return tuple(sorted(losses, key=lambda loss: (-loss.lost, loss.check)))
