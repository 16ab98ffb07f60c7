"""What to do next from where a job stands, and why: values that every surface prints alike."""

from dataclasses import dataclass
from typing import Literal, TypeAlias

from benchlore.procedure.values import Cost, Kind

Method: TypeAlias = Literal["exact", "look-ahead", "plan"]


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
    is what its result would tell about the fault, in bits. ``outlooks`` are worked out for the first few
    options only, and ``()`` for the rest. ``method`` says how ``expected`` was found: ``exact``,
    ``look-ahead`` (one step exactly, then an estimate), or ``plan`` (quoted from the compiled procedure).
    ``ranked`` is the cost to compare with other options: ``expected``, but for the plan's step what the
    ranking itself says, of a fix with the soak that it likes best (``None`` if it did not look at that).
    ``soak`` is how long to let the board run in the retest after a fix, in minutes: the best choice.
    """

    kind: Kind
    action: str
    title: str
    setups: tuple[str, ...]
    cost: Cost
    expected: float
    information: float
    outlooks: tuple[Outlook, ...]
    method: Method
    ranked: float | None
    soak: float = 0.0


@dataclass(frozen=True, slots=True)
class Alike:
    """Suspects that need not, or cannot, be told apart here.

    ``reason`` is ``same fix`` (``fix`` comes first for each, and then the same others: nothing is spent to
    tell them apart), ``no fix`` (no fix here pays for any of them), or ``no check`` (no check that can still
    be made here separates them; ``checks`` are those that would, each with why it cannot be made).
    """

    faults: tuple[str, ...]
    reason: Literal["same fix", "no fix", "no check"]
    fix: str = ""
    checks: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class Surer:
    """How probable a suspect would have to be for its fix to pay, the return after it if it fails."""

    fault: str
    fix: str
    chance: float
    needed: float


@dataclass(frozen=True, slots=True)
class Equipped:
    """Equipment with which going on would pay: what would be done first, and the expected cost then."""

    equipment: tuple[str, ...]
    kind: Kind
    action: str
    expected: float


@dataclass(frozen=True, slots=True)
class GoOn:
    """What would have to be true for going on to pay, where the return is best; any one of it is enough.

    ``worth`` is the worth of a finished repair, now ``worth_now``, from which on something costs less than
    the return (``None``: no worth would do). ``surer`` is the suspect whose chance would have to rise least.
    """

    worth_now: float
    worth: float | None
    surer: Surer | None
    equipment: tuple[Equipped, ...]


@dataclass(frozen=True, slots=True)
class Advice:
    """Suspects and options, best first.

    ``options`` always has the return of the board. ``held_back`` are checks and fixes that cannot be done
    now, each with the reason. ``conflict`` names readings and fixes that no fault allows together;
    ``set_aside`` are those of them that the belief leaves out, as few as can be. ``method`` says how the
    options were ranked: ``exact`` or ``look-ahead``; the first may be the compiled procedure's own step
    instead, which looked deeper (its ``method`` is then ``plan``).

    ``knowing`` is the value of knowing the result of the best option, where that is a check: the least
    expected cost if the check could not be made at all, less what the job costs if it comes first, without
    its own cost. It is never negative, and what is worth more than it costs is worth doing (Howard,
    "Information value theory", IEEE Transactions on Systems Science and Cybernetics 2(1), 1966).
    ``go_on`` says what would have to change where the return is best.
    """

    currency: str
    suspects: tuple[tuple[str, float], ...]
    options: tuple[Option, ...]
    held_back: tuple[tuple[str, str], ...]
    conflict: tuple[str, ...]
    method: Method
    set_aside: tuple[str, ...] = ()
    knowing: float | None = None
    alike: tuple[Alike, ...] = ()
    go_on: GoOn | None = None

    @property
    def best(self) -> Option:
        """The option that costs least, or the plan's."""
        return self.options[0]

    @property
    def runner_up(self) -> Option | None:
        """The second best, if there is one."""
        return self.options[1] if len(self.options) > 1 else None

    @property
    def saving(self) -> float:
        """What the best option saves against the runner-up; 0 where there is none."""
        return self.beyond(self.runner_up) if self.runner_up else 0.0

    def beyond(self, option: Option) -> float:
        """What an option costs beyond the best one, both as the ranking sees them.

        It may be negative where the best option is the plan's: the plan looked deeper than the ranking.
        """
        best = self.best.expected if self.best.ranked is None else self.best.ranked
        return option.expected - best
