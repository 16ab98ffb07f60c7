"""What a page's script needs to stand beside a technician: a model priced for a shop, and its procedure.

The page form follows from ``model.json``, the shop and ``procedure.json``: counts have become probabilities,
minutes have become money, and equal rows of numbers are written once. ``docs/page-bench.md`` describes every
field.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field, fields
from typing import Any, Final

import numpy as np

from benchlore.model import FloatArray, Gate, Model, Work, pack
from benchlore.procedure import STILL_THERE, Cost, Instance, Kind, Procedure
from benchlore.shop import Shop
from benchlore.units import decimals

FORMAT: Final = "benchlore-page-bench"
VERSION: Final = 1

MOST_SETUPS: Final = 31
"""Sets of setups are bit masks, and a script's are of 32 bits with a sign."""


DIGITS: Final = 14
"""Significant digits of the page's numbers."""


class TooManySetupsError(Exception):
    """A board has more setups than a page's script can keep apart."""

    def __init__(self, count: int) -> None:
        super().__init__(
            f"a page's bench knows at most {MOST_SETUPS} setups, and this board has {count}; "
            "the page is published without it"
        )
        self.count = count


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
        """Give the places of a table's rows."""
        return [self.place(row) for row in table]


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

    Raises
    ------
    TooManySetupsError
        If the board has more setups than a script can keep apart.
    """
    if len(model.setups) > MOST_SETUPS:
        raise TooManySetupsError(len(model.setups))
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
            {"name": setup.name, "title": setup.title, "needs": priced.needs, "cost": _cost(priced.cost)}
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
    short: dict[str, Any] = _short(data | {"rows": rows.rows})
    return short


def _faults(model: Model) -> list[dict[str, Any]]:
    columns = (model.fault_probabilities.tolist(), model.detects.tolist(), model.every.tolist())
    return [
        {"name": name, "title": title, "prior": prior, "detects": detects, "every": every}
        for name, title, prior, detects, every in zip(model.faults, model.fault_titles, *columns, strict=True)
    ]


def _check(model: Model, instance: Instance, index: int, rows: _Rows) -> dict[str, Any]:
    check, priced = model.checks[index], instance.checks[index]
    return {
        "name": check.name,
        "title": check.title,
        "condition": check.condition,
        "results": list(check.results),
        "rows": rows.places(check.probabilities),
        "cost": _cost(priced.cost),
        "setups": priced.setups,
        "equipment": _equipment(model, check.work),
        "gates": _gates(check.gates),
        "numbers": _numbers(model, index),
    }


def _numbers(model: Model, index: int) -> dict[str, Any] | None:
    """The densities of a numeric check as the kernels see them; a logarithm of nothing is ``null``."""
    check = model.checks[index]
    if (densities := check.densities) is None:
        return None
    packed, states = pack(model), len(check.counts)
    return {
        "measure": densities.measure.value,
        "log_normal": densities.log_normal,
        "student": [_finite(row[:states]) for row in packed.student[index]],
        "log_number": _finite(packed.log_number[index, :states]),
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
        found.append(
            {
                "name": fix.name,
                "title": fix.title,
                "cures": rows.place(fix.cure_probabilities),
                "cost": cost,
                "retests": [each.cost.retest for each in variants],
                "setups": variants[0].setups,
                "equipment": _equipment(model, fix.work),
                "gates": _gates(fix.gates),
            }
        )
    return found


def _soaks(instance: Instance, rows: _Rows) -> list[dict[str, Any]]:
    """The soaks that each fix can have, in the order of its variants."""
    if not instance.fixes:
        return []
    first = instance.fixes[0].name
    variants = [each for each in instance.fixes if each.name == first]
    return [{"minutes": each.soak, "detects": rows.place(each.detects)} for each in variants]


def _plan(plan: Procedure, model: Model, instance: Instance) -> list[list[Any]]:
    """The steps of a procedure, without what the engine computes anew, each as a list.

    That is its action (checks first, then fixes; -1 is the return), its soak, the setups to make now (a
    mask), the expected cost from there, and where its results lead, in their own order.
    """
    names = [*(check.name for check in model.checks), *(fix.name for fix in model.fixes)]
    setups = {setup.name: 1 << k for k, setup in enumerate(instance.setups)}
    checks, steps = len(model.checks), []
    for step in plan.steps:
        action, results = -1, list[str]()
        if step.kind is Kind.CHECK:
            action = names.index(step.action)
            results = list(model.checks[action].results)
        elif step.kind is Kind.FIX:
            action, results = names.index(step.action, checks), [STILL_THERE]
        made = sum(setups[name] for name in step.setups)
        to = [step.branches[result] for result in results]
        steps.append([action, step.soak, made, _short(step.expected), to])
    return steps


def _short(value: Any) -> Any:
    """Write numbers to fourteen digits, in whatever lists and fields they stand: that is enough by far."""
    if isinstance(value, float):
        rounded = float(f"{value:.{DIGITS}g}")
        return int(rounded) if rounded.is_integer() and abs(rounded) < 1e15 else rounded
    if isinstance(value, dict):
        return {name: _short(each) for name, each in value.items()}
    return [_short(each) for each in value] if isinstance(value, list) else value


def _cost(cost: Cost) -> dict[str, float]:
    """A cost's parts that are not zero."""
    return {each.name: part for each in fields(cost) if (part := getattr(cost, each.name))}


def _gates(gates: Sequence[Gate]) -> list[dict[str, Any]]:
    return [
        {"check": gate.check, "results": list(gate.results), "state": gate.state, "negated": gate.negated}
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
