"""How long to soak: until an old rate would have shown, until the cure is sure, until it pays no more.

Any unit of time will do, if it is the same throughout; ``belief`` is of the rate before the fix.
"""

from math import expm1, log
from typing import Final

from scipy import optimize

from benchlore.soak.clock import ClockBelief
from benchlore.soak.errors import above_zero, chance_of, not_negative
from benchlore.soak.rate import Rate, RateMixture

ACCELERATED: Final = (
    "An accelerated soak counts only as far as the stress brings on this very fault, and no faster than was "
    "tried: state where the factor comes from, stay within the parts' ratings, and never leave it unattended."
)
"""The caution that goes with every acceleration factor."""


def soak_for(belief: Rate, confidence: float) -> float:
    """Time in which a board with the old rate shows an event with this chance: ``b ((1 - c)^(-1/a) - 1)``.

    The less is known of the old rate, the longer: for a rate known exactly it is ``-T ln(1 - c)``.

    >>> from benchlore.soak import RateBelief
    >>> round(soak_for(RateBelief.known(100), 0.95), 2)
    299.57
    """
    return belief.quiet_until(1 - chance_of("the confidence", confidence))


def soak_for_cure(belief: Rate, cured: float, wanted: float) -> float:
    """Time after which, with nothing seen, a board that is cured with chance ``cured`` is so with ``wanted``.

    Solves ``p / (p + (1 - p) q(t)) = wanted`` for the chance ``q`` that an uncured board stays quiet.
    """
    chance_of("the chance of the cure", cured)
    quiet = cured * (1 - chance_of("the chance wanted", wanted)) / (wanted * (1 - cured))
    return 0.0 if quiet >= 1 else belief.quiet_until(quiet)


def cheapest_soak(belief: Rate, uncured: float, minute: float, saved: float) -> float:
    """The soak that costs least: ``t* = b ((u s a / (w b)) ** (1 / (a + 1)) - 1)``, at least 0.

    A soak of ``t`` costs ``w t + u q(t) s`` and what is lost whatever it shows; its derivative vanishes
    where ``w = u s a b^a / (b + t)^(a + 1)``. For a rate known exactly this is ``T ln(u s / (w T))``; for a
    mixture the same is found by bisection, for a clock by trying the moments behind its beats.

    Parameters
    ----------
    belief
        The rate of a board that is not cured.
    uncured
        Chance that the fix did not cure.
    minute
        What a unit of soaking time costs (``w``); above zero.
    saved
        What is saved by catching a board that is not cured: the comeback less what going on costs.
    """
    worth = not_negative("the chance of no cure", uncured) * not_negative("what is saved", saved)
    wanted = above_zero("what soaking costs", minute)
    if isinstance(belief, ClockBelief):
        return belief.cheapest(uncured, wanted, saved)
    if isinstance(belief, RateMixture):
        return _where_it_falls_by(belief, wanted / worth) if worth > 0 else 0.0
    ratio = worth * belief.shape / (wanted * belief.time)
    return belief.time * expm1(log(ratio) / (belief.shape + 1)) if ratio > 1 else 0.0


def _where_it_falls_by(belief: RateMixture, slope: float) -> float:
    """Where the chance of quiet falls no faster than this; its slope only becomes less."""
    if belief.falling(0.0) <= slope:
        return 0.0
    late = belief.quiet_until(0.5)
    while belief.falling(late) > slope:
        late *= 2
    return float(optimize.brentq(lambda t: belief.falling(t) - slope, 0.0, late, xtol=1e-9))


def soak_cost(belief: Rate, uncured: float, minute: float, saved: float, soak: float) -> float:
    """What a soak costs beyond what is lost whatever it shows: ``w t + u q(t) s``."""
    return minute * soak + uncured * belief.quiet(soak) * saved


def on_the_bench(soak: float, factor: float) -> float:
    """Time on the bench of an accelerated soak; ``ACCELERATED`` goes with it."""
    return soak / above_zero("the acceleration factor", factor)


def side_by_side(soak: float, boards: int) -> float:
    """Time in which so many boards with the same fix soak together as long as one would alone.

    That tells of the fix. Each board by itself has only soaked for the shorter time.
    """
    return soak / above_zero("the number of boards", boards)
