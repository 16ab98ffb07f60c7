"""What would have to be true for going on to pay, where returning the board is best: all of it computed."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Final

import numpy as np

from benchlore.model import FloatArray
from benchlore.procedure.advice import Equipped, GoOn, Surer
from benchlore.procedure.expand import TIE
from benchlore.procedure.instance import CheckOption, FixOption, SetupOption
from benchlore.procedure.position import Position, Prepared, equipment_at, position_of, prepare
from benchlore.procedure.pricing import instance_of, menu_of, worth_of
from benchlore.procedure.ranking import give_up_of, ranking_of
from benchlore.procedure.state import Problem, setups_cost
from benchlore.procedure.values import Kind
from benchlore.shop import Shop

FARTHEST: Final = 1024.0
"""Worths up to so many times today's, or an hour's price, are tried."""

CLOSE: Final = 1e-4
"""The break-even worth is found to about this share, from above."""

SAME: Final = 1e-9
"""Of what costs the same up to this share, the first is named: no machine's last digits decide."""

MOST_SETS: Final = 24
"""So many sets of missing equipment are tried, the smallest first."""

LEAP: Final = 4.0
"""How far to go on where the slope says nothing."""

MOST_MENUS: Final = 3
"""Times that the soaks to choose from are chosen anew; one or two do but where two menus take turns."""

MOST_TRIED: Final = 16
"""Steps of Newton's method; three to six are enough but for odd estimates."""


def go_on(position: Position, memory: int) -> GoOn:
    """Work out what would make going on pay; the return must be best at the position."""
    now = worth_of(position.prepared.model, position.prepared.shop)
    return GoOn(now, _worth(position, memory), _surer(position), _equipment(position, memory))


def _worth(position: Position, memory: int) -> float | None:
    """The least worth of a finished repair from which on some action costs less than the return.

    Another worth may call for other soaks: then it is found again with those to choose from.
    """
    prepared, found = position.prepared, list[float]()
    menu = menu_of(prepared.model, prepared.shop)
    priced = _priced(prepared, menu)
    for _ in range(MOST_MENUS):
        worth = _break_even(position, priced, memory, found[-1] if found else priced.today)
        if worth is None:
            return None
        found.append(worth)
        then = menu_of(prepared.model, priced.shop_at(worth))
        if then == menu:
            return worth
        menu, priced = then, _priced(prepared, then)
        position = position_of(priced.prepared, position.situation)
    return max(found[-2:])


def _break_even(position: Position, priced: "_Priced", memory: int, start: float) -> float | None:
    """The worth from which on going on pays, if there is one, with the soaks of the position.

    The search begins at ``start``.

    What a return costs beyond going on is a convex, piecewise linear function of the worth (a minimum of
    costs that are linear in it, taken from one that is), so a few steps of Newton's method find its zero.
    """
    if np.all(position.state.failed):
        return None

    def saved(worth: float) -> float:
        there = replace(position, problem=priced.at(position.problem, worth))
        return give_up_of(there) - float(ranking_of(there, memory).costs.min(initial=np.inf))

    worth, least = (max(each, priced.shop.diagnostic_fee, 1.0) for each in (start, priced.today))
    limit, slope = min(FARTHEST * max(least, priced.shop.hour), priced.most), 0.0
    for _ in range(MOST_TRIED):
        gain = saved(worth)
        if not np.isfinite(gain) or 0 <= gain <= 2 * CLOSE * worth * slope:
            return worth if np.isfinite(gain) else None
        near = worth * (1 + CLOSE / 2)
        slope = (saved(near) - gain) / (near - worth)
        # Far below, the cheapest way on is one check and then the return all the same: no slope to follow.
        worth = LEAP * worth if slope <= CLOSE else worth * (1 + CLOSE) - gain / slope
        if worth > limit:
            return None
    return worth if saved(worth) >= 0 else None


@dataclass(frozen=True, eq=False)
class _Priced:
    """What actions and setups cost at any worth of a finished repair: the risk of ruin is a share of it."""

    prepared: Prepared
    today: float
    check: FloatArray
    fix: FloatArray
    setup: FloatArray

    @property
    def most(self) -> float:
        """The worth above which the shop's own price of a comeback would be less than a return."""
        return np.inf if self.shop.comeback is None else self.shop.comeback + self.shop.diagnostic_fee

    @property
    def shop(self) -> Shop:
        """The shop, at today's worth."""
        return self.prepared.shop

    def shop_at(self, worth: float) -> Shop:
        """Return the shop if a finished repair of this board were worth so much."""
        return _shop_at(self.prepared, worth)

    def at(self, problem: Problem, worth: float) -> Problem:
        """Return the problem at another worth."""
        arrays, more = problem.arrays, worth - self.today
        setups = np.zeros(1)
        setup_cost = arrays.setup_cost + more * self.setup
        for cost in setup_cost if len(problem.setups) > 1 else ():
            setups = np.concatenate([setups, setups + cost])
        return problem._replace(
            setups=setups,
            arrays=arrays._replace(
                check_cost=arrays.check_cost + more * self.check,
                fix_cost=arrays.fix_cost + more * self.fix,
                setup_cost=setup_cost,
                give_up=max(0.0, worth - self.shop.diagnostic_fee),
                comeback=worth + self.shop.hour if self.shop.comeback is None else self.shop.comeback,
            ),
        )


@lru_cache(maxsize=8)
def _priced(prepared: Prepared, menu: tuple[float, ...]) -> _Priced:
    """Price once more at another worth, with the same choice of soaks: all is linear in it."""
    shop = prepared.shop
    if menu != menu_of(prepared.model, shop):
        prepared = prepare(prepared.model, shop, soaks=menu)
    today = worth_of(prepared.model, shop)
    other = today + max(today, 1.0)
    there = replace(_shop_at(prepared, other), comeback=other + shop.hour)
    dearer = instance_of(prepared.model, there, soaks=menu)

    def slope(
        then: Sequence[CheckOption | FixOption | SetupOption],
        now: Sequence[CheckOption | FixOption | SetupOption],
    ) -> FloatArray:
        both = zip(then, now, strict=True)
        return np.array([a.cost.total - b.cost.total for a, b in both], dtype=float) / (other - today)

    now = prepared.instance
    return _Priced(
        prepared,
        today,
        slope(dearer.checks, now.checks),
        slope(dearer.fixes, now.fixes),
        slope(dearer.setups, now.setups),
    )


def _shop_at(prepared: Prepared, worth: float) -> Shop:
    return replace(prepared.shop, worth={**prepared.shop.worth, prepared.model.board: worth})


def _surer(position: Position) -> Surer | None:
    """The suspect whose chance would have to rise least for its fix to pay, with a return if it fails.

    The cost of a fix and then the return is linear in the chance, the others keeping their proportions.
    """
    arrays, state, checks = position.problem.arrays, position.state, len(position.state.digits)
    ready = [a for a in np.flatnonzero(~state.failed).tolist() if not position.waits.get(checks + a)]
    if not ready:
        return None
    belief = state.b / state.b.sum()
    missing = (arrays.fix_setups[ready] & ~state.standing).tolist()
    own = arrays.fix_cost[ready] + [float(setups_cost(position.problem, mask)) for mask in missing]
    missed = arrays.missed[ready]
    caught = missed * arrays.detects[ready]
    after = (missed - caught) * arrays.comeback + caught * arrays.give_up
    with np.errstate(divide="ignore", invalid="ignore"):
        others = ((after @ belief)[:, None] - belief * after) / (1 - belief)
        needed = (own[:, None] + others - arrays.give_up) / (others - after)
    may = (missed < 1) & (belief > 0) & (belief < 1) & (own[:, None] + after < arrays.give_up)
    rise = np.where(may & (others > after) & (needed > belief), needed - belief, np.inf)
    fix, fault = np.unravel_index(int(np.argmin(rise)), rise.shape)
    if not np.isfinite(rise[fix, fault]):
        return None
    name = position.prepared.options[checks + ready[int(fix)]].name
    faults = position.prepared.instance.faults
    return Surer(faults[int(fault)], name, float(belief[fault]), float(needed[fix, fault]))


def _equipment(position: Position, memory: int) -> tuple[Equipped, ...]:
    """Missing equipment with which something pays, the best first: one piece, or the fewest that do."""
    prepared, found = position.prepared, list[Equipped]()
    here = equipment_at(prepared, position.situation)
    for tried, names in enumerate(prepared.lacking_with(here)):
        if tried >= MOST_SETS or (found and len(names) > len(found[0].equipment)):
            break
        there = position.equipped(here | {*names})
        costs = ranking_of(there, memory).costs
        if len(costs) and costs.min() < give_up_of(there) * (1 - TIE):
            option = prepared.options[int(np.argmax(costs <= costs.min() * (1 + SAME)))]
            kind = Kind.CHECK if isinstance(option, CheckOption) else Kind.FIX
            found.append(Equipped(names, kind, option.name, float(costs.min())))
    return tuple(sorted(found, key=lambda each: (each.expected, each.equipment)))
