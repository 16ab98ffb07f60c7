"""What a clean soak proves, and how likely the device comes back."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from benchlore.soak.errors import NumberError, hours_of, not_negative
from benchlore.soak.rate import Rate

DAYS: Final = (30.0, 90.0)
"""Days of use after which a comeback is told."""


@dataclass(frozen=True, slots=True)
class Clean:
    """A trial that shows nothing.

    ``cured`` is the chance that the board is cured given that, ``overlooked`` the chance that one which is
    not cured shows nothing, ``clean`` the chance that this board shows nothing.
    """

    cured: float
    overlooked: float
    clean: float


def clean_trial(uncured: float, silent: float) -> Clean:
    """Say what a trial proves that shows nothing.

    ``uncured`` is the chance that the board is not cured, ``silent`` the chance that it is not and shows
    nothing: the board is cured with ``(1 - uncured) / (1 - uncured + silent)``.

    >>> clean_trial(0.2, 0.01).cured > 0.98
    True
    """
    if not 0 <= silent <= uncured * (1 + 1e-9) + 1e-12 or uncured > 1 + 1e-9:
        raise NumberError("the chance of an uncured board that stays quiet", silent, f"0 to {uncured:g}")
    cured = 1.0 - uncured
    clean = cured + silent
    return Clean(
        cured / clean if clean > 0 else 0.0,
        silent / uncured if uncured > 0 else 0.0,
        clean,
    )


@dataclass(frozen=True, slots=True)
class Comeback:
    """The chance that the device comes back within ``days`` of use."""

    days: float
    chance: float


@dataclass(frozen=True, slots=True)
class Verdict:
    """What may be said after a soak of ``soak`` minutes that showed nothing."""

    soak: float
    before: float
    clean: Clean
    comebacks: tuple[Comeback, ...]


def verdict(
    belief: Rate,
    cured: float,
    soak: float,
    *,
    hours_a_day: float,
    days: Sequence[float] = DAYS,
) -> Verdict:
    """Say what a soak without an event proves, and how likely a comeback is.

    A board that is not cured keeps the old rate; a clean soak makes low rates likelier: the chance that it
    shows something in ``h`` more is ``1 - ((b + t) / (b + t + h)) ** a``.

    Parameters
    ----------
    belief
        The rate before the fix, in events a minute of use.
    cured
        Chance that the fix cured, before the soak.
    soak
        Minutes of soak without an event.
    hours_a_day
        Hours of use a day after release.
    days
        Days after which a comeback is told.
    """
    if not 0 <= cured <= 1:
        raise NumberError("the chance of the cure", cured, "a number from 0 to 1")
    hours_of("hours of use a day", hours_a_day)
    not_negative("the soak", soak)
    clean = clean_trial(1 - cured, (1 - cured) * belief.quiet(soak))
    later = belief.after(0, soak)
    backs = tuple(Comeback(each, (1 - clean.cured) * later.shown(each * hours_a_day * 60)) for each in days)
    return Verdict(soak, cured, clean, backs)
