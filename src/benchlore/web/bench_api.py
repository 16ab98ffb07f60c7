"""What a job's page, or another program, asks for while a job is on the bench."""

from collections.abc import Callable
from datetime import datetime
from typing import Annotated, Final, Literal, TypeAlias

from fastapi import APIRouter, Request
from fastapi.responses import JSONResponse
from pydantic import BaseModel, Field

from benchlore.jobs import EntryKind, Outcome
from benchlore.library import Bench, Close, Counting, JobView, ReadingError, Role, evidence_of
from benchlore.press.scale import scale_of
from benchlore.press.text import quantity
from benchlore.web.access import insist, name_of
from benchlore.web.answers import failing
from benchlore.web.at_desk import desk_of, here
from benchlore.web.bench_job import LATE, WRONG

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


PLAIN: Final = r"^[^\x00]*$"
"""No NUL character: a store cannot keep it."""
Name: TypeAlias = Annotated[
    str,
    Field(
        pattern=PLAIN,
        max_length=200,
        description="Who does it; where people sign in, it is who is signed in.",
    ),
]
Token: TypeAlias = Annotated[
    str,
    Field(min_length=8, max_length=64, description="The sender's own random text: sent twice, stored once."),
]
Ended: TypeAlias = Literal[Outcome.REPAIRED, Outcome.RETURNED, Outcome.RUINED]
Minutes: TypeAlias = Annotated[
    float | None, Field(ge=0, le=10**6, description="In place of the clock's, where given.")
]


class CostAhead(BaseModel):
    """What the rest of a job may cost; nothing but the currency where no step is open."""

    currency: str
    low: float | None = Field(default=None, description="One such job in ten costs less.")
    expected: float | None = None
    high: float | None = Field(default=None, description="One such job in ten costs more.")
    most: float | None = Field(default=None, description="One such job in a hundred costs more.")
    said: str = ""


class Change(BaseModel):
    """What every change of a job says: the place of the last entry that was seen, a token, a name."""

    expected: int = Field(ge=0, lt=2**31)
    token: Token
    by: Name = ""


class NewEntry(Change):
    """An entry to store."""

    kind: EntryKind
    data: dict[str, str | int | float | None] = {}


class Fact(BaseModel):
    """What was asked when the device was taken in: a check and what it showed."""

    check: str = Field(pattern=PLAIN, max_length=200)
    text: str = Field(pattern=PLAIN, max_length=200)


class Came(BaseModel):
    """The recorded job that the device came back from."""

    shop: str = Field(pattern=PLAIN, min_length=1, max_length=200)
    number: str = Field(pattern=PLAIN, min_length=1, max_length=200)


class NewJob(BaseModel):
    """A job to open. `key` is the sender's own random text, and the job's name from then on."""

    board: str = Field(pattern=PLAIN, max_length=200)
    complaint: str = Field(pattern=PLAIN, max_length=200)
    key: str = Field(min_length=8, max_length=64, pattern="^[A-Za-z0-9_-]+$")
    said: str = Field(pattern=PLAIN, default="", max_length=2000, description="What the customer said.")
    device: str = Field(pattern=PLAIN, default="", max_length=200)
    technician: Name = ""
    facts: list[Fact] = Field(default=[], max_length=100)
    comeback_of: Came | None = None
    clock: Counting = Field(default="stopped", description="What time counts as from now on.")


class Ending(Change):
    """How a job ended. `fault` is a fault of the book, 'unlisted' (then `fault_text` says it), or null."""

    outcome: Ended
    fault: str | None = Field(pattern=PLAIN, default=None, max_length=200)
    fault_text: str = Field(pattern=PLAIN, default="", max_length=500)
    notes: str = Field(pattern=PLAIN, default="", max_length=2000)
    hands_on: Minutes = None
    waiting: Minutes = None


CHANGING: Final = (400, 401, 403, 404, 409, 413, 422)


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
        understood=quantity(value, found.densities.measure),
        at=None if scale is None else scale.place(value),
    )


@router.get("/{key}/cost", responses=failing(404, 409, 422), operation_id="cost_range")
def cost(request: Request, key: str) -> CostAhead:
    """Say between what the rest of the job mostly costs; it plans and simulates, so it is asked by itself."""
    desk = desk_of(request)
    found = desk.cost_range(key, here())
    currency = desk.view(key, here()).shop.currency
    if found is None:
        return CostAhead(currency=currency)
    said = f"Eight of ten such jobs cost {found.low:,.0f} to {found.high:,.0f} {currency} from here."
    return CostAhead(
        currency=currency,
        low=found.low,
        expected=found.expected,
        high=found.high,
        most=found.most,
        said=said,
    )


@router.post(
    "",
    responses=failing(*CHANGING),
    status_code=201,
    response_model=OnBench,
    operation_id="start_job",
)
def start(request: Request, job: NewJob) -> OnBench | JSONResponse:
    """Open a job; it is on disk when this answers. Sent twice with one key it is one job."""
    desk, who = desk_of(request), name_of(request)
    came = None if job.comeback_of is None else (job.comeback_of.shop, job.comeback_of.number)

    def opened() -> JobView:
        desk.start(
            job.board,
            job.complaint,
            now=here(),
            said=job.said,
            technician=job.technician or who,
            device=job.device,
            facts=[(fact.check, fact.text) for fact in job.facts],
            comeback_of=came,
            key=job.key,
            by=who or None,
            clock=job.clock,
        )
        return desk.view(job.key, here())

    return _answered(opened)


@router.post(
    "/{key}/entries",
    responses=failing(*CHANGING),
    status_code=201,
    response_model=OnBench,
    operation_id="enter",
)
def enter(request: Request, key: str, entry: NewEntry) -> OnBench | JSONResponse:
    """Store an entry; it is on disk when this answers. `reopen` needs the role steward."""
    if entry.kind is EntryKind.REOPEN:
        return reopen(request, key, entry)
    desk, by = desk_of(request), name_of(request, entry.by)
    return _answered(
        lambda: desk.enter(
            key, entry.kind, entry.data, expected=entry.expected, token=entry.token, by=by, now=here()
        )
    )


@router.post(
    "/{key}/close",
    responses=failing(*CHANGING),
    response_model=OnBench,
    operation_id="close_job",
)
def close(request: Request, key: str, ending: Ending) -> OnBench | JSONResponse:
    """Finish a job: its record is evidence from then on."""
    desk, by = desk_of(request), name_of(request, ending.by)
    ended = Close(
        ending.outcome, ending.fault, ending.fault_text, ending.notes, ending.hands_on, ending.waiting
    )
    return _answered(
        lambda: desk.close(key, ended, expected=ending.expected, token=ending.token, by=by, now=here())
    )


@router.post(
    "/{key}/reopen",
    responses=failing(*CHANGING),
    response_model=OnBench,
    operation_id="reopen_job",
)
def reopen(request: Request, key: str, change: Change) -> OnBench | JSONResponse:
    """Go on with a closed job: nothing learns from its record until it is closed again. Needs a steward."""
    insist(request, Role.STEWARD)
    desk, by = desk_of(request), name_of(request, change.by)
    return _answered(
        lambda: desk.reopen(key, expected=change.expected, token=change.token, by=by, now=here())
    )


def _answered(work: Callable[[], JobView]) -> OnBench | JSONResponse:
    """Do something to a job; what others did meanwhile is 409, what cannot be stored as it was sent 422."""
    try:
        return _on_bench(work())
    except (*LATE, *WRONG) as error:
        status = 409 if isinstance(error, LATE) else 422
        return JSONResponse({"error": {"kind": type(error).__name__, "message": _sayable(error)}}, status)


def _sayable(error: Exception) -> str:
    """A message as JSON can carry it: a lone half of a character is none."""
    return str(error).encode("utf-8", "replace").decode()
