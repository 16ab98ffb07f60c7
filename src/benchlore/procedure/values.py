"""A procedure: the compiled decision graph for one board, one complaint and one shop."""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Literal

SAMPLED = "sampled"
"""How the method of a sampled bound begins."""

RELEASE = -1
"""Target of a branch that ends the job with a released board."""


class Kind(StrEnum):
    """What a step does."""

    CHECK = "check"
    FIX = "fix"
    RETURN = "return"


@dataclass(frozen=True, slots=True)
class Cost:
    """An expected cost in the shop's currency, split by cause."""

    hands_on: float = 0.0
    waiting: float = 0.0
    setups: float = 0.0
    parts: float = 0.0
    retest: float = 0.0
    risk: float = 0.0
    comeback: float = 0.0
    lost_worth: float = 0.0

    @property
    def outlay(self) -> float:
        """What is spent for certain: time, setups, parts and retest; no risk, comeback or lost worth."""
        return self.hands_on + self.waiting + self.setups + self.parts + self.retest

    @property
    def total(self) -> float:
        """The sum of all parts."""
        return (
            self.hands_on
            + self.waiting
            + self.setups
            + self.parts
            + self.retest
            + self.risk
            + self.comeback
            + self.lost_worth
        )


@dataclass(frozen=True, slots=True)
class Step:
    """One node of the graph.

    ``action`` is the name of a check or fix, ``""`` for a return. ``setups`` are those to make now.
    ``cost`` is this step's own, ``expected`` the expected cost from here to the end of the job, ``reach`` the
    probability of getting here. ``branches[result]`` is the number of the next step: the check's results, or
    ``still there`` and ``gone`` after a fix (``gone`` leads to ``RELEASE``); ``chances[result]`` is the
    probability of that result here. ``suspects`` are ``(fault, probability)``, most probable first. ``soak``
    is how long to let the board run in the retest after a fix, in minutes.
    """

    number: int
    kind: Kind
    action: str
    setups: tuple[str, ...]
    cost: Cost
    expected: float
    reach: float
    branches: Mapping[str, int]
    chances: Mapping[str, float]
    suspects: tuple[tuple[str, float], ...]
    soak: float = 0.0


@dataclass(frozen=True, slots=True)
class Procedure:
    """A complete graph; ``steps[0]`` comes first, ``steps[k].number == k``, and branches only lead onwards.

    ``expected`` is the exact expected cost of following it under the model; no procedure costs less than
    ``bound``. ``proof`` is ``optimal`` when the two agree by an exact method, else ``bounded``.
    ``method`` names how it was found, ``bound_method`` how it was bounded. ``limit`` is the number of steps
    that it may have at most, ``unlimited`` the expected cost without that limit; ``None`` where none was set.
    """

    board: str
    complaint: str
    shop: str
    currency: str
    steps: tuple[Step, ...]
    expected: float
    bound: float
    proof: Literal["optimal", "bounded"]
    method: str
    bound_method: str
    limit: int | None = None
    unlimited: float | None = None

    @property
    def is_sampled(self) -> bool:
        """Whether the bound comes from a sample, and may not hold."""
        return self.bound_method.startswith(SAMPLED)

    @property
    def gap(self) -> float:
        """How far above the bound the cost stands, as a share of the bound."""
        if self.expected <= self.bound:
            return 0.0
        return (self.expected - self.bound) / self.bound if self.bound > 0 else float("inf")
