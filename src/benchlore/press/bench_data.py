"""What a page's script needs to stand beside a technician: a model priced for a shop, and its procedure.

The page form follows from ``model.json``, the shop and ``procedure.json``: counts have become probabilities,
minutes have become money, and equal rows of numbers are written once. A page is read over slow lines, so what
is empty is left out, and so is the largest number of a row that sums to one. ``docs/page-bench.md`` describes
every field.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field, fields
from typing import Any, Final

import numpy as np

from benchlore.model import FloatArray, Gate, Model, Work, pack
from benchlore.procedure import RELEASE, STILL_THERE, Cost, Instance, Kind, Procedure, Step
from benchlore.shop import Shop
from benchlore.units import decimals

FORMAT: Final = "benchlore-page-bench"
VERSION: Final = 2

DIGITS: Final = 12
"""Significant digits of the page's numbers: what follows from them holds to nine."""

MOST_STEPS: Final = 500
"""Steps of a procedure that a page holds; where a job leaves them, the script ranks by itself."""

LEFT_OUT: Final = -1

EXPECTED_DIGITS: Final = 10
"""Those of a step's expected cost, from which nothing follows."""

EXACT: Final = 1 << 53
"""Whole numbers below this are exact in a script."""

REST: Final = 2
"""Stands for the number of a row that is what the others leave of one: no probability is so large."""

CLOSE: Final = 1e-11
"""How far that may be from the number that it stands for."""


@dataclass(slots=True)
class _Rows:
    """Rows of numbers, equal ones once."""

    rows: list[list[float]] = field(default_factory=list)
    known: dict[tuple[float, ...], int] = field(default_factory=dict)

    def place(self, row: FloatArray) -> int:
        """Give the place of a row."""
        key = tuple(_short(row.tolist()))
        if key not in self.known:
            self.known[key] = len(self.rows)
            self.rows.append(list(key))
        return self.known[key]

    def places(self, table: FloatArray) -> list[int]:
        """Give the places of a table's rows, each of which sums to one."""
        return [self.place(row) for row in table]

    def written(self) -> list[list[float]]:
        """Return the rows as they stand in the page."""
        return [_less_one(row) for row in self.rows]


def _less_one(row: list[float]) -> list[float]:
    """Write :data:`REST` for the largest number of a row where the script finds it again from the others.

    >>> _less_one([0.25, 0.75]), _less_one([0.9, 0.1, 0]), _less_one([1, 1])
    ([0.25, 2], [2, 0.1, 0], [1, 1])
    """
    most = row.index(max(row))
    rest = 1.0
    for k, each in enumerate(row):
        rest -= each if k != most else 0.0
    return [*row[:most], REST, *row[most + 1 :]] if abs(rest - row[most]) <= CLOSE else row


def bench_data(model: Model, shop: Shop, instance: Instance, plan: Procedure | None) -> dict[str, Any]:
    """Return all that the page's engine computes from, as data for :func:`json.dumps`.

    Parameters
    ----------
    model, shop
        The board and the bench.
    instance
        The same, priced.
    plan
        The procedure that was compiled for them, if there is one.
    """
    rows = _Rows()
    data = {
        "format": FORMAT,
        "version": VERSION,
        "board": model.board,
        "complaint": model.complaint,
        "shop": shop.name,
        "currency": shop.currency,
        "decimals": decimals(shop.currency),
        "give_up": instance.give_up,
        "comeback": instance.comeback,
        "equipment": sorted(shop.equipment),
        "faults": _faults(model),
        "setups": [
            _filled(
                {
                    "name": setup.name,
                    "title": setup.title,
                    "needs": _mask(priced.needs),
                    "cost": _cost(priced.cost),
                }
            )
            for setup, priced in zip(model.setups, instance.setups, strict=True)
        ],
        "conditions": [
            {"name": each.name, "states": list(each.states), "rows": rows.places(table)}
            for each, table in zip(model.conditions, model.state_probabilities, strict=True)
        ],
        "checks": [_check(model, instance, c, rows) for c in range(len(model.checks))],
        "fixes": _fixes(model, instance, rows),
        "soaks": _soaks(instance, rows),
        "retest": {
            "takes": model.retest.takes,
            "waits": model.retest.waits,
            "equipment": _equipment(model, model.retest),
        },
        "plan": None if plan is None else _plan(plan, model, instance),
    }
    short: dict[str, Any] = _short(data | {"rows": rows.written()})
    return short


def _filled(data: dict[str, Any]) -> dict[str, Any]:
    """Leave out what is empty: the script knows it."""
    return {name: value for name, value in data.items() if value not in (None, "", 0, [], {})}


def _mask(setups: int) -> int | str:
    """Write a set of setups; what a script's numbers cannot hold is a text of digits."""
    return setups if setups < EXACT else str(setups)


def _faults(model: Model) -> list[dict[str, Any]]:
    columns = (model.fault_probabilities.tolist(), model.detects.tolist(), model.every.tolist())
    return [
        {"name": name, "title": title, "prior": prior, "detects": detects} | _filled({"every": every})
        for name, title, prior, detects, every in zip(model.faults, model.fault_titles, *columns, strict=True)
    ]


def _check(model: Model, instance: Instance, index: int, rows: _Rows) -> dict[str, Any]:
    check, priced = model.checks[index], instance.checks[index]
    filled = {
        "cost": _cost(priced.cost),
        "setups": _mask(priced.setups),
        "equipment": _equipment(model, check.work),
        "gates": _gates(check.gates),
        "numbers": _numbers(model, index),
    }
    return {
        "name": check.name,
        "title": check.title,
        "condition": check.condition,
        "results": list(check.results),
        "rows": rows.places(check.probabilities),
    } | _filled(filled)


STUDENT: Final = (0, 1, 3, 4, 5)
"""Columns of a packed density; the one left out follows from the degrees of freedom."""


def _numbers(model: Model, index: int) -> dict[str, Any] | None:
    """The densities of a numeric check as the kernels see them; a logarithm of nothing is ``null``."""
    check = model.checks[index]
    if (densities := check.densities) is None:
        return None
    packed, states = pack(model), len(check.counts)
    columns = [*(packed.student[index][column] for column in STUDENT), packed.log_number[index]]
    by_state = [_finite(np.array([column[s] for column in columns])) for s in range(states)]
    distinct = [each for s, each in enumerate(by_state) if each not in by_state[:s]]
    return {
        "measure": densities.measure.value,
        "log_normal": densities.log_normal,
        "densities": distinct,
        "states": [distinct.index(each) for each in by_state],
        "slip": packed.slip[index].tolist(),
        "edges": list(check.edges),
        "has_over_range": check.has_over_range,
    }


def _finite(row: FloatArray) -> list[float | None]:
    return [value if np.isfinite(value) else None for value in row.tolist()]


def _fixes(model: Model, instance: Instance, rows: _Rows) -> list[dict[str, Any]]:
    found = []
    for fix in model.fixes:
        variants = [each for each in instance.fixes if each.name == fix.name]
        cost = _cost(variants[0].cost)
        cost.pop("retest", None)
        filled = {
            "cost": cost,
            "setups": _mask(variants[0].setups),
            "equipment": _equipment(model, fix.work),
            "gates": _gates(fix.gates),
        }
        found.append(
            {
                "name": fix.name,
                "title": fix.title,
                "cures": rows.place(fix.cure_probabilities),
                "retests": [each.cost.retest for each in variants],
            }
            | _filled(filled)
        )
    return found


def _soaks(instance: Instance, rows: _Rows) -> list[dict[str, Any]]:
    """The soaks that each fix can have, in the order of its variants."""
    if not instance.fixes:
        return []
    first = instance.fixes[0].name
    variants = [each for each in instance.fixes if each.name == first]
    return [{"minutes": each.soak, "detects": rows.place(each.detects)} for each in variants]


def _plan(plan: Procedure, model: Model, instance: Instance) -> list[Any]:
    """The steps of a procedure, without what the engine computes anew, one behind the other.

    That is its action (checks first, then fixes), the setups to make now (a mask), the expected cost from
    there, of a fix its soak, and how many steps further each of its results leads, in their own order: 0 is
    the release, -1 a step that is left out. A return is -1 alone.
    """
    names = [*(check.name for check in model.checks), *(fix.name for fix in model.fixes)]
    setups = {setup.name: 1 << k for k, setup in enumerate(instance.setups)}
    kept = _most_reached(plan)
    place = {step.number: k for k, step in enumerate(kept)} | {RELEASE: RELEASE}
    checks, written = len(model.checks), list[Any]()
    for here, step in enumerate(kept):
        if step.kind is Kind.RETURN:
            written.append(-1)
            continue
        is_fix = step.kind is Kind.FIX
        action = names.index(step.action, checks) if is_fix else names.index(step.action, 0, checks)
        made = _mask(sum(setups[name] for name in step.setups))
        written += [action, made, _rounded(step.expected, EXPECTED_DIGITS), *([step.soak] if is_fix else [])]
        for result in [STILL_THERE] if is_fix else model.checks[action].results:
            to = place.get(step.branches[result])
            written.append(LEFT_OUT if to is None else 0 if to == RELEASE else to - here)
    return written


def _most_reached(plan: Procedure) -> list[Step]:
    """The steps that most jobs come to, in their own order, the first one with them."""
    ranked = sorted(plan.steps, key=lambda step: (-step.reach, step.number))
    return sorted(ranked[:MOST_STEPS], key=lambda step: step.number)


def _short(value: Any) -> Any:
    """Write numbers to twelve digits, in whatever lists and fields they stand: that is enough by far."""
    if isinstance(value, float):
        return _rounded(value, DIGITS)
    if isinstance(value, dict):
        return {name: _short(each) for name, each in value.items()}
    return [_short(each) for each in value] if isinstance(value, list) else value


def _rounded(value: float, digits: int) -> float:
    rounded = float(f"{value:.{digits}g}")
    return int(rounded) if rounded.is_integer() and abs(rounded) < 1e15 else rounded


def _cost(cost: Cost) -> dict[str, float]:
    """A cost's parts that are not zero."""
    return {each.name: part for each in fields(cost) if (part := getattr(cost, each.name))}


def _gates(gates: Sequence[Gate]) -> list[dict[str, Any]]:
    return [
        {"check": gate.check, "results": list(gate.results)}
        | ({} if gate.state is None else {"state": gate.state, "negated": gate.negated})
        for gate in gates
    ]


def _equipment(model: Model, work: Work) -> list[str]:
    """What some work and all its setups need."""
    needed, waiting = set(work.equipment), [*work.setups]
    seen: set[int] = set()
    while waiting:
        if (setup := waiting.pop()) not in seen:
            seen.add(setup)
            needed |= set(model.setups[setup].work.equipment)
            waiting += model.setups[setup].work.setups
    return sorted(needed)
