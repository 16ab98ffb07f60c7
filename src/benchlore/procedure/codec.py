"""Procedures as JSON data, and back, without losing a bit; ``docs/procedure.md`` describes every field.

Floats are written by ``repr``, so they come back exactly. Data is checked completely before a procedure is
made of it: every branch leads onwards or releases the board, and every result has its chance.
"""

from collections.abc import Iterator, Mapping
from dataclasses import fields
from typing import Annotated, Any, Final, Literal, TypeAlias

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from benchlore.procedure.errors import ProcedureFormatError
from benchlore.procedure.values import RELEASE, Cost, Kind, Procedure, Step

FORMAT: Final = "benchlore-procedure"
VERSION: Final = 1

Amount: TypeAlias = Annotated[float, Field(ge=0, allow_inf_nan=False)]
Probability: TypeAlias = Annotated[float, Field(ge=0, le=1 + 1e-9)]
Name: TypeAlias = Annotated[str, Field(min_length=1)]


class _Data(BaseModel):
    model_config = ConfigDict(strict=True, extra="forbid", frozen=True)


class CostData(_Data):
    """An expected cost, split by cause."""

    hands_on: Amount
    waiting: Amount
    setups: Amount
    parts: Amount
    retest: Amount
    risk: Amount
    comeback: Amount
    lost_worth: Amount


class BranchData(_Data):
    """One result of a step: its chance, and the number of the next step (-1 releases the board)."""

    result: Name
    chance: Probability
    to: Annotated[int, Field(ge=RELEASE)]


class SuspectData(_Data):
    """A fault that may be the cause, and how probable that is here."""

    fault: Name
    probability: Probability


class StepData(_Data):
    """One step; its number is its place in the list."""

    kind: Annotated[Kind, Field(strict=False)]
    action: str
    soak: Amount
    setups: list[Name]
    cost: CostData
    expected: Amount
    reach: Probability
    branches: list[BranchData]
    suspects: list[SuspectData]


class ProcedureData(_Data):
    """A whole procedure."""

    format: Literal["benchlore-procedure"]
    version: Literal[1]
    board: Name
    complaint: Name
    shop: str
    currency: Name
    expected: Amount
    bound: Amount
    proof: Literal["optimal", "bounded"]
    method: str
    bound_method: str
    steps: Annotated[list[StepData], Field(min_length=1)]


def to_json(procedure: Procedure) -> dict[str, Any]:
    """Return ``procedure`` as data for :func:`json.dumps`."""
    return {
        "format": FORMAT,
        "version": VERSION,
        "board": procedure.board,
        "complaint": procedure.complaint,
        "shop": procedure.shop,
        "currency": procedure.currency,
        "expected": procedure.expected,
        "bound": procedure.bound,
        "proof": procedure.proof,
        "method": procedure.method,
        "bound_method": procedure.bound_method,
        "steps": [_step_data(step) for step in procedure.steps],
    }


def _step_data(step: Step) -> dict[str, Any]:
    return {
        "kind": step.kind.value,
        "action": step.action,
        "soak": step.soak,
        "setups": list(step.setups),
        "cost": {field.name: getattr(step.cost, field.name) for field in fields(Cost)},
        "expected": step.expected,
        "reach": step.reach,
        "branches": [
            {"result": result, "chance": step.chances[result], "to": target}
            for result, target in step.branches.items()
        ],
        "suspects": [{"fault": fault, "probability": share} for fault, share in step.suspects],
    }


def from_json(data: object) -> Procedure:
    """Return the procedure that ``data`` describes.

    Raises
    ------
    ProcedureFormatError
        If it describes none; it names the first place that is wrong.
    """
    try:
        parsed = ProcedureData.model_validate(data)
    except ValidationError as error:
        first = error.errors(include_url=False)[0]
        place = ".".join(str(step) for step in first["loc"]) or "as a whole"
        expected = first["msg"].removeprefix("Input should be ")
        raise ProcedureFormatError(place, first["input"], expected) from None
    for where, found, expected in _misfits(parsed.steps):
        raise ProcedureFormatError(where, found, expected)
    return _procedure(parsed)


def _misfits(steps: list[StepData]) -> Iterator[tuple[str, object, str]]:
    """Yield (where, found, expected) for what does not hang together."""
    for number, step in enumerate(steps):
        results = [branch.result for branch in step.branches]
        if len(set(results)) != len(results):
            yield f"steps.{number}.branches", results, "each result once"
        if (step.kind is Kind.RETURN) != (not step.branches):
            yield f"steps.{number}.branches", len(results), "branches, and none after a return"
        for branch in step.branches:
            if branch.to != RELEASE and not number < branch.to < len(steps):
                where = f"steps.{number}.branches.{branch.result}"
                yield where, branch.to, f"a later step (up to {len(steps) - 1}), or {RELEASE}"


def _procedure(data: ProcedureData) -> Procedure:
    return Procedure(
        board=data.board,
        complaint=data.complaint,
        shop=data.shop,
        currency=data.currency,
        steps=tuple(_step(number, step) for number, step in enumerate(data.steps)),
        expected=data.expected,
        bound=data.bound,
        proof=data.proof,
        method=data.method,
        bound_method=data.bound_method,
    )


def _step(number: int, data: StepData) -> Step:
    branches: Mapping[str, int] = {branch.result: branch.to for branch in data.branches}
    return Step(
        number=number,
        kind=data.kind,
        action=data.action,
        setups=tuple(data.setups),
        cost=Cost(**data.cost.model_dump()),
        expected=data.expected,
        reach=data.reach,
        branches=branches,
        chances={branch.result: branch.chance for branch in data.branches},
        suspects=tuple((suspect.fault, suspect.probability) for suspect in data.suspects),
        soak=data.soak,
    )
