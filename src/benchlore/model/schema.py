"""The JSON form of a model: its fields, and what must fit together."""

from collections.abc import Iterable, Iterator, Sequence
from typing import Annotated, Literal, TypeAlias

from pydantic import BaseModel, ConfigDict, Field

from benchlore.units import Measure

FORMAT = "benchlore-model"
VERSION = 1

Number: TypeAlias = Annotated[float, Field(allow_inf_nan=False)]
Count: TypeAlias = Annotated[float, Field(ge=0, allow_inf_nan=False)]
Positive: TypeAlias = Annotated[float, Field(gt=0, allow_inf_nan=False)]
Probability: TypeAlias = Annotated[float, Field(ge=0, le=1)]
Place: TypeAlias = Annotated[int, Field(ge=0)]
Name: TypeAlias = Annotated[str, Field(min_length=1)]


class _Data(BaseModel):
    model_config = ConfigDict(strict=True, extra="forbid", frozen=True)


class WorkData(_Data):
    """What a setup, check or fix asks."""

    takes: Count
    waits: Count
    ruins: Probability
    setups: list[Place]
    equipment: list[Name]


class FaultData(_Data):
    """One fault: its prior count, how likely a retest is to show it, and minutes between events."""

    name: Name
    title: str
    prior: Count
    detects: Probability
    every: Count


class SetupData(_Data):
    """One bench state."""

    name: Name
    title: str
    work: WorkData


class ConditionData(_Data):
    """One condition; ``counts`` has a row for each fault and a column for each state."""

    name: Name
    title: str
    states: Annotated[list[Name], Field(min_length=1)]
    counts: list[list[Count]]


class GateData(_Data):
    """What must have been read before."""

    check: Place
    results: list[Place]
    state: Place | None
    negated: bool


class NumbersData(_Data):
    """What a numeric check shows: normal-inverse-gamma counts of each state, blunders, and bands."""

    measure: Literal[tuple(Measure)]  # type: ignore[valid-type]  # the values of an enumeration
    log_normal: bool
    mean: list[Number]
    kappa: list[Positive]
    shape: list[Positive]
    scale: list[Positive]
    over: list[Annotated[list[Count], Field(min_length=2, max_length=2)]]
    slip: Annotated[float, Field(gt=0, lt=1)]
    slip_mean: Number
    slip_sd: Positive
    edges: list[Number]
    has_over_range: bool


class CheckData(_Data):
    """One check; ``counts`` has a row for each state and a column for each result."""

    name: Name
    title: str
    condition: Place
    work: WorkData
    results: Annotated[list[Name], Field(min_length=1)]
    counts: list[list[Count]]
    gates: list[GateData]
    numbers: NumbersData | None


class FixData(_Data):
    """One fix; ``cures`` has [cured, not cured] for each fault."""

    name: Name
    title: str
    work: WorkData
    parts: Count
    cures: list[Annotated[list[Count], Field(min_length=2, max_length=2)]]
    gates: list[GateData]


class ModelData(_Data):
    """A whole model."""

    format: Literal["benchlore-model"]
    version: Literal[1]
    board: Name
    complaint: Name
    title: str
    currency: str
    worth: Count | None
    faults: Annotated[list[FaultData], Field(min_length=1)]
    setups: list[SetupData]
    conditions: list[ConditionData]
    checks: list[CheckData]
    fixes: list[FixData]
    retest: WorkData


def misfits(data: ModelData) -> Iterator[tuple[str, object, str]]:
    """Yield (where, found, expected) for everything that does not fit together."""
    faults = len(data.faults)
    for kind in ("faults", "setups", "conditions", "checks", "fixes"):
        yield from _repeated(kind, [item.name for item in getattr(data, kind)])
    for k, setup in enumerate(data.setups):
        yield from _work_misfits(f"setups[{k}].work", setup.work, data)
    for k, condition in enumerate(data.conditions):
        yield from _repeated(f"conditions[{k}].states", condition.states)
        yield from _table_misfits(f"conditions[{k}].counts", condition.counts, faults, len(condition.states))
    for k, check in enumerate(data.checks):
        yield from _check_misfits(f"checks[{k}]", check, data)
    for k, fix in enumerate(data.fixes):
        yield from _table_misfits(f"fixes[{k}].cures", fix.cures, faults, 2)
        yield from _work_misfits(f"fixes[{k}].work", fix.work, data)
        yield from _gate_misfits(f"fixes[{k}]", fix.gates, data)
    yield from _work_misfits("retest", data.retest, data)


def _repeated(where: str, names: Sequence[str]) -> Iterator[tuple[str, object, str]]:
    for k, name in enumerate(names):
        if name in names[:k]:
            yield f"{where}[{k}]", name, "a name that is not used before"


def _table_misfits(
    where: str, table: Sequence[Sequence[float]], rows: int, columns: int
) -> Iterator[tuple[str, object, str]]:
    if len(table) != rows:
        yield where, f"{len(table)} rows", f"{rows} rows"
    for k, row in enumerate(table):
        if len(row) != columns:
            yield f"{where}[{k}]", f"{len(row)} numbers", f"{columns} numbers"


def _work_misfits(where: str, work: WorkData, data: ModelData) -> Iterator[tuple[str, object, str]]:
    yield from _outside(f"{where}.setups", work.setups, len(data.setups))


def _outside(where: str, places: Iterable[int], length: int) -> Iterator[tuple[str, object, str]]:
    for k, place in enumerate(places):
        if place >= length:
            yield f"{where}[{k}]", place, f"a place below {length}"


def _check_misfits(where: str, check: CheckData, data: ModelData) -> Iterator[tuple[str, object, str]]:
    yield from _work_misfits(f"{where}.work", check.work, data)
    yield from _repeated(f"{where}.results", check.results)
    if check.condition >= len(data.conditions):
        yield f"{where}.condition", check.condition, f"a place below {len(data.conditions)}"
        return
    states = len(data.conditions[check.condition].states)
    yield from _table_misfits(f"{where}.counts", check.counts, states, len(check.results))
    yield from _gate_misfits(where, check.gates, data)
    if check.numbers is not None:
        yield from _number_misfits(f"{where}.numbers", check.numbers, states, len(check.results))


def _number_misfits(
    where: str, numbers: NumbersData, states: int, results: int
) -> Iterator[tuple[str, object, str]]:
    for name in ("mean", "kappa", "shape", "scale", "over"):
        if len(row := getattr(numbers, name)) != states:
            yield f"{where}.{name}", f"{len(row)} rows", f"{states}, one for each state"
    edges = numbers.edges
    wanted = results - 1 - numbers.has_over_range
    if len(edges) != wanted:
        yield f"{where}.edges", f"{len(edges)} edges", f"{wanted}, one between any two bands"
    for k in range(1, len(edges)):
        if edges[k] <= edges[k - 1]:
            yield f"{where}.edges[{k}]", edges[k], f"more than {edges[k - 1]}"


def _gate_misfits(
    where: str, gates: Sequence[GateData], data: ModelData
) -> Iterator[tuple[str, object, str]]:
    for k, gate in enumerate(gates):
        place = f"{where}.gates[{k}]"
        if gate.check >= len(data.checks):
            yield f"{place}.check", gate.check, f"a place below {len(data.checks)}"
            continue
        check = data.checks[gate.check]
        yield from _outside(f"{place}.results", gate.results, len(check.results))
        if gate.state is not None:
            yield from _outside(f"{place}.state", [gate.state], len(check.counts))
