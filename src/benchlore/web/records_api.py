"""The recorded jobs as data, under the same functions as their pages."""

import re
from datetime import date, datetime
from typing import Annotated, Literal, TypeAlias

from fastapi import APIRouter, Query, Request
from pydantic import BaseModel, BeforeValidator, Field

from benchlore.jobs import Job, JobLine, Outcome, Retest, Search, Source
from benchlore.jobs.intake import Verdict
from benchlore.library import find_jobs, stored_job
from benchlore.web.answers import failing
from benchlore.web.intake_work import Work
from benchlore.web.jobs import LARGEST_PAGE, named_in
from benchlore.web.uploads import Upload

MOST_ON_A_PAGE = 500

router = APIRouter(prefix="/api", tags=["jobs"])


class JobShort(BaseModel):
    """A job as a line of a list."""

    shop: str
    number: str
    board: str
    complaint: str
    opened: date | None = Field(description="The day; null where nobody noted it.")
    outcome: Outcome
    fault: str | None = Field(description="The confirmed fault, 'unlisted', or null.")
    fault_text: str = Field(description="What the bench wrote of the fault.")
    hands_on: float | None = Field(description="Minutes.")
    waiting: float | None = Field(description="Minutes.")
    comeback: bool | None = Field(description="Null: nobody knows yet.")
    technician: str


class JobPage(BaseModel):
    """A page of the jobs that were asked for."""

    total: int = Field(description="How many jobs were found in all.")
    stored: int = Field(description="How many there are.")
    page: int = Field(description="From 1; a page beyond the last gives the last.")
    pages: int
    outcomes: dict[Outcome, int] = Field(description="How the jobs found ended.")
    jobs: list[JobShort]


class ReadingTold(BaseModel):
    """A reading: a named result, or a value in SI units."""

    check: str
    step: int
    result: str | None
    value: float | None = Field(description="Null where there is none, or it was over range.")
    over_range: bool
    text: str = Field(description="What the bench wrote.")


class AttemptTold(BaseModel):
    """A fix that was tried."""

    fix: str
    step: int
    retest: Retest
    soaked: float | None = Field(
        description="Minutes it ran after the fix, clean or until the complaint showed; null: not recorded."
    )


class SourceTold(BaseModel):
    """A file that a job came from."""

    file: str
    sha256: str
    taken: datetime
    sheet: str | None
    row: int | None


class JobWhole(JobShort):
    """All that is stored of a job."""

    readings: list[ReadingTold]
    attempts: list[AttemptTold]
    notes: str
    extra: dict[str, str]
    sources: list[SourceTold]


def _written_as_day(value: object) -> object:
    """Take a day as ISO 8601 writes it; a number would else count as seconds since 1970."""
    if isinstance(value, str) and not re.fullmatch(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", value):
        raise ValueError("write a day as 2026-11-25")
    return value


Day = Annotated[date, BeforeValidator(_written_as_day)]


@router.get("/jobs", operation_id="list_jobs")
def list_jobs(  # noqa: PLR0913, PLR0917  each is a parameter of the address
    request: Request,
    board: Annotated[str | None, Query(max_length=200)] = None,
    complaint: Annotated[str | None, Query(max_length=200)] = None,
    shop: Annotated[str | None, Query(max_length=200)] = None,
    outcome: Annotated[Outcome | None, Query()] = None,
    fault: Annotated[str | None, Query(max_length=200)] = None,
    confirmed: Annotated[bool | None, Query(description="Whether a fault was confirmed.")] = None,
    since: Annotated[Day | None, Query(description="First day.")] = None,
    until: Annotated[Day | None, Query(description="Last day.")] = None,
    words: Annotated[str, Query(max_length=200, description="In the number or the fault.")] = "",
    page: Annotated[int, Query(ge=1, le=LARGEST_PAGE)] = 1,
    size: Annotated[int, Query(ge=1, le=MOST_ON_A_PAGE)] = 50,
) -> JobPage:
    """Find recorded jobs, newest first."""
    search = Search(board, complaint, shop, outcome, fault, confirmed, since, until, words)
    found = find_jobs(request.app.state.library, search, page=page, size=size)
    return JobPage(
        total=found.total,
        stored=found.stored,
        page=found.page,
        pages=found.pages,
        outcomes=found.outcomes,
        jobs=[JobShort(**_short(line)) for line in found.lines],
    )


@router.get("/jobs/{shop}/{number:path}", operation_id="get_job", responses=failing(404, 409, 422))
def get_job(request: Request, shop: str, number: str) -> JobWhole:  # noqa: ARG001  read from the raw address
    """Return one recorded job; a ``/`` in the shop or the number is written ``%2F``."""
    job, sources = stored_job(request.app.state.library, *named_in(request))
    return JobWhole(
        **_short(job),
        readings=[
            ReadingTold(
                check=each.check,
                step=each.step,
                result=each.result,
                value=None if each.value is None or abs(each.value) == float("inf") else each.value,
                over_range=each.value == float("inf"),
                text=each.text,
            )
            for each in job.readings
        ],
        attempts=[
            AttemptTold(fix=each.fix, step=each.step, retest=each.retest, soaked=each.soaked)
            for each in job.attempts
        ],
        notes=job.notes,
        extra=dict(job.extra),
        sources=[_source(each) for each in sources],
    )


def _short(job: Job | JobLine) -> dict[str, object]:
    return {name: getattr(job, name) for name in JobShort.model_fields}


def _source(source: Source) -> SourceTold:
    place = source.place
    return SourceTold(
        file=source.intake.file,
        sha256=source.intake.sha256,
        taken=source.intake.taken,
        sheet=place.sheet if place else None,
        row=place.row if place else None,
    )


State: TypeAlias = Literal["waiting", "working", "shown", "refused", "failed", "over"]


class IntakeTold(BaseModel):
    """How far an uploaded sheet is."""

    name: str = Field(description="The sheet's name.")
    state: State = Field(
        description="'shown': a preview is there; 'refused': the mapping has problems; 'over': all is taken."
    )
    stage: str = Field(description="What is being done.")
    done: float
    total: float = Field(description="0: nobody knows.")
    counts: dict[Verdict, int] = Field(description="Rows by what becomes of them.")
    jobs: int = Field(description="Jobs that would be taken in.")
    problems: list[str]
    failure: str
    taken: list[dict[str, int]] = Field(description="What each taking in gave.")


@router.get("/intake/{token}", operation_id="get_intake", responses=failing(404, 409, 422))
def get_intake(request: Request, token: str) -> IntakeTold:
    """Say how far an uploaded sheet is."""
    upload = request.app.state.uploads.get(token)
    work: Work | None = None if upload.is_over else request.app.state.works.of(upload)
    shown = work.shown if work else None
    return IntakeTold(
        name=upload.name,
        state=_state(upload, work),
        stage=work.stage if work else "",
        done=work.done if work else 0,
        total=work.total if work else 0,
        counts=dict(shown.counts) if shown else {},
        jobs=shown.jobs if shown else 0,
        problems=list(work.problems) if work else [],
        failure=work.failure if work else "",
        taken=upload.taken,
    )


def _state(upload: Upload, work: Work | None) -> State:
    if upload.is_over:
        return "over"
    if work is None:
        return "waiting"
    if work.is_running:
        return "working"
    return "failed" if work.failure else "refused" if work.problems else "shown"
