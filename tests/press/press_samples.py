"""Values of an invented shop, and names that mean harm."""

from functools import cache

from benchlore.press import (
    Belief,
    Covered,
    Figure,
    Forecasts,
    Spread,
    draw_belief,
    draw_coverage,
    draw_gains,
    draw_means,
    draw_reliability,
    draw_spreads,
)
from benchlore.proof import Estimate, proportion

HOSTILE = "</text></svg><script>alert('1')</script> & \"x\" \x0b \ud800 ]]>"
LONG = (
    "The bench as it was recorded in the sheets of three shops, with minutes filled in from the shop's median where "
    "a technician left them out, and with Donaudampfschifffahrtselektrizitätenhauptbetriebswerkbauunterbeamtengesellschaft"
)
MANY = Spread("This procedure", tuple(10.0 + 7 * (k % 20) for k in range(60)), Estimate(76.5, 66.0, 87.0))
FEW = Spread("The bench", (20.0, 50.0, 80.0), Estimate(50.0, 16.0, 84.0))
CURVE = (
    Covered(0, Estimate(0.0, 0.0, 0.4)),
    Covered(30, Estimate(0.6, 0.5, 0.7)),
    Covered(60, Estimate(0.8, 0.7, 0.9)),
    Covered(120, Estimate(0.9, 0.7, 1.0)),
)
GROUPS = (Forecasts(0.1, proportion(3, 40), 40), Forecasts(0.75, proportion(14, 20), 20))
STEPS = (
    Belief("Before any reading", (("Joint", 0.5), ("Via", 0.3), ("Cell", 0.15))),
    Belief("VSYS under load: 3.4 V", (("Joint", 0.25), ("Via", 0.75))),
)


FIGURES = (Figure("One", Estimate(3.0, 1.0, 5.0)), Figure("Two", Estimate(-1.0, -2.0, 0.5)))

WAYS_TO_DRAW = {
    "spreads": lambda: draw_spreads([MANY, FEW], unit="EUR"),
    "means": lambda: draw_means(FIGURES, unit="EUR"),
    "gains": lambda: draw_gains(FIGURES, unit="EUR"),
    "reliability": lambda: draw_reliability(GROUPS),
    "coverage": lambda: draw_coverage(CURVE, present=60),
    "belief": lambda: draw_belief(STEPS),
    "hostile spreads": lambda: named_spreads(HOSTILE),
    "hostile gains": lambda: named_gains(HOSTILE),
    "hostile belief": lambda: named_belief(HOSTILE),
    "long spreads": lambda: named_spreads(LONG),
    "long gains": lambda: named_gains(LONG),
    "long belief": lambda: named_belief(LONG),
    "no spreads": lambda: draw_spreads([], unit="EUR"),
    "no jobs": lambda: draw_spreads([Spread("This procedure", ())], unit="EUR"),
    "no means": lambda: draw_means([], unit="EUR"),
    "no gains": lambda: draw_gains([], unit="EUR"),
    "no reliability": lambda: draw_reliability([]),
    "no coverage": lambda: draw_coverage([], present=0),
    "no belief": lambda: draw_belief([]),
}
"""A picture of each kind: with ordinary values, with names that mean harm or are long, and with nothing."""


@cache
def picture(kind):
    """Draw a picture of a kind, once."""
    return WAYS_TO_DRAW[kind]()


def named_spreads(name):
    return draw_spreads([Spread(name, (3.0,)), Spread(name, ())], unit=name, title=name)


def named_gains(name):
    return draw_gains([Figure(name, Estimate(3.0, 1.0, 5.0))], unit=name, title=name)


def named_belief(name):
    return draw_belief([Belief(name, ((name, 0.9),))], title=name)
