"""How long to let a repaired board run before it may go home: which soaks are worth planning with.

Let a board be uncured with probability ``u``, its complaint show every ``T`` minutes on average, a soaking
minute cost ``w``, a comeback ``C`` and going on after "still there" ``V``. A soak of ``s`` minutes costs ``w
s + u ((1 - e^(-s / T)) V + e^(-s / T) C)``, least at ``s = T ln(u (C - V) / (w T))``, or 0 where that is
negative: the trade-off of a test before release. ``u`` and ``V`` depend on what is believed when the fix is
tried, so the planner chooses among a few soaks; here those few are chosen.
"""

from collections.abc import Sequence
from typing import Final

import numpy as np

from benchlore.model import Model, detection

HOUR: Final = 60.0

FRIENDLY: Final = (
    *(0.0, 5.0, 10.0, 15.0, 20.0, 30.0, 45.0),
    *(hours * HOUR for hours in (1, 1.5, 2, 3, 4, 6, 8, 12, 16, 24, 36, 48, 72)),
)
"""Soaks that fit a bench's day, in minutes."""

UNCURED: Final = (0.03, 0.1, 0.4)
"""Chances that a fix did not cure, from a sure suspect to a guess; each gets its best soak on the menu."""

UNNOTICED: Final = 1e-3
"""No soak on the menu is longer than the first that lets at most this share of uncured boards go home."""


def soak_menu(
    model: Model, waiting_minute: float, give_up: float, comeback: float, soaks: Sequence[float] | None = None
) -> tuple[float, ...]:
    """The soaks to choose from, in rising order; the retest's own alone where the complaint always shows.

    Parameters
    ----------
    model
        The board and complaint.
    waiting_minute, give_up, comeback
        What a minute of soaking, a return and a comeback cost.
    soaks
        The caller's own menu; left out, the retest's own soak and the friendly ones that are best for one
        fix if it is surely right, probably right, or a guess.
    """
    live = (model.fault_probabilities > 0) & (model.every > 0)
    if not np.any(live):
        return (model.retest.waits,)
    if soaks is not None:
        return tuple(sorted(set(soaks))) or (model.retest.waits,)
    beliefs = model.fault_probabilities[live]
    escapes = np.array([1 - detection(model, soak)[live] for soak in FRIENDLY])
    longest = next((k for k, row in enumerate(escapes) if row.max() <= UNNOTICED), len(FRIENDLY) - 1)
    unnoticed = escapes[: longest + 1] @ beliefs
    waiting = np.array(FRIENDLY[: longest + 1]) * waiting_minute
    chosen = {FRIENDLY[int(np.argmin(waiting + u * unnoticed * (comeback - give_up / 2)))] for u in UNCURED}
    return tuple(sorted({model.retest.waits, *chosen}))
