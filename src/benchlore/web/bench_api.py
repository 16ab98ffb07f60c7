"""What a job's page, or another program, asks for while a job is on the bench."""

from datetime import datetime

from fastapi import APIRouter, Request
from fastapi.responses import JSONResponse
from pydantic import BaseModel, Field

from benchlore.jobs import BenchUnstorable, EntryConflict, EntryKind, JobClosed, JobNotClosed
from benchlore.library import Bench, EntryRefusedError, JobView, ReadingError, evidence_of
from benchlore.press.scale import scale_of
from benchlore.units import format_quantity
from benchlore.web.answers import failing
from benchlore.web.at_desk import desk_of, here

router = APIRouter(prefix="/api/bench", tags=["bench"])


class OnBench(BaseModel):
    """A job on the bench."""

    key: str
    number: str
    board: str
    complaint: str
    opened: datetime
    last: int = Field(description="The place of the last entry; send it as `expected`.")
    closed: bool


class Landing(BaseModel):
    """How a reading is understood, and where it lands on the scale, from 0 to 1."""

    understood: str
    at: float | None = None
    error: str = ""


class NewEntry(BaseModel):
    """An entry to store; `token` is the sender's own random text: sent twice, stored once."""

    kind: EntryKind
    data: dict[str, str | int | float | None] = {}
    expected: int = Field(ge=0, lt=2**31)
    token: str = Field(min_length=8, max_length=64)
    by: str = Field(default="", max_length=200)


@router.get("", responses=failing(409))
def open_jobs(request: Request) -> list[OnBench]:
    """List the open jobs, the last touched first."""
    return [
        OnBench(
            key=line.job.key,
            number=line.job.number,
            board=line.job.board,
            complaint=line.job.complaint,
            opened=line.job.opened,
            last=line.last,
            closed=line.job.closed,
        )
        for line in desk_of(request).jobs(here())
    ]


@router.get("/{key}", responses=failing(404, 409, 422))
def one(request: Request, key: str) -> OnBench:
    """Say where a job stands."""
    return _on_bench(desk_of(request).view(key, here()))


def _on_bench(view: JobView) -> OnBench:
    job = view.job
    return OnBench(
        key=job.key,
        number=job.number,
        board=job.board,
        complaint=job.complaint,
        opened=job.opened,
        last=view.last,
        closed=job.closed,
    )


@router.get("/{key}/lands", responses=failing(404, 409, 422))
def lands(request: Request, key: str, check: str, text: str) -> Landing:
    """Say how a reading would be understood; nothing is stored."""
    model = desk_of(request).view(key, here()).model
    try:
        evidence = evidence_of(model, Bench(readings=((check, text),)))
    except ReadingError as error:
        return Landing(understood="", error=str(error))
    if not evidence.values:
        return Landing(understood=text)
    place, value = evidence.values[0]
    found = model.checks[place]
    scale = scale_of(found, model.conditions[found.condition].states)
    assert found.densities is not None
    return Landing(
        understood=format_quantity(value, found.densities.measure),
        at=None if scale is None else scale.place(value),
    )


@router.post(
    "/{key}/entries",
    responses=failing(400, 403, 404, 409, 413, 422),
    status_code=201,
    response_model=OnBench,
)
def enter(request: Request, key: str, entry: NewEntry) -> OnBench | JSONResponse:
    """Store an entry; it is on disk when this answers."""
    desk, last, token, by = desk_of(request), entry.expected, entry.token, entry.by
    try:
        if entry.kind is EntryKind.REOPEN:
            view = desk.reopen(key, expected=last, token=token, by=by, now=here())
        else:
            view = desk.enter(key, entry.kind, entry.data, expected=last, token=token, by=by, now=here())
    except (
        EntryConflict,
        JobClosed,
        JobNotClosed,
        EntryRefusedError,
        ReadingError,
        BenchUnstorable,
    ) as error:
        status = 409 if isinstance(error, EntryConflict | JobClosed | JobNotClosed) else 422
        return JSONResponse({"error": {"kind": type(error).__name__, "message": str(error)}}, status)
    return _on_bench(view)
