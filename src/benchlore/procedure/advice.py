"""What to do next from where a job stands, and why: values that every surface prints alike."""

from dataclasses import dataclass
from typing import Literal

from benchlore.procedure.values import Cost, Kind


@dataclass(frozen=True, slots=True)
class Outlook:
    """One result that a step may have: how probable, what to suspect then, and what the rest would cost.

    ``expected`` is the cost from there to the end of the job; it is 0 where the board would be released,
    because what a release may still cost (a comeback) is part of the step's own cost.
    """

    result: str
    chance: float
    expected: float
    suspects: tuple[tuple[str, float], ...]


@dataclass(frozen=True, slots=True)
class Option:
    """One thing that could be done next.

    ``cost`` is its own, with the setups (``setups``) that it still needs and the comeback that a release may
    bring; ``expected`` is the whole cost from here to the end of the job if it is done first. ``information``
    is what its result would tell about the fault, in bits. ``soak`` is how long to let the board run in the
    retest after a fix, in minutes: the best choice.
    """

    kind: Kind
    action: str
    title: str
    setups: tuple[str, ...]
    cost: Cost
    expected: float
    information: float
    outlooks: tuple[Outlook, ...]
    soak: float = 0.0


@dataclass(frozen=True, slots=True)
class Advice:
    """Suspects and options, best first.

    ``options`` always has the return of the board. ``held_back`` are checks and fixes that cannot be done
    now, each with the reason. ``conflict`` names readings and fixes that no fault allows together; the
    belief is then what it was before them. ``method`` says how costs were found: ``exact``, or
    ``look-ahead`` (one step exactly, then an estimate).
    """

    currency: str
    suspects: tuple[tuple[str, float], ...]
    options: tuple[Option, ...]
    held_back: tuple[tuple[str, str], ...]
    conflict: tuple[str, ...]
    method: Literal["exact", "look-ahead"]

    @property
    def best(self) -> Option:
        """The option that costs least."""
        return self.options[0]

    @property
    def runner_up(self) -> Option | None:
        """The second best, if there is one."""
        return self.options[1] if len(self.options) > 1 else None

    @property
    def saving(self) -> float:
        """What the best option saves against the runner-up."""
        return self.runner_up.expected - self.best.expected if self.runner_up else 0.0
