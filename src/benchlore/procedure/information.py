"""A lower bound: information about the fault at a price.

Let a job buy information about its fault ``f``, in any form, at ``lam_f`` a nat; what the checks can sell
beyond their cost (:mod:`benchlore.procedure.sales`) is taken off beforehand. A decision ``d`` is the setups
made for checks and the fix that ends the search, or the return. ``L(d, f)`` is what decision and rest cost at
least, sales taken off. Under the reference law of results a policy takes ``d`` with some probability ``q_d``,
the same for all faults, and by the data-processing inequality a job with fault ``f`` that decides otherwise
has paid for the relative entropy. So no policy costs less than

``min_q sum_f prior_f * -lam_f log sum_d q_d exp(-L(d, f) / lam_f)``.

Which fix ends the search? Two answers are tried, and the one that gives more is kept. Either the first: after
it failed the fault is told. Or the first that can cure the fault, which is told where that one fails; a fix
that cannot cure it and fails is evidence like a result, and sells what it tells
(:mod:`benchlore.procedure.tries`).

With one price that is a rate-distortion problem (Blahut, "Computation of channel capacity and rate-distortion
functions", IEEE Transactions on Information Theory 18, 1972; Cover & Thomas, "Elements of Information
Theory", section 10.8); prices may differ between faults because each keeps its own account. The sum is convex
in ``q``: its slope at any ``q`` gives a bound that holds for all, and that is what is returned.
"""

from collections.abc import Iterator
from itertools import islice
from typing import Final, NamedTuple

import numpy as np

from benchlore.model import FloatArray
from benchlore.procedure.arrays import BoolArray
from benchlore.procedure.sales import expected_laws, first_sales, laws, open_checks, sales, sets_made
from benchlore.procedure.state import Problem, first_state, setups_cost
from benchlore.procedure.told import first_losses
from benchlore.procedure.tries import Sales as TriesSales
from benchlore.procedure.tries import Tries

UNIFORM: Final = 16
"""Prices tried first, the same for all faults."""

LOWEST: Final = 1e-3
"""The lowest of them, as a share of the dearest thing in the problem, which is the highest."""

BELOW: Final = 0.1
"""It is at most this share of the cheapest check's cost: at some price nothing is sold."""

BEYOND: Final = 10.0
"""How many times lower or higher than these the price of a fault may go; more would only round worse."""

STEPS: Final = 50
"""Steps that then move all terms."""

PATIENT: Final = 200
"""Steps where one market's prices are wanted for all that follows."""

PACE: Final = 10
"""Steps between two that are told of."""

BLUR: Final = (0.5, 0.01)
"""How much what wrong fixes sell is smoothed, first and last: in shares of a mean fix, for each fix."""

NEAR: Final = 0.05
"""Share of the better way's bound up to which the other one is followed too."""

ROUNDS: Final = 60
"""Rounds of the minimisation at each price; fewer only loosen the bound."""

AGAIN: Final = 5
"""How many times as many where its certificate is wanted, once."""

LAWS: Final = 30
"""Rounds in which the reference law of each condition is sought anew."""

MORE_LAWS: Final = 6
"""Rounds in which it follows when prices move."""

SETTLED: Final = 40
"""Rounds that count as having gone before those; with longer steps it swings about the best law."""

CLOSE: Final = 2e-4
"""Relative distance of the minimisation to its certificate at which it stops."""

NEVER: Final = 1e3
"""Cost, in returns, of what cannot end a search, and of naming a wrong fault: more than any way out."""


def price_of_information(problem: Problem) -> Iterator[float]:
    """Yield the bound times the total of the prior, at the best prices found so far, as it rises."""
    total = float(problem.arrays.prior.sum())
    for market in _markets(problem, STEPS):
        yield total * market.best


def best_market(problem: Problem) -> "Market":
    """The market whose prices give that bound, or a little more: they are sought for longer."""
    return list(_markets(problem, PATIENT))[-1]


def _markets(problem: Problem, steps: int) -> Iterator["Market"]:
    """Yield the best market so far, again and again as its prices improve."""
    checks = Checks(problem)
    markets = [
        Market(checks, untold=untold) for untold in ((False,) if problem.arrays.identify else (False, True))
    ]
    for price in checks.single_prices():
        law = checks.law_at(np.full(len(problem.arrays.prior), price))
        for market in markets:
            market.begin(price, law)
    best = max(markets, key=_best)
    yield best
    enough = best.best - NEAR * abs(best.best)
    for market in markets:
        if market.best >= enough:
            for _ in _ascended(market, steps):
                yield max(markets, key=_best)


def _best(market: "Market") -> float:
    return market.best


def _ascended(market: "Market", steps: int) -> Iterator[None]:
    """Move each term with the sign of its slope, in steps that grow while it stays (Riedmiller 1993)."""
    terms = market.terms
    step, last, farthest = np.full(len(terms), 0.2), np.zeros(len(terms)), np.log(BEYOND / LOWEST)
    lowest, highest = terms - farthest, terms + farthest
    for blurs in np.geomspace(*BLUR, steps).reshape(-1, PACE).tolist():
        for blur in blurs:
            slope = market.bound(terms, blur)[1]
            step = np.clip(step * np.where(slope * last > 0, 1.2, 0.5), 0.003, 0.4)
            terms = np.clip(terms + np.sign(slope) * step, lowest, highest)
            last = slope
        yield


class Dual(NamedTuple):
    """The prices of a market, and what they say of any belief ``b`` and not only of the prior.

    With ``price (F,)`` for a nat and ``worth (F,)`` no policy that starts at ``b`` costs less than
    ``sum_f b_f (worth_f - price_f log(b_f price_f / sum_k b_k price_k))``. ``law (G, S)`` is the reference
    law of states, ``firsts (F, 2, C)`` what checks sell under it, ``tried (X, F)`` what trying a fix sells to
    the faults that it cannot cure; ``tells (X, F)`` says which faults are told once a fix has failed.
    """

    price: FloatArray
    worth: FloatArray
    law: FloatArray
    firsts: FloatArray
    tried: FloatArray
    tells: BoolArray


class Checks:
    """What checks sell, for each set of setups made for them; ``masks`` are those sets, from ``start`` on."""

    def __init__(self, problem: Problem) -> None:
        arrays = problem.arrays
        self.problem = problem
        self._state = first_state(arrays)
        self._left = open_checks(arrays, self._state.digits)
        sets = sets_made(arrays, self._left, arrays.standing)
        every = (1 << len(arrays.setup_cost)) - 1
        self.masks: list[int] = sets.tolist() or [every]
        self.start = arrays.standing if len(sets) else every

    def single_prices(self) -> list[float]:
        """Prices that are tried for all faults alike."""
        arrays = self.problem.arrays
        dearest = max(arrays.give_up, float(arrays.check_cost.max(initial=0.0)), 1e-9)
        cheapest = float(arrays.check_cost[arrays.check_cost > 0].min(initial=dearest))
        lowest = min(LOWEST * dearest, BELOW * cheapest)
        prices: list[float] = np.geomspace(lowest, dearest, UNIFORM).tolist()
        return prices

    def law_at(self, prices: FloatArray, before: FloatArray | None = None) -> FloatArray:
        """A reference law for prices ``(F,)``, ``(G, S)``; it follows the one ``before``, if there is one."""
        rounds, settled = (LAWS, 0) if before is None else (MORE_LAWS, SETTLED)
        start = expected_laws(self.problem, self._state) if before is None else before
        law: FloatArray = laws(self.problem, self._state, self._left, prices, start, rounds, settled)
        return law

    def firsts(self, prices: FloatArray, law: FloatArray) -> FloatArray:
        """What each check sells at prices ``(F,)`` under a reference law as the first."""
        firsts: FloatArray = first_sales(self.problem, self._state, self._left, prices, law)
        return firsts

    def sold(self, prices: FloatArray, law: FloatArray) -> tuple[FloatArray, FloatArray]:
        """What is sold at prices ``(F,)``, by set of setups and fault, and its slope in the price."""
        firsts = self.firsts(prices, law)
        sold = [sales(self.problem.arrays, firsts, self._left, mask) for mask in self.masks]
        return np.array([sale for sale, _ in sold]), np.array([slope for _, slope in sold])


class Market:
    """All decisions ``D``: what each costs a job by fault, and which sales it goes with.

    ``untold`` lets jobs go on untold after a fix that cannot cure their fault. ``costs (D, F)`` are without
    sales; ``made (D,)`` numbers the set of setups in ``masks`` that limits them, ``ends (D,)`` the fix.
    ``best`` is the best bound so far, at ``terms``: the price's logarithm for each fault, and logits of how
    often fixes go on where they count.
    """

    def __init__(self, checks: Checks, *, untold: bool) -> None:
        problem, arrays = checks.problem, checks.problem.arrays
        self.problem, self.masks, self.start = problem, checks.masks, checks.start
        self._checks = checks
        self._prior = arrays.prior / arrays.prior.sum()
        self._tries = Tries(arrays) if untold else None
        self._blur = max(arrays.fix_cost.sum(), 1e-9) / max(1, len(arrays.fix_cost)) ** 2
        rows = [self._decisions(mask) + setups_cost(problem, mask & ~checks.start) for mask in checks.masks]
        self._costs = np.concatenate(rows)
        self._made = np.repeat(np.arange(len(rows)), [len(row) for row in rows])
        self._ends = np.tile(np.arange(len(rows[0])), len(rows))
        self._q = np.full(len(self._costs), 1.0 / len(self._costs))
        self.best, self.terms, self._blurred = -np.inf, np.zeros(0), BLUR[1]
        self._law = self._last = np.zeros((0, 0))

    def _decisions(self, standing: int) -> FloatArray:
        """What each last fix and the return cost, by fault; where faults are identified, each name."""
        arrays = self.problem.arrays
        never = NEVER * max(arrays.give_up, 1.0)
        if arrays.identify:
            names = np.where(np.eye(len(arrays.prior)) > 0, 0.0, never)
            return np.concatenate([names, np.full((1, len(arrays.prior)), arrays.give_up)])
        losses: FloatArray = first_losses(self.problem, standing)
        if self._tries is not None:
            losses[:-1] = self._tries.ending(losses[:-1], never)
        return losses

    def begin(self, price: float, law: FloatArray) -> None:
        """Try one price for all faults under a reference law; keep its terms if the bound is the best."""
        terms = np.full(len(self._prior), np.log(price))
        if self._tries is not None:
            going = self._tries.going_at(price)
            terms = np.concatenate([terms, np.log(going / (1.0 - going))])
        self._keep(self._bound(terms, BLUR[1], law)[0], terms, BLUR[1], law)
        self._last = self._law

    def bound(self, terms: FloatArray, blur: float) -> tuple[float, FloatArray]:
        """The bound at some terms, and how it changes with each of them."""
        self._last = self._checks.law_at(np.exp(terms[: len(self._prior)]), self._last)
        value, slope = self._bound(terms, blur, self._last)
        self._keep(value, terms, blur, self._last)
        return value, slope

    def dual(self) -> Dual:
        """What the best terms say of other beliefs."""
        prices = np.exp(self.terms[: len(self._prior)])
        firsts = self._checks.firsts(prices, self._law)
        losses = self._costs - self._checks.sold(prices, self._law)[0][self._made]
        groups = (int(self.problem.arrays.fix_group.max(initial=-1)) + 1, len(prices))
        tried, tells = np.zeros(groups), np.ones(groups, dtype=np.bool_)
        if (tries := self._tried(self.terms, self._blurred)) is not None:
            losses -= tries.off[self._ends]
            tried = tries.tried
            np.logical_and.at(tells, self.problem.arrays.fix_group, self.problem.arrays.missed < 1.0)
        return Dual(prices, self._worth(losses, prices), self._law, firsts, tried, tells)

    def _keep(self, value: float, terms: FloatArray, blur: float, law: FloatArray) -> None:
        if value > self.best:
            self.best, self.terms, self._blurred, self._law = value, terms, blur, law

    def _tried(self, terms: FloatArray, blur: float) -> TriesSales | None:
        """What wrong fixes sell at some terms, if they do."""
        if self._tries is None:
            return None
        faults = len(self._prior)
        going = 1.0 / (1.0 + np.exp(-terms[faults:]))
        return self._tries.sales(np.exp(terms[:faults]), going, blur * self._blur)

    def _bound(self, terms: FloatArray, blur: float, law: FloatArray) -> tuple[float, FloatArray]:
        faults = len(self._prior)
        prices, going = np.exp(terms[:faults]), 1.0 / (1.0 + np.exp(-terms[faults:]))
        off, slopes = (part[self._made] for part in self._checks.sold(prices, law))
        tries = self._tried(terms, blur)
        if self._tries is None or tries is None:
            best, chosen, nats = self._minimised(self._costs - off, prices)
            return best, self._prior * prices * (nats - (chosen * slopes).sum(axis=0))
        slopes = slopes + tries.slope[self._ends]
        best, chosen, nats = self._minimised(self._costs - off - tries.off[self._ends], prices)
        weights = self._prior * prices
        slope = weights * (nats - (chosen * slopes).sum(axis=0))
        return best, np.append(slope, self._tries.going_slope(tries, weights * chosen, self._ends, going))

    def _worth(self, losses: FloatArray, prices: FloatArray) -> FloatArray:
        """What each fault is worth at least, ``(F,)``: see :class:`Dual`.

        With ``y`` such that ``sum_f y_f exp(-L(d, f) / lam_f) <= 1`` for every decision ``d``, that is
        ``lam_f log y_f`` (the tangent of the sum that is minimised, at its best scale).
        """
        least: FloatArray = losses.min(axis=0)
        kernel = np.exp((least - losses) / prices)
        weights = self._prior * prices
        best, worth = -np.inf, least
        for _, mixed, lift in islice(self._laws(kernel, weights), AGAIN * ROUNDS):
            scaled = least + prices * np.log(weights / (mixed * lift.max()))
            value = float(self._prior @ scaled)
            if value > best:
                best, worth = value, scaled
        return worth

    def _laws(
        self, kernel: FloatArray, weights: FloatArray
    ) -> Iterator[tuple[FloatArray, FloatArray, FloatArray]]:
        """Laws ``q (D,)``, each better than the last; what it mixes, ``(F,)``; what lifts it, ``(D,)``."""
        q = self._q
        while True:
            mixed = q @ kernel
            lift = kernel @ (weights / mixed)
            yield q, mixed, lift
            q = q * lift / weights.sum()

    def _minimised(self, losses: FloatArray, prices: FloatArray) -> tuple[float, FloatArray, FloatArray]:
        """The least over laws ``q`` of decisions, from below; how each fault decides, and its nats."""
        least = losses.min(axis=0)
        kernel = np.exp((least - losses) / prices)
        weights = self._prior * prices
        best = -np.inf
        for q, mixed, lift in islice(self._laws(kernel, weights), ROUNDS):
            chosen = q[:, None] * kernel / mixed
            value = float(self._prior @ (least - prices * np.log(mixed)))
            best = max(best, value + float(weights.sum() - lift.max()))
            if value - best <= CLOSE * abs(value):
                break
        else:
            q = q * lift / weights.sum()
        self._q = 0.999 * q / q.sum() + 0.001 / len(q)  # where the next terms start; none at zero for ever
        return best, chosen, -np.log(mixed) + (least - (chosen * losses).sum(axis=0)) / prices
