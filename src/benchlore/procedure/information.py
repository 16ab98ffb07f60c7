"""A lower bound: information about the fault at a price.

Let a job buy information about its fault ``f``, in any form, at ``lam_f`` a nat; what the checks can sell
beyond their cost (:mod:`benchlore.procedure.sales`) is taken off beforehand. A decision ``d`` is the setups
made for checks and the first fix, or the return; after a first fix that failed the fault is told. ``L(d,
f)`` is what decision and rest cost at least, sales taken off. Under the reference law of results a policy
takes ``d`` with some probability ``q_d``, the same for all faults, and by the data-processing inequality a
job with fault ``f`` that decides otherwise has paid for the relative entropy. So no policy costs less than

``min_q sum_f prior_f * -lam_f log sum_d q_d exp(-L(d, f) / lam_f)``.

With one price that is a rate-distortion problem (Blahut, "Computation of channel capacity and rate-distortion
functions", IEEE Transactions on Information Theory 18, 1972; Cover & Thomas, "Elements of Information
Theory", section 10.8); prices may differ between faults because each keeps its own account. The sum is convex
in ``q``: its slope at any ``q`` gives a bound that holds for all, and that is what is returned.
"""

from typing import Final

import numpy as np

from benchlore.model import FloatArray
from benchlore.procedure.sales import laws, open_checks, sales, sets_made
from benchlore.procedure.state import Problem, first_state, setups_cost
from benchlore.procedure.told import first_losses

UNIFORM: Final = 16
"""Prices tried first, the same for all faults."""

LOWEST: Final = 1e-3
"""The lowest of them, as a share of the dearest thing in the problem, which is the highest."""

BELOW: Final = 0.1
"""It is at most this share of the cheapest check's cost: at some price nothing is sold."""

BEYOND: Final = 10.0
"""How many times lower or higher than these the price of a fault may go; more would only round worse."""

STEPS: Final = 40
"""Steps that then move the price of each fault."""

ROUNDS: Final = 60
"""Rounds of the minimisation at each price; fewer only loosen the bound."""

LAWS: Final = 30
"""Rounds in which the reference law of each condition is sought."""

CLOSE: Final = 2e-4
"""Relative distance of the minimisation to its certificate at which it stops."""

NEVER: Final = 1e3
"""Cost, in returns, of naming a wrong fault where faults are only identified: more than any way out."""


def price_of_information(problem: Problem) -> float:
    """The bound at the best prices found, times the total of the prior."""
    arrays = problem.arrays
    market = _Market(problem)
    dearest = max(arrays.give_up, float(arrays.check_cost.max(initial=0.0)), 1e-9)
    cheapest = float(arrays.check_cost[arrays.check_cost > 0].min(initial=dearest))
    lowest = min(LOWEST * dearest, BELOW * cheapest)
    tried = [np.full(len(arrays.prior), price) for price in np.geomspace(lowest, dearest, UNIFORM)]
    values = [market.bound(prices)[0] for prices in tried]
    start = int(np.argmax(values))
    return float(arrays.prior.sum()) * max(values[start], _ascended(market, tried[start]))


def _ascended(market: "_Market", prices: FloatArray) -> float:
    """Move each price with the sign of its slope, in steps that grow while it stays (Riedmiller 1993)."""
    step, last, logs = np.full(len(prices), 0.3), np.zeros(len(prices)), np.log(prices)
    lowest, highest = logs - np.log(BEYOND / LOWEST), logs + np.log(BEYOND / LOWEST)
    best = -np.inf
    for _ in range(STEPS):
        value, slope = market.bound(np.exp(logs))
        best = max(best, value)
        step = np.clip(step * np.where(slope * last > 0, 1.2, 0.5), 0.01, 0.5)
        logs = np.clip(logs + np.sign(slope) * step, lowest, highest)
        last = slope
    return best


class _Market:
    """All first decisions ``D``: what each costs a job by fault, and which sales it goes with.

    ``costs (D, F)`` are without sales; ``made (D,)`` numbers the set of setups in ``masks`` that limits them.
    """

    def __init__(self, problem: Problem) -> None:
        arrays = problem.arrays
        self._problem = problem
        self._state = first_state(arrays)
        self._left = open_checks(arrays, self._state.digits)
        self._prior = arrays.prior / arrays.prior.sum()
        sets = sets_made(arrays, self._left, arrays.standing)
        every = (1 << len(arrays.setup_cost)) - 1
        self._masks = sets.tolist() or [every]
        start = arrays.standing if len(sets) else every
        rows = [self._decisions(mask) + setups_cost(problem, mask & ~start) for mask in self._masks]
        self._costs = np.concatenate(rows)
        self._made = np.repeat(np.arange(len(rows)), [len(row) for row in rows])
        self._q = np.full(len(self._costs), 1.0 / len(self._costs))

    def _decisions(self, standing: int) -> FloatArray:
        """What each fix first and the return cost, by fault; where faults are identified, each name."""
        arrays = self._problem.arrays
        if not arrays.identify:
            losses: FloatArray = first_losses(self._problem, standing)
            return losses
        faults = len(arrays.prior)
        names = np.where(np.eye(faults) > 0, 0.0, NEVER * max(arrays.give_up, 1.0))
        return np.concatenate([names, np.full((1, faults), arrays.give_up)])

    def bound(self, prices: FloatArray) -> tuple[float, FloatArray]:
        """The bound at prices ``(F,)``, and how it changes with each of them."""
        law = laws(self._problem, self._state, self._left, prices, LAWS)
        sold = [sales(self._problem, self._state, self._left, mask, prices, law) for mask in self._masks]
        losses = self._costs - np.array([sale for sale, _ in sold])[self._made]
        least = losses.min(axis=0)
        kernel = np.exp((least - losses) / prices)
        weights = self._prior * prices
        best, q = -np.inf, self._q
        for _ in range(ROUNDS):
            mixed = q @ kernel
            value = float(self._prior @ (least - prices * np.log(mixed)))
            lift = kernel @ (weights / mixed)
            best = max(best, value + float(weights.sum() - lift.max()))
            if value - best <= CLOSE * abs(value):
                break
            q = q * lift / weights.sum()
        self._q = 0.999 * q / q.sum() + 0.001 / len(q)  # where the next prices start; none at zero for ever
        nats = -np.log(mixed) + (least - (q @ (kernel * losses)) / mixed) / prices
        told = np.array([slope for _, slope in sold])[self._made]
        return best, self._prior * (nats - (q @ (kernel * told)) / mixed)
