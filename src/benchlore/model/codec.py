"""Models as JSON data, and back, without losing a bit; ``docs/model.md`` describes every field.

Floats are written by ``repr``, so they come back exactly. Every number in the data is finite. Data is
checked completely before a model is made of it.
"""

from collections.abc import Sequence
from typing import Any

from pydantic import ValidationError

from benchlore.model.densities import frozen
from benchlore.model.errors import ModelFormatError
from benchlore.model.schema import (
    FORMAT,
    VERSION,
    CheckData,
    FixData,
    GateData,
    ModelData,
    NumbersData,
    WorkData,
    misfits,
)
from benchlore.model.values import (
    Check,
    Condition,
    Densities,
    Fix,
    Gate,
    Model,
    Setup,
    Work,
)
from benchlore.units import Measure


def to_json(model: Model) -> dict[str, Any]:
    """Return ``model`` as data for :func:`json.dumps`."""
    columns = (model.prior.tolist(), model.detects.tolist(), model.every.tolist())
    faults = zip(model.faults, model.fault_titles, *columns, strict=True)
    return {
        "format": FORMAT,
        "version": VERSION,
        "board": model.board,
        "complaint": model.complaint,
        "title": model.title,
        "currency": model.currency,
        "worth": model.worth,
        "faults": [{"name": n, "title": t, "prior": p, "detects": d, "every": e} for n, t, p, d, e in faults],
        "setups": [{"name": s.name, "title": s.title, "work": _work_data(s.work)} for s in model.setups],
        "conditions": [
            {"name": c.name, "title": c.title, "states": list(c.states), "counts": rows.tolist()}
            for c, rows in zip(model.conditions, model.states, strict=True)
        ],
        "checks": [_check_data(check) for check in model.checks],
        "fixes": [_fix_data(fix) for fix in model.fixes],
        "retest": _work_data(model.retest),
    }


def _work_data(work: Work) -> dict[str, Any]:
    return {
        "takes": work.takes,
        "waits": work.waits,
        "ruins": work.ruins,
        "setups": list(work.setups),
        "equipment": list(work.equipment),
    }


def _gate_data(gate: Gate) -> dict[str, Any]:
    return {"check": gate.check, "results": list(gate.results), "state": gate.state, "negated": gate.negated}


def _check_data(check: Check) -> dict[str, Any]:
    return {
        "name": check.name,
        "title": check.title,
        "condition": check.condition,
        "work": _work_data(check.work),
        "results": list(check.results),
        "counts": check.counts.tolist(),
        "gates": [_gate_data(gate) for gate in check.gates],
        "numbers": None if check.densities is None else _numbers_data(check, check.densities),
    }


def _numbers_data(check: Check, d: Densities) -> dict[str, Any]:
    return {
        "measure": d.measure.value,
        "log_normal": d.log_normal,
        "mean": d.mean.tolist(),
        "kappa": d.kappa.tolist(),
        "shape": d.shape.tolist(),
        "scale": d.scale.tolist(),
        "over": d.over.tolist(),
        "slip": d.slip,
        "slip_mean": d.slip_mean,
        "slip_sd": d.slip_sd,
        "edges": list(check.edges),
        "has_over_range": check.has_over_range,
    }


def _fix_data(fix: Fix) -> dict[str, Any]:
    return {
        "name": fix.name,
        "title": fix.title,
        "work": _work_data(fix.work),
        "parts": fix.parts,
        "cures": fix.cures.tolist(),
        "gates": [_gate_data(gate) for gate in fix.gates],
    }


def from_json(data: object) -> Model:
    """Return the model that ``data`` describes.

    Raises
    ------
    ModelFormatError
        If it describes none; it names the first place that is wrong.
    """
    try:
        parsed = ModelData.model_validate(data)
    except ValidationError as error:
        first = error.errors(include_url=False)[0]
        raise ModelFormatError(_place(first["loc"]), first["input"], _expectation(first["msg"])) from None
    for where, found, expected in misfits(parsed):
        raise ModelFormatError(where, found, expected)
    return _model(parsed)


def _place(loc: Sequence[str | int]) -> str:
    """Write a place as ``checks[3].counts[1]``."""
    text = "".join(f"[{step}]" if isinstance(step, int) else f".{step}" for step in loc)
    return text.removeprefix(".") or "as a whole"


def _expectation(message: str) -> str:
    return message.removeprefix("Input should be ").removeprefix("a valid ")


def _model(data: ModelData) -> Model:
    return Model(
        board=data.board,
        complaint=data.complaint,
        title=data.title,
        currency=data.currency,
        worth=data.worth,
        faults=tuple(fault.name for fault in data.faults),
        fault_titles=tuple(fault.title for fault in data.faults),
        setups=tuple(Setup(setup.name, setup.title, _work(setup.work)) for setup in data.setups),
        conditions=tuple(Condition(c.name, c.title, tuple(c.states)) for c in data.conditions),
        checks=tuple(_check(check) for check in data.checks),
        fixes=tuple(_fix(fix) for fix in data.fixes),
        prior=frozen([fault.prior for fault in data.faults]),
        states=tuple(frozen(condition.counts) for condition in data.conditions),
        retest=_work(data.retest),
        detects=frozen([fault.detects for fault in data.faults]),
        every=frozen([fault.every for fault in data.faults]),
    )


def _work(data: WorkData) -> Work:
    return Work(data.takes, data.waits, data.ruins, tuple(data.setups), tuple(data.equipment))


def _gates(data: Sequence[GateData]) -> tuple[Gate, ...]:
    return tuple(Gate(gate.check, tuple(gate.results), gate.state, gate.negated) for gate in data)


def _check(data: CheckData) -> Check:
    numbers = data.numbers
    return Check(
        name=data.name,
        title=data.title,
        condition=data.condition,
        results=tuple(data.results),
        work=_work(data.work),
        counts=frozen(data.counts),
        gates=_gates(data.gates),
        densities=None if numbers is None else _densities(numbers),
        edges=() if numbers is None else tuple(numbers.edges),
        has_over_range=numbers is not None and numbers.has_over_range,
    )


def _densities(data: NumbersData) -> Densities:
    return Densities(
        measure=Measure(data.measure),
        log_normal=data.log_normal,
        mean=frozen(data.mean),
        kappa=frozen(data.kappa),
        shape=frozen(data.shape),
        scale=frozen(data.scale),
        over=frozen(data.over),
        slip=data.slip,
        slip_mean=data.slip_mean,
        slip_sd=data.slip_sd,
    )


def _fix(data: FixData) -> Fix:
    return Fix(data.name, data.title, _work(data.work), data.parts, frozen(data.cures), _gates(data.gates))
